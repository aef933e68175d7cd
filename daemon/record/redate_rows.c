/* Rows taken back and woven anew, meter by meter. */
#include "redate_private.h"
#include "schema.h"
#include "weave.h"

#define DAY_S     INT64_C(86400)
#define LONGEST_S 3600 /* interval that is allowed */

/* A row ends where the next begins: the interval may have been another then. The
 * last one (0), and one before a hole that no interval spans, by the one in force. */
static int64_t row_end_s(const struct redate *redate, int64_t start_s, int64_t next_s)
{
    if (next_s > start_s && next_s <= start_s - start_s % LONGEST_S + LONGEST_S)
        return next_s;
    return start_s - start_s % redate->clock->interval_s + redate->clock->interval_s;
}

static void read_row(sqlite3_stmt *s, struct redate_piece *piece, struct weave_row *row)
{
    *row = (struct weave_row){ .key = sqlite3_column_int64(s, 0),
                               .estimated = sqlite3_column_int64(s, 1),
                               .unobserved_ms = sqlite3_column_int64(s, 2) * 1000,
                               .how = (uint16_t)sqlite3_column_int(s, 3) };
    for (int i = 0; i < redate_tables[piece->table].count; i++) {
        if (sqlite3_column_type(s, 4 + i) == SQLITE_NULL)
            continue;
        row->energy[i] = sqlite3_column_int64(s, 4 + i);
        piece->has |= 1U << i;
    }
}

static int put_row(struct redate *redate, const struct redate_piece *piece, const struct woven *woven)
{
    int64_t id = row_id(woven->start_ms / 1000, piece->meter);
    int64_t values[9] = { id, woven->key, woven->estimated, (woven->unobserved_ms + 500) / 1000, woven->how };
    int count = redate_tables[piece->table].count;
    for (int i = 0; i < count; i++)
        values[5 + i] = piece->has & 1U << i ? woven->energy[i] : STORE_NULL;
    enum redate_statement which = REDATE_ADD_ROW + (enum redate_statement)piece->table;
    if (redate->held && piece->table == 0)
        which = REDATE_ADD_HELD;
    int result = redate_write(redate, which, values, 5 + count);
    if (result == STORE_OK && !redate->held && piece->table == 0 && woven->key != 0)
        result = redate_write(redate, REDATE_MOVE_MOMENTARY, values, 2);
    return result;
}

int redate_put_rows(struct redate *redate, struct redate_piece *piece, struct weave *weave)
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
static int find_begin(struct redate *redate, struct redate_piece *piece, int64_t start_s, int64_t end_s)
{
    int first = redate_tables[piece->table].first;
    const int64_t values[3] = { piece->meter, first, first + redate_tables[piece->table].count - 1 };
    int64_t base_s, right_ms = redate->now_ms - redate->clock->boot_ms;
    int result = redate_fetch(redate, REDATE_FIRST_BASE, values, 3, INT64_MAX, &base_s);
    piece->before_s = piece->begin_s = redate->from_s;
    if (result != STORE_OK || base_s < redate->from_s)
        return result;
    piece->before_s = start_s;
    result = redate_instant(redate, end_s * 1000, &right_ms);
    if (result == 1)
        right_ms -= (end_s - start_s) * 1000;
    piece->begin_s = right_ms / redate->length_ms * redate->clock->interval_s;
    if (piece->begin_s < redate->from_s)
        piece->begin_s = redate->from_s;
    return result < 0 ? result : STORE_OK;
}

static int begin_piece(struct redate *redate, struct redate_piece *piece, int64_t start_s, int64_t end_s,
                       struct weave *weave)
{
    int result = find_begin(redate, piece, start_s, end_s);
    weave_begin(weave, redate_tables[piece->table].count, redate->length_ms, piece->begin_s * 1000,
                HOW_RE_DATED);
    piece->end_s = piece->begin_s;
    return result;
}

static int weave_row(struct redate *redate, struct redate_piece *piece, struct weave_row *row, int64_t next_s,
                     struct weave *weave)
{
    int64_t right_ms, start_s = row->key / 1024, end_s = row_end_s(redate, start_s, next_s);
    int placed = 0, result = STORE_OK;
    if (weave->counters == 0)
        result = begin_piece(redate, piece, start_s, end_s, weave);
    row->length_ms = (end_s - start_s) * 1000;
    if (result == STORE_OK && row->unobserved_ms < row->length_ms)
        placed = redate_instant(redate, end_s * 1000, &right_ms);
    if (result != STORE_OK || placed < 0)
        return result != STORE_OK ? result : placed;
    if (placed == 0)
        weave_pass(weave, row);
    else
        weave_point(weave, row, right_ms);
    return redate_put_rows(redate, piece, weave);
}

/* A row inserted has a positive key: this pass does not meet it. */
static int weave_piece(struct redate *redate, struct redate_piece *piece, struct redated *done)
{
    const int64_t meter = piece->meter;
    struct weave weave = { .counters = 0 };
    struct weave_row row = { .key = 0 };
    int result = STORE_OK, code;
    enum redate_statement which = REDATE_OLD_ROWS + (enum redate_statement)piece->table;
    sqlite3_stmt *s = redate_bind(redate, which, &meter, 1);
    while (result == STORE_OK && (code = sqlite3_step(s)) != SQLITE_DONE) {
        if (code != SQLITE_ROW)
            return store_fail(redate->store, code);
        if (row.key != 0)
            result = weave_row(redate, piece, &row, sqlite3_column_int64(s, 0) / 1024, &weave);
        read_row(s, piece, &row);
        done->rows++;
    }
    sqlite3_reset(s);
    if (result == STORE_OK && row.key != 0)
        result = weave_row(redate, piece, &row, 0, &weave);
    return result == STORE_OK ? row.key != 0 : result;
}

static int next_meter(struct redate *redate, int32_t *meter)
{
    const int64_t after = *meter;
    int64_t next;
    int result = redate_fetch(redate, REDATE_NEXT_METER, &after, 1, 0, &next);
    *meter = (int32_t)next;
    return result == STORE_OK ? next != 0 : result;
}

/* Runs and days of a meter, once all rows are in their new places. */
static int settle(struct redate *redate, const struct redate_piece pieces[2], const bool woven[2])
{
    int result = STORE_OK;
    for (int table = 0; table < 2 && result == STORE_OK; table++)
        if (woven[table])
            result = redate_move_runs(redate, &pieces[table]);
    return result == STORE_OK ? redate_close_days(redate, &pieces[0]) : result;
}

static int weave_meter(struct redate *redate, int32_t meter, struct redated *done)
{
    struct redate_piece pieces[2] = { { .meter = meter, .table = 0 }, { .meter = meter, .table = 1 } };
    bool woven[2];
    for (int table = 0; table < 2; table++) {
        int result = weave_piece(redate, &pieces[table], done);
        if (result < 0)
            return result;
        woven[table] = result == 1;
    }
    if (meter == METER_DERIVED) {
        int result = redate_write(redate, REDATE_NET, &redate->from_s, 1);
        if (result == STORE_OK)
            result = redate_write(redate, REDATE_DROP_NETTED, &redate->from_s, 1);
        if (result != STORE_OK)
            return result;
    }
    return settle(redate, pieces, woven);
}

static int move_momentary(struct redate *redate, int64_t meter)
{
    int64_t key[2] = { 0, meter }, right_ms;
    for (;;) {
        int result = redate_fetch(redate, REDATE_NEXT_MOMENTARY, key, 2, 0, &key[0]);
        if (result != STORE_OK || key[0] == 0)
            return result;
        int64_t values[2] = { 0, -key[0] }, middle_ms = -key[0] / 1024 * 1000 + redate->length_ms / 2;
        result = redate_instant(redate, middle_ms, &right_ms);
        if (result == 1) {
            values[0] = row_id(right_ms / redate->length_ms * redate->clock->interval_s, (int32_t)meter);
            result = redate_write(redate, REDATE_MOVE_MOMENTARY, values, 2);
        }
        if (result != STORE_OK)
            return result;
    }
}

/* Momentary values of meters that count nothing. */
static int move_weather(struct redate *redate)
{
    int64_t meter = 0;
    for (;;) {
        int result = redate_fetch(redate, REDATE_NEXT_WEATHER, &meter, 1, 0, &meter);
        if (result != STORE_OK || meter == 0)
            return result;
        result = move_momentary(redate, meter);
        if (result != STORE_OK)
            return result;
    }
}

/* One of the statements for three tables, a day at a time: SQLite notes in memory which rows it changes. */
static int each_day(struct redate *redate, enum redate_statement span, enum redate_statement which)
{
    sqlite3_stmt *s = redate_bind(redate, span, &redate->from_s, span == REDATE_ROWS_SPAN);
    int result = store_fetch(redate->store, s);
    if (result != 1)
        return result;
    bool any = sqlite3_column_type(s, 0) != SQLITE_NULL;
    int64_t at_s = sqlite3_column_int64(s, 0), last_s = sqlite3_column_int64(s, 1);
    sqlite3_reset(s);
    for (result = STORE_OK; any && at_s <= last_s && result == STORE_OK; at_s += DAY_S) {
        const int64_t values[2] = { at_s, at_s + DAY_S };
        for (int i = 0; i < 3 && result == STORE_OK; i++)
            result = redate_write(redate, which + (enum redate_statement)i, values, 2);
    }
    return result;
}

int redate_drop_old(struct redate *redate)
{
    return each_day(redate, REDATE_OLD_SPAN, REDATE_DROP_OLD);
}

int redate_rows(struct redate *redate, struct redated *done)
{
    int result = each_day(redate, REDATE_ROWS_SPAN, REDATE_TAKE);
    for (int i = 0; i < 2 && result == STORE_OK; i++)
        result = redate_write(redate, REDATE_DROP_CORRECTED + (enum redate_statement)i, &redate->from_s, 1);
    /* The derived meter has the highest number: it comes when its sides stand. */
    for (int32_t meter = 0; result == STORE_OK && (result = next_meter(redate, &meter)) == 1;)
        result = weave_meter(redate, meter, done);
    if (result == STORE_OK)
        result = move_weather(redate);
    return result == STORE_OK ? redate_drop_old(redate) : result;
}
