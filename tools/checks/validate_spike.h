/* Spike check of one meter: the highest block of a day against the third
 * highest, and no interval beyond rated power. Pure.
 *
 * Only blocks that were measured whole are compared: what was filled in has no
 * peaks of its own. */
#ifndef METERBOOK_VALIDATE_SPIKE_H
#define METERBOOK_VALIDATE_SPIKE_H

#include "validate.h"
#include "validate_block.h"

enum { SPIKE_TOP = 3 };

struct spike_check {
    int32_t percent;                /* that the highest may be above the third, of that */
    int64_t floor_w;                /* the third highest is taken as no less power than this */
    struct block top[2][SPIKE_TOP]; /* the day's highest by import and by export, falling */
    int32_t blocks, left_out;
};

void spike_check_block(struct spike_check *check, const struct block *block);
/* The day is over. */
void spike_check_day(struct spike_check *check, struct tally *tally);

/* An interval [start, end) against rated power (W, 0: not known), `step` of the coarsest register (mWh)
 * allowed. */
void spike_check_rated(struct tally *tally, int64_t rated_w, int64_t step, int64_t start_s, int64_t end_s,
                       const int64_t energy[2]);

#endif
