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

/* What an hour of one plane brought, mWh per kWp; -1: not known. */
struct reference {
    uint64_t peers;
    int32_t whole[PARTS_HOURS]; /* by all that were seen */
    int32_t open[PARTS_HOURS];  /* by those not at their rating */
    int32_t best;               /* of whole */
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

static int64_t apart(int64_t a, int64_t b)
{
    return a > b ? a - b : b - a;
}

static bool is_known(const struct part_facts *facts)
{
    return facts->present && facts->peak_w > 0 && facts->azimuth != UNKNOWN && facts->tilt != UNKNOWN;
}

/* What lies flat looks nowhere. */
static bool one_plane(const struct part_facts *a, const struct part_facts *b)
{
    int64_t turn = apart(a->azimuth, b->azimuth) % 360;
    turn = turn > 180 ? 360 - turn : turn;
    return apart(a->tilt, b->tilt) <= PARTS_TILT &&
           (turn <= PARTS_AZIMUTH || (a->tilt <= PARTS_TILT && b->tilt <= PARTS_TILT));
}

uint64_t parts_peers(const struct parts *parts, int32_t part, int32_t day)
{
    const struct part_facts *own = parts_facts(&parts->part[part], day);
    uint64_t peers = 0;
    for (int32_t i = 0; is_known(own) && i < parts->count; i++) {
        const struct part_facts *other = parts_facts(&parts->part[i], day);
        if (is_known(other) && one_plane(own, other))
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
static int32_t median_of(const struct parts *parts, uint64_t peers, int32_t hour, bool limited_too,
                         int32_t (*yields)[PARTS_HOURS], const struct part_hour (*hours)[PARTS_HOURS])
{
    int32_t values[PARTS_MOST], count = 0;
    for (int32_t i = 0; i < parts->count; i++) {
        enum part_hour_state state = hours[i][hour].state;
        if ((peers >> i & 1) && (state == HOUR_SEEN || (state == HOUR_LIMITED && limited_too)))
            values[count++] = yields[i][hour];
    }
    return count < PARTS_LEAST || 2 * count < bits(peers) ? -1 : parts_median(values, count);
}

static void make_reference(const struct parts *parts, uint64_t peers, struct reference *reference,
                           int32_t (*yields)[PARTS_HOURS], const struct part_hour (*hours)[PARTS_HOURS])
{
    *reference = (struct reference){ .peers = peers };
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        reference->whole[h] = median_of(parts, peers, h, true, yields, hours);
        reference->open[h] = median_of(parts, peers, h, false, yields, hours);
        if (reference->whole[h] > reference->best)
            reference->best = reference->whole[h];
    }
}

static uint16_t watt_hours(int64_t mwh)
{
    int64_t wh = (mwh + 500) / 1000;
    return wh > UINT16_MAX ? UINT16_MAX : (uint16_t)wh;
}

static void compare(struct part_day *day, const struct reference *reference, const int32_t *yields,
                    const struct part_hour *hours)
{
    int64_t whole = 0, seen = 0, open = 0, own = 0;
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        if (reference->whole[h] <= 0)
            continue;
        whole += reference->whole[h];
        seen += hours[h].state != HOUR_UNSEEN ? reference->whole[h] : 0;
        if (hours[h].state != HOUR_SEEN || reference->open[h] <= 0)
            continue;
        open += reference->open[h];
        own += yields[h];
        if ((int64_t)reference->whole[h] * FAINT >= reference->best) {
            int64_t percent = (int64_t)yields[h] * 100 / reference->open[h];
            day->hour[h] = percent > MOST_PERCENT ? MOST_PERCENT : (uint8_t)percent;
        }
    }
    day->whole = watt_hours(whole);
    day->reference = watt_hours(open);
    if (day->whole == 0)
        day->state = PART_DAY_UNKNOWN;
    else if (seen * 10 < whole * SEEN_TENTHS)
        day->state = PART_DAY_UNSEEN;
    else if (open * 4 < whole * OPEN_QUARTERS || open == 0)
        day->state = PART_DAY_LIMITED;
    else
        day->state = PART_DAY_COUNTS;
    int64_t ratio = open > 0 ? mul_div(own, PARTS_RATIO_ONE, open) : 0;
    if (day->state == PART_DAY_COUNTS)
        day->ratio = ratio > MOST_RATIO ? MOST_RATIO : (int16_t)ratio;
}

void parts_feed(struct parts *parts, int32_t day, const struct part_hour (*hours)[PARTS_HOURS])
{
    struct reference reference = { 0 };
    int32_t yields[PARTS_MOST][PARTS_HOURS];
    for (int32_t p = 0; p < parts->count; p++) {
        const struct part_facts *facts = parts_facts(&parts->part[p], day);
        for (int32_t h = 0; h < PARTS_HOURS; h++)
            yields[p][h] = facts->peak_w > 0 ? yield_of(&hours[p][h], facts->peak_w) : 0;
    }
    for (int32_t p = 0; p < parts->count; p++) {
        struct part_day *at = parts_at(parts, day, p);
        uint64_t peers = parts_peers(parts, p, day);
        *at = nothing;
        if (bits(peers) < PARTS_LEAST) {
            at->state = parts_facts(&parts->part[p], day)->present ? PART_DAY_ALONE : PART_DAY_ABSENT;
            continue;
        }
        if (peers != reference.peers)
            make_reference(parts, peers, &reference, yields, hours);
        compare(at, &reference, yields[p], hours[p]);
    }
}
