/* What our own meters counted over a span of any ends, from the record. */
#ifndef METERBOOK_SPANS_OWN_H
#define METERBOOK_SPANS_OWN_H

#include "balance.h"
#include "civil.h"
#include "query.h"

struct spans_own {
    struct query *query;
    const struct civil *civil;
    int32_t meter;        /* not 0: its own counters, as the terms import and export */
    int64_t from_s, to_s; /* of what is kept; from the last question */
    int64_t energy[TERM_COUNT];
    int32_t flags;                    /* of all rows in it: enum row_flag, enum answer_flag */
    int64_t estimated;                /* mWh of them, all terms together */
    int64_t lacking_s[TERM_COUNT];    /* for which a meter of the term has no row */
    int64_t unobserved_s[TERM_COUNT]; /* and for which its rows were filled in: by the least observed one */
};

/* mWh of [from, to); UNKNOWN where the record does not have it whole. Of intervals that the
 * ends cut, a share by time is taken. The query's failure is left to query_error(). */
int64_t spans_own(struct spans_own *own, enum balance_term term, int64_t from_s, int64_t to_s);

#endif
