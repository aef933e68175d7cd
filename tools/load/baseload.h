/* Base load: what a site uses by night when nothing in particular runs. Of each night the whole
 * hour (from 1 to 5 by the site's clock) with the least use; the base load is what this was, or more, in nine
 * nights of ten: one without supply, or a holiday, does not move it. Common practice, no source. Pure;
 * constant memory. */
#ifndef METERBOOK_BASELOAD_H
#define METERBOOK_BASELOAD_H

#include <stdint.h>

#include "civil.h"
#include "duration.h"

enum { BASELOAD_FROM_HOUR = 1, BASELOAD_TO_HOUR = 5, BASELOAD_LEAST_NIGHTS = 10 };

/* Large: for the heap. */
struct baseload {
    const struct civil *civil;
    int64_t hour_s, watched_s, energy; /* the hour that is being filled: start, seconds and mWh so far */
    int64_t day, least;                /* the night that is going on, its least hour so far; UNKNOWN */
    int32_t nights;                    /* that have a whole hour */
    struct duration least_hours;       /* one of each */
};

void baseload_init(struct baseload *baseload, const struct civil *civil);

/* An interval that was observed, in order of time; one that an hour's end cuts is left out. */
void baseload_add(struct baseload *baseload, int64_t from_s, int64_t to_s, int64_t energy);

/* After the last one: mW, exact to baseload->least_hours.width; UNKNOWN with less than BASELOAD_LEAST_NIGHTS.
 */
int64_t baseload_end(struct baseload *baseload);

#endif
