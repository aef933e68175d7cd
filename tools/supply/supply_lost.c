#include "supply_lost.h"

#include <stdlib.h>

#include "muldiv.h"
#include "number.h"

enum {
    WORTH_PERCENT = 30, /* of the highest: in the morning nothing is told */
    /* production as a whole */
    STEADY_PERCENT = 90, /* each of half an hour, of the highest of it */
    STEADY_BLOCKS = 3,
    DROP_PERCENT = 88, /* of the power before it and after it, at most */
    LINE_PERCENT = 92, /* of the line between before and after, all the while */
    LONGEST_FALL = 30, /* five hours */
    /* parts */
    FALLEN_PERCENT = 50, /* of what it should be, less than */
    STANDS_PERCENT = 85, /* at least */
    LONGEST_LAG = 6,     /* an hour */
    /* evidence */
    LEAST_FALLS = 3,
    LEAST_DAYS = 2,
    MORE_FREQUENT = 3,
    MOST_PARTS = 64,
};

static int64_t highest(const int64_t *values, int32_t count)
{
    int64_t most = 0;
    for (int32_t i = 0; i < count; i++)
        most = values[i] != UNKNOWN && values[i] > most ? values[i] : most;
    return most;
}

static bool is_high(const struct lost_stretch *stretch, int32_t at)
{
    return stretch->voltage[at] != UNKNOWN && stretch->voltage[at] >= stretch->level;
}

static void count_block(struct lost_sum *sum, const struct lost_stretch *stretch, int32_t at, int64_t power,
                        int64_t worth)
{
    if (stretch->voltage[at] == UNKNOWN || power == UNKNOWN || power < worth)
        return;
    sum->at_level_blocks += is_high(stretch, at);
    sum->other_blocks += !is_high(stretch, at);
}

static void add_fall(struct lost_sum *sum, const struct lost_stretch *stretch, int32_t from, int32_t to,
                     bool high, int64_t missed)
{
    int64_t day = stretch->first_day + from / LOST_BLOCKS_A_DAY;
    sum->others += !high;
    *(high ? &sum->at_level_blocks : &sum->other_blocks) += to - from;
    *(high ? &sum->at_level_fallen : &sum->other_fallen) += to - from;
    if (!high)
        return;
    sum->days += sum->at_level == 0 || day != sum->last_day;
    sum->last_day = day;
    sum->at_level++;
    sum->energy += mul_div(missed, 1000, 6);
}

/* ---- production as a whole ---- */

static bool is_steady(const struct lost_stretch *stretch, int32_t from, int64_t worth)
{
    int64_t most = 0;
    if (from < 0 || from + STEADY_BLOCKS > stretch->count)
        return false;
    for (int32_t i = from; i < from + STEADY_BLOCKS; i++) {
        if (stretch->power[i] == UNKNOWN || stretch->power[i] < worth)
            return false;
        most = stretch->power[i] > most ? stretch->power[i] : most;
    }
    for (int32_t i = from; i < from + STEADY_BLOCKS; i++)
        if (stretch->power[i] * 100 < most * STEADY_PERCENT)
            return false;
    return true;
}

/* The power at a place on the line from the place before a fall to the one after it. */
static int64_t line_at(const struct lost_stretch *stretch, int32_t before, int32_t after, int32_t at)
{
    int64_t from = stretch->power[before], to = stretch->power[after];
    return from + (to - from) * (at - before) / (after - before);
}

/* Is [from, to) a fall? *missed is what is missing to the line, in W of ten minutes. */
static bool is_fall(const struct lost_stretch *stretch, int32_t from, int32_t to, int64_t *missed)
{
    *missed = 0;
    for (int32_t i = from; i < to; i++) {
        int64_t line = line_at(stretch, from - 1, to, i);
        if (stretch->power[i] == UNKNOWN || stretch->power[i] * 100 > line * LINE_PERCENT)
            return false;
        *missed += line - stretch->power[i];
    }
    return true;
}

/* Did the voltage stand at the level meanwhile? A cloud takes the plant's own lift from it. */
static bool stood_at_level(const struct lost_stretch *stretch, int32_t from, int32_t to)
{
    int64_t before = 0, meanwhile = 0;
    int32_t high = 0, known = 0;
    for (int32_t i = from - STEADY_BLOCKS; i < to; i++) {
        if (i < from && stretch->voltage[i] == UNKNOWN)
            return false;
        if (i < from)
            before += stretch->voltage[i];
        else if (stretch->voltage[i] != UNKNOWN) {
            meanwhile += stretch->voltage[i];
            known++;
            high += is_high(stretch, i);
        }
    }
    return 2 * high > to - from && meanwhile * STEADY_BLOCKS >= before * known;
}

/* Where the fall that begins at a place ends; -1 where none does. */
static int32_t end_of_fall(const struct lost_stretch *stretch, int32_t from, int64_t worth, int64_t *missed)
{
    const int64_t *power = stretch->power;
    for (int32_t to = from + 1; to <= from + LONGEST_FALL && to < stretch->count; to++) {
        bool rises = power[to] != UNKNOWN && power[to - 1] != UNKNOWN &&
                     power[to - 1] * 100 <= power[to] * DROP_PERCENT;
        if (rises && is_steady(stretch, to, worth) && is_fall(stretch, from, to, missed))
            return to;
    }
    return -1;
}

void lost_falls(struct lost_sum *sum, const struct lost_stretch *stretch)
{
    const int64_t *power = stretch->power;
    int64_t worth = highest(power, stretch->count) * WORTH_PERCENT / 100, missed = 0;
    for (int32_t i = stretch->first; worth > 0 && i < stretch->end; i++) {
        bool drops = power[i] != UNKNOWN && is_steady(stretch, i - STEADY_BLOCKS, worth) &&
                     power[i] * 100 <= power[i - 1] * DROP_PERCENT;
        int32_t to = drops ? end_of_fall(stretch, i, worth, &missed) : -1;
        if (to < 0) {
            count_block(sum, stretch, i, power[i], worth);
            continue;
        }
        add_fall(sum, stretch, i, to, stood_at_level(stretch, i, to), missed);
        i = to - 1;
    }
}

/* ---- parts ---- */

static int by_size(const void *left, const void *right)
{
    int64_t a = *(const int64_t *)left, b = *(const int64_t *)right;
    return a < b ? -1 : a > b;
}

void lost_peers(int64_t *const *power, const int64_t *peak_w, int32_t parts, int32_t part, int32_t count,
                int64_t *should)
{
    for (int32_t i = 0; i < count; i++) {
        int64_t yields[MOST_PARTS]; /* mW per Wp, of the others */
        int32_t others = 0;
        for (int32_t k = 0; k < parts && k < MOST_PARTS; k++)
            if (k != part && power[k][i] != UNKNOWN)
                yields[others++] = mul_div(power[k][i], 1000000, peak_w[k]);
        should[i] = UNKNOWN;
        if (others + 1 < LOST_PEERS)
            continue;
        qsort(yields, (size_t)others, sizeof(yields[0]), by_size);
        int64_t median = (yields[(others - 1) / 2] + yields[others / 2]) / 2;
        should[i] = mul_div(median, peak_w[part], 1000000);
    }
}

static bool stands(const int64_t *power, const int64_t *should, int32_t at)
{
    return power[at] != UNKNOWN && should[at] != UNKNOWN && power[at] * 100 >= should[at] * STANDS_PERCENT;
}

static bool lags(const int64_t *power, const int64_t *should, int32_t at, int64_t worth)
{
    return power[at] != UNKNOWN && should[at] != UNKNOWN && should[at] >= worth &&
           power[at] * 100 < should[at] * FALLEN_PERCENT;
}

/* At the level as it began, or for more than half of it: one that lets go takes its own lift from it. */
static bool lagged_at_level(const struct lost_stretch *stretch, int32_t from, int32_t to)
{
    int32_t high = 0;
    for (int32_t i = from; i < to; i++)
        high += is_high(stretch, i);
    return 2 * high > to - from || is_high(stretch, from - 1);
}

/* Where the lag that begins at a place ends; the place itself where none does. */
static int32_t end_of_lag(const struct lost_stretch *stretch, const int64_t *should, int32_t from,
                          int64_t worth, int64_t *missed)
{
    int32_t to = from;
    *missed = 0;
    for (; to < stretch->count && lags(stretch->power, should, to, worth); to++)
        *missed += should[to] - stretch->power[to];
    return to - from <= LONGEST_LAG && to < stretch->count && stands(stretch->power, should, to) ? to : from;
}

void lost_lags(struct lost_sum *sum, const struct lost_stretch *stretch, const int64_t *should)
{
    int64_t worth = highest(should, stretch->count) * WORTH_PERCENT / 100, missed = 0;
    for (int32_t i = stretch->first; worth > 0 && i < stretch->end; i++) {
        bool stood = i > 0 && stands(stretch->power, should, i - 1);
        int32_t to = stood ? end_of_lag(stretch, should, i, worth, &missed) : i;
        if (to == i) {
            count_block(sum, stretch, i, should[i], worth);
            continue;
        }
        add_fall(sum, stretch, i, to, lagged_at_level(stretch, i, to), missed);
        i = to - 1;
    }
}

bool lost_is_evident(const struct lost_sum *sum)
{
    return sum->at_level >= LEAST_FALLS && sum->days >= LEAST_DAYS &&
           (int64_t)sum->at_level_fallen * sum->other_blocks >
               MORE_FREQUENT * (int64_t)sum->other_fallen * sum->at_level_blocks;
}
