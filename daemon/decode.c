#include "decode.h"

#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>

#include "muldiv.h"

enum form { FORM_UNSIGNED, FORM_SIGNED, FORM_DECIMAL, FORM_FLOAT, FORM_TEXT };

/* What the types differ in. */
static const struct type_info {
    enum form form;
    int registers;       /* 0 = any */
    int counting_bits;   /* a counter of this type has 2^n values ... */
    int counting_digits; /* ... or 10^n */
} types[TYPE_COUNT] = {
    [TYPE_INT16] = { FORM_SIGNED, 1, 15, 0 },  [TYPE_UINT16] = { FORM_UNSIGNED, 1, 16, 0 },
    [TYPE_INT32] = { FORM_SIGNED, 2, 31, 0 },  [TYPE_UINT32] = { FORM_UNSIGNED, 2, 32, 0 },
    [TYPE_INT64] = { FORM_SIGNED, 4, 63, 0 },  [TYPE_UINT64] = { FORM_UNSIGNED, 4, 64, 0 },
    [TYPE_FLOAT32] = { FORM_FLOAT, 2, 0, 0 },  [TYPE_FLOAT64] = { FORM_FLOAT, 4, 0, 0 },
    [TYPE_BCD16] = { FORM_DECIMAL, 1, 0, 4 },  [TYPE_BCD32] = { FORM_DECIMAL, 2, 0, 8 },
    [TYPE_BCD64] = { FORM_DECIMAL, 4, 0, 16 }, [TYPE_STRING] = { FORM_TEXT, 0, 0, 0 },
};

/* IEEE 754 binary32 and binary64. */
static const struct float_format {
    int fraction_bits, exponent_bits;
} single_format = { 23, 8 }, double_format = { 52, 11 };

/* A number before scaling: (negative ? -1 : 1) * mantissa * 2^exponent. */
struct number {
    bool negative;
    uint64_t mantissa;
    int exponent;
};

/* Thousandths per unit of a number: numerator / divisor, both below 2^62. */
struct scale {
    uint64_t numerator, divisor;
};

/* Twice the scaled value, rounded down: keeps the half for rounding. */
struct doubled {
    uint64_t value;
    bool inexact; /* something was rounded away */
};

static const uint64_t scale_limit = UINT64_C(1) << 62;

static uint16_t swap_bytes(uint16_t word)
{
    return (uint16_t)(word << 8 | word >> 8);
}

static bool swaps_bytes(const struct point *point)
{
    return point->order == ORDER_BADC || point->order == ORDER_DCBA;
}

static uint16_t ordered_word(const struct point *point, uint16_t word)
{
    return swaps_bytes(point) ? swap_bytes(word) : word;
}

static uint64_t raw_bits(const struct point *point, const uint16_t *registers)
{
    int count = types[point->type].registers;
    bool swaps = swaps_bytes(point), backwards = point->order == ORDER_CDAB || point->order == ORDER_DCBA;
    uint64_t raw = 0;
    for (int i = 0; i < count; i++) {
        uint16_t word = registers[backwards ? count - 1 - i : i];
        raw = raw << 16 | (swaps ? swap_bytes(word) : word);
    }
    return raw;
}

static enum decode_result decimal_number(uint64_t raw, struct number *number)
{
    *number = (struct number){ 0 };
    for (int shift = 60; shift >= 0; shift -= 4) {
        uint64_t digit = raw >> shift & 15;
        if (digit > 9) {
            return DECODE_RANGE;
        }
        number->mantissa = number->mantissa * 10 + digit;
    }
    return DECODE_OK;
}

static enum decode_result float_number(const struct float_format *format, uint64_t raw, struct number *number)
{
    uint64_t hidden_bit = UINT64_C(1) << format->fraction_bits;
    uint64_t fraction = raw & (hidden_bit - 1);
    int top = (1 << format->exponent_bits) - 1;
    int biased = (int)(raw >> format->fraction_bits & (uint64_t)top);
    if (biased == top) {
        return fraction != 0 ? DECODE_ABSENT : DECODE_RANGE; /* NaN, infinity */
    }
    number->negative = raw >> (format->fraction_bits + format->exponent_bits) & 1;
    number->mantissa = biased == 0 ? fraction : fraction | hidden_bit;
    number->exponent = (biased == 0 ? 1 : biased) - top / 2 - format->fraction_bits;
    return DECODE_OK;
}

static enum decode_result number_of(const struct point *point, uint64_t raw, struct number *number)
{
    const struct type_info *type = &types[point->type];
    if (point->has_absent && raw == point->absent) {
        return DECODE_ABSENT;
    }
    switch (type->form) {
    case FORM_UNSIGNED:
        *number = (struct number){ .mantissa = raw };
        return DECODE_OK;
    case FORM_SIGNED: {
        bool negative = raw >> (16 * type->registers - 1) & 1;
        uint64_t above = UINT64_MAX << (16 * type->registers - 1); /* the sign bit and all above it */
        *number = (struct number){ .negative = negative, .mantissa = negative ? -(raw | above) : raw };
        return DECODE_OK;
    }
    case FORM_DECIMAL:
        return decimal_number(raw, number);
    case FORM_FLOAT:
        return float_number(type->registers == 2 ? &single_format : &double_format, raw, number);
    case FORM_TEXT:
        break;
    }
    return DECODE_RANGE;
}

static bool times_ten(uint64_t *factor, int power)
{
    for (; power > 0; power--) {
        if (*factor >= scale_limit / 10) {
            return false;
        }
        *factor *= 10;
    }
    return true;
}

/* The point's factors and `exponent` (the scale register's) as one fraction of
 * positive numbers. *negative: the factors' sign. */
static bool scale_of(const struct point *point, int exponent, struct scale *scale, bool *negative)
{
    int64_t multiplier = point->multiplier, divisor = point->divisor;
    int power = 3 + point->exponent + exponent; /* thousandths */
    *negative = (multiplier < 0) != (divisor < 0);
    scale->numerator = (uint64_t)(multiplier < 0 ? -multiplier : multiplier);
    scale->divisor = (uint64_t)(divisor < 0 ? -divisor : divisor);
    for (; power > 0 && scale->divisor % 10 == 0; power--) {
        scale->divisor /= 10;
    }
    for (; power < 0 && scale->numerator != 0 && scale->numerator % 10 == 0; power++) {
        scale->numerator /= 10;
    }
    return scale->divisor != 0 && times_ten(&scale->numerator, power) && times_ten(&scale->divisor, -power);
}

/* a shifted right; *lost: a one fell off. */
static struct wide wide_shift(struct wide a, int by, bool *lost)
{
    for (; by >= 64; by -= 64) {
        *lost |= a.low != 0;
        a = (struct wide){ .high = 0, .low = a.high };
        if (a.high == 0 && a.low == 0) {
            return a;
        }
    }
    if (by > 0) {
        *lost |= (a.low & ((UINT64_C(1) << by) - 1)) != 0;
        a.low = a.low >> by | a.high << (64 - by);
        a.high >>= by;
    }
    return a;
}

/* 2 * mantissa * 2^exponent * scale, rounded down. Dividing first and shifting
 * right after rounds down just once: floor(floor(x) / 2^n) = floor(x / 2^n).
 * Where neither factor can be shifted left any more, the quotient cannot fit. */
static bool scaled(uint64_t mantissa, int exponent, struct scale scale, struct doubled *out)
{
    uint64_t rest;
    exponent++; /* twice */
    if (mantissa == 0) {
        *out = (struct doubled){ 0 };
        return true;
    }
    if (exponent == 1 && mantissa >> 32 == 0 && scale.numerator >> 31 == 0) { /* integers, nearly always */
        uint64_t product = mantissa * scale.numerator * 2;
        *out = (struct doubled){ product / scale.divisor, product % scale.divisor != 0 };
        return true;
    }
    for (; exponent > 0; exponent--) {
        if (mantissa >> 63 == 0) {
            mantissa <<= 1;
        } else if (scale.numerator >> 63 == 0) {
            scale.numerator <<= 1;
        } else {
            return false;
        }
    }
    struct wide quotient = wide_divide(wide_multiply(mantissa, scale.numerator), scale.divisor, &rest);
    out->inexact = rest != 0;
    quotient = wide_shift(quotient, -exponent, &out->inexact);
    out->value = quotient.low;
    return quotient.high == 0;
}

static uint64_t rounded_up(struct doubled twice)
{
    return twice.value / 2 + (twice.inexact || twice.value % 2 != 0);
}

/* Exponent from the scale register. */
static bool scale_exponent(const struct point *point, const uint16_t *registers, int32_t request_address,
                           int *exponent)
{
    enum {
        WIDEST = 10
    }; /* SunSpec, JSON schema of the models: sunssf is -10..10; 0x8000 is "not implemented" */
    *exponent = (int16_t)ordered_word(point, registers[point->scale_address - request_address]);
    return *exponent >= -WIDEST && *exponent <= WIDEST;
}

/* Value at which a counter starts again from 0, or 0. A float has one only if the map says so. */
static int64_t modulus_of(const struct point *point, struct scale scale)
{
    const struct type_info *type = &types[point->type];
    struct doubled twice;
    uint64_t values = 1;
    if (type->form == FORM_FLOAT && point->modulus == 0) {
        return 0;
    }
    times_ten(&values, type->counting_digits);
    if (!(point->modulus > 0 ? scaled((uint64_t)point->modulus, 0, scale, &twice)
                             : scaled(values, type->counting_bits, scale, &twice))) {
        return 0;
    }
    return (int64_t)(twice.value / 2);
}

/* Least amount of a register whose numbers are whole multiples of 2^exponent; 0 where that does not fit. */
static int64_t step_of(int exponent, struct scale scale)
{
    struct doubled step;
    if (!scaled(1, exponent, scale, &step) || rounded_up(step) > INT64_MAX) {
        return 0;
    }
    return rounded_up(step) == 0 ? 1 : (int64_t)rounded_up(step);
}

static void work_out(struct decoder *decoder, const struct point *point, int exponent)
{
    struct scale scale;
    *decoder = (struct decoder){ .counter = quantity_info(point->quantity)->kind == KIND_COUNTER };
    decoder->fits = scale_of(point, exponent, &scale, &decoder->negative);
    if (!decoder->fits) {
        return;
    }
    decoder->numerator = scale.numerator;
    decoder->divisor = scale.divisor;
    if (!decoder->counter) {
        return;
    }
    decoder->modulus = modulus_of(point, scale);
    if (types[point->type].form != FORM_FLOAT) {
        decoder->step = step_of(0, scale);
        decoder->fits = decoder->step > 0;
    }
}

void decoder_make(struct decoder *decoder, const struct point *point)
{
    work_out(decoder, point, 0);
}

enum decode_result decode_value(const struct decoder *decoder, const struct point *point,
                                const uint16_t *registers, int32_t request_address, struct decoded *out)
{
    uint64_t raw = raw_bits(point, registers + (point->address - request_address));
    struct decoder scaled_now;
    struct number number;
    struct doubled twice;
    int exponent;

    enum decode_result result = number_of(point, raw, &number);
    if (result != DECODE_OK) {
        return result;
    }
    if (point->scale_address != NO_REGISTER) {
        if (!scale_exponent(point, registers, request_address, &exponent)) {
            return DECODE_ABSENT;
        }
        work_out(&scaled_now, point, exponent);
        decoder = &scaled_now;
    }
    struct scale scale = { decoder->numerator, decoder->divisor };
    if (!decoder->fits || !scaled(number.mantissa, number.exponent, scale, &twice)) {
        return DECODE_RANGE;
    }
    uint64_t magnitude = decoder->counter ? twice.value / 2 : twice.value / 2 + twice.value % 2;
    bool negative = (decoder->negative != number.negative) != point->negate;
    int64_t step = decoder->step;
    if (decoder->counter && step == 0) {
        step = step_of(number.exponent, scale);
    }
    if (magnitude > INT64_MAX || (decoder->counter && (step == 0 || (negative && number.mantissa != 0)))) {
        return DECODE_RANGE;
    }
    *out = (struct decoded){ .value = negative ? -(int64_t)magnitude : (int64_t)magnitude,
                             .step = step,
                             .modulus = decoder->modulus,
                             .raw = raw };
    return DECODE_OK;
}

enum decode_result decode_point(const struct point *point, const uint16_t *registers, int32_t request_address,
                                struct decoded *out)
{
    struct decoder decoder;
    decoder_make(&decoder, point);
    return decode_value(&decoder, point, registers, request_address, out);
}

static enum decode_result decode_string(const struct point *point, const uint16_t *registers,
                                        char text[TEXT_SIZE])
{
    int length = 0, end = 0;
    bool printable = false;
    for (int i = 0; i < 2 * point->size && length < TEXT_SIZE - 1; i++) {
        uint16_t word = ordered_word(point, registers[i / 2]);
        unsigned char byte = (unsigned char)(i % 2 == 0 ? word >> 8 : word & 255);
        if (byte == 0) {
            break;
        }
        bool plain = byte >= ' ' && byte <= '~';
        text[length++] = plain ? (char)byte : '?';
        if (byte != ' ') {
            end = length;
            printable |= plain;
        }
    }
    text[printable ? end : 0] = '\0';
    return printable ? DECODE_OK : DECODE_ABSENT;
}

enum decode_result decode_text(const struct point *point, const uint16_t *registers, int32_t request_address,
                               char text[TEXT_SIZE])
{
    const uint16_t *first = registers + (point->address - request_address);
    struct number number;
    text[0] = '\0';
    if (point->type == TYPE_STRING) {
        return decode_string(point, first, text);
    }
    if (types[point->type].form == FORM_FLOAT) {
        return DECODE_RANGE;
    }
    enum decode_result result = number_of(point, raw_bits(point, first), &number);
    if (result == DECODE_OK) {
        snprintf(text, TEXT_SIZE, "%s%" PRIu64, number.negative ? "-" : "", number.mantissa);
    }
    return result;
}
