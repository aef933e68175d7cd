/* The seam to the bus: what carries requests. One struct of functions; the
 * real one is wire_modbus.c (RTU, TCP and RTU frames over TCP through
 * libmodbus), others live in tests and in the simulation. None of the
 * functions blocks longer than its stated time. */
#ifndef METERBOOK_WIRE_H
#define METERBOOK_WIRE_H

#include <stdint.h>

#include "plan.h"

enum { WIRE_WHY_SIZE = 160 };

enum wire_result {
    WIRE_OK = 0,
    WIRE_SILENT = -1,    /* no answer before the deadline */
    WIRE_GARBLED = -2,   /* bad CRC, wrong unit, wrong function, wrong length, wrong MBAP */
    WIRE_EXCEPTION = -3, /* the meter (or a gateway) answered an exception; the bus itself is fine */
    WIRE_GONE = -4,      /* port or connection lost: close and reopen */
    WIRE_BUSY = -5,      /* open: somebody else holds the port */
    WIRE_FOREIGN = -6,   /* listen: another master talks on this bus */
    WIRE_PENDING = -7,   /* open: a name is still being resolved or a connection made; ask again later */
};

struct wire_reply {
    uint16_t registers[MAP_MAX_REGISTERS];
    uint16_t count;
    uint8_t exception;   /* raw exception code with WIRE_EXCEPTION */
    int64_t sent_us;     /* boot time: the request's last byte left (computed on a serial line) */
    int64_t received_us; /* boot time: the reply's last byte arrived */
};

struct wire_ops {
    /* Opens and locks. WIRE_OK, WIRE_BUSY, WIRE_GONE or WIRE_PENDING; `why` (WIRE_WHY_SIZE bytes) gets a
     * text: what failed, or with WIRE_OK a warning or nothing. */
    enum wire_result (*open)(void *self, char *why);
    /* Listens for `for_us` without sending; WIRE_OK (nothing understood heard), WIRE_FOREIGN, WIRE_GONE. */
    enum wire_result (*listen)(void *self, int64_t for_us);
    /* Drains stale input, sends the request to the unit, waits for its answer until timeout_us after the
     * request's end on the wire plus the answer's own length. */
    enum wire_result (*ask)(void *self, int unit_id, const struct request *request, int64_t timeout_us,
                            struct wire_reply *reply);
    /* Discards input for `for_us`, then until the bus was silent for `silence_us` (at most for_us more). */
    enum wire_result (*discard)(void *self, int64_t for_us, int64_t silence_us);
    void (*close)(void *self);
};

struct wire {
    const struct wire_ops *ops;
    void *self;
};

#endif
