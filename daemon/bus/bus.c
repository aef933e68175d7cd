#include "bus.h"

#include <stdio.h>
#include <stdlib.h>

#include "cycle.h"
#include "frame.h"

static const int64_t FIRST_BACKOFF_US = 1000000, LAST_BACKOFF_US = 30000000;
static const int64_t PENDING_US = 50000;
static const int64_t IDLE_US = INT64_C(3600000000);

enum { SILENT_UNTIL_RECONNECT = 2 };
enum port_state { PORT_CLOSED, PORT_OPEN, PORT_LEFT_ALONE };
enum { NOT_REPORTED = 1 }; /* no enum wire_result */

struct bus {
    const struct config_bus *config;
    struct cycle cycle;
    bool serial;        /* serial framing: silences count and a bad answer must settle */
    bool network;       /* a connection can be lost while idle */
    int64_t silence_us; /* t3.5 */

    enum port_state port;
    bool close_wanted, settle_wanted, listened, was_down;
    int reported; /* last result of a MESSAGE_BUS_STATE */
    int64_t open_at_us, backoff_us, down_us;
    char why[WIRE_WHY_SIZE]; /* what open() said */

    const struct cycle_ask *ask; /* made last */
    bool reconnected;            /* since the last request that went out */
    int32_t silent;              /* timeouts in a row */
    int64_t line_free_us;        /* end of the last frame on the wire */
};

struct bus *bus_create(const struct config *config, int32_t bus_index, uint32_t generation,
                       void (*deliver)(void *self, const struct message *message), void *self)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus)
        return NULL;
    bus->config = &config->buses[bus_index];
    bus->serial = bus->config->kind != BUS_TCP;
    bus->network = bus->config->kind != BUS_RTU;
    bus->silence_us = bus->serial ? frame_silence_us(bus->config->baud) : 0;
    bus->listened = bus->config->kind != BUS_RTU || bus->config->shared || bus->config->listen_ms <= 0;
    bus->reported = NOT_REPORTED;
    bus->backoff_us = FIRST_BACKOFF_US;
    if (!cycle_init(&bus->cycle, config, bus_index, generation, deliver, self)) {
        bus_destroy(bus);
        return NULL;
    }
    return bus;
}

void bus_destroy(struct bus *bus)
{
    if (!bus)
        return;
    cycle_finish(&bus->cycle);
    free(bus);
}

void bus_set_grid(struct bus *bus, int64_t offset_us)
{
    cycle_set_grid(&bus->cycle, offset_us);
}

/* ---- state of the port ---- */

/* Tells a change of state, and only a change. */
static void report(struct bus *bus, int64_t now_us, enum wire_result result, const char *why)
{
    if (bus->reported == (int)result)
        return;
    bus->reported = result;
    struct message message = {
        .kind = MESSAGE_BUS_STATE,
        .result = (int8_t)result,
        .bus = (int16_t)bus->cycle.bus,
        .meter = -1,
        .generation = bus->cycle.generation,
        .boot_us = now_us,
    };
    snprintf(message.text, sizeof message.text, "%s", why);
    bus->cycle.deliver(bus->cycle.self, &message);
}

static void down(struct bus *bus, int64_t now_us, enum wire_result result, const char *why)
{
    if (!bus->was_down)
        bus->down_us = now_us;
    bus->was_down = true;
    report(bus, now_us, result, why);
    cycle_abort(&bus->cycle);
    bus->settle_wanted = bus->reconnected = false;
    bus->open_at_us = now_us + bus->backoff_us;
    bus->backoff_us = bus->backoff_us * 2 < LAST_BACKOFF_US ? bus->backoff_us * 2 : LAST_BACKOFF_US;
}

static void reconnect(struct bus *bus, int64_t now_us)
{
    bus->close_wanted = true;
    bus->open_at_us = now_us;
    bus->silent = 0;
}

/* ---- what came of an action ---- */

static void take_wait(struct bus *bus, int64_t now_us, const struct outcome *outcome)
{
    (void)bus;
    (void)now_us;
    (void)outcome;
}

static void take_open(struct bus *bus, int64_t now_us, const struct outcome *outcome)
{
    if (outcome->result == WIRE_PENDING) {
        bus->open_at_us = now_us + PENDING_US;
    } else if (outcome->result != WIRE_OK) {
        down(bus, now_us, outcome->result, outcome->why ? outcome->why : "");
    } else {
        bus->port = PORT_OPEN;
        bus->line_free_us = now_us;
        snprintf(bus->why, sizeof bus->why, "%s", outcome->why ? outcome->why : "");
        if (bus->was_down)
            cycle_restart(&bus->cycle, now_us - bus->down_us);
    }
}

static void take_listen(struct bus *bus, int64_t now_us, const struct outcome *outcome)
{
    if (outcome->result == WIRE_GONE) {
        bus->close_wanted = true;
        down(bus, now_us, WIRE_GONE, "lost while listening");
    } else if (outcome->result == WIRE_FOREIGN) {
        report(bus, now_us, WIRE_FOREIGN,
               "another master talks on this bus; it is left alone unless 'shared' is set");
        bus->close_wanted = true;
        bus->port = PORT_LEFT_ALONE;
    } else {
        bus->listened = true;
        bus->line_free_us = now_us;
    }
}

static void take_gone(struct bus *bus, int64_t now_us)
{
    reconnect(bus, now_us);
    if (bus->network && !bus->reconnected) {
        bus->reconnected =
            true; /* an idle connection may have been dropped: ask again, it is no failure yet */
        return;
    }
    down(bus, now_us, WIRE_GONE, bus->network ? "the connection was lost" : "the port is gone");
}

static void take_bad_answer(struct bus *bus, int64_t now_us, enum wire_result result)
{
    bus->silent = result == WIRE_SILENT ? bus->silent + 1 : 0;
    bus->settle_wanted = bus->serial;
    bool stream_lost = bus->config->kind == BUS_TCP && result == WIRE_GARBLED;
    if (stream_lost || (bus->network && bus->silent >= SILENT_UNTIL_RECONNECT)) {
        reconnect(bus, now_us);
        bus->settle_wanted = false;
    }
}

static void take_ask(struct bus *bus, int64_t now_us, const struct outcome *outcome)
{
    if (outcome->result == WIRE_GONE) {
        take_gone(bus, now_us);
        return;
    }
    /* Only a request that went out proves the port: some open and fail at once, over and over. */
    bus->was_down = bus->reconnected = false;
    bus->backoff_us = FIRST_BACKOFF_US;
    report(bus, now_us, WIRE_OK, bus->why);
    if (outcome->result == WIRE_OK || outcome->result == WIRE_EXCEPTION) {
        bus->silent = 0;
        /* A reply to a read has an odd number of bytes, so a receive buffer of any usual (even) depth hands
         * over its end by running into its own timeout: the whole wait is always in the arrival. */
        bus->line_free_us = outcome->reply->received_us - bus->config->fifo_wait_us;
    } else {
        take_bad_answer(bus, now_us, outcome->result);
    }
    cycle_take(&bus->cycle, now_us, outcome->result, outcome->reply);
}

static void take_discard(struct bus *bus, int64_t now_us, const struct outcome *outcome)
{
    if (outcome->result == WIRE_GONE)
        take_gone(bus, now_us);
    bus->line_free_us = now_us - CYCLE_SETTLE_US;
}

/* ---- what to do next ---- */

static bool next_while_closed(struct bus *bus, int64_t now_us, struct action *action)
{
    if (bus->port == PORT_OPEN && !bus->close_wanted)
        return false;
    if (bus->close_wanted) {
        bus->close_wanted = false;
        if (bus->port == PORT_OPEN)
            bus->port = PORT_CLOSED;
        action->kind = ACTION_CLOSE;
    } else if (bus->port == PORT_LEFT_ALONE) {
        action->kind = ACTION_WAIT;
        action->at_us = now_us + IDLE_US;
    } else if (now_us < bus->open_at_us) {
        action->kind = ACTION_WAIT;
        action->at_us = bus->open_at_us;
    } else {
        action->kind = ACTION_OPEN;
    }
    return true;
}

/* The silence before a request: t3.5, or what the bus or the meter needs, padded while the line is idle
 * anyway. */
static int64_t gap_before(const struct bus *bus, const struct cycle_meter *meter)
{
    int64_t gap_us = bus->silence_us;
    if (bus->config->gap_us > gap_us)
        gap_us = bus->config->gap_us;
    if (meter->config->gap_us > gap_us)
        gap_us = meter->config->gap_us;
    if (!bus->serial || gap_us >= CYCLE_MAX_PAD_US)
        return gap_us;
    int64_t padded_us = gap_us + bus->cycle.pad_us;
    return padded_us < CYCLE_MAX_PAD_US ? padded_us : CYCLE_MAX_PAD_US;
}

static void next_ask(struct bus *bus, int64_t now_us, struct action *action)
{
    const struct cycle_meter *meter = bus->ask->meter;
    int64_t at_us = bus->line_free_us + gap_before(bus, meter);
    action->kind = ACTION_ASK;
    action->at_us = at_us > now_us ? at_us : now_us;
    action->meter = meter->index;
    action->unit_id = meter->config->unit_id;
    action->request = bus->ask->request;
    action->timeout_us = meter->timeout_us;
}

static void next_while_open(struct bus *bus, int64_t now_us, struct action *action)
{
    if (!bus->listened) {
        action->kind = ACTION_LISTEN;
        action->for_us = 1000 * (int64_t)bus->config->listen_ms;
        return;
    }
    if (bus->settle_wanted) {
        bus->settle_wanted = false;
        action->kind = ACTION_DISCARD;
        action->for_us = bus->ask->meter->timeout_us;
        action->silence_us = bus->silence_us > CYCLE_SETTLE_US ? bus->silence_us : CYCLE_SETTLE_US;
        return;
    }
    int64_t wake_us = now_us;
    const struct cycle_ask *ask = cycle_next(&bus->cycle, now_us, &wake_us);
    if (ask) {
        bus->ask = ask;
        next_ask(bus, now_us, action);
    } else if (bus->network && bus->config->close_after_cycle && wake_us > now_us) {
        bus->port = PORT_CLOSED;
        bus->open_at_us = wake_us;
        action->kind = ACTION_CLOSE;
    } else {
        action->kind = ACTION_WAIT;
        action->at_us = wake_us;
    }
}

void bus_step(struct bus *bus, int64_t now_us, const struct outcome *outcome, struct action *action)
{
    static void (*const take[])(struct bus *, int64_t, const struct outcome *) = {
        [ACTION_WAIT] = take_wait, [ACTION_OPEN] = take_open,       [ACTION_LISTEN] = take_listen,
        [ACTION_ASK] = take_ask,   [ACTION_DISCARD] = take_discard, [ACTION_CLOSE] = take_wait,
    };
    *action = (struct action){ .kind = ACTION_WAIT };
    if (outcome)
        take[outcome->kind](bus, now_us, outcome);
    if (!next_while_closed(bus, now_us, action))
        next_while_open(bus, now_us, action);
}
