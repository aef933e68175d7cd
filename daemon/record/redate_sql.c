/* The statements of dating anew. */
#include "redate_private.h"

/* Active energy (interval) and the others (energy). */
const struct redate_table redate_tables[2] = { { Q_ACTIVE_IMPORT, 2 }, { Q_REACTIVE_IMPORT, 4 } };

#define CLOCK_ROW    "SELECT boot, source, from_ms, offset_ms, after_s FROM clock WHERE from_ms + offset_ms "
#define OLD_OF_METER "WHERE id < 0 AND -id % 1024 = ?1 "
#define OF_RUNS      "meter = ?1 AND counter BETWEEN ?2 AND ?3 "

/* Starts of the first and the last row of three tables. */
#define SPAN_OF(table, id, where)                                                                            \
    "SELECT min(" id ") / 1024 AS t FROM " table " WHERE " where " UNION ALL SELECT max(" id                 \
    ") / 1024 FROM " table " WHERE " where
#define ROWS_SPAN(id, where)                                                                                 \
    "SELECT min(t), max(t) FROM (" SPAN_OF("interval", id, where) " UNION ALL " SPAN_OF(                     \
        "energy", id, where) " UNION ALL " SPAN_OF("momentary", id, where) ")"

static const char *const sql[REDATE_STATEMENTS] = {
    [REDATE_CLOCK_BACK] = CLOCK_ROW "< ?1 ORDER BY from_ms + offset_ms DESC LIMIT 1",
    [REDATE_CLOCK_ON] = CLOCK_ROW "> ?1 ORDER BY from_ms + offset_ms LIMIT 1",
    [REDATE_CLOCK_UNTIL] = "SELECT min(from_ms) FROM clock WHERE boot = ?2 AND from_ms > ?1",
    [REDATE_DROP_CLOCK] = "DELETE FROM clock WHERE boot = ?2 AND from_ms = ?1",
    [REDATE_MOVE_CLOCK] = "UPDATE clock SET offset_ms = offset_ms + ?2, after_s = after_s + ?3 "
                          "WHERE boot = ?4 AND from_ms = ?1",
    [REDATE_MOVE_EVENTS] = "UPDATE event SET at_ms = at_ms + ?3 "
                           "WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms < ?2",
    [REDATE_UNDATE_EVENTS] = "UPDATE event SET at_ms = NULL WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms < "
                             "?2 AND at_ms >= ?3",
    [REDATE_MOVE_SETTINGS] = "UPDATE setting SET from_ms = from_ms + ?3 "
                             "WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms < ?2",
    [REDATE_CLAMP_SETTINGS] = "UPDATE setting SET from_ms = ?3 WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms "
                              "< ?2 AND from_ms > ?3",
    [REDATE_ROWS_SPAN] = ROWS_SPAN("id", "id >= ?1 * 1024"),
    [REDATE_OLD_SPAN] = ROWS_SPAN("-id", "id < 0"),
    /* Rows taken back stand under their negative key until the transaction ends. */
    [REDATE_TAKE] = "UPDATE interval SET id = -id WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [REDATE_TAKE + 1] = "UPDATE energy SET id = -id WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [REDATE_TAKE + 2] = "UPDATE momentary SET id = -id WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [REDATE_NEXT_METER] = "SELECT min(m) FROM (SELECT -id % 1024 AS m FROM interval WHERE id < 0 UNION "
                          "SELECT -id % 1024 FROM energy WHERE id < 0) WHERE m > ?1",
    [REDATE_FIRST_BASE] = "SELECT min(base_s) FROM run WHERE " OF_RUNS,
    [REDATE_OLD_ROWS] = "SELECT -id, estimated, unobserved, how, import, export FROM interval " OLD_OF_METER
                        "ORDER BY id DESC",
    [REDATE_OLD_ROWS + 1] = "SELECT -id, 0, unobserved, how, reactive_import, reactive_export, "
                            "apparent_import, apparent_export FROM energy " OLD_OF_METER "ORDER BY id DESC",
    [REDATE_ADD_ROW] = "INSERT INTO interval(id, import, export, estimated, unobserved, how, power, "
                       "power_min, power_max, voltage) SELECT ?1, ?6, ?7, ?3, ?4, ?5, power, power_min, "
                       "power_max, voltage FROM (SELECT 1) LEFT JOIN interval ON id = -?2",
    [REDATE_ADD_ROW + 1] = "INSERT INTO energy(id, reactive_import, reactive_export, apparent_import, "
                           "apparent_export, unobserved, how) VALUES(?1, ?6, ?7, ?8, ?9, ?4, ?5)",
    [REDATE_ADD_HELD] =
        "INSERT INTO interval(id, import, export, estimated, unobserved, how, power, power_min, "
        "power_max, voltage) SELECT ?1, ?6, ?7, ?3, ?4, ?5, power, power_min, power_max, "
        "voltage FROM (SELECT 1) LEFT JOIN held ON id = ?2",
    [REDATE_MOVE_MOMENTARY] = "UPDATE OR IGNORE momentary SET id = ?1 WHERE id = -?2",
    /* Derived: inside each row its import less its export is what the sides say, neither more than they have.
     */
    [REDATE_NEXT_WEATHER] =
        "SELECT min(m) FROM (SELECT -id % 1024 AS m FROM momentary WHERE id < 0) WHERE m > ?1 AND m NOT IN "
        "(SELECT -id % 1024 FROM interval WHERE id < 0)",
    [REDATE_NEXT_MOMENTARY] = "SELECT max(id) FROM momentary WHERE id < 0 AND id < ?1 AND -id % 1024 = ?2",
    [REDATE_NET] = STORE_SIDES ", sums AS (" STORE_SIDE_SUMS
                               ") UPDATE interval SET import = min(max(import, 0, c - p), c), "
                               "export = min(max(import, 0, c - p), c) - (c - p), "
                               "estimated = min(estimated, 2 * min(max(import, 0, c - p), c) - (c - p)) "
                               "FROM sums WHERE id = start * 1024 + 1023",
    [REDATE_DROP_NETTED] = STORE_SIDES ", sums AS (" STORE_SIDE_SUMS
                                       ") DELETE FROM interval WHERE id >= ?1 * 1024 AND id % 1024 = 1023 "
                                       "AND id / 1024 NOT IN (SELECT start FROM sums)",
    [REDATE_SUM_OLD] = "SELECT sum(import), sum(export) FROM interval " OLD_OF_METER "AND id > -?2 * 1024",
    [REDATE_SUM_OLD + 1] = "SELECT sum(reactive_import), sum(reactive_export), sum(apparent_import), "
                           "sum(apparent_export) FROM energy " OLD_OF_METER "AND id > -?2 * 1024",
    [REDATE_NEXT_RUN] = "SELECT id, counter, base_s, anchor_s, from_ms, to_ms FROM run WHERE " OF_RUNS
                        "AND id > ?4 AND (base_s >= ?5 OR anchor_s >= ?5 OR from_ms >= ?5 * 1000 OR to_ms >= "
                        "?5 * 1000) ORDER BY id LIMIT 1",
    [REDATE_MOVE_RUN] = "UPDATE run SET base_s = ?2, base = base + ?3, anchor_s = ?4, anchor = anchor + ?5, "
                        "from_ms = ?6, to_ms = ?7 WHERE id = ?1",
    [REDATE_DROP_DAYS] = "DELETE FROM day WHERE id % 1024 = ?1 AND to_s > ?2 AND from_s < ?3",
    [REDATE_DROP_CORRECTED] = "DELETE FROM corrected WHERE id >= ?1 * 1024",
    [REDATE_DROP_CORRECTED + 1] = "DELETE FROM corrected_day WHERE to_s > ?1",
    /* Held rows of a boot. */
    [REDATE_HELD_METER] = "SELECT min(meter) FROM held WHERE meter > ?1 AND boot = ?2",
    [REDATE_HELD_POINTS] =
        "SELECT ms, counter, account, shift, unobserved, id, value, raw, step FROM held "
        "WHERE meter = ?1 AND counter BETWEEN ?2 AND ?3 AND boot = ?4 ORDER BY ms, counter",
    [REDATE_HELD_SPAN] = "SELECT min(ms), max(ms) FROM held WHERE ms >= ?1 AND boot = ?2",
    /* Somebody watched, and something flowed, where the boot is said to have been. */
    [REDATE_CONTRADICTS] =
        "SELECT 1 FROM interval WHERE id >= ?1 * 1024 AND id < ?2 * 1024 AND id % 1024 < 1023 "
        "AND unobserved < ?3 AND coalesce(import, 0) + coalesce(export, 0) > 0 LIMIT 1",
    [REDATE_SEEN_BEFORE] =
        "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 AND id <= ?2 * 1024 + 1023 AND "
        "unobserved < ?3 ORDER BY id DESC LIMIT 1",
    [REDATE_SEEN_BEFORE + 1] =
        "SELECT id / 1024 FROM energy WHERE id % 1024 = ?1 AND id <= ?2 * 1024 + 1023 AND "
        "unobserved < ?3 ORDER BY id DESC LIMIT 1",
    [REDATE_SEEN_AFTER] = "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 AND id >= ?2 * 1024 AND "
                          "unobserved < ?3 ORDER BY id LIMIT 1",
    [REDATE_SEEN_AFTER + 1] = "SELECT id / 1024 FROM energy WHERE id % 1024 = ?1 AND id >= ?2 * 1024 AND "
                              "unobserved < ?3 ORDER BY id LIMIT 1",
    [REDATE_ROWS_END] = "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 ORDER BY id DESC LIMIT 1",
    [REDATE_ROWS_END + 1] = "SELECT id / 1024 FROM energy WHERE id % 1024 = ?1 ORDER BY id DESC LIMIT 1",
    [REDATE_RUN_SINCE] = "SELECT 1 FROM run WHERE " OF_RUNS "AND base_s > ?4 LIMIT 1",
    [REDATE_FACTOR] = "SELECT max(id) FROM factor WHERE meter = ?1",
    [REDATE_TAKE_GAP] =
        "UPDATE interval SET id = -id WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    [REDATE_TAKE_GAP + 1] =
        "UPDATE energy SET id = -id WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    [REDATE_DERIVE] = STORE_SIDES
    ", sums AS (" STORE_SIDE_SUMS ") INSERT INTO interval(id, import, export, estimated, unobserved, how) "
    "SELECT start * 1024 + 1023, max(c - p, 0), max(p - c, 0), abs(c - p), 0, 33 "
    "FROM sums WHERE start < ?2",
    [REDATE_SHIFT_DERIVED] =
        "UPDATE run SET anchor = anchor + ?3 WHERE meter = 1023 AND counter = ?1 AND ended "
        "IS NULL AND anchor_s >= ?2",
    [REDATE_DROP_HELD] = "DELETE FROM held WHERE ms >= ?1 AND boot = ?2",
    [REDATE_DROP_OLD] = "DELETE FROM interval WHERE id <= -?1 * 1024 AND id > -?2 * 1024",
    [REDATE_DROP_OLD + 1] = "DELETE FROM energy WHERE id <= -?1 * 1024 AND id > -?2 * 1024",
    [REDATE_DROP_OLD + 2] = "DELETE FROM momentary WHERE id <= -?1 * 1024 AND id > -?2 * 1024",
};

static int prepare(struct redate *redate)
{
    for (int i = 0; i < REDATE_STATEMENTS; i++) {
        int code = sqlite3_prepare_v2(redate->store->db, sql[i], -1, &redate->statements[i], NULL);
        if (code != SQLITE_OK)
            return store_fail(redate->store, code);
    }
    return STORE_OK;
}

int redate_begin(struct redate *redate, struct store *store, const struct redate_clock *clock)
{
    *redate = (struct redate){ .store = store,
                               .clock = clock,
                               .length_ms = clock->interval_s * 1000,
                               .now_ms = clock->boot_ms + clock->offset_ms };
    return prepare(redate);
}

void redate_end(struct redate *redate)
{
    for (int i = 0; i < REDATE_STATEMENTS; i++)
        sqlite3_finalize(redate->statements[i]);
}

sqlite3_stmt *redate_bind(struct redate *redate, enum redate_statement which, const int64_t values[],
                          int count)
{
    sqlite3_stmt *s = redate->statements[which];
    sqlite3_reset(s);
    for (int i = 0; i < count; i++)
        store_bind(s, i + 1, values[i]);
    return s;
}

int redate_write(struct redate *redate, enum redate_statement which, const int64_t values[], int count)
{
    return store_run_statement(redate->store, redate_bind(redate, which, values, count));
}

int redate_fetch(struct redate *redate, enum redate_statement which, const int64_t values[], int count,
                 int64_t none, int64_t *value)
{
    sqlite3_stmt *s = redate_bind(redate, which, values, count);
    int result = store_fetch(redate->store, s);
    *value = none;
    if (result == 1 && sqlite3_column_type(s, 0) != SQLITE_NULL)
        *value = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return result < 0 ? result : STORE_OK;
}
