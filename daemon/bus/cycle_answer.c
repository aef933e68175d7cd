#include <string.h>

#include "cycle_private.h"

int64_t cycle_interval_at(const struct cycle *cycle, int64_t now_us)
{
    return floor_divide(now_us + cycle->grid_us, 1000000 * (int64_t)cycle->config->site.interval_s);
}

/* ---- start and end ---- */

void cycle_walk_start(const struct cycle *cycle, struct cycle_meter *meter)
{
    const struct register_map *map = &cycle->config->maps[meter->config->map];
    int32_t limit = meter->config->max_registers > 0 ? meter->config->max_registers : map->max_registers;
    enum meter_role role = meter->config->role;
    bool prefer_meter = role == ROLE_GRID || role == ROLE_CONSUMPTION || role == ROLE_BRANCH;
    sunspec_start(meter->walk, meter->config->sunspec_base, limit, meter->config->grid_sign_export,
                  prefer_meter);
    meter->walking = true;
}

static const int64_t LAST_PAUSE_US = 300000000;

enum { FAILURES_UNTIL_LOST = 2 };

/* ---- messages ---- */

static struct message *message_begin(struct cycle *cycle, enum message_kind kind,
                                     const struct cycle_meter *meter, int64_t boot_us)
{
    struct message *message = &cycle->message;
    message->kind = (uint8_t)kind;
    message->result = meter->result;
    message->exception = meter->exception;
    message->bus = (int16_t)cycle->bus;
    message->meter = (int16_t)meter->index;
    message->request = 0;
    message->generation = cycle->generation;
    message->boot_us = boot_us;
    message->plan = meter->plan;
    message->text[0] = '\0';
    return message;
}

static void deliver_answer(struct cycle *cycle, const struct wire_reply *reply)
{
    struct message *message = message_begin(cycle, MESSAGE_ANSWER, cycle->ask.meter,
                                            reply->sent_us + (reply->received_us - reply->sent_us) / 2);
    message->result = WIRE_OK;
    message->exception = 0;
    message->request = (uint16_t)cycle->ask.request_index;
    message->count = reply->count;
    memcpy(message->registers, reply->registers, reply->count * sizeof reply->registers[0]);
    cycle->deliver(cycle->self, message);
}

static void deliver_state(struct cycle *cycle, const struct cycle_meter *meter, int64_t now_us)
{
    struct message *message = message_begin(cycle, MESSAGE_METER_STATE, meter, now_us);
    if (!meter->lost) {
        message->result = WIRE_OK;
        message->exception = 0;
    } else if (meter->walking) {
        size_t length = strnlen(meter->walk->reason, sizeof message->text - 1);
        memcpy(message->text, meter->walk->reason, length);
        message->text[length] = '\0';
    }
    cycle->deliver(cycle->self, message);
}

/* ---- meters ---- */

static int32_t smallest_request(const struct plan *plan)
{
    int32_t best = 0;
    for (int32_t i = 1; i < plan->request_count; i++)
        if (plan->requests[i].read_class == READ_POLL &&
            (plan->requests[best].read_class != READ_POLL ||
             plan->requests[i].count < plan->requests[best].count))
            best = i;
    return best;
}

/* Each pause is twice the last until a cycle is wholly good again. */
static void meter_pause(struct cycle_meter *meter, int64_t now_us)
{
    meter->try_at_us = now_us + meter->pause_us;
    meter->pause_us = meter->pause_us * 2 < LAST_PAUSE_US ? meter->pause_us * 2 : LAST_PAUSE_US;
}

static void meter_lose(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us)
{
    meter->lost = true;
    meter->lost_us = now_us;
    meter_pause(meter, now_us);
    if (meter->plan)
        meter->probe = smallest_request(meter->plan);
    deliver_state(cycle, meter, now_us);
}

static void meter_failed(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us)
{
    if (++meter->failures >= FAILURES_UNTIL_LOST)
        meter_lose(cycle, meter, now_us);
}

/* Everything that was to be asked in this cycle has been tried. */
static void meter_end(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us)
{
    meter->pending = 0;
    meter->deferred = false;
    if (!meter->walking)
        cycle->deliver(cycle->self, message_begin(cycle, MESSAGE_CYCLE_END, meter, now_us));
    if (meter->broken || !meter->answered) {
        meter_failed(cycle, meter, now_us);
        return;
    }
    meter->failures = 0;
    meter->start_wanted = false;
    meter->interval_index = cycle_interval_at(cycle, cycle->began_us);
    if (meter->result == WIRE_OK)
        meter->pause_us = CYCLE_FIRST_PAUSE_US;
}

void cycle_meter_give_up(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us)
{
    meter->broken = true;
    meter_end(cycle, meter, now_us);
}

/* 01 to 03 are about the request and would come again; the others pass (a
 * busy meter, a gateway whose meter was silent). */
static bool exception_is_final(uint8_t exception)
{
    return exception >= 1 && exception <= 3;
}

static void note_failure(struct cycle_meter *meter, enum wire_result result, const struct wire_reply *reply)
{
    meter->result = (int8_t)result;
    meter->exception = result == WIRE_EXCEPTION ? reply->exception : 0;
}

/* ---- walking a model chain ---- */

/* A finished walk becomes a plan; the meter is polled from the next cycle on. */
static void walk_finish(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us)
{
    struct plan *made = meter->plan == meter->plans ? meter->plans + 1 : meter->plans;
    const struct register_map *map = &meter->walk->map;
    struct line_cost cost = line_cost_of(&cycle->config->buses[cycle->bus], CYCLE_TURNAROUND_US);
    if (meter->walk->state == SUNSPEC_DONE && plan_make(made, map, map->max_registers, cost) == 0) {
        made->edition = ++meter->walked;
        meter->plan = made;
        meter->walking = false;
        meter->failures = 0;
        meter->start_wanted = true;
        return;
    }
    if (meter->result == WIRE_OK)
        meter->result = WIRE_GARBLED; /* it answers, but not as the standard says */
    if (!meter->lost)
        cycle_meter_give_up(cycle, meter, now_us);
    cycle_walk_start(cycle, meter);
}

/* Returns whether that was the end of it. */
static bool walk_take(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us,
                      const uint16_t *registers)
{
    struct request unused;
    sunspec_take(meter->walk, registers);
    if (sunspec_next(meter->walk, &unused) == SUNSPEC_ASKING)
        return false;
    walk_finish(cycle, meter, now_us);
    return true;
}

/* ---- results ---- */

static void take_attempt(struct cycle *cycle, int64_t now_us, enum wire_result result,
                         const struct wire_reply *reply)
{
    struct cycle_meter *meter = cycle->ask.meter;
    bool walking = meter->walking;
    if (walking)
        walk_take(cycle, meter, now_us, result == WIRE_OK ? reply->registers : NULL);
    if (result != WIRE_OK) {
        if (!walking && result == WIRE_EXCEPTION && exception_is_final(reply->exception))
            meter->probe = (meter->probe + 1) % meter->plan->request_count;
        meter_pause(meter, now_us);
        return;
    }
    meter->lost = false;
    meter->failures = 0;
    meter->start_wanted = true;
    meter->interval_index = INT64_MIN;
    deliver_state(cycle, meter, now_us);
    if (!walking)
        deliver_answer(cycle, reply);
    if (meter->walk && !meter->walking && now_us - meter->lost_us > CYCLE_WALK_AGAIN_US)
        cycle_walk_start(cycle, meter);
}

/* One request of a healthy meter has its final result for this cycle. */
static void take_final(struct cycle *cycle, int64_t now_us, enum wire_result result,
                       const struct wire_reply *reply)
{
    struct cycle_meter *meter = cycle->ask.meter;
    if (result == WIRE_OK)
        meter->answered = true;
    else
        note_failure(meter, result, reply);
    if (meter->walking) {
        meter->deferred = false; /* the rest of the walk waits for the next cycle */
        walk_take(cycle, meter, now_us, result == WIRE_OK ? reply->registers : NULL);
        return;
    }
    if (result == WIRE_OK)
        deliver_answer(cycle, reply);
    meter->pending &= ~(UINT64_C(1) << cycle->ask.request_index);
    if (!meter->pending)
        meter_end(cycle, meter, now_us);
}

void cycle_take(struct cycle *cycle, int64_t now_us, enum wire_result result, const struct wire_reply *reply)
{
    struct cycle_meter *meter = cycle->ask.meter;
    bool final = result == WIRE_OK || (result == WIRE_EXCEPTION && exception_is_final(reply->exception));
    if (cycle->stage == STAGE_LOST) {
        take_attempt(cycle, now_us, result, reply);
    } else if (final) {
        take_final(cycle, now_us, result, reply);
    } else if (cycle->stage == STAGE_FIRST) {
        note_failure(meter, result, reply);
        meter->deferred = true;
    } else {
        note_failure(meter, result, reply);
        if (!meter->walking || !walk_take(cycle, meter, now_us, NULL))
            cycle_meter_give_up(cycle, meter, now_us);
    }
}
