/* Grid outages that only the counters know of: the computer went down with the
 * grid, and over a span in which the counters of the supply move on other days
 * they did not. */
#include <stdio.h>
#include <string.h>

#include "muldiv.h"
#include "outages.h"
#include "stretch.h"

enum {
    HOUR_S = 3600,
    CLEARLY = 4, /* other days must show so many times what may have flowed at the ends */
    UNEVEN = 3,  /* a flow may be so many times that of the hour beside it */
};

enum counters { COUNTERS_UNCLEAR, COUNTERS_STOOD, COUNTERS_MOVED };

static int64_t flow(struct meter_sum sum)
{
    return sum.import + sum.export;
}

/* What flowed in the hour before or behind it, mWh an hour. */
static int64_t beside(const struct stretch *stretch, bool before)
{
    int64_t from_s = before ? stretch->from_s - HOUR_S : stretch->to_s;
    return flow(query_meter_sum(stretch->query, stretch->meter, from_s, from_s + HOUR_S));
}

/* Does more than this flow in the same hours of other days: of half of them, and of three? */
static bool usually_more(const struct stretch *stretch, int64_t least)
{
    struct meter_sum sum;
    int32_t known = 0, more = 0;
    for (int32_t i = 0; i < STRETCH_DAYS; i++) {
        if (!stretch_day(stretch, i, &sum))
            continue;
        known++;
        more += flow(sum) > least;
    }
    return more >= STRETCH_LEAST && 2 * more >= known;
}

/* How long it may have flowed at the outage's beginning and its end. */
struct ends {
    int64_t begin_s, end_s;
};

static enum counters look_at(const struct stretch *stretch, struct ends ends)
{
    struct meter_sum sum = stretch_sum(stretch, 0);
    int64_t step = query_step(stretch->query, stretch->meter, stretch->from_s, stretch->to_s);
    int64_t may = 2 * step + UNEVEN * (mul_div(beside(stretch, true), ends.begin_s, HOUR_S) +
                                       mul_div(beside(stretch, false), ends.end_s, HOUR_S));
    if (sum.rows * stretch->interval_s < stretch->to_s - stretch->from_s)
        return COUNTERS_UNCLEAR;
    if (flow(sum) > may)
        return COUNTERS_MOVED;
    return usually_more(stretch, CLEARLY * may) ? COUNTERS_STOOD : COUNTERS_UNCLEAR;
}

static bool counts_supply(const struct arrangement *arrangement, const struct arranged_meter *meter)
{
    bool grid = false;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        grid = grid ||
               (arrangement->meters[i].role == ROLE_GRID && arrangement->meters[i].number != METER_DERIVED);
    return grid ? meter->role == ROLE_GRID && meter->number != METER_DERIVED
                : meter->role == ROLE_CONSUMPTION;
}

static enum counters look_at_meter(struct query *query, int32_t meter, const struct outage *outage)
{
    struct stretch stretch = stretch_of(query, meter, outage->from_ms, outage->to_ms);
    int64_t back_ms = outage->booted_ms != UNKNOWN ? outage->booted_ms : outage->to_ms;
    struct ends ends = { (outage->from_ms + outage->doubt_ms) / 1000 - stretch.from_s,
                         stretch.to_s - back_ms / 1000 };
    return look_at(&stretch, ends);
}

/* One meter that moved is enough, and all must have stood. */
static enum counters look_at_all(struct query *query, const struct arrangement *arrangement,
                                 const struct outage *outage)
{
    enum counters result = COUNTERS_STOOD;
    int32_t meters = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        if (!counts_supply(arrangement, &arrangement->meters[i]))
            continue;
        enum counters one = look_at_meter(query, arrangement->meters[i].number, outage);
        if (one == COUNTERS_MOVED || result == COUNTERS_MOVED)
            result = COUNTERS_MOVED;
        else if (one == COUNTERS_UNCLEAR)
            result = COUNTERS_UNCLEAR;
        meters++;
    }
    return meters > 0 ? result : COUNTERS_UNCLEAR;
}

static void say(struct outage *outage, const char *more)
{
    size_t at = strlen(outage->known);
    snprintf(outage->known + at, sizeof(outage->known) - at, "; %s", more);
}

void outages_infer(struct outages *outages, struct query *query, const struct arrangement *arrangement)
{
    static const char *const words[] = { [COUNTERS_UNCLEAR] = "whether the grid failed cannot be told",
                                         [COUNTERS_STOOD] = "the grid was out",
                                         [COUNTERS_MOVED] = "the grid was there: counters went on" };
    int32_t count = outages->count;
    for (int32_t i = 0; i < count; i++) {
        struct outage outage = outages->list[i];
        if (outage.kind != OUTAGE_COMPUTER || !outage.new_boot || outage.to_ms == UNKNOWN)
            continue;
        enum counters result = look_at_all(query, arrangement, &outage);
        say(&outages->list[i], words[result]);
        if (result != COUNTERS_STOOD)
            continue;
        outage.kind = OUTAGE_GRID;
        if (outage.booted_ms > outage.from_ms)
            outage.to_ms = outage.booted_ms;
        snprintf(outage.known, sizeof(outage.known), "counters stood still while the computer was off");
        outages_add(outages, &outage);
    }
}
