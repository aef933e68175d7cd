/* Intervals put together to blocks of a quarter of an hour or so, aligned to
 * UTC: what spikes and the sun are judged by. Pure. */
#ifndef METERBOOK_VALIDATE_BLOCK_H
#define METERBOOK_VALIDATE_BLOCK_H

#include <stdbool.h>
#include <stdint.h>

struct block {
    int32_t length_s;
    int64_t start_s, covered_s; /* covered 0: nothing in it yet */
    int64_t energy[2];          /* import, export, mWh */
    bool measured;              /* nothing in it was filled in, no clock stepped */
};

/* Adds an interval [start, end); UNKNOWN: no such counter. True where another block ended
 * by that, which is then in *done. */
bool block_add(struct block *block, int64_t start_s, int64_t end_s, const int64_t energy[2], bool measured,
               struct block *done);
/* No more intervals for now, the length may change. */
bool block_end(struct block *block, struct block *done);
/* Covered from end to end? */
bool block_whole(const struct block *block);

#endif
