/* The balance of a span interval by interval, where the record alone speaks: as a walk gives it, without what
 * an answer keeps of each row. For what goes through years at once. A month at most per read transaction. */
#ifndef METERBOOK_INSTANTS_H
#define METERBOOK_INSTANTS_H

#include "inquiry.h"

struct instant {
    int64_t from_s, to_s;
    struct balance balance;
    bool watched; /* every meter of the balance was observed all through it, and nothing of it is filled in */
    int32_t flags; /* enum row_flag of all its rows */
};

struct instants {
    const struct inquiry *inquiry;
    struct history history;
    struct meter_range meters;
    int64_t day, to_day; /* the civil day at which the next transaction begins; the end */
    int32_t hint, seen;  /* rows of the balance's meters in the instant that is being filled */
    bool reading, has_row, failed;
    struct interval_row row;
    struct instant instant;
    struct meter_energy energy[ARRANGEMENT_MAX_METERS];
};

/* Can the span be read so? Not where sealed meters speak in it, or other figures are asked for than the
 * balance as it counts. */
bool instants_can(const struct inquiry *inquiry, struct period period);

/* `inquiry` is kept open. instants_end() takes it in any case. */
void instants_begin(struct instants *instants, const struct inquiry *inquiry, struct period period);
/* Valid until the next call; NULL at the end and where it failed. */
const struct instant *instants_next(struct instants *instants);
/* False, said on stderr, where reading failed. */
bool instants_end(struct instants *instants);

#endif
