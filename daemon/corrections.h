/* The corrections that the logbook asks for: its entries `correct`, and `exchange` of
 * a meter of ours where the collector saw a register run end. */
#ifndef METERBOOK_CORRECTIONS_H
#define METERBOOK_CORRECTIONS_H

#include "store_correct.h"

struct collect;

/* Can the entry become one? `out` below has room for all of these. */
bool corrections_may_be(const struct logbook_entry *entry);

/* Those in force, in the order in which they are applied; the same said twice is one.
 * Returns how many, or an enum store_result. */
int32_t corrections_wanted(struct collect *collect, struct store_correction out[]);

#endif
