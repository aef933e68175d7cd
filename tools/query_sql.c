/* All SELECTs. */
#include "query_state.h"

#define INTERVAL_COLUMNS                                                                                     \
    "SELECT id, import, export, estimated, unobserved, how, power, voltage FROM interval "

const char *const query_sql[STATEMENT_COUNT] = {
    [SELECT_SITE] = "SELECT site, zone, interval_s, poll_ms, id FROM setting ORDER BY id DESC LIMIT 1",
    [SELECT_REACH] = "SELECT (SELECT min(id) FROM interval), (SELECT max(id) FROM interval)",
    [SELECT_SETTINGS] = "SELECT id, from_ms, interval_s FROM setting ORDER BY id",
    [SELECT_METERS] = "SELECT meter, name, role, delivers, gross, phase_method FROM meter_setting "
                      "WHERE setting = ? ORDER BY meter",
    [SELECT_INTERVALS] = INTERVAL_COLUMNS "WHERE id >= ? AND id < ? ORDER BY id",
    [SELECT_INTERVALS_BACK] = INTERVAL_COLUMNS "WHERE id >= ? AND id < ? ORDER BY id DESC",
    [SELECT_DAY] = "SELECT id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags "
                   "FROM day WHERE id >= ? AND id < ? ORDER BY id",
    [SELECT_STEP] = "SELECT max(step) FROM run WHERE meter = ? AND counter < 2 AND from_ms < ? "
                    "AND (to_ms IS NULL OR to_ms > ?)",
    /* An event of a boot that got its clock later is dated by that. */
    [SELECT_EVENTS] =
        "SELECT coalesce(at_ms, boot_ms + (SELECT offset_ms FROM clock AS c WHERE c.boot = e.boot "
        "ORDER BY c.from_ms LIMIT 1)), boot, boot_ms, kind, meter, bus, text "
        "FROM event AS e ORDER BY id",
    [SELECT_LAST_SIGN] = "SELECT id FROM interval WHERE id < ? AND how & 15 < 3 AND (power IS NOT NULL OR "
                         "voltage IS NOT NULL OR (unobserved < ? AND (import <> 0 OR export <> 0))) "
                         "ORDER BY id DESC LIMIT 1",
    [SELECT_METER_SUM] = "SELECT count(*), sum(import), sum(export), sum(unobserved), sum(how & 15 = 3) "
                         "FROM interval WHERE id >= ? AND id < ? AND id % 1024 = ?",
    [SELECT_BEGIN] = "SELECT min(base_s) FROM run WHERE meter = ? AND counter < 2",
    [SELECT_ENTERED] = "SELECT min(from_ms), max(to_ms) FROM run WHERE began = 'entered' AND counter < 2 "
                       "AND from_ms < ? AND to_ms > ?",
};
