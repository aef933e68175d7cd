/* Time check of one meter's intervals: present, in order, on the grid, none
 * in the future, days complete. Pure. */
#ifndef METERBOOK_VALIDATE_TIME_H
#define METERBOOK_VALIDATE_TIME_H

#include "validate.h"

struct time_check {
    int64_t begin_s; /* from here on intervals are expected */
    int64_t now_s;
    int64_t end_s;      /* end of the newest interval, begin_s before the first */
    int32_t interval_s; /* length in force at the newest */
    int64_t missing_s;  /* known to be missing */
    int64_t day_s;      /* covered by intervals since the day began */
    /* Days without all their intervals that may still get them: told once the meter goes on. */
    int64_t waiting_days, waiting_s, waiting_at_s;
};

void time_check_init(struct time_check *check, int64_t begin_s, int64_t now_s);

/* An interval that starts at start_s, in order of their starts; `interval_s` is the length in
 * force there. Returns its end. */
int64_t time_check_row(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t start_s,
                       int32_t interval_s);

/* The civil day [from, to) is over for all meters. */
void time_check_day(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t from_s, int64_t to_s);

/* The span ends at to_s. `goes_on`: the meter has intervals later than that, so that what
 * lacks is missing, and not only not yet known. */
void time_check_end(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t to_s, bool goes_on);

#endif
