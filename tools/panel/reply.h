/* What a meter answers to a request, faults included. No sockets, no clock. */
#ifndef METERBOOK_PANEL_REPLY_H
#define METERBOOK_PANEL_REPLY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "adu.h"
#include "counting.h"
#include "scenario.h"

enum { REPLY_MAX_BYTES = 2 * ADU_MAX_SIZE + 128 };

/* The whole panel as the requests see it. */
struct panel {
    struct scenario *scenario;
    struct counting *counting;
    int64_t elapsed_ms; /* wall time since ready, set before each request */
    int64_t meter_requests[SCENARIO_MAX_METERS];
    int64_t bus_requests[SCENARIO_MAX_BUSES];
    int64_t requests, answers, exceptions;
    int64_t other_functions; /* requests with a function other than 1 to 4 */
    int64_t write_functions; /* of these, the ones that write: 5 6 15 16 21 22 23 */
};

struct reply {
    uint8_t bytes[REPLY_MAX_BYTES]; /* as they go out */
    size_t size;                    /* 0: silence */
    int64_t delay_ms, drip_ms;      /* before the first byte; between bytes, 0 = all at once */
    bool close;                     /* the connection ends */
    int meter;                      /* -1: nobody has this unit id */
    const char *verdict;            /* for the log */
};

/* `frame` are the request's own bytes, for an adapter that echoes. */
void reply_request(struct panel *panel, int bus, const struct adu *request, const uint8_t *frame,
                   size_t frame_size, struct reply *answer);

/* What another master on this line asks the n-th time, followed by its meter's answer. Returns the size. */
size_t reply_foreign(int64_t n, uint8_t *bytes);

#endif
