#include "layout.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const int type_bits[TYPE_COUNT] = {
    [TYPE_INT16] = 16, [TYPE_UINT16] = 16, [TYPE_INT32] = 32,   [TYPE_UINT32] = 32,
    [TYPE_INT64] = 64, [TYPE_UINT64] = 64, [TYPE_FLOAT32] = 32, [TYPE_FLOAT64] = 64,
    [TYPE_BCD16] = 16, [TYPE_BCD32] = 32,  [TYPE_BCD64] = 64,
};

static const int64_t powers_of_ten[] = {
    1,
    10,
    100,
    1000,
    10000,
    100000,
    1000000,
    10000000,
    100000000,
    1000000000,
    10000000000,
    100000000000,
    1000000000000,
    10000000000000,
    100000000000000,
    1000000000000000,
    10000000000000000,
};

static bool is_signed(int type)
{
    return type == TYPE_INT16 || type == TYPE_INT32 || type == TYPE_INT64;
}

static bool is_decimal(int type)
{
    return type == TYPE_BCD16 || type == TYPE_BCD32 || type == TYPE_BCD64;
}

static bool is_float(int type)
{
    return type == TYPE_FLOAT32 || type == TYPE_FLOAT64;
}

static uint64_t bit_mask(int bits)
{
    return bits == 64 ? UINT64_MAX : ((uint64_t)1 << bits) - 1;
}

bool layout_add(struct layout *layout, int function, int32_t from, int32_t count, const uint16_t *words)
{
    struct layout_span *last = layout->span_count > 0 ? &layout->spans[layout->span_count - 1] : NULL;
    if (layout->fixed_count + count > LAYOUT_MAX_REGISTERS)
        return false;
    for (int i = 0; i < layout->span_count; i++) {
        const struct layout_span *span = &layout->spans[i];
        if (span->function == function && from < span->from + span->count && span->from < from + count)
            return false;
    }
    if (last != NULL && last->function == function && last->from + last->count == from) {
        last->count += count;
    } else {
        if (layout->span_count == LAYOUT_MAX_SPANS)
            return false;
        layout->spans[layout->span_count++] = (struct layout_span){
            .function = function, .from = from, .count = count, .at = layout->fixed_count
        };
    }
    if (words != NULL)
        memcpy(&layout->fixed[layout->fixed_count], words, (size_t)count * sizeof *words);
    layout->fixed_count += count;
    return true;
}

static bool exists(const struct layout *layout, int function, int32_t address)
{
    for (int i = 0; i < layout->span_count; i++) {
        const struct layout_span *span = &layout->spans[i];
        if (span->function == function && address >= span->from && address < span->from + span->count)
            return true;
    }
    return false;
}

bool layout_from_map(struct layout *layout, const struct register_map *map)
{
    memset(layout, 0, sizeof *layout);
    layout->counter_modulus = map->counter_modulus;
    layout->max_registers = map->max_registers;
    layout->point_count = map->point_count;
    memcpy(layout->points, map->points, sizeof layout->points);
    for (int i = 0; i < map->range_count; i++) {
        const struct readable_range *range = &map->ranges[i];
        for (int32_t a = range->from; a <= range->to; a++)
            if (!exists(layout, range->function, a) && !layout_add(layout, range->function, a, 1, NULL))
                return false;
    }
    for (int i = 0; i < map->point_count; i++) {
        const struct point *point = &map->points[i];
        for (int32_t a = point->address; a < point->address + point->size; a++)
            if (!exists(layout, point->function, a) && !layout_add(layout, point->function, a, 1, NULL))
                return false;
        /* a scale register says 10^0 here */
        if (point->scale_address != NO_REGISTER && !exists(layout, point->function, point->scale_address) &&
            !layout_add(layout, point->function, point->scale_address, 1, NULL))
            return false;
    }
    return true;
}

static const uint16_t *fixed_register(const struct layout *layout, int function, int32_t address)
{
    for (int i = 0; i < layout->span_count; i++) {
        const struct layout_span *span = &layout->spans[i];
        if (span->function == function && address >= span->from && address < span->from + span->count)
            return &layout->fixed[span->at + address - span->from];
    }
    return NULL;
}

/* Exponent that the point's scale register shows. */
static int scale_exponent(const struct layout *layout, const struct point *point)
{
    const uint16_t *word = point->scale_address == NO_REGISTER
                               ? NULL
                               : fixed_register(layout, point->function, point->scale_address);
    return word == NULL ? 0 : (int16_t)*word;
}

/* value (thousandths) -> raw units. Counters are floored, others rounded half away from zero. */
static bool to_units(int64_t value, const struct point *point, int exponent, bool floored, int64_t *units)
{
    int64_t above = point->divisor, below = point->multiplier;
    int shift = exponent + 3;
    if (shift > 16 || shift < -16)
        return false;
    if (shift >= 0 ? __builtin_mul_overflow(below, powers_of_ten[shift], &below)
                   : __builtin_mul_overflow(above, powers_of_ten[-shift], &above))
        return false;
    int64_t product;
    if (__builtin_mul_overflow(value, above, &product) || below <= 0)
        return false;
    int64_t rest = product % below;
    *units = product / below;
    if (floored)
        *units -= rest < 0;
    else if (rest >= below - below / 2)
        ++*units;
    else if (-rest >= below - below / 2)
        --*units;
    return true;
}

static uint64_t float_bits(double value, int type, bool floored)
{
    uint64_t bits64;
    uint32_t bits32;
    if (type == TYPE_FLOAT64) {
        memcpy(&bits64, &value, sizeof bits64);
        return bits64;
    }
    float narrow = (float)value;
    /* a counter shows no energy that has not flowed yet */
    if (floored && (double)narrow > value)
        narrow = nextafterf(narrow, -INFINITY);
    memcpy(&bits32, &narrow, sizeof bits32);
    return bits32;
}

static bool encode_decimal(int64_t units, int bits, uint64_t *raw)
{
    uint64_t packed = 0;
    if (units < 0)
        return false;
    for (int shift = 0; shift < bits; shift += 4, units /= 10)
        packed |= (uint64_t)(units % 10) << shift;
    *raw = packed;
    return units == 0;
}

static bool encode_integer(int64_t units, const struct point *point, int64_t modulus, uint64_t *raw)
{
    int bits = type_bits[point->type];
    bool counter = point->quantity < COUNTER_COUNT;
    if (counter && modulus > 0)
        units %= modulus;
    if (is_decimal(point->type)) {
        if (counter && bits < 64)
            units %= powers_of_ten[bits / 4];
        return encode_decimal(units, bits, raw);
    }
    /* without an agreed modulus a counter rolls over where its type does */
    if (!counter && bits < 64) {
        int64_t top = is_signed(point->type) ? ((int64_t)1 << (bits - 1)) - 1 : ((int64_t)1 << bits) - 1;
        int64_t bottom = is_signed(point->type) ? -top - 1 : 0;
        units = units > top ? top : units < bottom ? bottom : units;
    }
    if (counter && is_signed(point->type) && bits < 64)
        units %= (int64_t)1 << (bits - 1);
    *raw = (uint64_t)units & bit_mask(bits);
    return true;
}

static uint64_t absent_bits(const struct point *point)
{
    if (point->has_absent)
        return point->absent;
    return point->type == TYPE_FLOAT32 ? 0x7FC00000u : point->type == TYPE_FLOAT64 ? 0x7FF8000000000000u : 0;
}

bool layout_encode(const struct layout *layout, const struct point *point, const struct shown *shown,
                   uint64_t *raw)
{
    int exponent = point->exponent + scale_exponent(layout, point);
    bool counter = point->quantity < COUNTER_COUNT;
    int64_t value = shown->value[point->quantity];
    int64_t units;

    *raw = absent_bits(point);
    if (point->quantity == Q_SERIAL_NUMBER) {
        /* "INVENTED-0001" is 1 where it is a number */
        units = strtoll(shown->serial + strcspn(shown->serial, "0123456789"), NULL, 10);
        return encode_integer(units, point, 0, raw);
    }
    if (!shown->has[point->quantity])
        return false;
    if (point->negate)
        value = -value;
    if (is_float(point->type)) {
        /* one division, so that what is exact stays exact */
        double above = (double)value * point->divisor, below = point->multiplier;
        if (exponent + 3 >= 0)
            below *= pow(10, exponent + 3);
        else
            above *= pow(10, -exponent - 3);
        double scaled = above / below;
        if (counter && layout->counter_modulus > 0)
            scaled = fmod(scaled, (double)layout->counter_modulus);
        *raw = float_bits(scaled, point->type, counter);
        return true;
    }
    uint64_t coded;
    if (!to_units(value, point, exponent, counter, &units) ||
        !encode_integer(units, point, layout->counter_modulus, &coded))
        return false;
    *raw = coded;
    return true;
}

/* Bits in natural order -> registers on the wire. */
static void order_words(uint64_t raw, int size, int order, uint16_t *words)
{
    bool words_swapped = order == ORDER_CDAB || order == ORDER_DCBA;
    bool bytes_swapped = order == ORDER_BADC || order == ORDER_DCBA;
    for (int i = 0; i < size; i++) {
        int from_low = words_swapped ? i : size - 1 - i;
        uint16_t word = (uint16_t)(raw >> (16 * from_low));
        words[i] = bytes_swapped ? (uint16_t)(word << 8 | word >> 8) : word;
    }
}

static void encode_text(const char *text, int size, int order, uint16_t *words)
{
    size_t length = strlen(text);
    bool bytes_swapped = order == ORDER_BADC || order == ORDER_DCBA;
    for (int i = 0; i < size; i++) {
        size_t at = 2 * (size_t)i;
        uint16_t high = at < length ? (unsigned char)text[at] : 0;
        uint16_t low = at + 1 < length ? (unsigned char)text[at + 1] : 0;
        words[i] = bytes_swapped ? (uint16_t)(low << 8 | high) : (uint16_t)(high << 8 | low);
    }
}

static uint64_t tear(uint64_t raw, const struct point *point, int64_t units)
{
    uint64_t earlier = raw - (uint64_t)units;
    int half = type_bits[point->type] / 2;
    return (raw & ~bit_mask(half)) | (earlier & bit_mask(half));
}

static void write_point(const struct layout *layout, const struct point *point, const struct shown *shown,
                        uint16_t *words)
{
    uint64_t raw;
    if (point->type == TYPE_STRING) {
        encode_text(shown->serial, point->size, point->order, words);
        return;
    }
    if (layout_encode(layout, point, shown, &raw) && shown->torn_units > 0 && point->size > 1 &&
        point->quantity < COUNTER_COUNT)
        raw = tear(raw, point, shown->torn_units);
    order_words(raw, point->size, point->order, words);
}

enum layout_result layout_read(const struct layout *layout, const struct shown *shown, int function,
                               int32_t address, int32_t count, uint16_t *registers)
{
    uint16_t words[MAP_MAX_REGISTERS];
    enum layout_result result = LAYOUT_OK;
    for (int32_t i = 0; i < count; i++) {
        const uint16_t *word = fixed_register(layout, function, address + i);
        if (word == NULL)
            return LAYOUT_HOLE;
        registers[i] = *word;
    }
    for (int i = 0; i < layout->point_count; i++) {
        const struct point *point = &layout->points[i];
        int32_t from = point->address - address, to = from + point->size;
        if (point->function != function || to <= 0 || from >= count)
            continue;
        if (point->type != TYPE_STRING && (from < 0 || to > count))
            result = LAYOUT_CUTS;
        write_point(layout, point, shown, words);
        for (int32_t k = from < 0 ? 0 : from; k < to && k < count; k++)
            registers[k] = words[k - from];
    }
    return result;
}

int64_t layout_register_value(const struct layout *layout, const struct shown *shown, enum quantity quantity)
{
    for (int i = 0; i < layout->point_count; i++) {
        const struct point *point = &layout->points[i];
        uint64_t raw;
        if (point->quantity != quantity || !layout_encode(layout, point, shown, &raw))
            continue;
        double scale =
            pow(10, 3 + point->exponent + scale_exponent(layout, point)) * point->multiplier / point->divisor;
        double units;
        if (point->type == TYPE_FLOAT64) {
            memcpy(&units, &raw, sizeof units);
        } else if (point->type == TYPE_FLOAT32) {
            uint32_t bits = (uint32_t)raw;
            float narrow;
            memcpy(&narrow, &bits, sizeof narrow);
            units = (double)narrow;
        } else if (is_decimal(point->type)) {
            units = 0;
            for (int shift = type_bits[point->type] - 4; shift >= 0; shift -= 4)
                units = units * 10 + (double)(raw >> shift & 15);
        } else {
            units = (double)raw;
        }
        return llround(units * scale);
    }
    return -1;
}
