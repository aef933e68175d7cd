/* Register runs of what was entered, and of the collector's where rows beside them change. */
#include "store_enter_private.h"

int store_enter_join(struct store_enter *enter, int32_t meter, int32_t counter, struct enter_join *join)
{
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_FIRST_RUN);
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
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_LOWER_BASE);
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
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_RUNS_INSIDE);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, counter);
    sqlite3_bind_int64(s, 3, stored[0].start_s + 1);
    sqlite3_bind_int64(s, 4, stored[count - 1].start_s);
    int code = sqlite3_step(s), changed = STORE_OK;
    for (; code == SQLITE_ROW && changed == STORE_OK; code = sqlite3_step(s)) {
        sqlite3_stmt *move = store_enter_statement(enter, ENTER_MOVE_RUN);
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

static int extend_run(struct store_enter *enter, int64_t id, const struct enter_run *run)
{
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_EXTEND_RUN);
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
    sqlite3_stmt *s = store_enter_statement(enter, ENTER_FIND_RUN);
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
