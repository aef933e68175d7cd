/* The ten invariants of a record, each held against what only the simulated
 * meters know. Each fails the run with its own message: `invariant 3,
 * provenance: ...`. The ninth (reading only) is checked at each request, by
 * sim_wire.c. */
#ifndef METERBOOK_SIM_INVARIANTS_H
#define METERBOOK_SIM_INVARIANTS_H

#include "record.h"

/* Before a run: forgets what the last one had in its record. */
void invariants_begin(void);
/* While it runs, wherever the record can be read: what was written stays as it is (2, 4). */
void invariants_look(struct sim *sim);
/* At the end, all faults over and all written. */
void invariants_check(struct sim *sim);

/* invariant_truth.c: rows against the truth, meter by meter (1, 3, 7, 8) */
void invariant_totals(struct sim *sim, int meter);
void invariant_rows(struct sim *sim, int meter, const struct record *record);

#endif
