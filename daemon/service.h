/* One configuration at work: its buses, its collector, its worker. main starts
 * one, and another after a reload. */
#ifndef METERBOOK_SERVICE_H
#define METERBOOK_SERVICE_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"

struct service;

/* Takes the configuration over, unless it returns NULL (after lines in the
 * log; *fatal: trying again will not help). */
struct service *service_start(struct config *config, uint32_t generation, bool *fatal);

/* Stops polling, writes what is complete, frees all. Accepts NULL. */
void service_stop(struct service *service);

/* Where the configuration is the one in force, reads the logbook alone anew and
 * polls on, so that the open interval is not cut: true. */
bool service_goes_on(struct service *service, const struct config *config);

/* Does everything move? Buses within their longest action, the collector
 * within ten minutes: a card that stalls is no reason to die. */
bool service_alive(const struct service *service);

#endif
