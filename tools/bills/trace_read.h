/* Reads a span of the record as a trace, for what-if and what a kWh is worth. */
#ifndef METERBOOK_TRACE_READ_H
#define METERBOOK_TRACE_READ_H

#include "inquiry.h"
#include "trace.h"

/* Intervals of which production and consumption are known; the others are counted as left out. Whole days of
 * the inquiry's span. False, said on stderr, where it failed; trace_free() takes it in any case. */
bool trace_read(struct trace *trace, const struct inquiry *inquiry);

#endif
