/* What a boot held without a clock, placed where something says that it was. */
#include <string.h>

#include "redate_private.h"
#include "schema.h"

/* What one meter held at one instant. */
struct held_point {
    int64_t at_ms; /* UTC */
    int64_t account[WEAVE_COUNTERS], value[WEAVE_COUNTERS], raw[WEAVE_COUNTERS], step[WEAVE_COUNTERS];
    int64_t key;
    unsigned has;
    bool unobserved; /* not watched since the one before */
    bool shifted;    /* a register was reset since the record knew it */
};

struct place {
    struct redate_piece piece;
    int64_t until_s;                 /* the gap's end, a boundary; 0: nothing comes after */
    int64_t account[WEAVE_COUNTERS]; /* of the runs, where the rows begin */
    int64_t most[WEAVE_COUNTERS];    /* what flows until the gap's end */
};

static void bind_boot(struct redate *redate, sqlite3_stmt *s, int at)
{
    sqlite3_bind_text(s, at, redate->clock->boot, -1, SQLITE_STATIC);
}

static int64_t row_end_s(const struct redate *redate, int64_t start_s)
{
    return start_s - start_s % redate->clock->interval_s + redate->clock->interval_s;
}

/* Rows of the statement at the same instant. Returns 1, 0 at the end, or a failure. */
static int next_point(struct redate *redate, const struct redate_piece *piece, sqlite3_stmt *s, bool *row,
                      struct held_point *point)
{
    memset(point, 0, sizeof *point);
    for (int64_t ms = 0; *row && (point->has == 0 || sqlite3_column_int64(s, 0) == ms);) {
        int i = sqlite3_column_int(s, 1) - redate_tables[piece->table].first;
        ms = sqlite3_column_int64(s, 0);
        point->at_ms = ms + redate->clock->offset_ms;
        point->account[i] = sqlite3_column_int64(s, 2);
        point->shifted = point->shifted || sqlite3_column_int64(s, 3) != 0;
        point->unobserved = point->unobserved || sqlite3_column_int64(s, 4) != 0;
        point->key = point->has == 0 ? sqlite3_column_int64(s, 5) : point->key;
        point->value[i] = sqlite3_column_int64(s, 6);
        point->raw[i] = sqlite3_column_int64(s, 7);
        point->step[i] = sqlite3_column_int64(s, 8);
        point->has |= 1U << i;
        int code = sqlite3_step(s);
        *row = code == SQLITE_ROW;
        if (code != SQLITE_ROW && code != SQLITE_DONE)
            return store_fail(redate->store, code);
    }
    return point->has != 0;
}

/* A meter that the record does not know yet: its runs begin with the first reading held. */
static int begin_runs(struct redate *redate, struct place *place, const struct held_point *point)
{
    int64_t factor;
    const int64_t meter = place->piece.meter;
    int result = redate_fetch(redate, REDATE_FACTOR, &meter, 1, 0, &factor);
    for (int i = 0; i < redate_tables[place->piece.table].count && result == STORE_OK; i++) {
        if (!(point->has & 1U << i))
            continue;
        struct store_run run = { .meter = place->piece.meter,
                                 .counter = redate_tables[place->piece.table].first + i,
                                 .factor = factor,
                                 .from_ms = point->at_ms,
                                 .first = point->value[i],
                                 .first_raw = (uint64_t)point->raw[i],
                                 .step = point->step[i],
                                 .base_s = place->piece.begin_s,
                                 .base = point->account[i],
                                 .began = "first reading" };
        result = store_put_run(redate->store, &run);
        place->account[i] = point->account[i];
    }
    return result;
}

/* The accounts where the rows begin, and what flows from there to the gap's
 * end. Returns 1, 0 where they are not known, or a failure. */
static int read_accounts(struct redate *redate, struct place *place, const struct held_point *point)
{
    const struct redate_piece *piece = &place->piece;
    const struct redate_table *table = &redate_tables[piece->table];
    int known = 0;
    for (int i = 0; i < table->count; i++) {
        struct store_open_run run;
        int64_t since = 0;
        if (!(point->has & 1U << i))
            continue;
        int result =
            store_read_run(redate->store, piece->meter, table->first + i, redate->clock->interval_s, &run);
        if (result != 1)
            return result;
        if (store_sum(redate->store, piece->meter, table->first + i, piece->begin_s, INT64_C(1) << 40,
                      &since) != STORE_OK ||
            store_sum(redate->store, piece->meter, table->first + i, piece->begin_s, place->until_s,
                      &place->most[i]) != STORE_OK)
            return STORE_FAILED;
        place->account[i] = run.account - since;
        if (place->until_s == 0)
            place->most[i] = INT64_MAX;
        known = 1;
    }
    return known;
}

/* Where the first point falls: behind all rows, or in a gap. Returns 1, 0 where it cannot be placed,
 * or a failure. */
static int find_place(struct redate *redate, struct place *place, const struct held_point *point)
{
    struct redate_piece *piece = &place->piece;
    const struct redate_table *table = &redate_tables[piece->table];
    enum redate_statement other = (enum redate_statement)piece->table;
    const int64_t interval_s = redate->clock->interval_s, first_s = point->at_ms / 1000;
    int64_t values[4] = { piece->meter, first_s - first_s % interval_s, interval_s }, start_s, end_s;
    int result = redate_fetch(redate, REDATE_ROWS_END + other, values, 1, -1, &end_s);
    if (result == STORE_OK)
        result = redate_fetch(redate, REDATE_SEEN_BEFORE + other, values, 3, -1, &start_s);
    if (result != STORE_OK)
        return result;
    if (start_s < 0 && end_s >= 0)
        return 0; /* before the meter's first row */
    piece->begin_s = start_s < 0 ? values[1] : row_end_s(redate, start_s);
    const int64_t since[4] = { piece->meter, table->first, table->first + table->count - 1, piece->begin_s };
    int64_t base_s = -1, changed = 0;
    result = redate_fetch(redate, REDATE_FIRST_BASE, since, 3, -1, &base_s);
    if (result == STORE_OK)
        result = redate_fetch(redate, REDATE_RUN_SINCE, since, 4, 0, &changed);
    if (result != STORE_OK || changed != 0 || (base_s >= 0 && start_s < 0))
        return result < 0 ? result : 0;
    if (base_s < 0)
        return (result = begin_runs(redate, place, point)) == STORE_OK ? read_accounts(redate, place, point)
                                                                       : result;
    if (row_end_s(redate, end_s) > piece->begin_s) {
        values[1] = piece->begin_s;
        result = redate_fetch(redate, REDATE_SEEN_AFTER + other, values, 3, row_end_s(redate, end_s),
                              &place->until_s);
    }
    return result == STORE_OK ? read_accounts(redate, place, point) : result;
}

static int64_t between(int64_t x, int64_t low, int64_t high)
{
    return x < low ? low : x > high ? high : x;
}

static int weave_held(struct redate *redate, struct place *place, struct weave *weave,
                      const struct held_point *point)
{
    struct weave_row row = { .key = point->key, .length_ms = redate->length_ms };
    if (point->shifted || (place->until_s != 0 && point->at_ms >= place->until_s * 1000) ||
        point->at_ms <= weave->last_ms || point->at_ms > redate->now_ms)
        return STORE_OK;
    for (int i = 0; i < redate_tables[place->piece.table].count; i++)
        if (point->has & 1U << i)
            row.energy[i] =
                between(point->account[i] - place->account[i], weave->account[i], place->most[i]) -
                weave->account[i];
    place->piece.has |= point->has;
    if (point->unobserved)
        weave_break(weave);
    weave_point(weave, &row, point->at_ms);
    return redate_put_rows(redate, &place->piece, weave);
}

/* The rest of the gap. */
static int weave_rest(struct redate *redate, struct place *place, struct weave *weave)
{
    struct weave_row row = { .length_ms = redate->length_ms };
    for (int i = 0; i < redate_tables[place->piece.table].count; i++)
        row.energy[i] = place->most[i] - weave->account[i];
    weave_break(weave);
    weave_point(weave, &row, place->until_s * 1000);
    return redate_put_rows(redate, &place->piece, weave);
}

static int weave_points(struct redate *redate, struct place *place, sqlite3_stmt *s)
{
    struct held_point point;
    struct weave weave;
    int code = sqlite3_step(s);
    bool row = code == SQLITE_ROW;
    if (!row && code != SQLITE_DONE)
        return store_fail(redate->store, code);
    int result = next_point(redate, &place->piece, s, &row, &point);
    if (result == 1)
        result = find_place(redate, place, &point);
    if (result != 1)
        return result;
    const struct redate_piece *piece = &place->piece;
    if (place->until_s != 0) {
        const int64_t gap[3] = { piece->meter, piece->begin_s, place->until_s };
        int taken = redate_write(redate, REDATE_TAKE_GAP + (enum redate_statement)piece->table, gap, 3);
        if (taken != STORE_OK)
            return taken;
    }
    weave_begin(&weave, redate_tables[piece->table].count, redate->length_ms, piece->begin_s * 1000,
                HOW_BACK_DATED);
    place->piece.end_s = piece->begin_s;
    do {
        int placed = weave_held(redate, place, &weave, &point);
        if (placed != STORE_OK)
            return placed;
    } while ((result = next_point(redate, &place->piece, s, &row, &point)) == 1);
    if (result == STORE_OK && place->until_s != 0)
        result = weave_rest(redate, place, &weave);
    return result == STORE_OK ? 1 : result;
}

static int place_table(struct redate *redate, struct place *place)
{
    const struct redate_piece *piece = &place->piece;
    const struct redate_table *table = &redate_tables[piece->table];
    const int64_t values[3] = { piece->meter, table->first, table->first + table->count - 1 };
    sqlite3_stmt *s = redate_bind(redate, REDATE_HELD_POINTS, values, 3);
    bind_boot(redate, s, 4);
    int result = weave_points(redate, place, s);
    sqlite3_reset(s);
    if (result == 1 && place->until_s != 0) {
        int moved = redate_move_runs(redate, piece);
        result = moved == STORE_OK ? 1 : moved;
    }
    return result;
}

static int place_meter(struct redate *redate, int32_t meter, struct redated *done, int64_t *until_s)
{
    int result = STORE_OK;
    for (int table = 0; table < 2 && result >= 0; table++) {
        struct place place = { .piece = { .meter = meter, .table = table } };
        result = place_table(redate, &place);
        if (result != 1)
            continue;
        if (place.piece.begin_s < done->from_s)
            done->from_s = place.piece.begin_s;
        if (place.until_s > *until_s)
            *until_s = place.until_s;
        done->rows += (int32_t)((place.piece.end_s - place.piece.begin_s) / redate->clock->interval_s);
        if (table == 0 && (result = redate_close_days(redate, &place.piece)) != STORE_OK)
            return result;
    }
    return result < 0 ? result : STORE_OK;
}

/* Derived rows over a gap follow from their sides; behind all rows the next commit makes them. */
static int place_derived(struct redate *redate, int64_t from_s, int64_t until_s)
{
    const int64_t derived = METER_DERIVED;
    const int64_t range[2] = { from_s, until_s };
    struct redate_piece piece = { .meter = METER_DERIVED, .begin_s = from_s, .end_s = until_s };
    int64_t first_s, sums[2], sum;
    int result =
        redate_fetch(redate, REDATE_FIRST_BASE, (const int64_t[]){ derived, 0, 1 }, 3, INT64_MAX, &first_s);
    if (result != STORE_OK || first_s > from_s)
        return result;
    for (int c = 0; c < 2 && result == STORE_OK; c++)
        result = store_sum(redate->store, METER_DERIVED, c, from_s, until_s, &sums[c]);
    if (result == STORE_OK)
        result = redate_write(redate, REDATE_TAKE_GAP, (const int64_t[]){ derived, from_s, until_s }, 3);
    if (result == STORE_OK)
        result = redate_write(redate, REDATE_DERIVE, range, 2);
    if (result == STORE_OK)
        result = redate_move_runs(redate, &piece);
    for (int c = 0; c < 2 && result == STORE_OK; c++) {
        result = store_sum(redate->store, METER_DERIVED, c, from_s, until_s, &sum);
        if (result == STORE_OK)
            result =
                redate_write(redate, REDATE_SHIFT_DERIVED, (const int64_t[]){ c, until_s, sum - sums[c] }, 3);
    }
    return result == STORE_OK ? redate_close_days(redate, &piece) : result;
}

static int place_all(struct redate *redate, struct redated *done)
{
    const struct redate_clock *clock = redate->clock;
    int64_t meter = 0, until_s = 0, zero = 0;
    int result = STORE_OK;
    while (result == STORE_OK) {
        sqlite3_stmt *s = redate_bind(redate, REDATE_HELD_METER, &meter, 1);
        bind_boot(redate, s, 2);
        result = store_fetch(redate->store, s);
        if (result != 1)
            break;
        meter = sqlite3_column_int64(s, 0);
        bool any = sqlite3_column_type(s, 0) != SQLITE_NULL;
        sqlite3_reset(s);
        if (!any)
            break;
        result = place_meter(redate, (int32_t)meter, done, &until_s);
    }
    if (result < 0)
        return result;
    result = redate_drop_old(redate);
    if (result == STORE_OK && until_s > 0)
        result = place_derived(redate, done->from_s, until_s);
    if (result == STORE_OK)
        result = redate_drop_old(redate);
    if (result != STORE_OK || done->rows == 0)
        return result;
    sqlite3_stmt *s = redate_bind(redate, REDATE_DROP_HELD, &zero, 1);
    bind_boot(redate, s, 2);
    result = store_run_statement(redate->store, s);
    if (result == STORE_OK)
        result = store_add_clock(redate->store, clock->boot, 0, clock->offset_ms, clock->source,
                                 clock->doubt_ms, done->from_s);
    return result == STORE_OK ? store_date_boot(redate->store, clock->boot, clock->offset_ms) : result;
}

int redate_place(struct store *store, const struct redate_clock *clock, struct redated *done)
{
    struct redate redate;
    int result = redate_begin(&redate, store, clock);
    *done = (struct redated){ .from_s = INT64_MAX };
    redate.held = true;
    redate.now_ms = clock->limit_ms;
    if (result == STORE_OK)
        result = place_all(&redate, done);
    redate_end(&redate);
    return result == STORE_OK ? done->rows > 0 : result;
}

/* When the boot held something, by this clock. 1, 0 where it held nothing, or a failure. */
static int read_span(struct redate *redate, int64_t *first_ms, int64_t *last_ms)
{
    const int64_t zero = 0;
    sqlite3_stmt *s = redate_bind(redate, REDATE_HELD_SPAN, &zero, 1);
    bind_boot(redate, s, 2);
    int result = store_fetch(redate->store, s);
    if (result != 1)
        return result;
    bool any = sqlite3_column_type(s, 0) != SQLITE_NULL;
    *first_ms = sqlite3_column_int64(s, 0) + redate->clock->offset_ms;
    *last_ms = sqlite3_column_int64(s, 1) + redate->clock->offset_ms;
    sqlite3_reset(s);
    return any;
}

int redate_fits(struct store *store, const struct redate_clock *clock)
{
    struct redate redate;
    int64_t first_ms = 0, last_ms = 0, found = 0, slack_ms = clock->doubt_ms + clock->interval_s * 1000;
    int result = redate_begin(&redate, store, clock);
    if (result == STORE_OK)
        result = read_span(&redate, &first_ms, &last_ms);
    if (result == 1 && last_ms - slack_ms > clock->limit_ms)
        result = 0;
    if (result == 1) {
        const int64_t values[3] = { (first_ms + slack_ms) / 1000, (last_ms - slack_ms) / 1000,
                                    clock->interval_s };
        result = redate_fetch(&redate, REDATE_CONTRADICTS, values, 3, 0, &found);
        result = result == STORE_OK ? found == 0 : result;
    }
    redate_end(&redate);
    return result;
}
