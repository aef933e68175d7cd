/* Grid outages that only the counters know of: the computer went down with the
 * grid, or the meter of the supply did, and over a span in which the counters
 * of the supply always move they did not. */
#include <stdio.h>
#include <string.h>

#include "muldiv.h"
#include "outages.h"
#include "query_outages.h"

enum {
    DAY_S = 86400,
    HOUR_S = 3600,
    REFERENCES = 3, /* days around it that must know the same hours */
    REFERENCE_DAYS = 7,
    CLEARLY = 4, /* they must show so many times what may have flowed at the ends */
    UNEVEN = 3,  /* a flow may be so many times that of the hour beside it */
};

enum counters { COUNTERS_UNCLEAR, COUNTERS_STOOD, COUNTERS_MOVED };

/* The counters of one meter around an outage. */
struct look {
    struct query *query;
    int32_t meter;
    int32_t interval_s;
    int64_t from_s, to_s; /* whole intervals */
};

static int64_t flow(struct meter_sum sum)
{
    return sum.import + sum.export;
}

static struct meter_sum sum_of(const struct look *look, int64_t shift_s)
{
    return query_meter_sum(look->query, look->meter, look->from_s + shift_s, look->to_s + shift_s);
}

/* What flowed in the hour before or behind it, mWh an hour. */
static int64_t beside(const struct look *look, bool before)
{
    int64_t from_s = before ? look->from_s - HOUR_S : look->to_s;
    return flow(query_meter_sum(look->query, look->meter, from_s, from_s + HOUR_S));
}

/* The least that flowed in the same hours of the days around it; -1: too few know. */
static int64_t least_usual(const struct look *look)
{
    int64_t rows = (look->to_s - look->from_s) / look->interval_s, least = -1;
    int64_t first = (look->to_s - look->from_s + DAY_S - 1) / DAY_S;
    int32_t found = 0;
    for (int64_t k = first; k < first + REFERENCE_DAYS; k++)
        for (int sign = -1; sign <= 1; sign += 2) {
            struct meter_sum sum = sum_of(look, sign * k * DAY_S);
            if (sum.rows != rows || sum.unobserved_s * 10 > look->to_s - look->from_s)
                continue;
            found++;
            if (least < 0 || flow(sum) < least)
                least = flow(sum);
        }
    return found < REFERENCES ? -1 : least;
}

/* `ends_s`: how long it may have flowed at the outage's beginning and its end. */
static enum counters look_at(const struct look *look, int64_t begin_s, int64_t end_s)
{
    struct meter_sum sum = sum_of(look, 0);
    int64_t step = query_step(look->query, look->meter, look->from_s, look->to_s);
    int64_t may = 2 * step + UNEVEN * (mul_div(beside(look, true), begin_s, HOUR_S) +
                                       mul_div(beside(look, false), end_s, HOUR_S));
    if (sum.rows * look->interval_s < look->to_s - look->from_s)
        return COUNTERS_UNCLEAR;
    if (flow(sum) > may)
        return COUNTERS_MOVED;
    return least_usual(look) > CLEARLY * may ? COUNTERS_STOOD : COUNTERS_UNCLEAR;
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

/* One meter that moved is enough, and all must have stood. */
static enum counters look_at_all(struct query *query, const struct arrangement *arrangement,
                                 const struct outage *outage, int32_t interval_s)
{
    int64_t from_s = outage->from_ms / 1000, to_s = outage->to_ms / 1000;
    int64_t back_s = outage->booted_ms != UNKNOWN ? outage->booted_ms / 1000 : to_s;
    struct look look = { .query = query, .interval_s = interval_s };
    enum counters result = COUNTERS_STOOD;
    int32_t meters = 0;
    look.from_s = from_s - from_s % interval_s;
    look.to_s = to_s + interval_s - to_s % interval_s;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        if (!counts_supply(arrangement, &arrangement->meters[i]))
            continue;
        meters++;
        look.meter = arrangement->meters[i].number;
        enum counters one =
            look_at(&look, from_s - look.from_s + outage->doubt_ms / 1000, look.to_s - back_s);
        if (one == COUNTERS_MOVED || result == COUNTERS_MOVED)
            result = COUNTERS_MOVED;
        else if (one == COUNTERS_UNCLEAR)
            result = COUNTERS_UNCLEAR;
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
        enum counters result = look_at_all(query, arrangement, &outage, outages->interval_s);
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
