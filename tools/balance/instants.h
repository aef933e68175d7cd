/* The balance of a span interval by interval, where the record alone speaks: as a walk gives it, without what
 * an answer keeps of each row. For what goes through years at once. A month at most per read transaction.
 *
 * Who asks for nothing finer than the quarter hours of the site's clock takes those: of days of which all
 * meters have a curve each instant is then a quarter hour, which is read in a tenth of the time; of others it
 * is an interval. */
#ifndef METERBOOK_INSTANTS_H
#define METERBOOK_INSTANTS_H

#include "day_curve.h"
#include "inquiry.h"

struct instant {
    int64_t from_s, to_s;
    struct balance balance;
    bool watched; /* every meter of the balance was observed all through it, and nothing of it is filled in */
    int32_t flags; /* enum row_flag of all its rows; of a quarter hour: of the day's */
};

struct instants {
    const struct inquiry *inquiry;
    struct history history;
    struct meter_range meters;
    int64_t day, open_day, to_day; /* the next civil day; the end of the transaction's days; the end */
    int32_t hint, seen;            /* rows of the balance's meters in the instant that is being filled */
    bool begun, reading, has_row, failed;
    struct day_curve
        *curves; /* heap; of the arrangement's meters on the day before `day`; NULL: not asked for */
    const struct arrangement *arrangement;
    int32_t quarter, quarters, flags; /* of these; none where the rows are read */
    struct interval_row row;
    struct instant instant;
    struct meter_energy energy[ARRANGEMENT_MAX_METERS];
};

/* Can the span be read so? Not where sealed meters speak in it, or other figures are asked for than the
 * balance as it counts. */
bool instants_can(const struct inquiry *inquiry, struct period period);

/* `inquiry` is kept open. instants_end() takes it in any case. */
void instants_begin(struct instants *instants, const struct inquiry *inquiry, struct period period);
void instants_begin_quarters(struct instants *instants, const struct inquiry *inquiry, struct period period);
/* Valid until the next call; NULL at the end and where it failed. */
const struct instant *instants_next(struct instants *instants);
/* False, said on stderr, where reading failed. */
bool instants_end(struct instants *instants);

#endif
