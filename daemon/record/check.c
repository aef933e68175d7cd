#include "check.h"

#include <string.h>

#include "muldiv.h"

#define JITTER_STEPS  2
/* 1.2 x rated: meters may be overloaded for a while, common practice, no source. */
#define OVERLOAD_NUM  12
#define OVERLOAD_DEN  10
/* A rollover is a fall from near the modulus: no more flowed around it than this part of a register
 * (own choice). After months, or after a time that nobody knows, the rated power bounds nothing. */
#define NEAR_PART     4
#define MS_MW_PER_MWH INT64_C(3600000)
/* No quantity of a site comes near it (100 GW, 100 GV); sums of an interval's samples stay below 2^63. */
#define ABSURD        INT64_C(100000000000000)
/* Beyond this span the allowed rise is not narrowed further; keeps products small. */
#define LONGEST_MS    (INT64_C(400) * 86400 * 1000)

void check_init(struct check *check, uint32_t mask, int64_t rated_mw, int64_t gap_ms)
{
    memset(check, 0, sizeof *check);
    check->rated_mw = rated_mw;
    check->gap_ms = gap_ms;
    for (int c = 0; c < COUNTER_COUNT; c++)
        if (mask & (1U << c))
            check->counters[check->count++] = (uint8_t)c;
}

void check_resume(struct check *check, const int64_t account[COUNTER_COUNT],
                  const int64_t step[COUNTER_COUNT], int64_t last_ms)
{
    for (int c = 0; c < COUNTER_COUNT; c++)
        check->last[c] = (struct counter_reading){ .value = account[c], .step = step[c] };
    check->last_ms = last_ms;
    check->tracked = check->resumed = true;
}

/* The most that can have flowed in span_ms, mWh. */
static int64_t most(const struct check *check, int64_t span_ms)
{
    if (span_ms > LONGEST_MS)
        span_ms = LONGEST_MS;
    if (span_ms < 0)
        span_ms = 0;
    return mul_div(check->rated_mw * OVERLOAD_NUM / OVERLOAD_DEN, span_ms, MS_MW_PER_MWH);
}

static enum run_end judge(const struct check *check, const struct counter_reading *before,
                          const struct counter_reading *now, int64_t span_ms, bool resumed)
{
    int64_t step = now->step > before->step ? now->step : before->step;
    int64_t rise = now->value - before->value;
    int64_t limit = most(check, span_ms) + step;
    /* A stored account lies up to a step above its register. */
    int64_t tolerance = (JITTER_STEPS + resumed) * step;
    if (rise > limit)
        return RUN_RISE;
    if (rise >= -tolerance)
        return now->value == 0 && before->value >= step && before->value != now->value ? RUN_RESET
                                                                                       : RUN_GOES_ON;
    int64_t near = now->modulus / NEAR_PART < limit ? now->modulus / NEAR_PART : limit;
    if (now->modulus > 0 && now->value >= 0 && before->value < now->modulus &&
        now->modulus - before->value + now->value <= near)
        return RUN_ROLLOVER;
    return RUN_RESET;
}

/* Judges all counters; true when all go on. */
static bool normal(const struct check *check, const struct counter_reading before[], int64_t before_ms,
                   bool resumed, const struct reading *now, enum run_end ended[])
{
    bool all = true;
    for (int32_t i = 0; i < check->count; i++) {
        int c = check->counters[i];
        if (before[c].step == 0)
            continue; /* new in the map: nothing to compare with */
        enum run_end e = judge(check, &before[c], &now->counter[c], now->boot_ms - before_ms, resumed);
        if (ended)
            ended[i] = e;
        all = all && e == RUN_GOES_ON;
    }
    return all;
}

/* The accepted reading becomes the track; a register one step back is jitter:
 * the higher value stands. */
static void follow(struct check *check, struct reading *reading, bool goes_on)
{
    for (int32_t i = 0; i < check->count; i++) {
        int c = check->counters[i];
        struct counter_reading *now = &reading->counter[c];
        if (goes_on && !check->resumed && check->tracked && now->value < check->last[c].value) {
            check->jitters++;
            *now = check->last[c];
        }
        check->last[c] = *now;
    }
    check->last_ms = reading->boot_ms;
    check->tracked = true;
    check->resumed = false;
}

static void hold(struct check *check, const struct reading *reading, bool is_normal)
{
    check->held[0] = *reading;
    check->held_count = 1;
    check->held_normal = is_normal;
}

static void drop(struct check *check, struct verdict *verdict)
{
    verdict->dropped = true;
    verdict->drop = check->held[0];
    check->held_count = 0;
    check->rejected++;
}

static void confirm(struct check *check, struct verdict *verdict)
{
    bool goes_on = true;
    if (check->tracked)
        goes_on = normal(check, check->last, check->last_ms, check->resumed, &check->held[0], verdict->ended);
    /* Within a held series jitter is judged reading by reading. */
    follow(check, &check->held[0], goes_on);
    for (int i = 1; i < CHECK_CONFIRM; i++)
        follow(check, &check->held[i], true);
    verdict->accepted = CHECK_CONFIRM;
    verdict->readings = check->held;
    check->held_count = 0;
}

/* A candidate waits: does this reading confirm it, drop it, or replace it?
 * True when the reading has been dealt with. */
static bool against_candidate(struct check *check, const struct reading *reading, struct verdict *verdict)
{
    const struct reading *latest = &check->held[check->held_count - 1];
    bool from_old = check->tracked && !check->held_normal &&
                    normal(check, check->last, check->last_ms, check->resumed, reading, NULL);
    struct counter_reading before[COUNTER_COUNT];
    memcpy(before, latest->counter, sizeof before);
    if (!from_old && normal(check, before, latest->boot_ms, false, reading, NULL)) {
        check->held[check->held_count++] = *reading;
        if (check->held_count == CHECK_CONFIRM)
            confirm(check, verdict);
        return true;
    }
    drop(check, verdict);
    return false;
}

void check_take(struct check *check, struct reading *reading, struct verdict *verdict)
{
    verdict->accepted = 0;
    verdict->readings = NULL;
    verdict->dropped = false;
    memset(verdict->ended, 0, sizeof verdict->ended);
    if (check->held_count > 0 && against_candidate(check, reading, verdict))
        return;
    bool is_normal =
        !check->tracked || normal(check, check->last, check->last_ms, check->resumed, reading, NULL);
    bool ends_gap = !check->tracked || check->resumed || reading->boot_ms - check->last_ms > check->gap_ms;
    if (!is_normal || ends_gap) {
        hold(check, reading, is_normal);
        return;
    }
    follow(check, reading, true);
    verdict->accepted = 1;
    verdict->readings = reading;
}

/* The window that a quantity has; NULL where it has none. */
static const int64_t *window_of(const struct check *check, int q)
{
    if (q >= Q_VOLTAGE_L1 && q <= Q_VOLTAGE_L3)
        return &check->window[0];
    return q == Q_FREQUENCY ? &check->window[2] : NULL;
}

int32_t check_momentary(const struct check *check, struct reading *reading, enum quantity *first)
{
    int32_t faults = 0;
    for (int q = Q_POWER; q < Q_SERIAL_NUMBER; q++) {
        if (!reading->has[q])
            continue;
        const int64_t *window = window_of(check, q), value = reading->value[q];
        bool absurd = value > ABSURD || value < -ABSURD;
        if (!absurd && !(window && (value < window[0] || value > window[1])))
            continue;
        reading->has[q] = false;
        if (value != 0 && faults++ == 0)
            *first = (enum quantity)q;
    }
    return faults;
}
