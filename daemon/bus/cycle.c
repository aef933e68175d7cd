#include <stdlib.h>

#include "cycle_private.h"

enum { LOST_SHARE = 10 };

_Static_assert(PLAN_MAX_REQUESTS <= 64, "cycle_meter.pending has a bit per request");

static bool meter_init(struct cycle *cycle, struct cycle_meter *meter, int32_t index)
{
    const struct config_meter *config = &cycle->config->meters[index];
    const struct config_bus *bus = &cycle->config->buses[cycle->bus];
    const struct register_map *map = &cycle->config->maps[config->map];
    meter->index = index;
    meter->config = config;
    meter->timeout_us = 1000 * (int64_t)(config->response_timeout_ms > 0 ? config->response_timeout_ms
                                                                         : bus->response_timeout_ms);
    meter->start_wanted = true;
    meter->interval_index = INT64_MIN;
    meter->pause_us = CYCLE_FIRST_PAUSE_US;
    if (map->walk) {
        meter->walk = calloc(1, sizeof *meter->walk);
        meter->plans = calloc(2, sizeof *meter->plans);
        if (!meter->walk || !meter->plans)
            return false;
        cycle_walk_start(cycle, meter);
        return true;
    }
    meter->plans = calloc(1, sizeof *meter->plans);
    if (!meter->plans)
        return false;
    meter->plan = meter->plans;
    int32_t limit = config->max_registers > 0 ? config->max_registers : map->max_registers;
    /* a map that cannot be planned was refused with the configuration */
    if (plan_make(meter->plan, map, limit, line_cost_of(bus, CYCLE_TURNAROUND_US)) != 0)
        meter->plan->request_count = 0;
    return true;
}

/* What trying a lost meter once takes out of the credit. */
static int64_t attempt_cost(const struct cycle *cycle, const struct cycle_meter *meter)
{
    return LOST_SHARE * (cycle->settles ? 2 * meter->timeout_us + CYCLE_SETTLE_US : meter->timeout_us);
}

bool cycle_init(struct cycle *cycle, const struct config *config, int32_t bus, uint32_t generation,
                void (*deliver)(void *self, const struct message *message), void *self)
{
    *cycle = (struct cycle){
        .config = config,
        .bus = bus,
        .generation = generation,
        .deliver = deliver,
        .self = self,
        .settles = config->buses[bus].kind != BUS_TCP,
        .period_us = 1000 * (int64_t)config->site.poll_period_ms,
        .due_us = INT64_MIN,
        .stage = STAGE_IDLE,
    };
    cycle->meters = calloc((size_t)config->meter_count + 1, sizeof *cycle->meters);
    if (!cycle->meters)
        return false;
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].bus == bus && !meter_init(cycle, &cycle->meters[cycle->count++], i))
            return false;
    for (int32_t i = 0; i < cycle->count; i++)
        if (attempt_cost(cycle, &cycle->meters[i]) > cycle->credit_most_us)
            cycle->credit_most_us = attempt_cost(cycle, &cycle->meters[i]);
    return true;
}

void cycle_finish(struct cycle *cycle)
{
    for (int32_t i = 0; i < cycle->count; i++) {
        free(cycle->meters[i].plans);
        free(cycle->meters[i].walk);
    }
    free(cycle->meters);
    cycle->meters = NULL;
    cycle->count = 0;
}

void cycle_set_grid(struct cycle *cycle, int64_t offset_us)
{
    if (offset_us == cycle->grid_us)
        return;
    cycle->grid_us = offset_us;
    cycle->due_us = INT64_MIN;
}

static uint64_t wanted_requests(const struct cycle *cycle, const struct cycle_meter *meter)
{
    bool wanted[READ_CLASS_COUNT] = {
        [READ_POLL] = true,
        [READ_INTERVAL] = cycle_interval_at(cycle, cycle->began_us) != meter->interval_index,
        [READ_START] = meter->start_wanted,
    };
    uint64_t mask = 0;
    for (int32_t i = 0; meter->plan && i < meter->plan->request_count; i++)
        if (wanted[meter->plan->requests[i].read_class])
            mask |= UINT64_C(1) << i;
    return mask;
}

static int32_t lowest_pending(const struct cycle_meter *meter)
{
    int32_t i = 0;
    while (!(meter->pending >> i & 1))
        i++;
    return i;
}

/* ---- choosing ---- */

static const struct cycle_ask *ask_meter(struct cycle *cycle, struct cycle_meter *meter,
                                         int32_t request_index)
{
    cycle->asks++;
    cycle->ask.meter = meter;
    cycle->ask.request_index = meter->walking ? -1 : request_index;
    if (meter->walking)
        sunspec_next(meter->walk, &cycle->ask.request);
    else
        cycle->ask.request = meter->plan->requests[request_index];
    return &cycle->ask;
}

static bool meter_wants(const struct cycle_meter *meter)
{
    return !meter->broken && (meter->walking || meter->pending);
}

static struct cycle_meter *meter_in_turn(struct cycle *cycle)
{
    return &cycle->meters[(cycle->first + cycle->position) % cycle->count];
}

static const struct cycle_ask *choose_first(struct cycle *cycle, int64_t now_us)
{
    for (; cycle->position < cycle->count; cycle->position++) {
        struct cycle_meter *meter = meter_in_turn(cycle);
        if (meter->lost || meter->deferred || !meter_wants(meter))
            continue;
        if (now_us >= cycle->due_us && cycle->asks > 0 && (meter->walking || !meter->reached)) {
            int32_t unreached = cycle->position + (meter->reached ? 1 : 0);
            cycle->cut = true;
            cycle->next_first = (cycle->first + unreached) % cycle->count;
            return NULL;
        }
        meter->reached = true;
        return ask_meter(cycle, meter, meter->walking ? -1 : lowest_pending(meter));
    }
    return NULL;
}

static const struct cycle_ask *choose_retry(struct cycle *cycle, int64_t now_us)
{
    for (; cycle->position < cycle->count; cycle->position++) {
        struct cycle_meter *meter = meter_in_turn(cycle);
        if (!meter->deferred)
            continue;
        if (cycle->cut) { /* no second turn while others wait for their first */
            cycle_meter_give_up(cycle, meter, now_us);
            continue;
        }
        meter->result = WIRE_OK;
        return ask_meter(cycle, meter, meter->walking ? -1 : lowest_pending(meter));
    }
    return NULL;
}

static const struct cycle_ask *choose_lost(struct cycle *cycle, int64_t now_us)
{
    struct cycle_meter *oldest = NULL;
    for (int32_t i = 0; i < cycle->count; i++) {
        struct cycle_meter *meter = &cycle->meters[i];
        if (meter->lost && meter->try_at_us <= now_us && (!oldest || meter->try_at_us < oldest->try_at_us) &&
            (meter->walking || meter->plan->request_count > 0))
            oldest = meter;
    }
    if (cycle->attempted || !oldest || cycle->credit_us < attempt_cost(cycle, oldest))
        return NULL;
    cycle->attempted = true;
    cycle->attempt_us = now_us;
    return ask_meter(cycle, oldest, oldest->probe);
}

static int64_t multiple_after(const struct cycle *cycle, int64_t now_us)
{
    return (floor_divide(now_us + cycle->grid_us, cycle->period_us) + 1) * cycle->period_us - cycle->grid_us;
}

static void cycle_begin(struct cycle *cycle, int64_t now_us)
{
    cycle->began_us = now_us;
    cycle->due_us = multiple_after(cycle, now_us);
    cycle->stage = STAGE_FIRST;
    cycle->first = cycle->next_first;
    cycle->next_first = 0;
    cycle->position = 0;
    cycle->attempted = cycle->cut = false;
    cycle->asks = 0;
    for (int32_t i = 0; i < cycle->count; i++) {
        struct cycle_meter *meter = &cycle->meters[i];
        meter->pending = meter->lost || meter->walking ? 0 : wanted_requests(cycle, meter);
        meter->reached = meter->deferred = meter->answered = meter->broken = false;
        if (!meter->lost) {
            meter->result = WIRE_OK;
            meter->exception = 0;
        }
    }
}

/* The tenth of the bus's time for lost meters: filled by time, drained by
 * attempts including what they cost after their own timeout. */
static void count_credit(struct cycle *cycle, int64_t now_us)
{
    int64_t most = cycle->credit_most_us;
    if (cycle->credit_at_us != 0)
        cycle->credit_us += now_us - cycle->credit_at_us;
    else
        cycle->credit_us = most;
    cycle->credit_at_us = now_us;
    if (cycle->credit_us > most)
        cycle->credit_us = most;
    if (cycle->attempt_us != 0)
        cycle->credit_us -= LOST_SHARE * (now_us - cycle->attempt_us);
    cycle->attempt_us = 0;
}

static void cycle_end(struct cycle *cycle, int64_t now_us)
{
    cycle->stage = STAGE_IDLE;
    int64_t spare_us = cycle->due_us - now_us;
    if (cycle->asks == 0)
        return;
    cycle->pad_us = spare_us > 0 ? (cycle->pad_us + spare_us / cycle->asks) / 2 : 0;
    if (cycle->pad_us > CYCLE_MAX_PAD_US)
        cycle->pad_us = CYCLE_MAX_PAD_US;
}

const struct cycle_ask *cycle_next(struct cycle *cycle, int64_t now_us, int64_t *wake_us)
{
    static const struct cycle_ask *(*const choose[])(struct cycle *, int64_t) = {
        [STAGE_FIRST] = choose_first, [STAGE_RETRY] = choose_retry, [STAGE_LOST] = choose_lost
    };
    count_credit(cycle, now_us);
    if (cycle->due_us == INT64_MIN)
        cycle->due_us = multiple_after(cycle, now_us);
    if (cycle->stage == STAGE_IDLE && now_us >= cycle->due_us)
        cycle_begin(cycle, now_us);
    while (cycle->stage != STAGE_IDLE) {
        const struct cycle_ask *ask = choose[cycle->stage](cycle, now_us);
        if (ask)
            return ask;
        cycle->position = 0;
        if (cycle->stage < STAGE_LOST)
            cycle->stage++;
        else
            cycle_end(cycle, now_us);
    }
    *wake_us = cycle->due_us;
    return NULL;
}

void cycle_abort(struct cycle *cycle)
{
    cycle->stage = STAGE_IDLE;
    cycle->due_us = INT64_MIN;
    cycle->next_first = 0;
    cycle->attempt_us = 0;
}

void cycle_restart(struct cycle *cycle, int64_t away_us)
{
    for (int32_t i = 0; i < cycle->count; i++) {
        struct cycle_meter *meter = &cycle->meters[i];
        meter->start_wanted = true;
        meter->interval_index = INT64_MIN;
        if (meter->walk && !meter->walking && away_us > CYCLE_WALK_AGAIN_US)
            cycle_walk_start(cycle, meter);
    }
}
