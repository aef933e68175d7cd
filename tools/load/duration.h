/* Load duration: how long a power was reached or exceeded, and what flowed in that time. Fed with
 * intervals in any order, at any length, in constant memory: times and energies are sums and exact, powers
 * are told apart in steps of `width`, which begins at 0.1 W and is doubled until the highest fits in. Pure.
 *
 * Energies mWh, powers mW, times s, shares in millionths. */
#ifndef METERBOOK_DURATION_H
#define METERBOOK_DURATION_H

#include <stdint.h>

enum { DURATION_BINS = 65536, DURATION_FINEST = 100 /* mW */ };

/* Large (1 MB): for the heap. */
struct duration {
    int64_t width;       /* mW: what powers are exact to */
    int64_t least, most; /* exact; UNKNOWN without an interval */
    int64_t seconds, energy;
    struct {
        int64_t seconds, energy;
    } bins[DURATION_BINS]; /* of powers from index * width on; the first has those below 0 too */
};

struct duration_point {
    int64_t share;   /* of the time, as asked for */
    int64_t power;   /* reached or exceeded in this share of the time at least; UNKNOWN without an interval */
    int64_t seconds; /* in which it was reached or exceeded: more than asked for where it stood still */
    int64_t energy;  /* that flowed in them */
    int64_t above;   /* of that what lies above the power */
};

void duration_init(struct duration *duration);

/* An interval that was observed; `seconds` > 0. */
void duration_add(struct duration *duration, int64_t energy, int64_t seconds);

/* The points of these shares of the time, 0 (the highest) to SHARE_ONE (the lowest), rising: a curve. */
void duration_points(const struct duration *duration, int32_t count, const int64_t shares[],
                     struct duration_point points[]);

#endif
