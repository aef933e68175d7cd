/* What only the comparison with sealed meters reads of the record. */
#ifndef METERBOOK_QUERY_AGREEMENT_H
#define METERBOOK_QUERY_AGREEMENT_H

#include "query.h"

/* How uncertain the derived grid meter was in [from, to) by the collector's own word, thousandths of the
 * energy; 0 where the record does not say. */
int64_t query_derived_doubt(struct query *query, int64_t from_s, int64_t to_s);

#endif
