/* Days in: what each part made beside the median of its peers. */
#include "parts.h"

#include <stdlib.h>

#include "muldiv.h"

enum {
    MOST_YIELD = 10000000, /* mWh per kWp and hour: ten times the sun */
    SEEN_TENTHS = 9,       /* of a day's yield must fall into hours that were seen */
    OPEN_QUARTERS = 1,     /* and so much into hours not at the a.c. rating */
    FAINT = 10,            /* an hour below a tenth of the day's best says little */
    MOST_RATIO = 30000,
    MOST_PERCENT = 250,
};

/* What was fed, and the same as mWh per kWp. */
struct day {
    int32_t count;
    const struct part_hour (*hours)[PARTS_HOURS];
    int32_t yields[PARTS_MOST][PARTS_HOURS];
};

/* What an hour of one plane brought, mWh per kWp; -1: not known. */
struct reference {
    uint64_t peers;
    int32_t whole[PARTS_HOURS]; /* by all that were seen */
    int32_t open[PARTS_HOURS];  /* by those not at their rating */
    int32_t best;               /* of whole */
    uint32_t lit;               /* hours in which anything was made, one bit each */
};

static const struct part_day nothing = {
    .ratio = PARTS_NO_RATIO,
    .hour = { 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255,
              255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255, 255 }, /* PARTS_HOUR_NONE */
};

bool parts_open(struct parts *parts, int32_t count, int32_t days, int32_t span_from)
{
    size_t size = (size_t)count * (size_t)days;
    parts->count = count;
    parts->days = days;
    parts->span_from = span_from;
    parts->day = malloc((size + 1) * sizeof(*parts->day));
    for (size_t i = 0; parts->day && i < size; i++)
        parts->day[i] = nothing;
    return parts->day != NULL;
}

void parts_close(struct parts *parts)
{
    free(parts->day);
    parts->day = NULL;
}

const struct part_facts *parts_facts(const struct part *part, int32_t day)
{
    static const struct part_facts none = { .azimuth = UNKNOWN, .tilt = UNKNOWN };
    int32_t at = part->fact_count - 1;
    while (at > 0 && part->facts[at].from_day > day)
        at--;
    return at < 0 ? &none : &part->facts[at];
}

void parts_set_facts(struct part *part, const struct part_facts *facts)
{
    const struct part_facts *last = part->fact_count > 0 ? &part->facts[part->fact_count - 1] : NULL;
    if (last && last->present == facts->present && last->peak_w == facts->peak_w &&
        last->azimuth == facts->azimuth && last->tilt == facts->tilt)
        return;
    if (last && (last->from_day == facts->from_day || part->fact_count == PARTS_FACTS))
        part->fact_count--;
    part->facts[part->fact_count++] = *facts;
}

int32_t parts_brightest(const struct parts *parts, int32_t part, int32_t day)
{
    int32_t best = 0, last = day + PARTS_AROUND < parts->days ? day + PARTS_AROUND : parts->days - 1;
    for (int32_t d = day > PARTS_AROUND ? day - PARTS_AROUND : 0; d <= last; d++)
        best = parts_at(parts, d, part)->whole > best ? parts_at(parts, d, part)->whole : best;
    return best;
}

static bool is_known(const struct part_facts *facts)
{
    return facts->present && facts->peak_w > 0 && facts->azimuth != UNKNOWN && facts->tilt != UNKNOWN;
}

uint64_t parts_peers(const struct parts *parts, int32_t part, int32_t day)
{
    const struct part_facts *own = parts_facts(&parts->part[part], day);
    uint64_t peers = 0;
    for (int32_t i = 0; is_known(own) && i < parts->count; i++) {
        const struct part_facts *other = parts_facts(&parts->part[i], day);
        if (is_known(other) && plane_is_one(own->azimuth, own->tilt, other->azimuth, other->tilt))
            peers |= UINT64_C(1) << i;
    }
    return peers;
}

static int32_t bits(uint64_t mask)
{
    int32_t count = 0;
    for (; mask; mask &= mask - 1)
        count++;
    return count;
}

static int32_t yield_of(const struct part_hour *hour, int64_t peak_w)
{
    int64_t yield = mul_div(hour->energy, 1000, peak_w);
    return yield < 0 ? 0 : yield > MOST_YIELD ? MOST_YIELD : (int32_t)yield;
}

/* -1 where fewer than three, or than half of the plane, say anything. */
static int32_t median_of(const struct day *day, uint64_t peers, int32_t hour, bool limited_too)
{
    int32_t values[PARTS_MOST], count = 0;
    for (int32_t p = 0; p < day->count; p++) {
        enum part_hour_state state = day->hours[p][hour].state;
        if ((peers >> p & 1) && (state == HOUR_SEEN || (state == HOUR_LIMITED && limited_too)))
            values[count++] = day->yields[p][hour];
    }
    return count < PLANE_LEAST || 2 * count < bits(peers) ? -1 : parts_median(values, count);
}

static void make_reference(const struct day *day, uint64_t peers, struct reference *reference)
{
    *reference = (struct reference){ .peers = peers };
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        reference->whole[h] = median_of(day, peers, h, true);
        reference->open[h] = median_of(day, peers, h, false);
        for (int32_t p = 0; p < day->count; p++)
            if ((peers >> p & 1) && day->yields[p][h] > 0)
                reference->lit |= UINT32_C(1) << h;
        if (reference->whole[h] > reference->best)
            reference->best = reference->whole[h];
    }
}

/* Median of what the peers made in these hours (one bit each) together: registers with coarse steps make
 * hours of nothing and of much. -1 where they are too few, or one was not open in all of them. */
static int64_t median_together(const struct day *day, uint64_t peers, uint32_t set)
{
    int32_t sums[PARTS_MOST], count = 0, some = 0;
    for (int32_t p = 0; p < day->count; p++) {
        int32_t sum = 0;
        bool seen = false, open = peers >> p & 1;
        for (int32_t h = 0; h < PARTS_HOURS && (peers >> p & 1); h++) {
            seen = seen || day->hours[p][h].state != HOUR_UNSEEN;
            open = open && (!(set >> h & 1) || day->hours[p][h].state == HOUR_SEEN);
            sum += set >> h & 1 ? day->yields[p][h] : 0;
        }
        some += seen;
        if (open)
            sums[count++] = sum;
    }
    bool enough = count == some && count >= PLANE_LEAST && 2 * count >= bits(peers);
    return enough ? parts_median(sums, count) : -1;
}

static uint16_t watt_hours(int64_t mwh)
{
    int64_t wh = (mwh + 500) / 1000;
    return wh > UINT16_MAX ? UINT16_MAX : (uint16_t)wh;
}

static uint8_t percent_of(int32_t yield, int32_t reference)
{
    int64_t percent = (int64_t)yield * 100 / reference;
    return percent > MOST_PERCENT ? MOST_PERCENT : (uint8_t)percent;
}

static enum part_day_state state_of(int64_t whole, int64_t seen, int64_t open)
{
    if (whole < 500) /* less than half a Wh per kWp */
        return PART_DAY_UNKNOWN;
    if (seen * 10 < whole * SEEN_TENTHS)
        return PART_DAY_UNSEEN;
    return open * 4 < whole * OPEN_QUARTERS || open <= 0 ? PART_DAY_LIMITED : PART_DAY_COUNTS;
}

static void compare(struct part_day *at, const struct reference *reference, const struct day *day, int32_t p)
{
    int64_t whole = 0, seen = 0, open = 0, own = 0;
    uint32_t set = 0;
    const int32_t *yields = day->yields[p];
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        if (reference->whole[h] < 0 || !(reference->lit >> h & 1))
            continue;
        whole += reference->whole[h];
        seen += day->hours[p][h].state != HOUR_UNSEEN ? reference->whole[h] : 0;
        if (day->hours[p][h].state != HOUR_SEEN || reference->open[h] < 0)
            continue;
        set |= UINT32_C(1) << h;
        open += reference->open[h];
        own += yields[h];
        if (reference->open[h] > 0 && (int64_t)reference->whole[h] * FAINT >= reference->best)
            at->hour[h] = percent_of(yields[h], reference->open[h]);
    }
    int64_t together = median_together(day, reference->peers, set);
    open = together > 0 ? together : open;
    at->whole = watt_hours(whole);
    at->reference = watt_hours(open);
    at->state = (uint8_t)state_of(whole, seen, open);
    int64_t ratio = open > 0 ? mul_div(own, PARTS_RATIO_ONE, open) : 0;
    if (at->state == PART_DAY_COUNTS)
        at->ratio = ratio > MOST_RATIO ? MOST_RATIO : (int16_t)ratio;
}

void parts_feed(struct parts *parts, int32_t index, const struct part_hour (*hours)[PARTS_HOURS])
{
    struct reference reference = { 0 };
    struct day day = { .count = parts->count, .hours = hours };
    for (int32_t p = 0; p < parts->count; p++) {
        const struct part_facts *facts = parts_facts(&parts->part[p], index);
        for (int32_t h = 0; h < PARTS_HOURS; h++)
            day.yields[p][h] = facts->peak_w > 0 ? yield_of(&hours[p][h], facts->peak_w) : 0;
    }
    for (int32_t p = 0; p < parts->count; p++) {
        struct part_day *at = parts_at(parts, index, p);
        uint64_t peers = parts_peers(parts, p, index);
        *at = nothing;
        for (int32_t h = 0; h < PARTS_HOURS; h++)
            at->seen += hours[p][h].state != HOUR_UNSEEN;
        if (bits(peers) < PLANE_LEAST) {
            at->state = parts_facts(&parts->part[p], index)->present ? PART_DAY_ALONE : PART_DAY_ABSENT;
            continue;
        }
        if (peers != reference.peers)
            make_reference(&day, peers, &reference);
        compare(at, &reference, &day, p);
    }
}
