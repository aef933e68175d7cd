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
};
