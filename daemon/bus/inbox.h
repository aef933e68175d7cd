/* The inbox: the only way from the buses to the collector. A bounded ring
 * under a mutex; any number of writers, one reader. Never waits: a full inbox
 * drops the oldest answer and counts it (the counters lose nothing: a dropped
 * answer is a missed poll). */
#ifndef METERBOOK_INBOX_H
#define METERBOOK_INBOX_H

#include <stdbool.h>
#include <stdint.h>

#include "plan.h"

enum message_kind {
    MESSAGE_ANSWER,      /* registers of one request */
    MESSAGE_CYCLE_END,   /* all requests of this cycle to this meter have been tried; `result` is 0 when all
                            answered */
    MESSAGE_METER_STATE, /* result: 0 = answers again, else why it is lost; `text` says more of a failed
                            SunSpec walk */
    MESSAGE_BUS_STATE,   /* result: 0 = up, else why it is down; `text` says more */
};

struct message {
    uint8_t kind;
    int8_t result; /* enum wire_result */
    uint8_t exception;
    int16_t bus, meter;  /* indices in the configuration; meter -1 for a bus message */
    uint16_t request;    /* index in plan->requests */
    uint32_t generation; /* of the configuration that the bus was started with */
    int64_t boot_us;     /* answer: middle between request sent and reply received */
    const struct plan *plan;
    union {
        struct {
            uint16_t count;
            uint16_t registers[MAP_MAX_REGISTERS];
        };
        char text[160];
    };
};

struct inbox;

/* Heap; NULL when memory is out. */
struct inbox *inbox_create(int32_t capacity);
void inbox_destroy(struct inbox *inbox);

void inbox_put(struct inbox *inbox, const struct message *message);
/* Takes the oldest; false when empty. */
bool inbox_take(struct inbox *inbox, struct message *message);
/* Messages dropped since the last call. */
int64_t inbox_dropped(struct inbox *inbox);

#endif
