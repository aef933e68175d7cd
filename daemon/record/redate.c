#include "redate.h"

#include <stdio.h>
#include <string.h>

#include "date.h"
#include "redate_private.h"

/* A clock that runs on without the network drifts; more than this is a step. */
#define DRIFT_PPM 500

int redate_stretch(struct redate *redate, bool on, int64_t than_ms, struct stretch *stretch)
{
    sqlite3_stmt *s = redate_bind(redate, on ? REDATE_CLOCK_ON : REDATE_CLOCK_BACK, &than_ms, 1);
    int found = store_fetch(redate->store, s);
    if (found != 1)
        return found;
    snprintf(stretch->boot, sizeof stretch->boot, "%s", store_text(s, 0));
    snprintf(stretch->source, sizeof stretch->source, "%s", store_text(s, 1));
    stretch->from_ms = sqlite3_column_int64(s, 2);
    stretch->offset_ms = sqlite3_column_int64(s, 3);
    stretch->after_s = sqlite3_column_int64(s, 4);
    stretch->start_ms = stretch->from_ms + stretch->offset_ms;
    sqlite3_reset(s);
    return 1;
}

static bool own(const struct redate *redate, const struct stretch *stretch)
{
    return strcmp(stretch->boot, redate->clock->boot) == 0;
}

/* Of two that are as good, but for the network, the later is believed: a person may have been wrong. */
static bool worse(const struct redate *redate, const struct stretch *stretch)
{
    int rank = date_rank(redate->clock->source), other = date_rank(stretch->source);
    return other > rank || (other == rank && rank > 1 && stretch->offset_ms != redate->clock->offset_ms);
}

static bool by_battery(const struct stretch *stretch)
{
    return strcmp(stretch->source, "battery") == 0;
}

int64_t redate_step(const struct redate *redate, const struct stretch *stretch)
{
    return own(redate, stretch) ? redate->clock->offset_ms - stretch->offset_ms : redate->battery_step_ms;
}

bool redate_drifts(const struct redate *redate, const struct stretch *stretch)
{
    int64_t passed = redate->clock->boot_ms - stretch->from_ms, step = redate_step(redate, stretch);
    return own(redate, stretch) && strcmp(stretch->source, "holdover") == 0 &&
           (step < 0 ? -step : step) <= redate->length_ms + passed / 1000000 * DRIFT_PPM;
}

bool redate_places(const struct redate *redate, const struct stretch *stretch)
{
    if (redate->partly && stretch->start_ms == redate->first_ms)
        return false;
    return own(redate, stretch) || (by_battery(stretch) && redate->battery_known);
}

/* Takes one stretch more, the newest that is not taken; rows of it end at end_ms.
 * Returns false where those before it stay. */
static bool take(struct redate *redate, const struct stretch *stretch, int64_t end_ms)
{
    int64_t ahead_ms = end_ms - redate->now_ms, limit_ms = redate->now_ms - ahead_ms;
    bool network = date_rank(redate->clock->source) == 0;
    bool is_false = network && ahead_ms > redate->length_ms, whole;
    if (own(redate, stretch) && worse(redate, stretch)) {
        whole = true;
        redate->battery_known = redate->battery_known || by_battery(stretch);
        if (by_battery(stretch))
            redate->battery_step_ms = redate_step(redate, stretch);
    } else if (by_battery(stretch) && redate->battery_known) {
        whole = true;
    } else if (is_false) {
        whole = stretch->start_ms >= limit_ms;
    } else {
        return false;
    }
    redate->any = true;
    redate->partly = !whole;
    redate->first_ms = stretch->start_ms;
    redate->from_s = stretch->after_s;
    if (!whole && limit_ms > stretch->after_s * 1000)
        redate->from_s = limit_ms / redate->length_ms * redate->clock->interval_s;
    return whole;
}

/* Walks back over the stretches that are wrong. */
int redate_look_back(struct redate *redate, int64_t *stays_s)
{
    struct stretch stretch;
    int64_t end_s, than_ms = INT64_MAX;
    int result = store_newest(redate->store, 0, redate->clock->interval_s, &end_s);
    if (result != STORE_OK)
        return result;
    while ((result = redate_stretch(redate, false, than_ms, &stretch)) == 1 &&
           take(redate, &stretch, end_s * 1000)) {
        than_ms = stretch.start_ms;
        end_s = stretch.after_s;
    }
    *stays_s = redate->any ? redate->from_s : end_s;
    return result < 0 ? result : STORE_OK;
}

/* Which stretch dated an instant, and which is the next. */
static int look_up(struct redate *redate, int64_t label_ms)
{
    if (redate->cached && label_ms >= redate->now.start_ms &&
        (!redate->has_next || label_ms < redate->next.start_ms))
        return 1;
    int result = redate_stretch(redate, false, label_ms + 1, &redate->now);
    redate->cached = result == 1;
    if (result != 1)
        return result;
    result = redate_stretch(redate, true, label_ms, &redate->next);
    redate->has_next = result == 1;
    redate->cached = result >= 0;
    return result < 0 ? result : 1;
}

int redate_instant(struct redate *redate, int64_t label_ms, int64_t *right_ms)
{
    int result = look_up(redate, label_ms);
    const struct stretch *now = &redate->now, *next = redate->has_next ? &redate->next : NULL;
    if (result != 1 || now->start_ms < redate->first_ms || !redate_places(redate, now))
        return result < 0 ? result : 0;
    /* Behind the last row of a boot that ended: only a gap lies there. */
    if (next && strcmp(next->boot, now->boot) != 0 && label_ms > next->after_s * 1000)
        return 0;
    int64_t step = redate_step(redate, now);
    if (redate_drifts(redate, now)) {
        int64_t passed = redate->clock->boot_ms + now->offset_ms - now->start_ms;
        step = passed > 0 ? (int64_t)((double)step * (double)(label_ms - now->start_ms) / (double)passed) : 0;
    }
    if (label_ms + step > redate->now_ms)
        return 0;
    *right_ms = label_ms + step;
    return 1;
}

int redate_due(struct store *store, const struct redate_clock *clock, int64_t *stays_s)
{
    struct redate redate;
    int result = redate_begin(&redate, store, clock);
    if (result == STORE_OK)
        result = redate_look_back(&redate, stays_s);
    redate_end(&redate);
    return result == STORE_OK ? redate.any : result;
}
