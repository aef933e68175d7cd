/* Energy that may lie on the other side of an answer's ends, because nobody
 * knows better when it flowed.
 *
 * Rows are dated by clocks that may be wrong by a little: a person's watch, the
 * sun. A boot that never got a clock is not dated at all: what it counted lies
 * somewhere between the last row before and the first one after it. Both count in every
 * sum; only an end that cuts through such a stretch has a doubt. */
#ifndef METERBOOK_DOUBT_H
#define METERBOOK_DOUBT_H

#include "answer.h"

/* Sets the doubt of every row and of the total, and says it in mark and notes. Hours and
 * intervals get none of their own. 0, or -1 without memory; the query's failure is left to query_error(). */
int doubt_add(struct answer *answer, struct query *query);

#endif
