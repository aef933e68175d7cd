/* Everything that can go wrong, mixed by chance. */
#ifndef METERBOOK_SIM_RANDOM_H
#define METERBOOK_SIM_RANDOM_H

#include "sim.h"

/* One run of this seed, checked; a failure leaves by sim->escape. */
void random_run(struct sim *sim, uint64_t seed);

#endif
