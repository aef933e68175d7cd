/* Data from elsewhere meets the rows that are there: which of two rows stands.
 *
 * Pure. A row here is what `interval` and `energy` have in common. Ranks, the
 * highest first: measured live; an entered counter; entered energies; the same
 * two placed inside a coarser span; interpolated; estimated. A higher row
 * replaces a lower one, an equal one that says the same changes nothing, one
 * that says something else is refused unless told otherwise.
 *
 * Inside the collector's own account only the rows of gaps may be replaced,
 * and the energy between the gap's ends does not change: what was entered is
 * fixed, the rest is spread anew by the weights it had. */
#ifndef METERBOOK_ENTER_H
#define METERBOOK_ENTER_H

#include <stdbool.h>
#include <stdint.h>

#define ENTER_NONE INT64_MIN /* the meter has no such counter, or the row does not know it */

enum { ENTER_COUNTERS = 4 }; /* of one table at most: 2 active, 4 others */

struct enter_row {
    int64_t start_s;
    int64_t energy[ENTER_COUNTERS]; /* mWh; ENTER_NONE */
    int64_t estimated;              /* mWh placed by filling */
    int64_t unobserved_s;
    int64_t lacking_s; /* entered: time of which the energy is not in the row; 0 of stored ones */
    /* Entered: the whole intervals of the long span between two readings that it
     * was placed in evenly; span_to_s 0: none, 0 of stored ones. */
    int64_t span_from_s, span_to_s;
    uint16_t how; /* enum row_method | enum row_flag */
};

enum enter_rank {
    RANK_ESTIMATED,
    RANK_INTERPOLATED,
    RANK_PLACED_ENERGY,  /* entered energies of a span coarser than the interval */
    RANK_PLACED_COUNTER, /* the same of an entered counter */
    RANK_ENTERED_ENERGY,
    RANK_ENTERED_COUNTER,
    RANK_MEASURED, /* also partly: what was measured in a row is not given up */
};

/* `length_s`: of the interval. */
enum enter_rank enter_rank(const struct enter_row *row, int64_t length_s);

enum enter_verdict {
    ENTER_NEW,       /* there is no such row yet */
    ENTER_COMPLETED, /* the row lacked a counter, or part of its time */
    ENTER_REPLACED,
    ENTER_EQUAL,   /* nothing to do */
    ENTER_LOWER,   /* a better row stands: reported only */
    ENTER_DIFFERS, /* as good, but not the same: refused unless told otherwise */
    ENTER_VERDICT_COUNT
};

/* Judges a row before the collector's own account. `stored` may be NULL. With
 * `replace` an equal one that differs is replaced. *result is what the record
 * should hold where the verdict changes it. */
enum enter_verdict enter_merge(const struct enter_row *stored, const struct enter_row *entered,
                               int64_t length_s, bool replace, struct enter_row *result);

/* The rows of a gap inside the collector's account, oldest first. At its ends
 * may stand a row that was measured in part: only what was placed in it counts
 * as the gap's, and nothing is entered for it. */
struct enter_gap {
    int32_t count;
    bool first_edge, last_edge; /* the first and the last row are such; others lie between */
    const struct enter_row *stored;
    const struct enter_row *const *entered; /* per row; NULL where the data have none */
    int64_t length_s;
    int64_t tolerance[ENTER_COUNTERS]; /* mWh that registers cannot tell: a misfit up to this is shared out */
    bool fit;                          /* share out any misfit */
    bool replace;
};

/* Why entered energies do not fit into a gap. */
struct enter_misfit {
    int32_t counter; /* position */
    int64_t known;   /* between the gap's ends, mWh, less what stands in it */
    int64_t entered;
};

/* Fills result[] and verdict[] (of the rows with entered data; others get
 * ENTER_EQUAL, or ENTER_REPLACED where they were spread anew). The sum of
 * every counter stays. False, and *misfit, where the data do not fit. */
bool enter_into_gap(const struct enter_gap *gap, struct enter_row *result, enum enter_verdict *verdict,
                    struct enter_misfit *misfit);

#endif
