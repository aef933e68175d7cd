/* The collector's thread: one collect_turn() every two seconds, half a second
 * off the poll grid, so that its work does not meet the polls. Being woken costs
 * more than what a turn does. The only thread that touches the disk. */
#ifndef METERBOOK_WORKER_H
#define METERBOOK_WORKER_H

#include <stdint.h>

#include "collect.h"

struct worker;

/* NULL when memory or threads are out. The collector is the worker's until worker_stop(). */
struct worker *worker_start(struct collect *collect);
/* What people wrote since: taken over, in use from the next turn on. Safe from any thread. */
void worker_give_logbook(struct worker *worker, struct logbook *logbook);
/* Ends the thread after its turn. Accepts NULL. */
void worker_stop(struct worker *worker);
/* Boot time in us of the start of its last turn. Safe from any thread. */
int64_t worker_progress(const struct worker *worker);

#endif
