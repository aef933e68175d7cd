#include <stdio.h>
#include <stdlib.h>

#include "store_enter_private.h"

#define ROW_INTERVAL "SELECT id / 1024, import, export, NULL, NULL, estimated, unobserved, how FROM interval "
#define ROW_ENERGY                                                                                           \
    "SELECT id / 1024, reactive_import, reactive_export, apparent_import, apparent_export, 0, unobserved, "  \
    "how FROM energy "
#define OF_RANGE "WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1 "
#define OF_METER "WHERE id >= ?2 * 1024 AND id % 1024 = ?1 ORDER BY id DESC LIMIT 1"
#define LIVE     "began <> 'entered' "

static const char *const sql[ENTER_STATEMENT_COUNT] = {
    [ENTER_READ_ROWS] = ROW_INTERVAL OF_RANGE "ORDER BY id LIMIT ?4",
    [ENTER_READ_ROWS + 1] = ROW_ENERGY OF_RANGE "ORDER BY id LIMIT ?4",
    [ENTER_READ_ROWS + 2] = ROW_INTERVAL OF_RANGE "ORDER BY id DESC LIMIT ?4",
    [ENTER_READ_ROWS + 3] = ROW_ENERGY OF_RANGE "ORDER BY id DESC LIMIT ?4",
    [ENTER_INSERT_ROW] = "INSERT INTO interval(id, import, export, estimated, unobserved, how) "
                         "VALUES(?1, ?2, ?3, ?6, ?7, ?8)",
    [ENTER_INSERT_ROW + 1] = "INSERT INTO energy(id, reactive_import, reactive_export, apparent_import, "
                             "apparent_export, unobserved, how) VALUES(?1, ?2, ?3, ?4, ?5, ?7, ?8)",
    [ENTER_UPDATE_ROW] =
        "UPDATE interval SET import = ?2, export = ?3, estimated = ?6, unobserved = ?7, how = ?8 "
        "WHERE id = ?1",
    [ENTER_UPDATE_ROW + 1] =
        "UPDATE energy SET reactive_import = ?2, reactive_export = ?3, apparent_import = ?4, "
        "apparent_export = ?5, unobserved = ?7, how = ?8 WHERE id = ?1",
    [ENTER_NEWEST] = "SELECT id / 1024 FROM interval " OF_METER,
    [ENTER_NEWEST + 1] = "SELECT id / 1024 FROM energy " OF_METER,
    [ENTER_LIVE_START] =
        "SELECT min(base_s) FROM run WHERE meter = ?1 AND counter BETWEEN ?2 AND ?3 AND " LIVE,
    [ENTER_FIRST_RUN] =
        "SELECT id, from_ms, first, step, base FROM run WHERE meter = ?1 AND counter = ?2 AND " LIVE
        "ORDER BY base_s, id LIMIT 1",
    [ENTER_OPEN_STEP] =
        "SELECT step FROM run WHERE meter = ?1 AND counter = ?2 AND " LIVE "ORDER BY id DESC LIMIT 1",
    [ENTER_TAKEN_OVER] =
        "SELECT min(from_ms) FROM setting JOIN meter_setting ON meter_setting.setting = setting.id "
        "WHERE meter = ?1 AND from_ms IS NOT NULL",
    [ENTER_OLDEST_LIVE] = "SELECT min(base_s) FROM run WHERE " LIVE,
    [ENTER_READ_GRID] = "SELECT from_ms, interval_s FROM setting ORDER BY from_ms IS NULL, from_ms, id",
    [ENTER_METER_BY_NAME] = "SELECT meter, name, rated_w FROM meter_setting WHERE name = ?1 "
                            "ORDER BY setting DESC LIMIT 1",
    [ENTER_METER_BY_NUMBER] = "SELECT meter, name, rated_w FROM meter_setting WHERE meter = ?1 "
                              "ORDER BY setting DESC LIMIT 1",
    [ENTER_METER_NAMES] =
        "SELECT name FROM meter_setting WHERE meter < 1023 GROUP BY name ORDER BY min(setting), meter",
    [ENTER_FIND_RUN] =
        "SELECT id, to_ms FROM run WHERE meter = ?1 AND counter = ?2 AND from_ms = ?3 AND first = ?4 "
        "AND began = 'entered'",
    [ENTER_EXTEND_RUN] =
        "UPDATE run SET to_ms = ?2, last = ?3, last_raw = ?4, ended = ?5, step = min(step, ?6) "
        "WHERE id = ?1",
    [ENTER_LOWER_BASE] =
        "UPDATE run SET anchor = iif(anchor_s = base_s, anchor - ?2, anchor), base = base - ?2 "
        "WHERE id = ?1",
    [ENTER_RUNS_INSIDE] = "SELECT id, base_s, anchor_s FROM run WHERE meter = ?1 AND counter = ?2 AND " LIVE
                          "AND (base_s BETWEEN ?3 AND ?4 OR anchor_s BETWEEN ?3 AND ?4)",
    [ENTER_DERIVE] = STORE_SIDES
    "INSERT OR REPLACE INTO interval(id, import, export, estimated, unobserved, how) "
    "SELECT start * 1024 + 1023, max(x, 0), max(-x, 0), abs(x), u, h FROM ("
    "SELECT id / 1024 AS start, count(*) AS n, max(unobserved) AS u, max(max(how & 15), 1) AS h, "
    "sum(sign * iif(counter = 'import', import, export)) AS x "
    "FROM interval JOIN side ON side.of = id % 1024 WHERE id >= ?1 * 1024 AND id < ?2 * 1024 "
    "GROUP BY id / 1024) WHERE n = (SELECT count(*) FROM side) AND x IS NOT NULL",
    [ENTER_MOVE_RUN] = "UPDATE run SET base = base + ?2, anchor = anchor + ?3 WHERE id = ?1",
};

int store_enter_open(struct store_enter **out, struct store *store)
{
    struct store_enter *enter = calloc(1, sizeof *enter);
    *out = NULL;
    if (!enter) {
        snprintf(store->why, sizeof store->why, "out of memory");
        return STORE_FAILED;
    }
    enter->store = store;
    /* A transaction's pages stay in memory: they are read again when its days are closed. */
    sqlite3_exec(store->db, "PRAGMA cache_size = -8192", NULL, NULL, NULL);
    for (int i = 0; i < ENTER_STATEMENT_COUNT; i++) {
        int code =
            sqlite3_prepare_v3(store->db, sql[i], -1, SQLITE_PREPARE_PERSISTENT, &enter->statements[i], NULL);
        if (code != SQLITE_OK) {
            int result = store_fail(store, code);
            store_enter_close(enter);
            return result;
        }
    }
    *out = enter;
    return STORE_OK;
}

void store_enter_close(struct store_enter *enter)
{
    if (!enter)
        return;
    for (int i = 0; i < ENTER_STATEMENT_COUNT; i++)
        sqlite3_finalize(enter->statements[i]);
    free(enter);
}

sqlite3_stmt *store_enter_statement(struct store_enter *enter, int which)
{
    sqlite3_reset(enter->statements[which]);
    return enter->statements[which];
}
