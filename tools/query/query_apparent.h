/* Apparent energy of one meter, for its demand; the rest of the query is in query.h. */
#ifndef METERBOOK_QUERY_APPARENT_H
#define METERBOOK_QUERY_APPARENT_H

#include "query.h"

/* A meter's intervals that start in [from, to) as they count, by time: set, then next until false. A row's
 * import is the apparent import in mVAh, its reactive that in mvarh, its export the reactive export in mvarh;
 * it has no power and no voltage. */
void query_apparent(struct query *query, int32_t meter, int64_t from_s, int64_t to_s);
bool query_next_apparent(struct query *query, struct interval_row *row);

#endif
