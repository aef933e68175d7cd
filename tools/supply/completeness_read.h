/* How complete the record is over a span: every meter by month, its gaps and what explains them.
 * Read a month per read transaction; the report takes its matrix of months and
 * meters from here. */
#ifndef METERBOOK_COMPLETENESS_READ_H
#define METERBOOK_COMPLETENESS_READ_H

#include "completeness.h"
#include "inquiry.h"
#include "outages.h"

struct completeness_month {
    int64_t from_s, to_s; /* of it what the span holds */
};

/* What a gap is put down to. */
struct gap_cause {
    bool known;
    enum outage_kind kind;
    bool in_part;  /* for less than half of it */
    bool grid_out; /* the grid was out in it too */
    char text[OUTAGE_KNOWN_SIZE];
};

struct completeness {
    struct arranged_meter meters[HISTORY_MAX_METERS]; /* by number, under their newest names */
    int32_t meter_count;
    struct completeness_month *months; /* heap; those that the record reaches */
    int32_t month_count;
    struct completeness_shares *cells; /* heap: month by month, a cell per meter */
    struct completeness_gap *gaps;     /* heap: of an interval's length at least, by meter and time */
    struct gap_cause *causes;          /* heap: beside them */
    int32_t gap_count, gap_room;
    int64_t short_gaps, short_s; /* those that are shorter */
    bool failed;                 /* query_error() says it, or memory is out */
};

/* False where reading failed; give it to completeness_free() in any case. With `causes` the gaps' causes
 * are looked for. */
bool completeness_read(struct completeness *completeness, const struct inquiry *inquiry, bool causes);
void completeness_free(struct completeness *completeness);

const struct completeness_shares *completeness_cell(const struct completeness *completeness, int32_t month,
                                                    int32_t meter);
/* Of one meter over all months. */
struct completeness_shares completeness_of_meter(const struct completeness *completeness, int32_t meter);

/* What parts and production, or the consumption meter and the balance, counted of the same months. */
struct completeness_residual {
    int64_t parts, production; /* mWh; UNKNOWN unless both are metered and lack no interval */
};
struct completeness_residual completeness_parts(const struct completeness *completeness, int32_t month);

/* completeness_causes.c */
bool completeness_find_causes(struct completeness *completeness, const struct inquiry *inquiry);

#endif
