#include "reply.h"

#include <string.h>

enum { ILLEGAL_FUNCTION = 1, ILLEGAL_ADDRESS = 2, ILLEGAL_VALUE = 3 };

/* One request on its way through the stages below. */
struct asked {
    struct panel *panel;
    const struct adu *request;
    int bus, meter;
};

/* Both the meter's and its bus's faults hold for a request. */
static const struct fault *fault_of(const struct asked *asked, enum fault_kind kind)
{
    struct panel *panel = asked->panel;
    struct scenario_bus *bus = &panel->scenario->buses[asked->bus];
    const struct fault *fault = NULL;
    if (asked->meter >= 0) {
        struct scenario_meter *meter = &panel->scenario->meters[asked->meter];
        fault = fault_take(meter->faults, meter->fault_count, kind, panel->elapsed_ms,
                           panel->meter_requests[asked->meter]);
    }
    if (fault == NULL)
        fault = fault_take(bus->faults, bus->fault_count, kind, panel->elapsed_ms,
                           panel->bus_requests[asked->bus]);
    return fault;
}

static void exception(struct adu *reply, uint8_t function, uint8_t code)
{
    reply->pdu[0] = function | 0x80;
    reply->pdu[1] = code;
    reply->pdu_size = 2;
}

static bool is_write(uint8_t function)
{
    return function == 5 || function == 6 || function == 15 || function == 16 ||
           (function >= 21 && function <= 23);
}

static void spoil_values(const struct asked *asked, struct shown *shown)
{
    const struct scenario_meter *meter = &asked->panel->scenario->meters[asked->meter];
    const struct fault *fault;
    bool zero = fault_of(asked, FAULT_ZERO) != NULL;
    bool absent = fault_of(asked, FAULT_ABSENT) != NULL ||
                  (meter->night == NIGHT_ABSENT && !counting_awake(asked->panel->counting, asked->meter));
    if ((fault = fault_of(asked, FAULT_TORN)) != NULL)
        shown->torn_units = fault->number;
    if ((fault = fault_of(asked, FAULT_STEP_BACK)) != NULL) {
        int64_t step = meter->step_wh > 0 ? (int64_t)(meter->step_wh * 1000) : 1000;
        shown->value[Q_ACTIVE_IMPORT] -= fault->number * step;
        shown->value[Q_ACTIVE_EXPORT] -= fault->number * step;
    }
    for (int q = 0; q < QUANTITY_COUNT; q++) {
        if (zero)
            shown->value[q] = 0;
        if (absent && q >= COUNTER_COUNT)
            shown->has[q] = false;
    }
}

/* The standard's order of checks: function, quantity, address. */
static void read_registers(const struct asked *asked, struct adu *reply)
{
    const struct scenario_meter *meter = &asked->panel->scenario->meters[asked->meter];
    const uint8_t *pdu = asked->request->pdu;
    uint16_t registers[MAP_MAX_REGISTERS];
    struct shown shown;

    if (pdu[0] != 3 && pdu[0] != 4) {
        exception(reply, pdu[0], ILLEGAL_FUNCTION);
        return;
    }
    int32_t address = pdu[1] << 8 | pdu[2], count = pdu[3] << 8 | pdu[4];
    if (asked->request->pdu_size != 5 || count < 1 || count > meter->max_registers) {
        exception(reply, pdu[0], ILLEGAL_VALUE);
        return;
    }
    counting_show(asked->panel->counting, asked->meter, &shown);
    spoil_values(asked, &shown);
    enum layout_result result = layout_read(&meter->layout, &shown, pdu[0], address, count, registers);
    if (result == LAYOUT_HOLE || (result == LAYOUT_CUTS && meter->refuse_cut)) {
        exception(reply, pdu[0], ILLEGAL_ADDRESS);
        return;
    }
    const struct fault *short_count = fault_of(asked, FAULT_SHORT_COUNT);
    if (short_count != NULL)
        count = count > short_count->number ? count - (int32_t)short_count->number : 0;
    reply->pdu[0] = pdu[0];
    reply->pdu[1] = (uint8_t)(2 * count);
    for (int32_t i = 0; i < count; i++) {
        reply->pdu[2 + 2 * i] = (uint8_t)(registers[i] >> 8);
        reply->pdu[3 + 2 * i] = (uint8_t)registers[i];
    }
    reply->pdu_size = 2 + 2 * (size_t)count;
}

/* false: nothing is said. */
static bool reply_to(const struct asked *asked, struct adu *reply)
{
    const struct panel *panel = asked->panel;
    const struct fault *fault;
    if (fault_of(asked, FAULT_SILENT) != NULL)
        return false;
    if (asked->meter < 0) {
        int64_t code = panel->scenario->buses[asked->bus].unknown_unit;
        exception(reply, reply->pdu[0], (uint8_t)code);
        return code > 0;
    }
    const struct scenario_meter *meter = &panel->scenario->meters[asked->meter];
    if (meter->night == NIGHT_SILENT && !counting_awake(panel->counting, asked->meter))
        return false;
    if ((fault = fault_of(asked, FAULT_EXCEPTION)) != NULL)
        exception(reply, reply->pdu[0], (uint8_t)fault->number);
    else
        read_registers(asked, reply);
    if ((fault = fault_of(asked, FAULT_WRONG_UNIT)) != NULL)
        reply->unit = (uint8_t)fault->number;
    if ((fault = fault_of(asked, FAULT_WRONG_FUNCTION)) != NULL)
        reply->pdu[0] = (uint8_t)fault->number;
    return true;
}

/* Bytes that look like nothing in particular, the same in every run. */
static void add_noise(struct reply *answer, int64_t count, int64_t request)
{
    for (int64_t i = 0; i < count; i++)
        answer->bytes[answer->size++] = (uint8_t)(256 * world_chance(1, 2, request * 64 + i));
}

static void build(const struct asked *asked, struct adu *reply, struct reply *answer)
{
    const struct fault *fault;
    bool mbap = asked->panel->scenario->buses[asked->bus].transport == TRANSPORT_TCP;
    uint8_t *frame = answer->bytes + answer->size;
    size_t size;
    if ((fault = fault_of(asked, FAULT_WRONG_TRANSACTION)) != NULL)
        reply->transaction = (uint16_t)(reply->transaction + fault->number);
    if ((fault = fault_of(asked, FAULT_WRONG_PROTOCOL)) != NULL)
        reply->protocol = (uint16_t)fault->number;
    size = mbap ? adu_build_mbap(reply, frame) : adu_build_rtu(reply, frame);
    if ((fault = fault_of(asked, FAULT_WRONG_LENGTH)) != NULL) {
        int64_t length = (frame[4] << 8 | frame[5]) + fault->number;
        frame[4] = (uint8_t)(length >> 8);
        frame[5] = (uint8_t)length;
    }
    if (fault_of(asked, FAULT_BAD_CRC) != NULL)
        frame[size - 1] ^= 0xFF;
    if ((fault = fault_of(asked, FAULT_CUT)) != NULL)
        size -= (size_t)fault->number < size ? (size_t)fault->number : size;
    answer->size += size;
    if ((fault = fault_of(asked, FAULT_SURPLUS)) != NULL)
        add_noise(answer, fault->number, asked->panel->requests);
}

static int meter_at(const struct scenario *scenario, int bus, int unit)
{
    for (int i = 0; i < scenario->meter_count; i++)
        if (scenario->meters[i].bus == bus && scenario->meters[i].unit_id == unit)
            return i;
    return -1;
}

static void count_request(struct panel *panel, const struct asked *asked)
{
    uint8_t function = asked->request->pdu[0];
    panel->requests++;
    panel->bus_requests[asked->bus]++;
    if (asked->meter >= 0)
        panel->meter_requests[asked->meter]++;
    panel->other_functions += function < 1 || function > 4;
    panel->write_functions += is_write(function);
}

void reply_request(struct panel *panel, int bus, const struct adu *request, const uint8_t *frame,
                   size_t frame_size, struct reply *answer)
{
    struct asked asked = { panel, request, bus, meter_at(panel->scenario, bus, request->unit) };
    struct adu reply = *request;
    const struct fault *fault;

    *answer = (struct reply){ .meter = asked.meter, .verdict = "silent" };
    count_request(panel, &asked);
    if (fault_of(&asked, FAULT_ECHO) != NULL && frame_size <= ADU_MAX_SIZE) {
        memcpy(answer->bytes, frame, frame_size);
        answer->size = frame_size;
        answer->verdict = "echo only";
    }
    answer->close = fault_of(&asked, FAULT_CLOSE) != NULL;
    /* unit 0 is a broadcast on a serial line: heard, never answered */
    bool broadcast = request->unit == 0 && panel->scenario->buses[bus].transport != TRANSPORT_TCP;
    if (answer->close || broadcast || !reply_to(&asked, &reply))
        return;
    if ((fault = fault_of(&asked, FAULT_NOISE)) != NULL)
        add_noise(answer, fault->number, panel->requests);
    build(&asked, &reply, answer);
    if (asked.meter >= 0)
        answer->delay_ms = panel->scenario->meters[asked.meter].delay_ms;
    if ((fault = fault_of(&asked, FAULT_LATE)) != NULL)
        answer->delay_ms += fault->number;
    if ((fault = fault_of(&asked, FAULT_DRIP)) != NULL)
        answer->drip_ms = fault->number;
    bool refused = (reply.pdu[0] & 0x80) != 0;
    panel->answers++;
    panel->exceptions += refused;
    answer->verdict = refused ? "exception" : "answered";
}

size_t reply_foreign(int64_t n, uint8_t *bytes)
{
    struct adu adu = { .unit = 77, .pdu = { 4, 0, 10, 0, 2 }, .pdu_size = 5 };
    size_t size = adu_build_rtu(&adu, bytes);
    struct adu reply = { .unit = 77, .pdu = { 4, 4, 0, 0, (uint8_t)(n >> 8), (uint8_t)n }, .pdu_size = 6 };
    return size + adu_build_rtu(&reply, bytes + size);
}
