/* All SELECTs. */
#include "meter_names.h"
#include "query_state.h"

#define ENERGY_COLUMNS    "SELECT id, import, export, estimated, unobserved, how FROM "
#define INTERVAL_COLUMNS  "SELECT id, import, export, estimated, unobserved, how, power, voltage FROM "
#define OF_RANGE          " WHERE id >= ? AND id < ? AND (id & 1023) BETWEEN ? AND ?"
#define OF_METERS         OF_RANGE " ORDER BY id"
#define OF_METERS_WHOLE   OF_RANGE " AND rows = expected ORDER BY id"

#define WHOLE_DAY_COLUMNS "SELECT id, from_s, to_s, import, export, estimated, unobserved, flags FROM "
#define DAY_COLUMNS                                                                                          \
    "SELECT id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags FROM "
#define SUM_OF(column, table)                                                                                \
    "SELECT coalesce(sum(" column "), 0) FROM " table                                                        \
    " WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1"

const char *const query_sql[STATEMENT_COUNT] = {
    [SELECT_SITE] = "SELECT site, zone, interval_s, poll_ms, id FROM setting ORDER BY id DESC LIMIT 1",
    [SELECT_REACH] = "SELECT (SELECT min(id) FROM interval), (SELECT max(id) FROM interval)",
    [SELECT_SETTINGS] = "SELECT id, from_ms, interval_s FROM setting ORDER BY id",
    [SELECT_METERS] = "SELECT meter, name, role, delivers, gross, phase_method FROM meter_setting "
                      "WHERE setting = ? ORDER BY meter",
    [SELECT_METER_NAMES] = METER_NAMES_SELECT,
    /* Where nothing is corrected the tables themselves say the same, sooner. */
    [SELECT_ANY] = "SELECT EXISTS (SELECT 1 FROM corrected) OR EXISTS (SELECT 1 FROM corrected_day), "
                   "EXISTS (SELECT 1 FROM correction), EXISTS (SELECT 1 FROM held), "
                   "EXISTS (SELECT 1 FROM clock WHERE doubt_ms >= ? OR source = 'holdover')",
    [SELECT_INTERVALS] = INTERVAL_COLUMNS "interval" OF_METERS,
    [SELECT_INTERVALS_CORRECTED] = INTERVAL_COLUMNS "interval_as_corrected" OF_METERS,
    [SELECT_ENERGIES] = ENERGY_COLUMNS "interval" OF_METERS,
    [SELECT_ENERGIES_CORRECTED] = ENERGY_COLUMNS "interval_as_corrected" OF_METERS,
    [SELECT_INTERVALS_BACK] =
        INTERVAL_COLUMNS "interval_as_corrected WHERE id >= ? AND id < ? ORDER BY id DESC",
    [SELECT_DAYS] = DAY_COLUMNS "day" OF_METERS,
    [SELECT_DAYS_CORRECTED] = DAY_COLUMNS "day_as_corrected" OF_METERS,
    [SELECT_WHOLE_DAYS] = WHOLE_DAY_COLUMNS "day" OF_METERS_WHOLE,
    [SELECT_WHOLE_DAYS_CORRECTED] = WHOLE_DAY_COLUMNS "day_as_corrected" OF_METERS_WHOLE,
    [SELECT_CORRECTIONS] = "SELECT what, meter, coalesce(other, 0), from_s, to_s, up, down, "
                           "coalesce(import, 0) + coalesce(export, 0) FROM correction "
                           "WHERE from_s < ? AND to_s > ? ORDER BY place",
    [SELECT_CHANGED_BY] = "SELECT count(*), sum(coalesce(c.import, 0) - coalesce(i.import, 0)), "
                          "sum(coalesce(c.export, 0) - coalesce(i.export, 0)) FROM corrected AS c JOIN "
                          "interval AS i ON i.id = c.id "
                          "WHERE c.id >= ?2 * 1024 AND c.id < ?3 * 1024 AND c.id % 1024 = ?1",
    [SELECT_DUE] = "SELECT count(*) FROM correction_due WHERE block >= ? / 86400 AND block <= ? / 86400",
    [SELECT_STEP] = "SELECT max(step) FROM run WHERE meter = ? AND counter < 2 AND from_ms < ? "
                    "AND (to_ms IS NULL OR to_ms > ?)",
    [SELECT_EVENTS] = "SELECT at_ms, boot, boot_ms, kind, meter, bus, text, coalesce((SELECT doubt_ms "
                      "FROM clock AS c WHERE c.boot = e.boot AND c.from_ms <= e.boot_ms "
                      "ORDER BY c.from_ms DESC LIMIT 1), 0) FROM event AS e ORDER BY id",
    [SELECT_LAST_SIGN] = "SELECT id FROM interval WHERE id < ? AND how & 15 < 3 AND (power IS NOT NULL OR "
                         "voltage IS NOT NULL OR (unobserved < ? AND (import <> 0 OR export <> 0))) "
                         "ORDER BY id DESC LIMIT 1",
    [SELECT_INTERVAL_AT] = "SELECT interval_s FROM setting ORDER BY coalesce(from_ms <= ?, 0) DESC, "
                           "CASE WHEN from_ms <= ?1 THEN -id ELSE id END LIMIT 1",
    [SELECT_METER_SUM] = "SELECT count(*), sum(import), sum(export), sum(unobserved), sum(how & 15 = 3) "
                         "FROM interval_as_corrected WHERE id >= ? AND id < ? AND id % 1024 = ?",
    /* What the collector read; of a meter that it never did, what was entered; a salvaged record may lack
     * the runs of what it has rows of. */
    [SELECT_BEGIN] = "SELECT min(iif(began <> 'entered', base_s, NULL)), min(base_s) FROM run "
                     "WHERE meter = ? AND counter < 2",
    [SELECT_FIRST_ROW] = "SELECT id / 1024 FROM interval WHERE id % 1024 = ? ORDER BY id LIMIT 1",
    [SELECT_ENTERED_BEFORE] = "SELECT min(base_s) FROM run WHERE meter = ?1 AND counter < 2 AND base_s < ?2 "
                              "AND began = 'entered' AND to_ms >= (?2 - 3600) * 1000",
    [SELECT_ENTERED] = "SELECT min(from_ms), max(to_ms) FROM run WHERE began = 'entered' AND counter < 2 "
                       "AND from_ms < ? AND to_ms > ?",
    [SELECT_KEPT_ROWS] = "SELECT i.id, i.import, i.export, i.estimated, i.unobserved, i.how, c.id, c.import, "
                         "c.export, c.estimated, c.unobserved, c.how FROM interval AS i "
                         "LEFT JOIN corrected AS c ON c.id = i.id WHERE i.id >= ? AND i.id < ? ORDER BY i.id",
    [SELECT_OTHER_ROWS] = "SELECT id, reactive_import, reactive_export, apparent_import, apparent_export "
                          "FROM energy WHERE id >= ? AND id < ? ORDER BY id",
    [SELECT_COUNTED] = SUM_OF("import", "interval"),
    [SELECT_COUNTED + 1] = SUM_OF("export", "interval"),
    [SELECT_OTHER_COUNTED] = SUM_OF("reactive_import", "energy"),
    [SELECT_OTHER_COUNTED + 1] = SUM_OF("reactive_export", "energy"),
    [SELECT_OTHER_COUNTED + 2] = SUM_OF("apparent_import", "energy"),
    [SELECT_OTHER_COUNTED + 3] = SUM_OF("apparent_export", "energy"),
    [SELECT_DAYS_COUNTED] = "SELECT from_s, to_s, import, export, reactive_import, reactive_export, "
                            "apparent_import, apparent_export FROM day "
                            "WHERE id >= (?2 / 86400 - 2) * 1024 AND id < (?3 / 86400 + 2) * 1024 "
                            "AND id % 1024 = ?1 AND from_s >= ?2 AND to_s <= ?3 ORDER BY id",
    [SELECT_METER_FACTS] = "SELECT rated_w, peak_w, azimuth, tilt, accuracy_class FROM meter_setting "
                           "WHERE setting = ? AND meter = ?",
    /* The newest of those in force by then; the oldest reaches back for ever. */
    [SELECT_SETTING_TEXT] = "SELECT text, id FROM setting ORDER BY coalesce(from_ms, 0) < ?1 DESC, "
                            "iif(coalesce(from_ms, 0) < ?1, -id, id) LIMIT 1",
    [SELECT_SETTINGS_WITHIN] =
        "SELECT count(*), min(from_ms) FROM setting WHERE from_ms >= ? AND from_ms < ?",
    [SELECT_GOES_ON] = "SELECT 1 FROM interval WHERE id >= ?1 * 1024 AND id % 1024 = ?2 LIMIT 1",
    [SELECT_METER_DAY] = DAY_COLUMNS "day WHERE id = ?",
    [SELECT_METER_DAY_COUNTED] = DAY_COLUMNS "day_as_corrected WHERE id = ?",
    [SELECT_RUNS] = "SELECT run.id, run.meter, counter, from_ms, first, step, first_raw, last_raw, base_s, "
                    "base, anchor_s, anchor, to_ms, last, serial, began, ended, ct_primary, ct_secondary, "
                    "vt_primary, vt_secondary, reversed FROM run LEFT JOIN factor ON factor.id = run.factor "
                    "WHERE began <> 'entered' ORDER BY run.meter, counter, base_s, run.id",
    [SELECT_SEEN] = "SELECT at_ms, meter, count, kind FROM event WHERE at_ms >= ? AND at_ms < ? ORDER BY id",
    [SELECT_CLOCKS] = "SELECT from_ms + offset_ms AS at_ms, source FROM clock "
                      "WHERE at_ms >= ? AND at_ms < ? ORDER BY at_ms",
    [SELECT_CURVES] = "SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'curve'",
    /* While corrections of the day are still to be applied, or taken back, only its rows say what counts. */
    [SELECT_CURVE] =
        "SELECT d.from_s, d.to_s, d.rows, d.import, d.export, d.estimated, d.unobserved, d.flags, "
        "c.quarters FROM day AS d JOIN curve AS c ON c.id = d.id WHERE d.id = ? AND d.rows = "
        "d.expected AND NOT EXISTS (SELECT 1 FROM corrected_day AS k WHERE k.id = d.id) AND NOT "
        "EXISTS (SELECT 1 FROM correction_due WHERE block BETWEEN d.from_s / 86400 AND "
        "(d.to_s - 1) / 86400)",
    /* What a boot read before its first clock came is dated by that one, after the rows that were there. */
    [SELECT_DATED] =
        "SELECT max(CASE WHEN first THEN 0 ELSE from_ms END + offset_ms, after_s * 1000) AS at_ms, "
        "doubt_ms, source, first FROM (SELECT *, from_ms = (SELECT min(from_ms) FROM clock AS o "
        "WHERE o.boot = c.boot) AS first FROM clock AS c) ORDER BY at_ms",
    [SELECT_UNDATED] = "SELECT coalesce(at_ms, boot_ms + (SELECT offset_ms FROM clock AS c "
                       "WHERE c.boot = e.boot ORDER BY c.from_ms LIMIT 1)), "
                       "boot IN (SELECT boot FROM held WHERE state = 'undated') FROM event AS e "
                       "WHERE EXISTS (SELECT 1 FROM held WHERE state = 'undated') ORDER BY id",
    [SELECT_CLOCK_OFFSET] = "SELECT offset_ms FROM clock WHERE boot = ? ORDER BY from_ms DESC LIMIT 1",
    [SELECT_WAITS] = "SELECT 1 FROM held WHERE state = 'waiting' LIMIT 1",
    [SELECT_FIRST_RUN] =
        "SELECT r.from_ms, r.first, r.step, coalesce(f.ct_primary * f.vt_primary, 1), "
        "coalesce(f.ct_secondary * f.vt_secondary, 1) FROM run AS r LEFT JOIN factor AS f ON f.id = r.factor "
        "WHERE r.meter = ?1 AND r.counter = (?2 <> coalesce(f.reversed, 0)) AND r.began <> 'entered' "
        "ORDER BY r.from_ms LIMIT 1",
    [SELECT_WEATHER] = "SELECT id, irradiance, module_temperature, ambient_temperature FROM momentary "
                       "WHERE id >= ? AND id < ? AND (irradiance IS NOT NULL OR module_temperature IS NOT "
                       "NULL OR ambient_temperature IS NOT NULL) ORDER BY id",
    [SELECT_METER_INTERVAL] =
        "SELECT i.import, i.export, i.estimated, i.unobserved, i.how, i.power, i.voltage, m.voltage_l2, "
        "m.voltage_l3 FROM interval_as_corrected AS i LEFT JOIN momentary AS m ON m.id = i.id WHERE i.id = ?",
    [SELECT_WIDE_ROWS] =
        "SELECT i.id, i.estimated, i.unobserved, i.how, i.power_min, i.power_max, i.import, i.export, "
        "i.power, "
        "i.voltage, e.reactive_import, e.reactive_export, e.apparent_import, e.apparent_export, m.power_l1, "
        "m.power_l2, m.power_l3, m.reactive_power, m.apparent_power, m.voltage_l2, m.voltage_l3, "
        "m.current_l1, "
        "m.current_l2, m.current_l3, m.frequency, m.power_factor, m.dc_power, m.dc_voltage, m.irradiance, "
        "m.temperature, m.module_temperature, m.ambient_temperature FROM interval_as_corrected AS i "
        "LEFT JOIN energy AS e ON e.id = i.id LEFT JOIN momentary AS m ON m.id = i.id "
        "WHERE i.id >= ? AND i.id < ? ORDER BY i.id",
    [SELECT_METER_ROWS] =
        "SELECT setting, meter, name, role, delivers, gross, phase_method, phases, rated_w, "
        "peak_w, azimuth, tilt, accuracy_class FROM meter_setting ORDER BY setting, meter",
    [SELECT_LOADED] =
        "SELECT id, from_ms, interval_s, poll_ms, hash, zone, zone_edition, program FROM setting "
        "ORDER BY id",
    [SELECT_SUPPLY] = "SELECT i.id, i.voltage, m.voltage_l2, m.voltage_l3, m.frequency, i.import, i.export, "
                      "i.estimated, i.unobserved, i.how FROM interval AS i "
                      "LEFT JOIN momentary AS m ON m.id = i.id "
                      "WHERE (i.id & 1023) = ?1 AND i.id >= ?2 AND i.id < ?3 ORDER BY i.id",
    [SELECT_SUPPLY_CORRECTED] =
        "SELECT i.id, i.voltage, m.voltage_l2, m.voltage_l3, m.frequency, "
        "iif(c.id, c.import, i.import), iif(c.id, c.export, i.export), "
        "iif(c.id, c.estimated, i.estimated), i.unobserved, i.how FROM interval AS i "
        "LEFT JOIN momentary AS m ON m.id = i.id LEFT JOIN corrected AS c ON c.id = i.id "
        "WHERE i.id % 1024 = ?1 AND i.id >= ?2 AND i.id < ?3 ORDER BY i.id",
    [SELECT_MOMENTARY] = "SELECT id FROM momentary WHERE id % 1024 = ?1 AND id >= ?2 AND id < ?3 ORDER BY id",
    [SELECT_HAS_VOLTAGE] = "SELECT 1 FROM interval WHERE id % 1024 = ?1 AND id >= ?2 AND id < ?3 "
                           "AND voltage IS NOT NULL LIMIT 1",
    [SELECT_APPARENT] = "SELECT e.ts, e.meter, iif(c.id, c.apparent_import, e.apparent_import), "
                        "iif(c.id, c.reactive_import, e.reactive_import), e.unobserved, "
                        "e.how, iif(c.id, c.reactive_export, e.reactive_export) FROM energy AS e LEFT JOIN "
                        "corrected AS c ON c.id = e.id "
                        "WHERE e.id % 1024 = ?1 AND e.id >= ?2 AND e.id < ?3 ORDER BY e.id",
    [SELECT_DERIVED_DOUBT] = "SELECT max(doubt) FROM run WHERE meter = ?1 AND from_ms < ?3 * 1000 "
                             "AND (to_ms IS NULL OR to_ms > ?2 * 1000)",
};
