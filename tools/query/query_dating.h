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

/* What network clocks and readings are apart by is nobody's doubt. */
enum { DATING_DOUBT_S = 10 };
/* Is there any clock with so much of it, or whose doubt grows? */
bool query_dating_doubt(struct query *query);

/* By time: set, then next until false. */
void query_dated(struct query *query);
bool query_next_dated(struct query *query, struct dated_row *row);

/* For boots that never got a clock and held what they read, by time: when the next one that did was
 * first heard of. */
void query_undated(struct query *query);
bool query_next_undated(struct query *query, int64_t *after_s);

/* UTC less boot time, by the newest clock of a boot; false where it got none, and after a failure. */
bool query_clock_offset(struct query *query, const char *boot, int64_t *offset_ms);

/* Are there readings that wait for a clock? Then this is what can be done. */
#define WAIT_FOR_CLOCK                                                                                       \
    "wait for a clock that is trusted: 'meterbook note DATE clock', then SIGHUP, says what time it is"
bool query_waits(struct query *query);

#endif
