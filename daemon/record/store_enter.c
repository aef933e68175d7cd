#include <stdio.h>

#include "schema.h"
#include "store_enter_private.h"

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
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_READ_GRID);
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
    sqlite3_stmt *s = store_enter_statement(enter, name ? ENTER_METER_BY_NAME : ENTER_METER_BY_NUMBER);
    if (name)
        sqlite3_bind_text(s, 1, name, -1, SQLITE_STATIC);
    else
        sqlite3_bind_int64(s, 1, number);
    int result = store_fetch(enter->store, s);
    if (result != 1)
        return result;
    meter->number = sqlite3_column_int(s, 0);
    snprintf(meter->name, sizeof meter->name, "%s", store_text(s, 1));
    meter->rated_w = sqlite3_column_int64(s, 2);
    sqlite3_reset(s);
    return 1;
}

int store_enter_names(struct store_enter *enter, void (*say)(void *self, const char *name), void *self)
{
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_METER_NAMES);
    int code = sqlite3_step(s);
    for (; code == SQLITE_ROW; code = sqlite3_step(s))
        say(self, store_text(s, 0));
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
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_TAKEN_OVER);
    sqlite3_bind_int64(s, 1, meter);
    int result = fetch_integer(enter, s, INT64_MIN, &from_ms);
    if (result != STORE_OK)
        return result;
    if (from_ms == INT64_MIN)
        return fetch_integer(enter, store_enter_statement(enter, ENTER_OLDEST_LIVE), INT64_MIN, frontier_s);
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
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_LIVE_START);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, first_counter(other));
    sqlite3_bind_int64(s, 3, last_counter(other));
    int result = fetch_integer(enter, s, INT64_MAX, &limits->live_s);
    if (result != STORE_OK)
        return result;
    if (limits->live_s == INT64_MAX)
        return taken_over(enter, meter, grid, &limits->frontier_s);
    for (int c = first_counter(other); c <= last_counter(other) && result == STORE_OK; c++) {
        s = store_enter_statement(enter, ENTER_OPEN_STEP);
        sqlite3_bind_int64(s, 1, meter);
        sqlite3_bind_int64(s, 2, c);
        result = fetch_integer(enter, s, 0, &limits->step[c - first_counter(other)]);
    }
    int64_t newest_s = INT64_MIN;
    s = store_enter_statement(enter, ENTER_NEWEST + other);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, limits->live_s);
    if (result == STORE_OK)
        result = fetch_integer(enter, s, INT64_MIN, &newest_s);
    limits->frontier_s =
        newest_s == INT64_MIN ? limits->live_s : newest_s + enter_grid_length(grid, newest_s);
    return result;
}

int store_enter_rows(struct store_enter *enter, int32_t meter, bool other, int64_t from_s, int64_t to_s,
                     bool back, struct enter_row *rows, int32_t most, int32_t *count)
{
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_READ_ROWS + other + 2 * back);
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
    sqlite3_stmt *s = store_enter_statement(enter, which);
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

int store_enter_derive(struct store_enter *enter, int64_t from_s, int64_t to_s, int64_t *count)
{
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_DERIVE);
    sqlite3_bind_int64(s, 1, from_s);
    sqlite3_bind_int64(s, 2, to_s);
    int before = sqlite3_total_changes(enter->store->db);
    int result = store_run_statement(enter->store, s);
    *count = result == STORE_OK ? sqlite3_total_changes(enter->store->db) - before : 0;
    return result;
}
