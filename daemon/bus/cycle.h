/* The cycles of one bus: which meter is asked what, and what its answers mean.
 *
 * Pure. A cycle begins at each multiple of the poll period in site time and
 * has three stages: every healthy meter once, one retry for those that failed,
 * and at most one lost meter. A cycle that outlasts its period is cut: the next
 * begins at once (multiples in between are skipped) with the meter that this
 * one did not reach. Two failed cycles make a meter lost; it is then asked with
 * growing pauses and out of a tenth of the bus's time. bus.c owns the port and
 * the silences and uses this. */
#ifndef METERBOOK_CYCLE_H
#define METERBOOK_CYCLE_H

#include "config.h"
#include "inbox.h"
#include "plan.h"
#include "sunspec.h"
#include "wire.h"

enum cycle_stage { STAGE_FIRST, STAGE_RETRY, STAGE_LOST, STAGE_IDLE };

struct cycle_meter {
    int32_t index; /* in the configuration */
    const struct config_meter *config;
    int64_t timeout_us;
    struct plan *plans;        /* one, or two of a walked meter: answers under way keep the old one */
    struct plan *plan;         /* the one in force; NULL until a walk has found one */
    struct sunspec_walk *walk; /* NULL: the map is from a file */
    bool walking;
    uint32_t walked; /* walks that found a plan */

    uint64_t pending;                         /* requests of this cycle not answered yet, a bit each */
    bool reached, deferred, answered, broken; /* in this cycle */
    int8_t result;                            /* why a request of this cycle failed */
    uint8_t exception;

    bool start_wanted;      /* the READ_START requests are still to be answered */
    int64_t interval_index; /* of the last cycle that read the READ_INTERVAL requests */
    int32_t failures;       /* failed cycles in a row */
    bool lost;
    int32_t probe; /* request that is tried while lost */
    int64_t lost_us, try_at_us, pause_us;
};

struct cycle_ask {
    struct cycle_meter *meter;
    int32_t request_index; /* in the plan; -1 for a step of a walk */
    struct request request;
};

struct cycle {
    const struct config *config;
    int32_t bus;
    uint32_t generation;
    void (*deliver)(void *self, const struct message *message);
    void *self;
    struct cycle_meter *meters;
    int32_t count;
    bool settles; /* a failed request costs another timeout */

    int64_t period_us, grid_us;
    int64_t due_us; /* of the next cycle; INT64_MIN: not known */
    enum cycle_stage stage;
    int32_t first, position, next_first; /* order of this cycle and of the next */
    bool cut;                            /* this cycle did not reach all meters */
    bool attempted;                      /* a lost meter had its turn */
    int64_t attempt_us;                  /* when that began, 0 = accounted for */
    int64_t credit_most_us;              /* one attempt at the slowest meter */
    int64_t credit_us, credit_at_us;     /* bus time out of which a tenth may go to lost meters */
    int64_t began_us;
    int32_t asks;
    int64_t
        pad_us; /* silence per request that the cycle can afford beyond the gap, 0 when the line is full */
    struct cycle_ask ask;
    struct message message;
};

enum {
    CYCLE_SETTLE_US = 50000,  /* least silence after a bad answer on a serial line */
    CYCLE_MAX_PAD_US = 20000, /* a gap is never padded beyond this */
};

/* Fills in meters of this bus; false when memory is out. `deliver` gets the
 * messages during cycle_take(). cycle_finish() frees, a zeroed struct too. */
bool cycle_init(struct cycle *cycle, const struct config *config, int32_t bus, uint32_t generation,
                void (*deliver)(void *self, const struct message *message), void *self);
void cycle_finish(struct cycle *cycle);

void cycle_set_grid(struct cycle *cycle, int64_t offset_us);

/* The request to make next (valid until cycle_take()), or NULL and the time to come back. Called again
 * without cycle_take() in between, it gives the same request once more, but for a lost meter's. */
const struct cycle_ask *cycle_next(struct cycle *cycle, int64_t now_us, int64_t *wake_us);

/* What came of it; reply with WIRE_OK and WIRE_EXCEPTION only. */
void cycle_take(struct cycle *cycle, int64_t now_us, enum wire_result result, const struct wire_reply *reply);

/* The port is gone: ends the cycle without a word about its meters. */
void cycle_abort(struct cycle *cycle);

/* The bus is back after `away_us`: what only changes with the hardware is read anew. */
void cycle_restart(struct cycle *cycle, int64_t away_us);

#endif
