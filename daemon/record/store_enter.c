#include "store_enter.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "schema.h"
#include "store_private.h"

enum enter_statement {
    ENTER_READ_ROWS, /* of interval, of energy, and both newest first */
    ENTER_INSERT_ROW = ENTER_READ_ROWS + 4,
    ENTER_UPDATE_ROW = ENTER_INSERT_ROW + 2,
    ENTER_NEWEST = ENTER_UPDATE_ROW + 2,
    ENTER_LIVE_START = ENTER_NEWEST + 2,
    ENTER_FIRST_RUN,
    ENTER_OPEN_STEP,
    ENTER_TAKEN_OVER,
    ENTER_OLDEST_LIVE,
    ENTER_READ_GRID,
    ENTER_METER_BY_NAME,
    ENTER_METER_BY_NUMBER,
    ENTER_METER_NAMES,
    ENTER_FIND_RUN,
    ENTER_EXTEND_RUN,
    ENTER_LOWER_BASE,
    ENTER_RUNS_INSIDE,
    ENTER_MOVE_RUN,
    ENTER_DERIVE,
    ENTER_STATEMENT_COUNT
};

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

struct store_enter {
    struct store *store;
    sqlite3_stmt *statements[ENTER_STATEMENT_COUNT];
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

static sqlite3_stmt *statement(struct store_enter *enter, int which)
{
    sqlite3_reset(enter->statements[which]);
    return enter->statements[which];
}

/* The one integer of a statement that gives a row at most; `none` for NULL or no row. */
static int fetch_integer(struct store_enter *enter, sqlite3_stmt *s, int64_t none, int64_t *value)
{
    int result = store_fetch(enter->store, s);
    *value = none;
    if (result != 1)
        return result;
    if (sqlite3_column_type(s, 0) != SQLITE_NULL)
        *value = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return STORE_OK;
}

int32_t store_enter_grid(struct store_enter *enter, int64_t *from_s, int64_t *length_s, int32_t most)
{
    sqlite3_stmt *s = statement(enter, ENTER_READ_GRID);
    int32_t count = 0;
    while (sqlite3_step(s) == SQLITE_ROW) {
        bool dated = sqlite3_column_type(s, 0) != SQLITE_NULL;
        int64_t length = sqlite3_column_int64(s, 1);
        if (length <= 0 || (!dated && count > 0) || (count > 0 && length_s[count - 1] == length))
            continue;
        int32_t at = count < most ? count++ : most - 1;
        from_s[at] = sqlite3_column_int64(s, 0) / 1000;
        length_s[at] = length;
    }
    sqlite3_reset(s);
    return count;
}

int store_enter_meter(struct store_enter *enter, const char *name, int32_t number, struct enter_meter *meter)
{
    sqlite3_stmt *s = statement(enter, name ? ENTER_METER_BY_NAME : ENTER_METER_BY_NUMBER);
    if (name)
        sqlite3_bind_text(s, 1, name, -1, SQLITE_STATIC);
    else
        sqlite3_bind_int64(s, 1, number);
    int result = store_fetch(enter->store, s);
    if (result != 1)
        return result;
    meter->number = sqlite3_column_int(s, 0);
    snprintf(meter->name, sizeof meter->name, "%s", (const char *)sqlite3_column_text(s, 1));
    meter->rated_w = sqlite3_column_int64(s, 2);
    sqlite3_reset(s);
    return 1;
}

int store_enter_names(struct store_enter *enter, void (*say)(void *self, const char *name), void *self)
{
    sqlite3_stmt *s = statement(enter, ENTER_METER_NAMES);
    int code = sqlite3_step(s);
    for (; code == SQLITE_ROW; code = sqlite3_step(s))
        say(self, (const char *)sqlite3_column_text(s, 0));
    int result = code == SQLITE_DONE ? STORE_OK : store_fail(enter->store, code);
    sqlite3_reset(s);
    return result;
}

/* Without rows of its own: what the collector read may not be in the record
 * yet, so that nothing is entered from when it first knew the meter. */
static int taken_over(struct store_enter *enter, int32_t meter, const struct enter_grid *grid,
                      int64_t *frontier_s)
{
    int64_t from_ms;
    sqlite3_stmt *s = statement(enter, ENTER_TAKEN_OVER);
    sqlite3_bind_int64(s, 1, meter);
    int result = fetch_integer(enter, s, INT64_MIN, &from_ms);
    if (result != STORE_OK)
        return result;
    if (from_ms == INT64_MIN)
        return fetch_integer(enter, statement(enter, ENTER_OLDEST_LIVE), INT64_MIN, frontier_s);
    int64_t length = enter_grid_length(grid, from_ms / 1000);
    *frontier_s = from_ms / 1000 / length * length;
    return STORE_OK;
}

static int first_counter(bool other)
{
    return other ? Q_REACTIVE_IMPORT : Q_ACTIVE_IMPORT;
}

static int last_counter(bool other)
{
    return other ? Q_APPARENT_EXPORT : Q_ACTIVE_EXPORT;
}

int store_enter_limits(struct store_enter *enter, int32_t meter, bool other, const struct enter_grid *grid,
                       struct enter_limits *limits)
{
    *limits = (struct enter_limits){ 0 };
    sqlite3_stmt *s = statement(enter, ENTER_LIVE_START);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, first_counter(other));
    sqlite3_bind_int64(s, 3, last_counter(other));
    int result = fetch_integer(enter, s, INT64_MAX, &limits->live_s);
    if (result != STORE_OK)
        return result;
    if (limits->live_s == INT64_MAX)
        return taken_over(enter, meter, grid, &limits->frontier_s);
    for (int c = first_counter(other); c <= last_counter(other) && result == STORE_OK; c++) {
        s = statement(enter, ENTER_OPEN_STEP);
        sqlite3_bind_int64(s, 1, meter);
        sqlite3_bind_int64(s, 2, c);
        result = fetch_integer(enter, s, 0, &limits->step[c - first_counter(other)]);
    }
    int64_t newest_s = INT64_MIN;
    s = statement(enter, ENTER_NEWEST + other);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, limits->live_s);
    if (result == STORE_OK)
        result = fetch_integer(enter, s, INT64_MIN, &newest_s);
    limits->frontier_s =
        newest_s == INT64_MIN ? limits->live_s : newest_s + enter_grid_length(grid, newest_s);
    return result;
}

int store_enter_join(struct store_enter *enter, int32_t meter, int32_t counter, struct enter_join *join)
{
    sqlite3_stmt *s = statement(enter, ENTER_FIRST_RUN);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, counter);
    int result = store_fetch(enter->store, s);
    if (result != 1)
        return result;
    *join = (struct enter_join){ sqlite3_column_int64(s, 0), sqlite3_column_int64(s, 1),
                                 sqlite3_column_int64(s, 2), sqlite3_column_int64(s, 3),
                                 sqlite3_column_int64(s, 4) };
    sqlite3_reset(s);
    return 1;
}

int store_enter_lower(struct store_enter *enter, int64_t run, int64_t added)
{
    sqlite3_stmt *s = statement(enter, ENTER_LOWER_BASE);
    sqlite3_bind_int64(s, 1, run);
    sqlite3_bind_int64(s, 2, added);
    return store_run_statement(enter->store, s);
}

/* By how much the account at a boundary inside the changed rows moved. */
static int64_t moved_by(int64_t at_s, int place, const struct enter_row *stored,
                        const struct enter_row *result, int32_t count)
{
    int64_t moved = 0;
    if (at_s > stored[count - 1].start_s)
        return 0;
    for (int32_t i = 0; i < count && stored[i].start_s < at_s; i++)
        if (stored[i].energy[place] != ENTER_NONE)
            moved += result[i].energy[place] - stored[i].energy[place];
    return moved;
}

int store_enter_settle(struct store_enter *enter, int32_t meter, int32_t counter, int place,
                       const struct enter_row *stored, const struct enter_row *result, int32_t count)
{
    sqlite3_stmt *s = statement(enter, ENTER_RUNS_INSIDE);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, counter);
    sqlite3_bind_int64(s, 3, stored[0].start_s + 1);
    sqlite3_bind_int64(s, 4, stored[count - 1].start_s);
    int code = sqlite3_step(s), changed = STORE_OK;
    for (; code == SQLITE_ROW && changed == STORE_OK; code = sqlite3_step(s)) {
        sqlite3_stmt *move = statement(enter, ENTER_MOVE_RUN);
        sqlite3_bind_int64(move, 1, sqlite3_column_int64(s, 0));
        sqlite3_bind_int64(move, 2, moved_by(sqlite3_column_int64(s, 1), place, stored, result, count));
        sqlite3_bind_int64(move, 3, moved_by(sqlite3_column_int64(s, 2), place, stored, result, count));
        changed = store_run_statement(enter->store, move);
    }
    int result_code = code == SQLITE_DONE   ? STORE_OK
                      : changed != STORE_OK ? changed
                                            : store_fail(enter->store, code);
    sqlite3_reset(s);
    return result_code;
}

int store_enter_rows(struct store_enter *enter, int32_t meter, bool other, int64_t from_s, int64_t to_s,
                     bool back, struct enter_row *rows, int32_t most, int32_t *count)
{
    sqlite3_stmt *s = statement(enter, ENTER_READ_ROWS + other + 2 * back);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, from_s);
    sqlite3_bind_int64(s, 3, to_s);
    sqlite3_bind_int64(s, 4, most);
    int32_t n = 0;
    int code = SQLITE_DONE;
    for (; n < most && (code = sqlite3_step(s)) == SQLITE_ROW; n++) {
        struct enter_row *row = &rows[n];
        row->start_s = sqlite3_column_int64(s, 0);
        for (int i = 0; i < ENTER_COUNTERS; i++)
            row->energy[i] =
                sqlite3_column_type(s, 1 + i) == SQLITE_NULL ? ENTER_NONE : sqlite3_column_int64(s, 1 + i);
        row->estimated = sqlite3_column_int64(s, 5);
        row->unobserved_s = sqlite3_column_int64(s, 6);
        row->lacking_s = 0;
        row->how = (uint16_t)sqlite3_column_int64(s, 7);
    }
    int result = code == SQLITE_DONE || code == SQLITE_ROW ? STORE_OK : store_fail(enter->store, code);
    sqlite3_reset(s);
    *count = n;
    return result;
}

static int put_row(struct store_enter *enter, int which, int32_t meter, const struct enter_row *row)
{
    sqlite3_stmt *s = statement(enter, which);
    sqlite3_bind_int64(s, 1, row_id(row->start_s, meter));
    for (int i = 0; i < ENTER_COUNTERS; i++)
        store_bind(s, 2 + i, row->energy[i] == ENTER_NONE ? STORE_NULL : row->energy[i]);
    sqlite3_bind_int64(s, 6, row->estimated);
    sqlite3_bind_int64(s, 7, row->unobserved_s);
    sqlite3_bind_int64(s, 8, row->how);
    return store_run_statement(enter->store, s);
}

int store_enter_insert(struct store_enter *enter, int32_t meter, bool other, const struct enter_row *row)
{
    return put_row(enter, ENTER_INSERT_ROW + other, meter, row);
}

int store_enter_update(struct store_enter *enter, int32_t meter, bool other, const struct enter_row *row)
{
    return put_row(enter, ENTER_UPDATE_ROW + other, meter, row);
}

static int extend_run(struct store_enter *enter, int64_t id, const struct enter_run *run)
{
    sqlite3_stmt *s = statement(enter, ENTER_EXTEND_RUN);
    sqlite3_bind_int64(s, 1, id);
    sqlite3_bind_int64(s, 2, run->to_ms);
    sqlite3_bind_int64(s, 3, run->last);
    sqlite3_bind_int64(s, 4, run->last / run->step);
    sqlite3_bind_text(s, 5, run->ended, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 6, run->step);
    return store_run_statement(enter->store, s);
}

int store_enter_run(struct store_enter *enter, int32_t meter, int32_t counter, const struct enter_run *run)
{
    sqlite3_stmt *s = statement(enter, ENTER_FIND_RUN);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, counter);
    sqlite3_bind_int64(s, 3, run->from_ms);
    sqlite3_bind_int64(s, 4, run->first);
    int result = store_fetch(enter->store, s);
    if (result < 0)
        return result;
    if (result == 1) {
        int64_t id = sqlite3_column_int64(s, 0), to_ms = sqlite3_column_int64(s, 1);
        sqlite3_reset(s);
        return run->to_ms >= to_ms ? extend_run(enter, id, run) : STORE_OK;
    }
    struct store_run row = { .meter = meter,
                             .counter = counter,
                             .from_ms = run->from_ms,
                             .first = run->first,
                             .first_raw = (uint64_t)(run->first / run->step),
                             .step = run->step,
                             .base_s = run->base_s,
                             .base = run->base,
                             .began = "entered",
                             .to_ms = run->to_ms,
                             .last = run->last,
                             .last_raw = (uint64_t)(run->last / run->step),
                             .ended = run->ended };
    return store_put_run(enter->store, &row);
}

int store_enter_derive(struct store_enter *enter, int64_t from_s, int64_t to_s, int64_t *count)
{
    sqlite3_stmt *s = statement(enter, ENTER_DERIVE);
    sqlite3_bind_int64(s, 1, from_s);
    sqlite3_bind_int64(s, 2, to_s);
    int before = sqlite3_total_changes(enter->store->db);
    int result = store_run_statement(enter->store, s);
    *count = result == STORE_OK ? sqlite3_total_changes(enter->store->db) - before : 0;
    return result;
}
