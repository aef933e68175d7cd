/* Register runs and days of a meter whose rows were made anew. */
#include "redate_private.h"

/* What a counter's rows before a boundary added, old and new. */
static int added(struct redate *redate, const struct redate_piece *piece, int counter, int64_t old_s,
                 int64_t new_s, int64_t *change)
{
    const int64_t values[2] = { piece->meter, old_s };
    int64_t sum;
    sqlite3_stmt *s = redate_bind(redate, REDATE_SUM_OLD + (enum redate_statement)piece->table, values, 2);
    int result = store_fetch(redate->store, s);
    if (result < 0)
        return result;
    *change = -sqlite3_column_int64(s, counter - redate_tables[piece->table].first);
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
static int move_boundary(struct redate *redate, const struct redate_piece *piece, int counter, int64_t *at_s,
                         int64_t *change)
{
    int64_t right_ms = piece->begin_s * 1000, old_s = *at_s;
    *change = 0;
    if (redate->held && (old_s <= piece->begin_s || old_s >= piece->end_s))
        return STORE_OK;
    if (redate->held)
        return added(redate, piece, counter, old_s, old_s, change);
    if (old_s < redate->from_s)
        return STORE_OK;
    if (old_s <= piece->before_s) {
        *at_s = piece->begin_s;
        return STORE_OK;
    }
    int result = redate_instant(redate, old_s * 1000, &right_ms);
    if (result < 0)
        return result;
    *at_s = between(right_ms / redate->length_ms * redate->clock->interval_s, piece->begin_s, piece->end_s);
    return added(redate, piece, counter, old_s, *at_s, change);
}

static int move_instant(struct redate *redate, const struct redate_piece *piece, int64_t *at_ms)
{
    int64_t right_ms = piece->begin_s * 1000;
    if (redate->held || *at_ms == STORE_NULL || *at_ms < redate->from_s * 1000)
        return STORE_OK;
    int result = redate_instant(redate, *at_ms, &right_ms);
    *at_ms = between(right_ms, piece->begin_s * 1000, redate->now_ms);
    return result < 0 ? result : STORE_OK;
}

static int move_run(struct redate *redate, const struct redate_piece *piece, sqlite3_stmt *s)
{
    int counter = sqlite3_column_int(s, 1);
    int64_t base_s = sqlite3_column_int64(s, 2), anchor_s = sqlite3_column_int64(s, 3);
    int64_t from_ms = sqlite3_column_int64(s, 4), to_ms = STORE_NULL, base = 0, anchor = 0;
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
    return result == STORE_OK ? redate_write(redate, REDATE_MOVE_RUN, values, 7) : result;
}

/* An account at a boundary is base or anchor + rows: where the rows moved, it moves with them. */
int redate_move_runs(struct redate *redate, const struct redate_piece *piece)
{
    int first = redate_tables[piece->table].first, result = STORE_OK;
    int64_t values[5] = { piece->meter, first, first + redate_tables[piece->table].count - 1, 0,
                          redate->from_s };
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

int redate_close_days(struct redate *redate, const struct redate_piece *piece)
{
    const struct civil *civil = redate->clock->civil;
    const int64_t until_s = redate->held ? piece->end_s : INT64_MAX;
    const int64_t values[3] = { piece->meter, redate->held ? piece->begin_s : redate->from_s, until_s };
    int64_t newest_s;
    int result = redate_write(redate, REDATE_DROP_DAYS, values, 3);
    if (result == STORE_OK)
        result = store_newest(redate->store, piece->meter, redate->clock->interval_s, &newest_s);
    for (int64_t day = civil_day_of(civil, piece->begin_s);
         result == STORE_OK && civil_day_start(civil, day) < until_s &&
         civil_day_start(civil, day + 1) <= newest_s;
         day++)
        result = store_close_day(redate->store, piece->meter, day, civil_day_start(civil, day),
                                 civil_day_start(civil, day + 1), redate->clock->interval_s);
    return result;
}
