#include "truth.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WORK_PER_MWH 3600000
#define MWH_PER_KWH  1000000

/* ---- power flows ---- */

static void flow(struct truth *truth, int64_t to_ms)
{
    int way = truth->power_mw < 0;
    truth->work[way] += (way ? -truth->power_mw : truth->power_mw) * (to_ms - truth->at_ms);
    truth->energy[way] += truth->work[way] / WORK_PER_MWH;
    truth->work[way] %= WORK_PER_MWH;
    truth->at_ms = to_ms;
}

static void write_slot(struct truth *truth)
{
    if (truth->slot_count == truth->slot_room) {
        truth->slot_room = truth->slot_room * 2 + 256;
        truth->slots = realloc(truth->slots, (size_t)truth->slot_room * sizeof truth->slots[0]);
        if (!truth->slots)
            abort();
    }
    truth->slots[truth->slot_count++] =
        (struct truth_slot){ .energy = { truth->energy[0], truth->energy[1] },
                             .blurred = truth->clock_wrong || truth->map_lacks ||
                                        truth->next_ms < truth->blur_until_ms,
                             .vague = truth->next_ms < truth->vague_until_ms };
    truth->next_ms += TRUTH_SLOT_MS;
}

void truth_begin(struct truth *truth, int64_t at_ms)
{
    truth->begin_ms = truth->next_ms = at_ms - at_ms % TRUTH_SLOT_MS;
    truth->at_ms = at_ms;
    write_slot(truth);
}

void truth_finish(struct truth *truth)
{
    free(truth->slots);
    truth->slots = NULL;
}

void truth_advance(struct truth *truth, int64_t to_ms)
{
    while (truth->next_ms <= to_ms) {
        flow(truth, truth->next_ms);
        write_slot(truth);
    }
    if (to_ms > truth->at_ms)
        flow(truth, to_ms);
}

/* ---- registers ---- */

static int64_t shown(const struct truth *truth, int way)
{
    int64_t value = truth->first[way] + truth->energy[way] - truth->taken_off[way];
    return truth->modulus > 0 ? value % truth->modulus : value;
}

/* The largest float of kWh that is not above the value. */
static float float_below(int64_t value)
{
    float kwh = (float)((double)value / MWH_PER_KWH);
    while ((double)kwh * MWH_PER_KWH > (double)value)
        kwh = nextafterf(kwh, -INFINITY);
    return kwh;
}

int64_t truth_step(const struct truth *truth, int way)
{
    if (truth->form != FORM_FLOAT32)
        return truth->step;
    float kwh = float_below(shown(truth, way));
    double spacing = ((double)nextafterf(kwh, INFINITY) - (double)kwh) * MWH_PER_KWH;
    return spacing < 1 ? 1 : (int64_t)ceil(spacing);
}

int64_t truth_register(const struct truth *truth, int way)
{
    int64_t value = shown(truth, way);
    if (truth->form == FORM_FLOAT32)
        return (int64_t)floor((double)float_below(value) * MWH_PER_KWH);
    return value - value % truth->step;
}

static void put(uint16_t *registers, uint64_t value, int words)
{
    for (int w = words - 1; w >= 0; w--, value >>= 16)
        registers[w] = (uint16_t)value;
}

static uint64_t misread(const struct truth *truth, uint64_t raw)
{
    switch (truth->misread) {
    case READ_ZERO:
        return 0;
    case READ_BACK:
        return raw - (uint64_t)truth->back_steps;
    case READ_TORN: /* the carry is seen in one word and not in the other */
        return raw + 0x10000;
    case READ_TORN_HALVES:
        return raw + UINT64_C(0x100000000);
    case READ_TRUE:
        break;
    }
    return raw;
}

static void put_counter(const struct truth *truth, int way, bool wrong, uint16_t *registers)
{
    if (truth->form == FORM_FLOAT32) {
        float kwh = float_below(shown(truth, way));
        uint32_t bits;
        memcpy(&bits, &kwh, sizeof bits);
        if (wrong)
            bits = (uint32_t)misread(truth, bits);
        put(registers, bits, 2);
        return;
    }
    uint64_t raw = (uint64_t)(shown(truth, way) / truth->step);
    put(registers, wrong ? misread(truth, raw) : raw, truth->form == FORM_UINT64 ? 4 : 2);
}

bool truth_answer(struct truth *truth, uint16_t registers[TRUTH_REGISTERS])
{
    bool wrong = truth->misread_polls > 0;
    bool jitters = wrong && truth->misread == READ_BACK && truth->back_steps <= TRUTH_JITTER_STEPS;
    truth->slots[truth->slot_count - 1].behind |= jitters;
    truth->misread_polls -= wrong;
    put_counter(truth, 0, wrong, registers);
    put_counter(truth, 1, wrong, registers + 4);
    int64_t error = truth->error_ppm ? truth->power_mw * truth->error_ppm / 1000000 : 0;
    put(registers + 8, (uint64_t)(truth->power_mw + error), 2);
    put(registers + 10, (uint64_t)(truth->voltage_mv / 10), 1);
    return !wrong || jitters;
}

int32_t truth_points(const struct truth *truth, unsigned without, struct point points[4])
{
    static const struct {
        uint8_t quantity, type, size, address;
        int32_t divisor;
    } rows[4] = {
        { Q_ACTIVE_IMPORT, TYPE_UINT64, 4, 0, 1000 },
        { Q_ACTIVE_EXPORT, TYPE_UINT64, 4, 4, 1000 },
        { Q_POWER, TYPE_INT32, 2, 8, 1000 },
        { Q_VOLTAGE_L1, TYPE_UINT16, 1, 10, 100 },
    };
    int32_t count = 0;
    for (int i = 0; i < 4; i++) {
        if (i < 2 && without & 1U << i)
            continue;
        struct point *point = &points[count++];
        *point = (struct point){ .quantity = rows[i].quantity,
                                 .function = 4,
                                 .type = rows[i].type,
                                 .size = rows[i].size,
                                 .multiplier = 1,
                                 .divisor = rows[i].divisor,
                                 .address = rows[i].address,
                                 .scale_address = NO_REGISTER };
        if (i >= 2)
            continue;
        if (truth->form != FORM_UINT64) {
            point->type = truth->form == FORM_UINT32 ? TYPE_UINT32 : TYPE_FLOAT32;
            point->size = 2;
        }
        if (truth->form == FORM_FLOAT32) {
            point->exponent = 3; /* kWh */
            point->divisor = 1;
        } else {
            point->multiplier = (int32_t)truth->step; /* raw counts steps of mWh */
            point->modulus = truth->modulus / truth->step;
        }
    }
    return count;
}

/* ---- the diary ---- */

int64_t truth_energy(const struct truth *truth, int way, int64_t at_ms)
{
    int64_t slot = (at_ms - truth->begin_ms) / TRUTH_SLOT_MS,
            rest = (at_ms - truth->begin_ms) % TRUTH_SLOT_MS;
    if (at_ms <= truth->begin_ms)
        return 0;
    if (slot >= truth->slot_count)
        return truth->energy[way];
    int64_t begin = truth->slots[slot].energy[way];
    int64_t end = slot + 1 < truth->slot_count ? truth->slots[slot + 1].energy[way] : truth->energy[way];
    return begin + (end - begin) * rest / TRUTH_SLOT_MS;
}

/* Calls for each slot that the span meets, with how much of it. */
static void each_slot(struct truth *truth, int64_t from_ms, int64_t to_ms,
                      void (*visit)(struct truth_slot *slot, int64_t ms))
{
    if (from_ms < truth->begin_ms)
        from_ms = truth->begin_ms;
    int64_t written_ms = truth->begin_ms + (int64_t)truth->slot_count * TRUTH_SLOT_MS;
    if (to_ms > written_ms)
        to_ms = written_ms;
    while (from_ms < to_ms) {
        int64_t slot = (from_ms - truth->begin_ms) / TRUTH_SLOT_MS;
        int64_t end = truth->begin_ms + (slot + 1) * TRUTH_SLOT_MS;
        int64_t until = end < to_ms ? end : to_ms;
        visit(&truth->slots[slot], until - from_ms);
        from_ms = until;
    }
}

static void add_unwatched(struct truth_slot *slot, int64_t ms)
{
    slot->unwatched_ms += (int32_t)ms;
    if (slot->unwatched_ms > TRUTH_SLOT_MS)
        slot->unwatched_ms = TRUTH_SLOT_MS;
}

static void set_blurred(struct truth_slot *slot, int64_t ms)
{
    (void)ms;
    slot->blurred = true;
}

static void set_still(struct truth_slot *slot, int64_t ms)
{
    (void)ms;
    slot->still = true;
}

void truth_unwatched(struct truth *truth, int64_t from_ms, const int64_t energy[2], int64_t to_ms)
{
    bool still = true;
    for (int way = 0; way < 2; way++) /* the account may have been a step ahead of the register */
        still = still && truth->energy[way] - energy[way] <= 2 * truth_step(truth, way);
    each_slot(truth, from_ms, to_ms, add_unwatched);
    if (still)
        each_slot(truth, from_ms, to_ms, set_still);
}

static void add_unsure(struct truth_slot *slot, int64_t ms)
{
    slot->unsure_ms += (int32_t)ms;
}

void truth_unsure(struct truth *truth, int64_t from_ms, int64_t to_ms)
{
    each_slot(truth, from_ms, to_ms, add_unsure);
}

static void set_vague(struct truth_slot *slot, int64_t ms)
{
    (void)ms;
    slot->vague = true;
}

void truth_vague(struct truth *truth, int64_t from_ms, int64_t to_ms)
{
    if (to_ms > truth->vague_until_ms)
        truth->vague_until_ms = to_ms;
    each_slot(truth, from_ms, to_ms, set_vague);
}

static void forget(struct truth_slot *slot, int64_t ms)
{
    slot->unwatched_ms = slot->unwatched_ms > ms ? slot->unwatched_ms - (int32_t)ms : 0;
}

void truth_forget(struct truth *truth, int64_t from_ms)
{
    each_slot(truth, from_ms, INT64_MAX, forget);
}

void truth_blur(struct truth *truth, int64_t from_ms, int64_t to_ms)
{
    if (to_ms > truth->blur_until_ms)
        truth->blur_until_ms = to_ms;
    each_slot(truth, from_ms, to_ms, set_blurred);
}
