/* A bus as a step function: bus_step(bus, now, result) -> action. Pure: no
 * clock, no descriptor, no allocation. thread.c drives one per thread on a real
 * wire; the simulation drives all of them from one event queue.
 *
 * It decides whom to ask when: due times on the grid of the poll period,
 * healthy meters first, one retry after them, lost meters last and from a
 * tenth of the bus's time, settling after a bad answer, back-off of the port,
 * and walking SunSpec model chains before the first poll. */
#ifndef METERBOOK_BUS_H
#define METERBOOK_BUS_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "inbox.h"
#include "plan.h"
#include "wire.h"

enum action_kind {
    ACTION_WAIT,    /* until at_us */
    ACTION_OPEN,    /* call open */
    ACTION_LISTEN,  /* for for_us */
    ACTION_ASK,     /* not before at_us: meter, unit_id, request, timeout_us */
    ACTION_DISCARD, /* for for_us, then silence_us of silence */
    ACTION_CLOSE,
};

struct action {
    enum action_kind kind;
    int64_t at_us; /* WAIT, ASK: boot time */
    int64_t for_us, silence_us;
    int64_t timeout_us;
    int32_t meter; /* index in the configuration */
    int32_t unit_id;
    struct request request;
};

/* What came of the action before. For ACTION_WAIT only `kind` matters. */
struct outcome {
    enum action_kind kind;
    enum wire_result result;
    const struct wire_reply *reply; /* ASK; else NULL */
    const char *why;                /* OPEN: text, or NULL */
};

struct bus;

/* Heap, sized for the meters of this bus. Messages go to `deliver` during
 * bus_step. `generation` is stamped on each. NULL when memory is out. */
struct bus *bus_create(const struct config *config, int32_t bus_index, uint32_t generation,
                       void (*deliver)(void *self, const struct message *message), void *self);
void bus_destroy(struct bus *bus);

/* Site time = boot time + offset; due times are multiples of the poll period
 * in it. 0 until a clock is trusted. */
void bus_set_grid(struct bus *bus, int64_t offset_us);

/* One step. `outcome` is NULL for the first. */
void bus_step(struct bus *bus, int64_t now_us, const struct outcome *outcome, struct action *action);

#endif
