/* One thread per bus: drives bus.c's machine on a real wire. */
#ifndef METERBOOK_THREAD_H
#define METERBOOK_THREAD_H

#include "config.h"
#include "inbox.h"

struct bus_thread;

/* Starts polling the bus. Everything it needs is allocated here; `config` and `inbox` must outlive it, and
 * its messages point to plans that live until bus_thread_stop(): empty the inbox of this generation after it.
 * grid_us: site time less boot time, 0 while unknown. NULL when memory, descriptors or threads are out. */
struct bus_thread *bus_thread_start(const struct config *config, int32_t bus, uint32_t generation,
                                    struct inbox *inbox, int64_t grid_us);

/* Tells it to end without waiting; at most one response timeout later it has. Optional, to stop several at
 * once. */
void bus_thread_halt(struct bus_thread *thread);

/* Ends it, waits for that, closes the port and frees all. Accepts NULL. */
void bus_thread_stop(struct bus_thread *thread);

/* Boot time in us of its last step. Steps are never further apart than BUS_THREAD_STEP_US and the time of the
 * longest action (two response timeouts, or listen_ms), so older means stuck. Safe from any thread. */
enum { BUS_THREAD_STEP_US = 10000000 };
int64_t bus_thread_progress(const struct bus_thread *thread);

/* Site time less boot time has become known or changed. Safe from any thread. */
void bus_thread_set_grid(struct bus_thread *thread, int64_t offset_us);

#endif
