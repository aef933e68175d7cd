/* All statements of the daemon, prepared once. */
#include "store_private.h"

const char *const store_sql[STATEMENT_COUNT] = {
    [ADD_INTERVAL] = "INSERT INTO interval(id, import, export, estimated, unobserved, how, power, power_min, "
                     "power_max, voltage) "
                     "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
    [ADD_ENERGY] = "INSERT INTO energy(id, reactive_import, reactive_export, apparent_import, "
                   "apparent_export, unobserved, how) "
                   "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    [ADD_MOMENTARY] =
        "INSERT INTO momentary(id, power_l1, power_l2, power_l3, reactive_power, apparent_power, voltage_l2, "
        "voltage_l3, "
        "current_l1, current_l2, current_l3, frequency, power_factor, dc_power, dc_voltage, irradiance, "
        "temperature, "
        "module_temperature, ambient_temperature) "
        "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19)",
    [ADD_RUN] = "INSERT INTO run(meter, counter, factor, from_ms, first, first_raw, step, base_s, base, "
                "anchor_s, anchor, "
                "serial, began, to_ms, last, last_raw, ended, doubt) "
                "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16)",
    [END_RUN] = "UPDATE run SET to_ms = ?2, last = ?3, last_raw = ?4, ended = ?5 WHERE id = ?1",
    [MOVE_ANCHOR] = "UPDATE run SET anchor_s = ?2, anchor = ?3 WHERE id = ?1",
    /* ---- closing a day: store_day.c ---- */
    [DAY_ROWS] = "SELECT id, import, export, estimated, unobserved, how, power_max, power_min FROM interval "
                 "WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1 ORDER BY id",
    [PUT_DAY] =
        "INSERT OR REPLACE INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, expected, "
        "flags, power_max, power_min, reactive_import, reactive_export, apparent_import, apparent_export) "
        "SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, sum(reactive_import), "
        "sum(reactive_export), sum(apparent_import), sum(apparent_export) "
        "FROM energy WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1 % 1024",
    [PUT_CURVE] = "INSERT OR REPLACE INTO curve(id, quarters) VALUES(?1, ?2)",
    [DROP_CURVE] = "DELETE FROM curve WHERE id = ?1",

    [ADD_EVENT] = "INSERT INTO event(at_ms, boot, boot_ms, kind, meter, bus, count, text) VALUES(?1, ?2, ?3, "
                  "?4, ?5, ?6, ?7, ?8)",
    [ADD_CLOCK] = "INSERT OR REPLACE INTO clock(boot, from_ms, offset_ms, source, doubt_ms, after_s) "
                  "VALUES(?1, ?2, ?3, ?4, ?5, ?6)",
    [ADD_HELD] = "INSERT INTO held(boot, ms, meter, counter, account, value, raw, step, unobserved, power, "
                 "power_min, power_max, voltage, shift, state) "
                 "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, 'waiting')",
    [DROP_HELD] = "DELETE FROM held WHERE id <= ?2 AND boot = ?1",
    [ADD_SETTING] = "INSERT INTO setting(from_ms, boot, boot_ms, hash, site, zone, zone_edition, interval_s, "
                    "poll_ms, program, text) "
                    "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    [NEWEST_SETTING] =
        "SELECT id, hash, zone_edition, program, interval_s FROM setting ORDER BY id DESC LIMIT 1",
    [DATE_SETTINGS] = "UPDATE setting SET from_ms = boot_ms + ?2 WHERE boot = ?1 AND from_ms IS NULL",
    [DATE_EVENTS] = "UPDATE event SET at_ms = boot_ms + ?2 WHERE boot = ?1 AND at_ms IS NULL",
    [ADD_MAP] = "INSERT OR IGNORE INTO map(hash, name, text) VALUES(?1, ?2, ?3)",
    [ADD_METER_SETTING] =
        "INSERT INTO meter_setting(setting, meter, name, role, delivers, gross, phase_method, phases, "
        "rated_w, peak_w, azimuth, "
        "tilt, accuracy_class, map) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
    [ADD_FACTOR] =
        "INSERT INTO factor(meter, setting, ct_primary, ct_secondary, vt_primary, vt_secondary, reversed) "
        "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    [NEWEST_FACTOR] = "SELECT id, ct_primary, ct_secondary, vt_primary, vt_secondary, reversed FROM factor "
                      "WHERE meter = ?1 "
                      "ORDER BY id DESC LIMIT 1",
    [READ_RUN] =
        "SELECT run.id, run.step, run.anchor_s, run.anchor, run.serial, ct_primary, ct_secondary, "
        "vt_primary, "
        "vt_secondary, reversed, run.base_s FROM run LEFT JOIN factor ON factor.id = run.factor "
        "WHERE run.meter = ?1 AND run.counter = ?2 AND run.ended IS NULL ORDER BY run.id DESC LIMIT 1",
    /* Newest rows: of the meter; of each counter, but for those of a sleeping
     * meter, which say nothing of when it was read. */
    [SUM_ACTIVE] =
        "SELECT max(id), sum(import), max(id) FILTER (WHERE import IS NOT NULL AND how & 15 <> 3), "
        "sum(export), max(id) FILTER (WHERE export IS NOT NULL AND how & 15 <> 3) "
        "FROM interval WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    [SUM_OTHER] =
        "SELECT max(id), sum(reactive_import), max(id) FILTER (WHERE reactive_import IS NOT NULL AND how & "
        "15 <> 3), "
        "sum(reactive_export), max(id) FILTER (WHERE reactive_export IS NOT NULL AND how & 15 <> 3), "
        "sum(apparent_import), max(id) FILTER (WHERE apparent_import IS NOT NULL AND how & 15 <> 3), "
        "sum(apparent_export), max(id) FILTER (WHERE apparent_export IS NOT NULL AND how & 15 <> 3) "
        "FROM energy WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    /* The newest such row of one counter before an instant. */
    [KNOWN_ACTIVE] =
        "SELECT id / 1024 FROM interval WHERE id >= ?3 * 1024 AND id < ?4 * 1024 AND id % 1024 = "
        "?1 AND how & 15 <> 3 AND CASE ?2 WHEN 0 THEN import ELSE export END IS NOT NULL ORDER "
        "BY id DESC LIMIT 1",
    [KNOWN_OTHER] =
        "SELECT id / 1024 FROM energy WHERE id >= ?3 * 1024 AND id < ?4 * 1024 AND id % 1024 = ?1 "
        "AND how & 15 <> 3 AND CASE ?2 WHEN 2 THEN reactive_import WHEN 3 THEN reactive_export "
        "WHEN 4 THEN apparent_import ELSE apparent_export END IS NOT NULL ORDER BY id DESC LIMIT "
        "1",
    [NEWEST_ROW] = "SELECT max(id) / 1024 FROM interval",
    [NEWEST_OF_METER] = "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 ORDER BY id DESC LIMIT 1",
    [READ_CLOCK] = "SELECT offset_ms, source FROM clock WHERE boot = ?1 ORDER BY from_ms DESC LIMIT 1",
    [READ_HELD] = "SELECT id, ms, meter, counter, account, value, raw, step, unobserved, power, power_min, "
                  "power_max, voltage "
                  "FROM held WHERE id > ?2 AND boot = ?1 ORDER BY id LIMIT ?3",
    [READ_HELD_OF] = "SELECT id, ms, account FROM held WHERE id > ?4 AND boot = ?1 AND meter = ?2 AND "
                     "counter = ?3 ORDER BY id LIMIT ?5",
    [OLDEST_OF_METER] =
        "SELECT id / 1024 FROM interval WHERE id >= ?2 * 1024 AND id % 1024 = ?1 ORDER BY id LIMIT 1",
    [HAS_ROW] = "SELECT 1 WHERE EXISTS(SELECT 1 FROM interval WHERE id = ?1) OR EXISTS(SELECT 1 FROM energy "
                "WHERE id = ?1) "
                "OR EXISTS(SELECT 1 FROM momentary WHERE id = ?1)",
    [FIND_STORED_RUN] =
        "SELECT id FROM run WHERE meter = ?1 AND counter = ?2 AND from_ms = ?3 AND base_s = ?4 AND "
        "base = ?5 ORDER BY id DESC LIMIT 1",
    [NEXT_OPEN_RUN] =
        "SELECT id, meter, counter FROM run WHERE id > ?1 AND ended IS NULL ORDER BY id LIMIT 1",
    [LAST_EVENT] = "SELECT max(id) FROM event",
    [LAST_END] =
        "SELECT kind = 'stop', boot = ?1 FROM event WHERE kind IN ('start', 'stop') ORDER BY id DESC LIMIT 1",
    [LAST_HELD] =
        "SELECT ms, account, value, raw, step, shift FROM held WHERE boot = ?1 AND meter = ?2 AND counter "
        "= ?3 ORDER BY ms DESC, id DESC LIMIT 1",
    [CLOCK_BEFORE] = "SELECT source FROM clock WHERE boot <> ?1 ORDER BY from_ms + offset_ms DESC LIMIT 1",
    [BOOT_AFTER] = "SELECT min(after_s) FROM clock WHERE boot = ?1",
    [NEXT_UNDATED] =
        "SELECT min(id) AS first, boot FROM held WHERE state = 'undated' GROUP BY boot HAVING first > "
        "?1 ORDER BY first LIMIT 1",
    [FORGET_HELD] = "DELETE FROM held WHERE meter = ?1 AND state = 'waiting'",
    [MARK_UNDATED] = "UPDATE held SET state = 'undated' WHERE boot <> ?1 AND state = 'waiting'",

    /* ---- corrections: store_correct.c ---- */
    [CORRECTION_AT] = "SELECT hash FROM correction WHERE place = ?1",
    [CORRECTION_ORDER] = "SELECT max(place) FROM correction",
    [CORRECTION_OF_HASH] = "SELECT id, place, from_s, to_s FROM correction WHERE hash = ?1",
    [ADD_CORRECTION] = "INSERT INTO correction(place, what, meter, other, from_s, to_s, up, down, import, "
                       "export, at_s, entry, "
                       "hash, taken_ms) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14)",
    [MOVE_CORRECTION] = "UPDATE correction SET place = ?2 WHERE id = ?1",
    [UNPLACE_CORRECTIONS] = "UPDATE correction SET place = -1 - place",
    [NEXT_UNPLACED] = "SELECT id, meter, entry, from_s, to_s FROM correction WHERE place < 0 LIMIT 1",
    [DROP_CORRECTION] = "DELETE FROM correction WHERE id = ?1",
    [DROP_CORRECTION_SUMS] = "DELETE FROM correction_sum WHERE correction = ?1",
    /* Blocks that have rows: others become due when rows come. */
    [MARK_DUE] = "WITH RECURSIVE b(n) AS (SELECT max(?1, (SELECT min(id) / 1024 FROM interval)) / 86400 "
                 "UNION ALL SELECT n + 1 FROM b WHERE n < min(?2 - 1, (SELECT max(id) / 1024 FROM interval)) "
                 "/ 86400) INSERT OR IGNORE INTO correction_due(block) SELECT n FROM b WHERE n IS NOT NULL",
    [NEXT_DUE] = "SELECT min(block) FROM correction_due",
    [DROP_DUE] = "DELETE FROM correction_due WHERE block = ?1",
    [BLOCK_CORRECTIONS] =
        "SELECT id, what, meter, coalesce(other, 0), from_s, to_s, up, down, import, export FROM correction "
        "WHERE from_s < ?2 AND to_s > ?1 ORDER BY place, id",
    [BLOCK_ROWS] = "SELECT i.id, import, export, reactive_import, reactive_export, apparent_import, "
                   "apparent_export, estimated, i.unobserved, i.how, power, power_min, power_max, voltage "
                   "FROM interval AS i LEFT JOIN energy AS e ON e.id = i.id "
                   "WHERE i.id >= ?1 * 1024 AND i.id < ?2 * 1024 ORDER BY i.id",
    [LENGTH_AT] = "SELECT interval_s FROM setting ORDER BY from_ms <= ?1 * 1000 DESC, from_ms DESC LIMIT 1",
    [DERIVED_SIDES] = STORE_SIDES "SELECT of, sign, counter = 'export' FROM side",
    [PUT_CORRECTED] =
        "INSERT INTO corrected(id, import, export, reactive_import, reactive_export, apparent_import, "
        "apparent_export, estimated, unobserved, how, power, power_min, power_max, voltage, correction) "
        "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15) "
        "ON CONFLICT(id) DO UPDATE SET import = ?2, export = ?3, reactive_import = ?4, reactive_export = ?5, "
        "apparent_import = ?6, apparent_export = ?7, estimated = ?8, unobserved = ?9, how = ?10, power = "
        "?11, "
        "power_min = ?12, power_max = ?13, voltage = ?14, correction = ?15 "
        "WHERE (import, export, reactive_import, reactive_export, apparent_import, apparent_export, "
        "estimated, "
        "unobserved, how, power, power_min, power_max, voltage, correction) IS NOT "
        "(?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15)",
    /* The change of a register's run nearest to an instant, with its factors. */
    [NEAREST_CHANGE] =
        "SELECT r.to_ms, r.last, max(r.step, n.step), n.from_ms, n.first, r.meter_above, r.meter_below, "
        "n.meter_above, n.meter_below FROM (SELECT run.*, f.ct_primary * f.vt_primary AS meter_above, "
        "f.ct_secondary * f.vt_secondary AS meter_below FROM run LEFT JOIN factor AS f ON f.id = factor) AS "
        "r "
        "JOIN (SELECT run.*, f.ct_primary * f.vt_primary AS meter_above, f.ct_secondary * f.vt_secondary AS "
        "meter_below FROM run LEFT JOIN factor AS f ON f.id = factor) AS n ON n.id = (SELECT min(id) FROM "
        "run "
        "WHERE meter = r.meter AND counter = r.counter AND id > r.id AND began <> 'entered') "
        "WHERE r.meter = ?1 AND r.counter = ?2 AND r.ended IN ('reset', 'exchange', 'rise') "
        "ORDER BY max(r.to_ms - ?3, ?3 - n.from_ms, 0), r.id LIMIT 1",
    [DROP_CORRECTED] = "DELETE FROM corrected WHERE id = ?1",
    [DROP_ORPHANS] = "DELETE FROM corrected WHERE id >= ?1 * 1024 AND id < ?2 * 1024 "
                     "AND NOT EXISTS(SELECT 1 FROM interval WHERE interval.id = corrected.id)",
    [DROP_BLOCK] = "DELETE FROM corrected WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [SEEN_BEFORE] = "SELECT sum(import), sum(export), sum(reactive_import), sum(reactive_export), "
                    "sum(apparent_import), sum(apparent_export) FROM correction_sum "
                    "WHERE correction = ?1 AND block < ?2",
    [SEEN_IN] = "SELECT import, export, reactive_import, reactive_export, apparent_import, apparent_export "
                "FROM correction_sum WHERE correction = ?1 AND block = ?2",
    [PUT_SEEN] = "INSERT OR REPLACE INTO correction_sum(correction, block, import, export, reactive_import, "
                 "reactive_export, apparent_import, apparent_export) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    [MARK_LATER] = "INSERT OR IGNORE INTO correction_due(block) SELECT block FROM correction_sum "
                   "WHERE correction = ?1 AND block > ?2",
    /* Closed days that touch a block: ?1, ?2 its span, ?3, ?4 keys of the days near it. */
    [PUT_CORRECTED_DAYS] =
        "INSERT INTO corrected_day(id, corrected, from_s, to_s, import, export, estimated, unobserved, rows, "
        "expected, flags, power_max, power_min, reactive_import, reactive_export, apparent_import, "
        "apparent_export) "
        "SELECT d.id, count(c.id), d.from_s, d.to_s, sum(iif(c.id, c.import, i.import)), "
        "sum(iif(c.id, c.export, i.export)), sum(iif(c.id, c.estimated, i.estimated)), "
        "d.unobserved + coalesce(sum(c.unobserved - i.unobserved), 0), d.rows, d.expected, "
        "(d.flags & ~128) | 512 | max(iif(c.id, c.how, i.how) & 128), max(iif(c.id, c.power_max, "
        "i.power_max)), "
        "min(iif(c.id, c.power_min, i.power_min)), sum(iif(c.id, c.reactive_import, e.reactive_import)), "
        "sum(iif(c.id, c.reactive_export, e.reactive_export)), "
        "sum(iif(c.id, c.apparent_import, e.apparent_import)), "
        "sum(iif(c.id, c.apparent_export, e.apparent_export)) "
        "FROM day AS d JOIN interval AS i ON i.id >= d.from_s * 1024 AND i.id < d.to_s * 1024 "
        "AND i.id % 1024 = d.id % 1024 LEFT JOIN corrected AS c ON c.id = i.id "
        "LEFT JOIN energy AS e ON e.id = i.id "
        "WHERE d.id >= ?3 AND d.id < ?4 AND d.from_s < ?2 AND d.to_s > ?1 "
        "GROUP BY d.id HAVING count(c.id) > 0 "
        "ON CONFLICT(id) DO UPDATE SET corrected = excluded.corrected, from_s = excluded.from_s, "
        "to_s = excluded.to_s, import = excluded.import, export = excluded.export, "
        "estimated = excluded.estimated, unobserved = excluded.unobserved, rows = excluded.rows, "
        "expected = excluded.expected, flags = excluded.flags, power_max = excluded.power_max, "
        "power_min = excluded.power_min, reactive_import = excluded.reactive_import, "
        "reactive_export = excluded.reactive_export, apparent_import = excluded.apparent_import, "
        "apparent_export = excluded.apparent_export",
    [DROP_CORRECTED_DAYS] =
        "DELETE FROM corrected_day WHERE id >= ?3 AND id < ?4 AND from_s < ?2 AND to_s > ?1 AND NOT "
        "(EXISTS(SELECT 1 FROM day WHERE day.id = corrected_day.id) AND EXISTS(SELECT 1 FROM corrected AS c "
        "WHERE c.id >= corrected_day.from_s * 1024 AND c.id < corrected_day.to_s * 1024 "
        "AND c.id % 1024 = corrected_day.id % 1024))",
};
