/* The machine's own clocks behind the seam of clock.h. */
#ifndef METERBOOK_CLOCK_REAL_H
#define METERBOOK_CLOCK_REAL_H

#include "clock.h"

extern const struct clock clock_real;

#endif
