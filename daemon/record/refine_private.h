/* Private to refine.c (finding gaps, one transaction each), refine_place.c (placing one) and
 * refine_sql.c (their statements). */
#ifndef METERBOOK_REFINE_PRIVATE_H
#define METERBOOK_REFINE_PRIVATE_H

#include "refine.h"
#include "store_private.h"

enum refine_statement {
    FIND_GAP,
    END_GAP,
    GAP_SUM,
    ENTERED_SUM,
    ONE_ROW,
    PLACE_ROW,
    KEEP_ANCHOR,
    DROP_DERIVED,
    SHIFT_ANCHOR,
    UNPLACED,
    HAS_DAY,
    REFINE_STATEMENT_COUNT
};
_Static_assert((int)REFINE_STATEMENT_COUNT == REFINE_STATEMENTS, "refine.h says how many");

/* Whole rows, none of which was observed. */
struct gap {
    int32_t meter; /* index */
    int32_t number;
    int64_t from_s, to_s;
    int64_t energy[2];
};

/* Binds up to four integers. */
sqlite3_stmt *refine_statement(struct refine *refine, enum refine_statement which, const int64_t values[],
                               int count);

/* One integer of one row. Returns 1, 0 or a failure. */
int refine_fetch(struct refine *refine, enum refine_statement which, const int64_t values[], int count,
                 int64_t *result);

static inline int64_t refine_interval_s(const struct refine *refine)
{
    return refine->config->site.interval_s;
}

/* Inside a transaction: the gap's rows, the days it touches, the derived meter. */
int refine_place(struct refine *refine, const struct gap *gap, struct refined *done);

#endif
