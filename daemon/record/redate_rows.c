/* Rows taken back and woven anew, meter by meter; their runs and days. */
#include "redate_private.h"
#include "schema.h"
#include "weave.h"

/* Active energy (interval) and the others (energy). */
static const struct {
    int first, count;
} tables[2] = { { Q_ACTIVE_IMPORT, 2 }, { Q_REACTIVE_IMPORT, 4 } };

struct piece {
    int32_t meter;
    int table;
    int64_t begin_s; /* where its new rows begin */
    int64_t end_s;   /* where they end */
    unsigned has;    /* bit i: the rows so far had this counter */
};

static int run(struct redate *redate, enum redate_statement which, const int64_t values[], int count)
{
    return store_run_statement(redate->store, redate_bind(redate, which, values, count));
}

/* One integer, `none` for NULL. */
static int fetch(struct redate *redate, enum redate_statement which, const int64_t values[], int count,
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

static int64_t row_end_s(const struct redate *redate, int64_t start_s)
{
    return start_s - start_s % redate->clock->interval_s + redate->clock->interval_s;
}

static void read_row(const struct redate *redate, sqlite3_stmt *s, struct piece *piece, struct weave_row *row)
{
    *row = (struct weave_row){ .key = sqlite3_column_int64(s, 0),
                               .length_ms = redate->length_ms,
                               .estimated = sqlite3_column_int64(s, 1),
                               .unobserved_ms = sqlite3_column_int64(s, 2) * 1000,
                               .how = (uint16_t)sqlite3_column_int(s, 3) };
    for (int i = 0; i < tables[piece->table].count; i++) {
        if (sqlite3_column_type(s, 4 + i) == SQLITE_NULL)
            continue;
        row->energy[i] = sqlite3_column_int64(s, 4 + i);
        piece->has |= 1U << i;
    }
}

static int put_row(struct redate *redate, const struct piece *piece, const struct woven *woven)
{
    int64_t id = row_id(woven->start_ms / 1000, piece->meter);
    int64_t values[9] = { id, woven->key, woven->estimated, (woven->unobserved_ms + 500) / 1000, woven->how };
    int count = tables[piece->table].count;
    for (int i = 0; i < count; i++)
        values[5 + i] = piece->has & 1U << i ? woven->energy[i] : STORE_NULL;
    int result = run(redate, REDATE_ADD_ROW + (enum redate_statement)piece->table, values, 5 + count);
    if (result == STORE_OK && piece->table == 0 && woven->key != 0)
        result = run(redate, REDATE_MOVE_MOMENTARY, values, 2);
    return result;
}

static int put_rows(struct redate *redate, struct piece *piece, struct weave *weave)
{
    struct woven woven;
    int result = STORE_OK;
    while (result == STORE_OK && weave_take(weave, &woven))
        result = put_row(redate, piece, &woven);
    piece->end_s = weave->book.frontier_ms / 1000;
    return result;
}

/* Rows go on from where they were taken back. A meter that had none before them
 * begins with its first row's new date. */
static int find_begin(struct redate *redate, struct piece *piece, int64_t first_s)
{
    int first = tables[piece->table].first;
    const int64_t values[3] = { piece->meter, first, first + tables[piece->table].count - 1 };
    int64_t base_s, right_ms = redate->now_ms - redate->clock->boot_ms;
    int result = fetch(redate, REDATE_FIRST_BASE, values, 3, INT64_MAX, &base_s);
    piece->begin_s = redate->from_s;
    if (result != STORE_OK || base_s < redate->from_s)
        return result;
    result = redate_instant(redate, row_end_s(redate, first_s) * 1000, &right_ms);
    if (result == 1)
        right_ms -= redate->length_ms;
    piece->begin_s = right_ms / redate->length_ms * redate->clock->interval_s;
    if (piece->begin_s < redate->from_s)
        piece->begin_s = redate->from_s;
    return result < 0 ? result : STORE_OK;
}

static int weave_row(struct redate *redate, struct piece *piece, sqlite3_stmt *s, struct weave *weave)
{
    struct weave_row row;
    int64_t right_ms, start_s = sqlite3_column_int64(s, 0) / 1024;
    int64_t end_s = row_end_s(redate, start_s);
    read_row(redate, s, piece, &row);
    int placed = 0;
    if (row.unobserved_ms < (end_s - start_s) * 1000)
        placed = redate_instant(redate, end_s * 1000, &right_ms);
    if (placed < 0)
        return placed;
    if (placed == 0)
        weave_pass(weave, &row);
    else
        weave_point(weave, &row, right_ms);
    return put_rows(redate, piece, weave);
}

/* A row inserted has a positive key: this pass does not meet it. */
static int weave_piece(struct redate *redate, struct piece *piece, struct redated *done)
{
    const int64_t meter = piece->meter;
    struct weave weave;
    int result = STORE_OK, code;
    enum redate_statement which = REDATE_OLD_ROWS + (enum redate_statement)piece->table;
    sqlite3_stmt *s = redate_bind(redate, which, &meter, 1);
    bool begun = false;
    while (result == STORE_OK && (code = sqlite3_step(s)) != SQLITE_DONE) {
        if (code != SQLITE_ROW)
            return store_fail(redate->store, code);
        if (!begun) {
            result = find_begin(redate, piece, sqlite3_column_int64(s, 0) / 1024);
            weave_begin(&weave, tables[piece->table].count, redate->length_ms, piece->begin_s * 1000);
            piece->end_s = piece->begin_s;
            begun = true;
        }
        if (result == STORE_OK)
            result = weave_row(redate, piece, s, &weave);
        done->rows++;
    }
    sqlite3_reset(s);
    return result == STORE_OK ? begun : result;
}

/* What a counter's rows before a boundary added, old and new. */
static int added(struct redate *redate, const struct piece *piece, int counter, int64_t old_s, int64_t new_s,
                 int64_t *change)
{
    const int64_t values[2] = { piece->meter, old_s };
    int64_t sum;
    sqlite3_stmt *s = redate_bind(redate, REDATE_SUM_OLD + (enum redate_statement)piece->table, values, 2);
    int result = store_fetch(redate->store, s);
    if (result < 0)
        return result;
    *change = -sqlite3_column_int64(s, counter - tables[piece->table].first);
    sqlite3_reset(s);
    result = store_sum(redate->store, piece->meter, counter, piece->begin_s, new_s, &sum);
    *change += sum;
    return result;
}

static int64_t between(int64_t x, int64_t low, int64_t high)
{
    return x < low ? low : x > high ? high : x;
}

/* A boundary's new place, and by how much the account there changed. */
static int move_boundary(struct redate *redate, const struct piece *piece, int counter, int64_t *at_s,
                         int64_t *change)
{
    int64_t right_ms = piece->begin_s * 1000, old_s = *at_s;
    *change = 0;
    if (old_s < redate->from_s || (old_s == redate->from_s && piece->begin_s == redate->from_s))
        return STORE_OK;
    int result = redate_instant(redate, old_s * 1000, &right_ms);
    if (result < 0)
        return result;
    *at_s = between(right_ms / redate->length_ms * redate->clock->interval_s, piece->begin_s, piece->end_s);
    return added(redate, piece, counter, old_s, *at_s, change);
}

static int move_instant(struct redate *redate, const struct piece *piece, int64_t *at_ms)
{
    int64_t right_ms = piece->begin_s * 1000;
    if (*at_ms == STORE_NULL || *at_ms < redate->from_s * 1000)
        return STORE_OK;
    int result = redate_instant(redate, *at_ms, &right_ms);
    *at_ms = between(right_ms, piece->begin_s * 1000, redate->now_ms);
    return result < 0 ? result : STORE_OK;
}

static int move_run(struct redate *redate, const struct piece *piece, sqlite3_stmt *s)
{
    int counter = sqlite3_column_int(s, 1);
    int64_t base_s = sqlite3_column_int64(s, 2), anchor_s = sqlite3_column_int64(s, 3);
    int64_t from_ms = sqlite3_column_int64(s, 4), to_ms = STORE_NULL, base, anchor;
    if (sqlite3_column_type(s, 5) != SQLITE_NULL)
        to_ms = sqlite3_column_int64(s, 5);
    int64_t id = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    int result = move_boundary(redate, piece, counter, &base_s, &base);
    if (result == STORE_OK)
        result = move_boundary(redate, piece, counter, &anchor_s, &anchor);
    if (result == STORE_OK)
        result = move_instant(redate, piece, &from_ms);
    if (result == STORE_OK)
        result = move_instant(redate, piece, &to_ms);
    const int64_t values[7] = { id, base_s, base, anchor_s, anchor, from_ms, to_ms };
    return result == STORE_OK ? run(redate, REDATE_MOVE_RUN, values, 7) : result;
}

/* An account at a boundary is base or anchor + rows: where the rows moved, it moves with them. */
static int move_runs(struct redate *redate, const struct piece *piece)
{
    int first = tables[piece->table].first, result = STORE_OK;
    int64_t values[5] = { piece->meter, first, first + tables[piece->table].count - 1, 0, redate->from_s };
    while (result == STORE_OK) {
        sqlite3_stmt *s = redate_bind(redate, REDATE_NEXT_RUN, values, 5);
        int found = store_fetch(redate->store, s);
        if (found != 1)
            return found;
        values[3] = sqlite3_column_int64(s, 0);
        result = move_run(redate, piece, s);
    }
    return result;
}

static int close_days(struct redate *redate, const struct piece *piece)
{
    const struct civil *civil = redate->clock->civil;
    const int64_t values[2] = { piece->meter, redate->from_s };
    int result = run(redate, REDATE_DROP_DAYS, values, 2);
    for (int64_t day = civil_day_of(civil, piece->begin_s);
         result == STORE_OK && civil_day_start(civil, day + 1) <= piece->end_s; day++)
        result = store_close_day(redate->store, piece->meter, day, civil_day_start(civil, day),
                                 civil_day_start(civil, day + 1), redate->clock->interval_s);
    return result;
}

static int next_meter(struct redate *redate, int32_t *meter)
{
    const int64_t after = *meter;
    int64_t next;
    int result = fetch(redate, REDATE_NEXT_METER, &after, 1, 0, &next);
    *meter = (int32_t)next;
    return result == STORE_OK ? next != 0 : result;
}

/* Runs and days of a meter, once all rows are in their new places. */
static int settle(struct redate *redate, const struct piece pieces[2], const bool woven[2])
{
    int result = STORE_OK;
    for (int table = 0; table < 2 && result == STORE_OK; table++)
        if (woven[table])
            result = move_runs(redate, &pieces[table]);
    return result == STORE_OK ? close_days(redate, &pieces[0]) : result;
}

static int weave_meter(struct redate *redate, int32_t meter, struct redated *done)
{
    struct piece pieces[2] = { { .meter = meter, .table = 0 }, { .meter = meter, .table = 1 } };
    bool woven[2];
    for (int table = 0; table < 2; table++) {
        int result = weave_piece(redate, &pieces[table], done);
        if (result < 0)
            return result;
        woven[table] = result == 1;
    }
    if (meter == METER_DERIVED) {
        int result = run(redate, REDATE_NET, &redate->from_s, 1);
        if (result == STORE_OK)
            result = run(redate, REDATE_DROP_NETTED, &redate->from_s, 1);
        if (result != STORE_OK)
            return result;
    }
    return settle(redate, pieces, woven);
}

/* Momentary values of meters that count nothing. */
static int move_weather(struct redate *redate)
{
    int64_t id = 0, right_ms;
    for (;;) {
        int result = fetch(redate, REDATE_NEXT_MOMENTARY, &id, 1, 0, &id);
        if (result != STORE_OK || id == 0)
            return result;
        int64_t values[2] = { 0, -id }, middle_ms = -id / 1024 * 1000 + redate->length_ms / 2;
        result = redate_instant(redate, middle_ms, &right_ms);
        if (result == 1) {
            values[0] =
                row_id(right_ms / redate->length_ms * redate->clock->interval_s, (int32_t)(-id % 1024));
            result = run(redate, REDATE_MOVE_MOMENTARY, values, 2);
        }
        if (result != STORE_OK)
            return result;
    }
}

int redate_rows(struct redate *redate, struct redated *done)
{
    int result = STORE_OK;
    for (int i = 0; i < 3 && result == STORE_OK; i++)
        result = run(redate, REDATE_TAKE + (enum redate_statement)i, &redate->from_s, 1);
    /* The derived meter has the highest number: it comes when its sides stand. */
    for (int32_t meter = 0; result == STORE_OK && (result = next_meter(redate, &meter)) == 1;)
        result = weave_meter(redate, meter, done);
    if (result == STORE_OK)
        result = move_weather(redate);
    for (int i = 0; i < 3 && result == STORE_OK; i++)
        result = run(redate, REDATE_DROP_OLD + (enum redate_statement)i, NULL, 0);
    return result;
}
