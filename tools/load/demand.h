/* Highest demand: the mean power of windows of some lengths, on the site's clock (where a window
 * begins when the clock shows a multiple of its length) and at any offset that the intervals
 * allow. Fed with pieces of one flow in order; constant memory, no allocation, no I/O.
 *
 * Only windows that were watched all through make a peak. What was not is known as a sum at most: a window
 * that reaches into such a stretch cannot have had more than its own watched energy and the whole stretch's.
 * Where that is more than the peak, the peak is "at least"; where nothing is known of the stretch, always.
 *
 * A window belongs to a month, or to the span, if it lies in it whole: so a month's peak does not depend
 * on the span that was asked for. Energies mWh, times UTC s. */
#ifndef METERBOOK_DEMAND_H
#define METERBOOK_DEMAND_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"

enum {
    DEMAND_LENGTHS = 3,
    DEMAND_LONGEST_S = 3600,
    DEMAND_SHORTEST_INTERVAL_S = 10,
    DEMAND_ROOM = 512, /* pieces that a window reaches into; beyond it windows are left out */
};
enum demand_offset { DEMAND_ALIGNED, DEMAND_WORST, DEMAND_OFFSETS };

struct demand_peak {
    int64_t energy;   /* of the window; UNKNOWN without one */
    int64_t start_s;  /* of the first such window */
    int64_t possible; /* the most that a window which was not watched all through may have had; INT64_MIN
                       * none, INT64_MAX no limit is known */
};

/* A month, or the span. */
struct demand_scope {
    int64_t from_s, to_s; /* what was fed of it */
    int64_t observed_s;
    struct demand_peak peaks[DEMAND_LENGTHS][DEMAND_OFFSETS];
};

struct demand_piece {
    int64_t from_s, to_s, energy;
    bool watched, unknown;
};

struct demand {
    const struct civil *civil;
    int32_t length_count;
    int64_t length_s[DEMAND_LENGTHS];
    void (*hear_month)(void *self, const struct demand_scope *month);
    void *self;
    struct demand_scope span, month;
    int64_t month_end_s;
    int64_t step_s; /* of the newest interval */
    bool stretch_open;
    struct demand_piece stretch; /* of pieces that were not watched, still growing */
    struct demand_piece ring[DEMAND_ROOM];
    int64_t next; /* pieces pushed so far */
    struct {
        int64_t tail;               /* first piece in the window */
        int64_t sum;                /* of known energies in it */
        int32_t unwatched, unknown; /* pieces */
    } window[DEMAND_LENGTHS];
};

/* `lengths`: 60 to DEMAND_LONGEST_S, each dividing a day. `hear_month` gets each month when it is complete,
 * in order. */
void demand_init(struct demand *demand, const struct civil *civil, int32_t length_count,
                 const int64_t lengths[], void (*hear_month)(void *self, const struct demand_scope *month),
                 void *self);

/* The next piece; begins where the one before ended and lies within one civil month if it was watched.
 * `energy` UNKNOWN: nothing is known of it. */
void demand_add(struct demand *demand, int64_t from_s, int64_t to_s, int64_t energy, bool watched);

/* The last month; demand->span is complete then. */
void demand_end(struct demand *demand);

/* Mean power of a window, mW; UNKNOWN without one. */
int64_t demand_power(const struct demand_peak *peak, int64_t length_s);

/* May a window that was not watched all through have had more? */
bool demand_at_least(const struct demand_peak *peak);

#endif
