/* Part of fill.c: the shape of the nearest days of the same kind.
 *
 * The average of a few days is their shape and chance. How far the days differ
 * from each other says how much of it is chance: by so much it is pulled
 * towards the even line. It then goes a good part of the way to meet the rows
 * measured before and after the gap: what was on is still on a while. */
#ifndef METERBOOK_FILL_REFERENCE_H
#define METERBOOK_FILL_REFERENCE_H

#include "fill.h"

/* One pass over the gap; before fill_reference_energy(). */
void fill_reference_begin(struct fill *fill);

/* Weight of the whole interval that holds from_ms, or -1 where too few days know it. */
int64_t fill_reference_energy(const struct fill *fill, int64_t from_ms);

#endif
