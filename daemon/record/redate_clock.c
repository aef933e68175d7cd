/* Clock rows, events and settings of stretches that were dated anew. */
#include <string.h>

#include "redate_private.h"

static int run_for(struct redate *redate, enum redate_statement which, const int64_t values[], int count,
                   const char *boot)
{
    sqlite3_stmt *s = redate_bind(redate, which, values, count);
    sqlite3_bind_text(s, count + 1, boot, -1, SQLITE_STATIC);
    return store_run_statement(redate->store, s);
}

static bool is_own(const struct redate *redate, const struct stretch *stretch)
{
    return strcmp(stretch->boot, redate->clock->boot) == 0;
}

/* What was dated besides rows; until_ms: boot time at which the stretch ends. */
static int move_dates(struct redate *redate, const struct stretch *stretch, int64_t until_ms)
{
    bool places = redate_places(redate, stretch);
    const int64_t values[3] = { stretch->from_ms, until_ms,
                                places ? redate_step(redate, stretch) : redate->from_s * 1000 };
    if (places && redate_drifts(redate, stretch))
        return STORE_OK; /* off by the drift at most */
    int result =
        run_for(redate, places ? REDATE_MOVE_EVENTS : REDATE_UNDATE_EVENTS, values, 3, stretch->boot);
    return result == STORE_OK ? run_for(redate, places ? REDATE_MOVE_SETTINGS : REDATE_CLAMP_SETTINGS, values,
                                        3, stretch->boot)
                              : result;
}

/* The right clock holds for this boot from where the wrong one did; what has
 * drifted was right at its beginning. */
static int move_clock(struct redate *redate, const struct stretch *stretch, struct redated *done)
{
    int64_t step_ms = redate_step(redate, stretch), length_ms = redate->length_ms;
    int64_t intervals = step_ms / length_ms - (step_ms % length_ms < 0);
    int64_t values[3] = { stretch->from_ms, step_ms, intervals * redate->clock->interval_s };
    if (redate->partly && stretch->start_ms == redate->first_ms)
        return STORE_OK;
    if (!redate_places(redate, stretch))
        return run_for(redate, REDATE_DROP_CLOCK, values, 1, stretch->boot);
    values[2] = stretch->after_s == redate->from_s ? 0 : values[2];
    if (!is_own(redate, stretch))
        return run_for(redate, REDATE_MOVE_CLOCK, values, 3, stretch->boot);
    if (redate_drifts(redate, stretch))
        return STORE_OK;
    if (stretch->from_ms < done->clock_from_ms) {
        done->clock_from_ms = stretch->from_ms;
        done->clock_after_s = stretch->after_s + values[2];
    }
    return run_for(redate, REDATE_DROP_CLOCK, values, 1, stretch->boot);
}

/* Boot time at which another clock took over in the same boot. */
static int find_until(struct redate *redate, const struct stretch *stretch, int64_t *until_ms)
{
    sqlite3_stmt *s = redate_bind(redate, REDATE_CLOCK_UNTIL, &stretch->from_ms, 1);
    sqlite3_bind_text(s, 2, stretch->boot, -1, SQLITE_STATIC);
    int result = store_fetch(redate->store, s);
    *until_ms = INT64_MAX;
    if (result == 1 && sqlite3_column_type(s, 0) != SQLITE_NULL)
        *until_ms = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return result < 0 ? result : STORE_OK;
}

/* In the order in which a stretch that moved is not met again. */
int redate_clocks(struct redate *redate, struct redated *done)
{
    bool on = redate->battery_known && redate->battery_step_ms < 0;
    int64_t than_ms = on ? redate->first_ms - 1 : INT64_MAX, until_ms;
    struct stretch stretch;
    int result;
    while ((result = redate_stretch(redate, on, than_ms, &stretch)) == 1 &&
           stretch.start_ms >= redate->first_ms) {
        than_ms = stretch.start_ms;
        result = find_until(redate, &stretch, &until_ms);
        if (result == STORE_OK)
            result = move_dates(redate, &stretch, until_ms);
        if (result == STORE_OK)
            result = move_clock(redate, &stretch, done);
        if (result != STORE_OK)
            return result;
    }
    return result < 0 ? result : STORE_OK;
}
