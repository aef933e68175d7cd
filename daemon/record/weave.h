/* Rows made anew from what older rows say at their ends, at other dates.
 *
 * A stored row fixes the account at its end. Where that end gets another date,
 * the accounts are points of a line once more, and new rows are cut from it as
 * from live readings: exact to the mWh over any span, however the dates moved.
 * The share that was estimated and the time that nobody watched are carried
 * along in the same way. Pure; no allocation; mWh, UTC ms. */
#ifndef METERBOOK_WEAVE_H
#define METERBOOK_WEAVE_H

#include <stdbool.h>
#include <stdint.h>

#include "book.h"

enum { WEAVE_COUNTERS = 4 };

/* What a stored row adds. */
struct weave_row {
    int64_t key;                    /* of the row, for its momentary values */
    int64_t length_ms;              /* of its interval */
    int64_t energy[WEAVE_COUNTERS]; /* mWh; 0 where it has no such counter */
    int64_t estimated;              /* mWh of them, all counters */
    int64_t unobserved_ms;
    uint16_t how; /* enum row_method | enum row_flag */
};

struct weave {
    struct book book;
    int32_t counters;
    int64_t account[WEAVE_COUNTERS]; /* since the beginning, all rows that were added */
    int64_t placed[WEAVE_COUNTERS];  /* the same at the last point */
    int64_t estimated, unobserved_ms;
    int64_t last_ms; /* date of the last point */
    uint16_t mark;
    uint16_t flags;          /* of rows added since */
    uint16_t method;         /* of the span that is being cut */
    bool joined;             /* the row before was a point */
    int64_t key, key_before; /* rows that the last two points ended; 0: none */
    int64_t span_ms;         /* date of the point before the last */
};

struct woven {
    int64_t start_ms;
    int64_t energy[WEAVE_COUNTERS];
    int64_t estimated, unobserved_ms;
    uint16_t how;
    int64_t key; /* of the old row that it mostly is; 0: none */
};

/* Rows begin at from_ms, a boundary, with accounts of 0. */
/* `mark`: flags of all rows. */
void weave_begin(struct weave *weave, int32_t counters, int64_t length_ms, int64_t from_ms, uint16_t mark);

/* Nobody watched from the last point to the next. */
void weave_break(struct weave *weave);

/* The next old row, whose end has no date: its energy goes on to the next point. */
void weave_pass(struct weave *weave, const struct weave_row *row);

/* The next old row, with the date of its end; false where that is not later
 * than the point before: then it has none either. */
bool weave_point(struct weave *weave, const struct weave_row *row, int64_t at_ms);

/* Takes the next whole row. */
bool weave_take(struct weave *weave, struct woven *row);

#endif
