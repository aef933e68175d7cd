/* Rows, runs, days, events: what a commit is made of. */
#include <stdio.h>
#include <string.h>

#include "schema.h"
#include "store_private.h"

int store_add_energy(struct store *store, const struct store_row *row)
{
    sqlite3_stmt *s = store_statement(store, ADD_ENERGY);
    sqlite3_bind_int64(s, 1, row_id(row->start_s, row->meter));
    for (int c = Q_REACTIVE_IMPORT; c < COUNTER_COUNT; c++)
        store_bind(s, 2 + c - Q_REACTIVE_IMPORT, row->energy[c]);
    sqlite3_bind_int64(s, 6, row->other_unobserved_s);
    sqlite3_bind_int64(s, 7, row->other_how);
    return store_run_statement(store, s);
}

/* Columns of the table `momentary`, in its order. */
static const uint8_t momentary_columns[] = {
    Q_POWER_L1,   Q_POWER_L2,   Q_POWER_L3,   Q_REACTIVE_POWER, Q_APPARENT_POWER,     Q_VOLTAGE_L2,
    Q_VOLTAGE_L3, Q_CURRENT_L1, Q_CURRENT_L2, Q_CURRENT_L3,     Q_FREQUENCY,          Q_POWER_FACTOR,
    Q_DC_POWER,   Q_DC_VOLTAGE, Q_IRRADIANCE, Q_TEMPERATURE,    Q_MODULE_TEMPERATURE, Q_AMBIENT_TEMPERATURE,
};
_Static_assert(sizeof momentary_columns == 18, "the statement ADD_MOMENTARY binds 18 values");

static int add_momentary(struct store *store, const struct store_row *row)
{
    sqlite3_stmt *s = store_statement(store, ADD_MOMENTARY);
    sqlite3_bind_int64(s, 1, row_id(row->start_s, row->meter));
    for (int i = 0; i < (int)sizeof momentary_columns; i++)
        store_bind(s, 2 + i, row->value[momentary_columns[i]]);
    return store_run_statement(store, s);
}

int store_add_row(struct store *store, const struct store_row *row)
{
    int result = STORE_OK;
    if (row->counts) {
        sqlite3_stmt *s = store_statement(store, ADD_INTERVAL);
        sqlite3_bind_int64(s, 1, row_id(row->start_s, row->meter));
        store_bind(s, 2, row->energy[Q_ACTIVE_IMPORT]);
        store_bind(s, 3, row->energy[Q_ACTIVE_EXPORT]);
        sqlite3_bind_int64(s, 4, row->estimated);
        sqlite3_bind_int64(s, 5, row->unobserved_s);
        sqlite3_bind_int64(s, 6, row->how);
        store_bind(s, 7, row->power);
        store_bind(s, 8, row->power_min);
        store_bind(s, 9, row->power_max);
        store_bind(s, 10, row->voltage);
        result = store_run_statement(store, s);
    }
    if (result == STORE_OK && row->other_energy)
        result = store_add_energy(store, row);
    if (result == STORE_OK && row->momentary)
        result = add_momentary(store, row);
    return result;
}

static int end_run(struct store *store, const struct store_run *run)
{
    sqlite3_stmt *s = store_statement(store, END_RUN);
    sqlite3_bind_int64(s, 1, run->id);
    store_bind(s, 2, run->to_ms);
    store_bind(s, 3, run->last);
    sqlite3_bind_int64(s, 4, (int64_t)run->last_raw);
    sqlite3_bind_text(s, 5, run->ended, -1, SQLITE_STATIC);
    return store_run_statement(store, s);
}

int store_put_run(struct store *store, struct store_run *run)
{
    if (run->id != 0)
        return end_run(store, run);
    sqlite3_stmt *s = store_statement(store, ADD_RUN);
    sqlite3_bind_int64(s, 1, run->meter);
    sqlite3_bind_int64(s, 2, run->counter);
    sqlite3_bind_int64(s, 3, run->factor);
    sqlite3_bind_int64(s, 4, run->from_ms);
    sqlite3_bind_int64(s, 5, run->first);
    sqlite3_bind_int64(s, 6, (int64_t)run->first_raw);
    sqlite3_bind_int64(s, 7, run->step);
    sqlite3_bind_int64(s, 8, run->base_s);
    sqlite3_bind_int64(s, 9, run->base);
    sqlite3_bind_text(s, 10, run->serial, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 11, run->began, -1, SQLITE_STATIC);
    store_bind(s, 12, run->ended ? run->to_ms : STORE_NULL);
    store_bind(s, 13, run->ended ? run->last : STORE_NULL);
    store_bind(s, 14, run->ended ? (int64_t)run->last_raw : STORE_NULL);
    if (run->ended)
        sqlite3_bind_text(s, 15, run->ended, -1, SQLITE_STATIC);
    else
        sqlite3_bind_null(s, 15);
    store_bind(s, 16, run->doubt > 0 ? run->doubt : STORE_NULL);
    int result = store_run_statement(store, s);
    if (result == STORE_OK)
        run->id = sqlite3_last_insert_rowid(store->db);
    return result;
}

int store_move_anchor(struct store *store, int64_t run, int64_t anchor_s, int64_t anchor)
{
    sqlite3_stmt *s = store_statement(store, MOVE_ANCHOR);
    sqlite3_bind_int64(s, 1, run);
    sqlite3_bind_int64(s, 2, anchor_s);
    sqlite3_bind_int64(s, 3, anchor);
    return store_run_statement(store, s);
}

/* "1,2,3" of the meters whose counter `export` is the one asked for; "0" for none. */
static const char *list(char *text, size_t size, const int32_t *meters, const bool *by_export, bool export,
                        int32_t count)
{
    size_t n = (size_t)snprintf(text, size, "0");
    for (int32_t i = 0; i < count; i++)
        if ((by_export && by_export[i]) == export)
            n += (size_t)snprintf(text + n, size - n, ",%d", (int)meters[i]);
    return text;
}

int store_derive(struct store *store, int64_t from_s, int64_t interval_s, const int32_t *consumption,
                 int32_t consumption_count, const int32_t *production, const bool *by_export,
                 int32_t production_count, int64_t *done_s)
{
    char used[128], made_in[128], made_out[128], sql[1600];
    list(used, sizeof used, consumption, NULL, false, consumption_count);
    list(made_in, sizeof made_in, production, by_export, false, production_count);
    list(made_out, sizeof made_out, production, by_export, true, production_count);
    snprintf(sql, sizeof sql,
             "INSERT INTO interval(id, import, export, estimated, unobserved, how) "
             "SELECT ts * 1024 + %d, max(x, 0), max(-x, 0), abs(x), u, h FROM ("
             "SELECT id / 1024 AS ts, max(unobserved) AS u, max(CASE how & 15 WHEN 2 THEN 2 ELSE 1 END) | "
             "max(how & 128) | max(how & 256) | max(how & 1024) AS h, count(*) AS n, "
             "count(CASE WHEN id %% 1024 IN (%s,%s) THEN import ELSE export END) AS known, "
             "sum(CASE WHEN id %% 1024 IN (%s) THEN import WHEN id %% 1024 IN (%s) THEN -import ELSE -export "
             "END) AS x "
             "FROM interval WHERE id >= %lld * 1024 AND id %% 1024 IN (%s,%s,%s) GROUP BY id / 1024) "
             "WHERE n = %d AND known = n AND ts * 1024 + %d NOT IN (SELECT id FROM interval WHERE id >= %lld "
             "* 1024 AND id "
             "%% 1024 = %d)",
             METER_DERIVED, used, made_in, used, made_in, (long long)from_s, used, made_in, made_out,
             (int)(consumption_count + production_count), METER_DERIVED, (long long)from_s, METER_DERIVED);
    int result = sqlite3_exec(store->db, sql, NULL, NULL, NULL);
    if (result != SQLITE_OK)
        return store_fail(store, result);
    return store_newest(store, METER_DERIVED, interval_s, done_s);
}

int store_add_event(struct store *store, int64_t at_ms, const char *boot, int64_t boot_ms, const char *kind,
                    int32_t meter, const char *bus, int64_t count, const char *text)
{
    sqlite3_stmt *s = store_statement(store, ADD_EVENT);
    store_bind(s, 1, at_ms);
    sqlite3_bind_text(s, 2, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 3, boot_ms);
    sqlite3_bind_text(s, 4, kind, -1, SQLITE_STATIC);
    store_bind(s, 5, meter > 0 ? meter : STORE_NULL);
    sqlite3_bind_text(s, 6, bus, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 7, count);
    sqlite3_bind_text(s, 8, text, -1, SQLITE_STATIC);
    return store_run_statement(store, s);
}

int store_add_clock(struct store *store, const char *boot, int64_t from_ms, int64_t offset_ms,
                    const char *source, int64_t doubt_ms, int64_t after_s)
{
    sqlite3_stmt *s = store_statement(store, ADD_CLOCK);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, from_ms);
    sqlite3_bind_int64(s, 3, offset_ms);
    sqlite3_bind_text(s, 4, source, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 5, doubt_ms);
    sqlite3_bind_int64(s, 6, after_s);
    return store_run_statement(store, s);
}

int store_add_held(struct store *store, const char *boot, const struct store_held *held)
{
    sqlite3_stmt *s = store_statement(store, ADD_HELD);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, held->ms);
    sqlite3_bind_int64(s, 3, held->meter);
    sqlite3_bind_int64(s, 4, held->counter);
    sqlite3_bind_int64(s, 5, held->account);
    sqlite3_bind_int64(s, 6, held->value);
    sqlite3_bind_int64(s, 7, (int64_t)held->raw);
    sqlite3_bind_int64(s, 8, held->step);
    sqlite3_bind_int64(s, 9, held->unobserved_s);
    store_bind(s, 10, held->power);
    store_bind(s, 11, held->power_min);
    store_bind(s, 12, held->power_max);
    store_bind(s, 13, held->voltage);
    sqlite3_bind_int64(s, 14, held->shift);
    return store_run_statement(store, s);
}

int store_drop_held(struct store *store, const char *boot, int64_t last_id)
{
    sqlite3_stmt *s = store_statement(store, DROP_HELD);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, last_id);
    return store_run_statement(store, s);
}

int store_mark_undated(struct store *store, const char *boot)
{
    sqlite3_stmt *s = store_statement(store, MARK_UNDATED);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    return store_run_statement(store, s);
}
