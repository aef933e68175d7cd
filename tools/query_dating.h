/* The part of the query that tells what dated the rows; the rest is in query.h. */
#ifndef METERBOOK_QUERY_DATING_H
#define METERBOOK_QUERY_DATING_H

#include "query.h"

enum { CLOCK_SOURCE_SIZE = 16 };

/* What dated rows, from an instant on. */
struct dated_row {
    int64_t from_ms; /* UTC */
    int64_t doubt_ms;
    bool first; /* of its boot */
    char source[CLOCK_SOURCE_SIZE];
};

/* By time: set, then next until false. */
void query_dated(struct query *query);
bool query_next_dated(struct query *query, struct dated_row *row);

/* For boots that never got a clock and held what they read, by time: when the next one that did was
 * first heard of. */
void query_undated(struct query *query);
bool query_next_undated(struct query *query, int64_t *after_s);

#endif
