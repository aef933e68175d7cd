/* The days with the most and the least of a figure. Pure: days come one after the other, a few of each end
 * are kept.
 *
 * A day of which something was not observed may have had more: among the highest it stands with its mark,
 * among the lowest it has no place. A day that the record has only in part has a place in neither; nor has
 * one that a sealed meter speaks for: days come without shares of reading periods (answer_what.fine). */
#ifndef METERBOOK_EXTREMES_H
#define METERBOOK_EXTREMES_H

#include "answer.h"

enum extremes_of {
    EXTREMES_PRODUCTION,
    EXTREMES_IMPORT,
    EXTREMES_EXPORT,
    EXTREMES_CONSUMPTION,
    EXTREMES_SELF_CONSUMPTION,
    EXTREMES_FIGURES
};

enum { EXTREMES_MOST = 100 };

struct extreme_day {
    int64_t from_s;
    int64_t energy;    /* mWh */
    int64_t estimated; /* mWh of all meters of the balance; UNKNOWN */
    int64_t observed;  /* millionths of the day, by the least observed meter */
    int32_t flags;     /* of the row */
};

struct extremes {
    enum extremes_of of;
    int32_t count; /* kept of each end */
    int32_t high_count, low_count;
    struct extreme_day high[EXTREMES_MOST],
        low[EXTREMES_MOST]; /* the first is the most extreme; then the earlier */
    int32_t days;           /* whole days seen, all ends together */
    int32_t unobserved;     /* of them not fully observed: not among the lowest */
    int32_t in_part;        /* known only in part, or not at all: among neither */
};

/* `count` is 1 to EXTREMES_MOST. */
void extremes_init(struct extremes *extremes, enum extremes_of of, int32_t count);

/* A row of one civil day; days come in their order. */
void extremes_add(struct extremes *extremes, const struct answer_row *day);

#endif
