/* How fast the simulation goes: polls of 8 meters at 1 s, intervals of 5 min. */
#ifndef METERBOOK_SIM_SPEED_H
#define METERBOOK_SIM_SPEED_H

#include "sim.h"

/* Runs so many days of the site and says polls per second and meter-days per minute, in CPU time of this
 * process. */
void speed_measure(struct sim *sim, int64_t days);

#endif
