/* The balance of a span (or what else the inquiry is of), row by row, in constant memory: a month at most
 * per read transaction (a year where rows are years), so that a reader of ten years never holds up the
 * collector. Rows are those of answer.h, of days and longer ones with what their dates may be off by. */
#ifndef METERBOOK_WALK_H
#define METERBOOK_WALK_H

#include "answer.h"
#include "inquiry.h"

struct walk {
    const struct inquiry *inquiry;
    enum row_unit unit;
    int64_t day;         /* the next civil day to be read */
    struct answer chunk; /* what is being given out */
    int32_t next;
    bool failed;
};

/* Rows of an hour fall back to intervals where an interval of the span does not divide it: see walk->unit. */
void walk_begin(struct walk *walk, const struct inquiry *inquiry, enum row_unit unit);

/* The next row that the record reaches, valid until the next call; NULL at the end and where reading failed.
 * Chunks without a row are passed over. */
const struct answer_row *walk_next(struct walk *walk);

/* Frees it. False, said on stderr, where reading failed. */
bool walk_end(struct walk *walk);

#endif
