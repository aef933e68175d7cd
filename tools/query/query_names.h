/* The part of the query that knows by which names meters went; the rest is in query.h. */
#ifndef METERBOOK_QUERY_NAMES_H
#define METERBOOK_QUERY_NAMES_H

#include "meter_names.h"
#include "query.h"

/* Heap, for meter_names_free(). NULL where the query has failed, or without memory. */
struct meter_names *query_meter_names(struct query *query);

#endif
