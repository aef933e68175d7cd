/* Closed days in quarter hours. */
#ifndef METERBOOK_QUERY_CURVE_H
#define METERBOOK_QUERY_CURVE_H

#include "day_curve.h"
#include "query.h"

/* The quarter hours of a meter's civil day. False where the record has none that says what the day's rows say
 * as they count: where rows are missing or corrected, or what is kept is damaged. Then the rows are to be
 * read. `flags` are those of the day. */
bool query_curve(struct query *query, int32_t meter, int64_t day, struct day_curve *curve, int32_t *flags);

#endif
