/* A stretch of one meter's intervals, and the same hours of the days around
 * it: what usually flows then. By UTC, so that a change of the clock between
 * two days moves nothing. */
#ifndef METERBOOK_STRETCH_H
#define METERBOOK_STRETCH_H

#include <stdbool.h>
#include <stdint.h>

#include "query_outages.h"

enum { STRETCH_DAYS = 14, STRETCH_LEAST = 3 }; /* days looked at; fewer than these that know are none */

struct stretch {
    struct query *query;
    int32_t meter;
    int64_t from_s, to_s; /* whole intervals */
    int32_t interval_s;
};

/* Widened to whole intervals of the length in force then. */
struct stretch stretch_of(struct query *query, int32_t meter, int64_t from_ms, int64_t to_ms);

/* The same stretch, moved. */
struct meter_sum stretch_sum(const struct stretch *stretch, int64_t shift_s);

/* How far the index-th nearest day is away that does not touch the stretch itself, s. */
int64_t stretch_shift_s(const struct stretch *stretch, int32_t index);

/* What that day had; false where it does not know all of it, or was not watched for a tenth. */
bool stretch_day(const struct stretch *stretch, int32_t index, struct meter_sum *sum);

#endif
