/* Apparent energy of a case: pure, in integers.
 *
 * What the grid meter recorded beside active energy in an interval (reactive energy, and whatever else makes
 * kVAh more than kWh) is kept as it was, since inverters and batteries are taken to make none; the active
 * energy is the case's: kVAh = sqrt(kWh^2 + rest^2). So a case that changes nothing gives the recorded kVAh.
 * It is a least value where only reactive energy is recorded: within an interval, and between phases, swings
 * add to kVAh. */
#ifndef METERBOOK_NONACTIVE_H
#define METERBOOK_NONACTIVE_H

#include <stdint.h>

/* The rest, mvarh, from the interval's counters: kVAh of import tell it while something was imported, or
 * nothing went either way; else the reactive energy does. UNKNOWN where neither is there. */
int64_t nonactive_of(int64_t apparent, int64_t reactive, int64_t import, int64_t export);

/* mVAh of so much import beside so much of the rest; each below 2^31. */
int64_t apparent_of(int64_t import, int64_t nonactive);

#endif
