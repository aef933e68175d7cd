/* The simulated wire: what an answer is. What bytes do (drip, echo, noise) is
 * tested on pseudo-terminals and sockets. */
#include <string.h>

#include "allocation.h"
#include "frame.h"
#include "sim.h"

enum {
    OPENING_US = 1000,
    HANDLING_US = 40,     /* between an action and the next step */
    TURNAROUND_US = 5000, /* of a meter on a serial line */
    NETWORK_US = 3000,    /* there and back */
    SPINS = 10000,        /* steps without time passing */
};

static int64_t character_us(const struct config_bus *config)
{
    return config->kind == BUS_TCP ? 0 : 11000000 / (config->baud > 0 ? config->baud : 19200);
}

/* ---- invariant 9 ---- */

static void check_request(struct sim *sim, const struct action *action)
{
    uint8_t frame[FRAME_TCP_REQUEST];
    const struct request *request = &action->request;
    if (request->function < 1 || request->function > 4)
        sim_fail(sim, "invariant 9, reading only: function %d was asked for", request->function);
    if (!sim->sparse &&
        (!frame_tcp_request(frame, 1, action->unit_id, request) || frame[7] < 1 || frame[7] > 4))
        sim_fail(sim, "invariant 9, reading only: no read of %d registers at %d", request->count,
                 request->address);
}

/* ---- asking ---- */

static void answer_good(struct sim_bus *bus, struct sim_meter *meter, const struct action *action,
                        int64_t read_us)
{
    struct sim *sim = bus->sim;
    const struct request *request = &action->request;
    int64_t read_ms = read_us / 1000 + sim->true_ms;
    truth_advance(&meter->truth, read_ms);
    if (sim->true_after_gaps && read_ms - meter->heard_ms > sim_gap_ms(sim))
        meter->truth.misread_polls = 0;
    bool usable = truth_answer(&meter->truth, bus->image);
    if (request->address + request->count > TRUTH_REGISTERS)
        sim_fail(sim, "a request for registers %d to %d, which the map does not have", request->address,
                 request->address + request->count - 1);
    bus->reply.count = request->count;
    memcpy(bus->reply.registers, bus->image + request->address, request->count * sizeof bus->image[0]);
    meter->usable = usable;
    meter->read_ms = read_ms;
    memcpy(meter->read, meter->truth.energy, sizeof meter->read);
    sim->polls++;
}

/* What is on its way from a request before arrives first. */
static bool answer_stale(struct sim_bus *bus, const struct action *action, int64_t sent_us, int64_t until_us)
{
    const struct sim_stale *stale = &bus->stale;
    bool any = stale->any && stale->arrives_us > sent_us && stale->arrives_us < until_us;
    if (!any || bus->sim->config.buses[bus - bus->sim->buses].kind == BUS_TCP)
        return false; /* its transaction says whose it is */
    bus->stale.any = false;
    if (stale->meter == action->meter && stale->request.count == action->request.count)
        sim_fail(bus->sim,
                 "invariant 3, provenance: meter %d: an answer to an earlier request was taken for a "
                 "later one",
                 (int)action->meter + 1);
    bus->outcome.result = WIRE_GARBLED;
    bus->next_us = stale->arrives_us + HANDLING_US;
    return true;
}

static enum wire_result fault_of(struct sim_bus *bus, struct sim_meter *meter)
{
    if (bus->unplugged)
        return WIRE_GONE;
    if (bus->swallows || meter->silent)
        return WIRE_SILENT;
    if (meter->late_polls > 0) {
        meter->late_polls--;
        return WIRE_PENDING;
    }
    if (meter->garbled_polls > 0) {
        meter->garbled_polls--;
        return WIRE_GARBLED;
    }
    if (meter->exception_polls > 0) {
        meter->exception_polls--;
        return WIRE_EXCEPTION;
    }
    return WIRE_OK;
}

static void ask(struct sim_bus *bus, int64_t now_us)
{
    struct sim *sim = bus->sim;
    const struct action *action = &bus->action;
    struct sim_meter *meter = &sim->meters[action->meter];
    int64_t character = character_us(&sim->config.buses[bus - sim->buses]);
    int64_t at_us = action->at_us > now_us ? action->at_us : now_us;
    int64_t sent_us = at_us + (character ? 8 * character : NETWORK_US / 10);
    int64_t received_us = character ? sent_us + TURNAROUND_US + (5 + 2 * action->request.count) * character
                                    : at_us + NETWORK_US;
    int64_t deadline_us = sent_us + action->timeout_us;
    check_request(sim, action);
    bus->outcome.reply = &bus->reply;
    bus->reply.sent_us = sent_us;
    bus->reply.received_us = received_us;
    bus->next_us = received_us + HANDLING_US;
    if (answer_stale(bus, action, sent_us, received_us))
        return;
    enum wire_result result = fault_of(bus, meter);
    switch (result) {
    case WIRE_OK:
        answer_good(bus, meter, action, sent_us + (received_us - sent_us) / 2);
        break;
    case WIRE_PENDING: /* comes when nobody waits for it any more */
        bus->stale = (struct sim_stale){ true, received_us + meter->late_us, action->meter, action->request };
        result = WIRE_SILENT;
        bus->next_us = deadline_us + HANDLING_US;
        break;
    case WIRE_SILENT:
        bus->next_us = deadline_us + HANDLING_US;
        break;
    case WIRE_EXCEPTION:
        bus->reply.exception = meter->exception;
        break;
    case WIRE_GONE:
        bus->next_us = at_us + OPENING_US;
        break;
    default:
        break;
    }
    bus->outcome.result = result;
}

static void act(struct sim_bus *bus, int64_t now_us)
{
    static const char *const gone = "no such device";
    const struct action *action = &bus->action;
    bus->outcome = (struct outcome){ .kind = action->kind };
    switch (action->kind) {
    case ACTION_WAIT:
        bus->next_us = action->at_us;
        break;
    case ACTION_OPEN:
        bus->outcome.result = bus->unplugged ? WIRE_GONE : WIRE_OK;
        bus->outcome.why = bus->unplugged ? gone : "";
        bus->next_us = now_us + OPENING_US;
        break;
    case ACTION_LISTEN:
        bus->outcome.result = bus->unplugged ? WIRE_GONE : WIRE_OK;
        bus->next_us = now_us + action->for_us;
        break;
    case ACTION_ASK:
        ask(bus, now_us);
        break;
    case ACTION_DISCARD:
        bus->outcome.result = bus->unplugged ? WIRE_GONE : WIRE_OK;
        bus->next_us = now_us + action->for_us + action->silence_us;
        if (bus->stale.any && bus->stale.arrives_us <= bus->next_us)
            bus->stale.any = false;
        break;
    case ACTION_CLOSE:
        bus->stale.any = false;
        break;
    }
}

void sim_wire_step(struct sim_bus *bus)
{
    struct sim *sim = bus->sim;
    int64_t now_us = bus->next_us;
    bool first = bus->steps_at_once < 0;
    allocation_count(true);
    bus_step(bus->machine, now_us, first ? NULL : &bus->outcome, &bus->action);
    allocation_count(false);
    if (first)
        bus->steps_at_once = 0;
    act(bus, now_us);
    if (bus->next_us < now_us)
        bus->next_us = now_us;
    bus->steps_at_once = bus->next_us == now_us ? bus->steps_at_once + 1 : 0;
    if (bus->steps_at_once > SPINS)
        sim_fail(sim, "bus %d: %d steps without time passing", (int)(bus - sim->buses), SPINS);
}

/* ---- on the way to the inbox ---- */

/* Since the reading before this one: seen from that it is no normal one. */
static bool rolled_over(const struct sim_meter *meter)
{
    const struct truth *truth = &meter->truth;
    bool any = false;
    for (int way = 0; way < 2 && truth->modulus > 0; way++) {
        int64_t set = truth->first[way] - truth->taken_off[way];
        any = any || (set + meter->heard[way]) / truth->modulus != (set + meter->read[way]) / truth->modulus;
    }
    return any;
}

static void ends_gap(struct sim *sim, struct sim_meter *meter, int64_t from_ms)
{
    int64_t energy[2]; /* the diary is exact at whole minutes, where rows end */
    for (int way = 0; way < 2; way++)
        energy[way] = meter->unknown_since ? truth_energy(&meter->truth, way, from_ms) : meter->heard[way];
    sim_tell(sim, "meter %d: nobody listened from %lld to %lld", (int)(meter - sim->meters) + 1,
             (long long)from_ms, (long long)meter->read_ms);
    truth_unwatched(&meter->truth, from_ms, energy, meter->read_ms);
    if (meter->undated) /* held readings are older than where the record begins, and nobody watched since */
        truth_blur(&meter->truth, 0, meter->read_ms);
    meter->undated = false;
    meter->gap_end_ms = meter->read_ms;
    meter->since_gap = 0;
}

/* A reading that the gate can use. What the register was set to since the one before is no energy. */
static void heard(struct sim *sim, struct sim_meter *meter)
{
    int64_t length_ms = sim->config.site.interval_s * INT64_C(1000);
    int64_t from_ms = meter->heard_ms != 0 ? meter->heard_ms : meter->read_ms - meter->read_ms % length_ms;
    if (!meter->unknown_since && rolled_over(meter))
        sim_contradict(meter);
    if (meter->heard_ms == 0 || meter->unknown_since || meter->read_ms - from_ms > sim_gap_ms(sim))
        ends_gap(sim, meter, from_ms);
    meter->since_gap++;
    if (meter->unsure_ms != 0)
        truth_unsure(&meter->truth, meter->unsure_ms, meter->read_ms);
    meter->unsure_ms = 0;
    for (int way = 0; way < 2; way++) {
        struct sim_allowance *allow = &meter->allow[way];
        if (allow->resets > 0 && !sim->collect->date.trusted)
            /* held readings do not say that a run changed between them */
            truth_vague(&meter->truth, from_ms, meter->read_ms);
        if (!allow->crossing)
            continue;
        allow->crossing = false;
        allow->less += meter->read[way] - meter->heard[way] + truth_step(&meter->truth, way);
        allow->more += truth_step(&meter->truth, way);
    }
    meter->unknown_since = false;
    meter->heard_ms = meter->read_ms;
    memcpy(meter->heard, meter->read, sizeof meter->heard);
}

void sim_wire_deliver(void *self, const struct message *message)
{
    struct sim_bus *bus = self;
    struct sim_meter *meter = message->meter >= 0 ? &bus->sim->meters[message->meter] : NULL;
    if (meter && message->kind == MESSAGE_CYCLE_END && message->result == WIRE_OK && meter->usable &&
        !sim_leaves_out(bus->sim, message->meter))
        heard(bus->sim, meter);
    if (meter && message->kind == MESSAGE_CYCLE_END)
        meter->usable = false;
    if (meter && message->kind == MESSAGE_ANSWER && meter->other_plan) {
        struct message other = *message;
        other.plan = &meter->plans[1]; /* which asks for all registers */
        other.count = TRUTH_REGISTERS;
        memcpy(other.registers, bus->image, sizeof bus->image);
        inbox_put(bus->sim->inbox, &other);
        return;
    }
    inbox_put(bus->sim->inbox, message);
}
