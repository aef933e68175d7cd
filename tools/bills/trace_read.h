/* Reads a span of the record as a trace, for what-if and what a kWh is worth. */
#ifndef METERBOOK_TRACE_READ_H
#define METERBOOK_TRACE_READ_H

#include "inquiry.h"
#include "trace.h"

/* The only grid meter that there was; 0 where there is none or several: their kVA do not add up. */
int32_t only_grid_meter(const struct history *history);

/* Intervals of which production and consumption are known; the others are counted as left out. Whole days of
 * the inquiry's span. With `wants_apparent` what the grid meter had beside active energy, too. False, said on
 * stderr, where it failed; trace_free() takes it in any case. */
bool trace_read(struct trace *trace, const struct inquiry *inquiry, bool wants_apparent);

#endif
