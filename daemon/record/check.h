/* The gate before anything is accounted. Pure.
 *
 * A reading is normal when every counter stands where it stood or rose by no
 * more than rated power x time x 1.2 + one step. Everything else (a fall, a
 * larger rise) and every reading that ends a gap is kept aside as a candidate
 * until the next two readings are normal as seen from it; a reading that is
 * normal as seen from the old track drops it. A confirmed fall is a rollover
 * where the old value was near the modulus (and no more flowed than could, nor
 * more than a quarter of the register), else the register run ends. */
#ifndef METERBOOK_CHECK_H
#define METERBOOK_CHECK_H

#include <stdbool.h>
#include <stdint.h>

#include "reading.h"

enum { CHECK_CONFIRM = 3 }; /* the candidate and the two that confirm it */

enum run_end { RUN_GOES_ON, RUN_ROLLOVER, RUN_RESET, RUN_RISE };

/* What one meter's gate stands for and has seen. */
struct check {
    int64_t rated_mw; /* highest power that can flow */
    int64_t gap_ms;   /* readings further apart than this leave a gap */
    int32_t count;    /* counters watched */
    uint8_t counters[COUNTER_COUNT];
    int64_t window[4]; /* voltage min, max (mV), frequency min, max (mHz) */
    bool tracked;      /* `last` is valid */
    bool resumed;      /* `last` is a stored account, not a register value */
    int64_t last_ms;   /* boot time of the last accepted reading */
    struct counter_reading last[COUNTER_COUNT];
    int32_t held_count;
    bool held_normal; /* the candidate only ends a gap */
    struct reading held[CHECK_CONFIRM];
    int64_t jitters, rejected; /* counted since start */
};

/* What the gate says of a reading. */
struct verdict {
    int32_t accepted;                  /* 0, 1 or CHECK_CONFIRM readings to account now, oldest first */
    const struct reading *readings;    /* inside the gate or the caller's own; valid until the next call */
    enum run_end ended[COUNTER_COUNT]; /* of the first accepted reading, by position in `counters` */
    bool dropped;                      /* a candidate was dropped: `drop` holds it */
    struct reading drop;               /* only where one was */
};

/* The gate takes its counters from `mask` (bit c: counter c). */
void check_init(struct check *check, uint32_t mask, int64_t rated_mw, int64_t gap_ms);

/* A track from the record: where the account stood at boot time `last_ms`,
 * which is negative when that was before this boot. step 0: a counter that
 * the record does not know. */
void check_resume(struct check *check, const int64_t account[COUNTER_COUNT],
                  const int64_t step[COUNTER_COUNT], int64_t last_ms);

/* One reading that has all counters of the gate. A counter in it that jitters is put to where it stood. */
void check_take(struct check *check, struct reading *reading, struct verdict *verdict);

/* Momentary values that are absurd or outside their windows are taken out of the reading.
 * Returns how many of them are faults, *first: one of those. A phase that is not connected
 * shows 0 V, which is none. */
int32_t check_momentary(const struct check *check, struct reading *reading, enum quantity *first);

#endif
