/* A card on which a power cut turns blocks to noise: how many records it damages. */
#ifndef METERBOOK_SIM_HOSTILE_H
#define METERBOOK_SIM_HOSTILE_H

#include "sim.h"

/* Cuts the power and mounts the record so often; says how many were damaged, and fails the run above what a
 * prototype withstood. Each damaged record is followed by a new one. */
void hostile_measure(struct sim *sim, int64_t mounts);

#endif
