/* Registers to numbers: order, type, sign, scale, not-implemented codes. Pure.
 *
 * Everything is computed in integers, floats too (a float is a whole number
 * times a power of two): 1234.5 kWh is 1 234 500 000 mWh, never one less. */
#ifndef METERBOOK_DECODE_H
#define METERBOOK_DECODE_H

#include <stdbool.h>
#include <stdint.h>

#include "map.h"

enum decode_result {
    DECODE_OK = 0,
    DECODE_ABSENT = -1, /* the meter's not-implemented code, NaN, or an invalid scale register */
    DECODE_RANGE = -2,  /* beyond int64 thousandths, infinity, invalid decimal code, negative counter */
};

/* value: thousandths of the base unit; counters floored, others rounded half
 *     away from zero.
 * step: of counters, the least amount the register shows, in thousandths,
 *     rounded up, at least 1 (floats: the distance to the next float); else 0.
 * modulus: of integer counters, the value at which the register rolls over (the
 *     positive half of a signed type), in thousandths; 0 = none, or beyond int64.
 * raw: the register's bits, in natural order. */
struct decoded {
    int64_t value;
    int64_t step;
    int64_t modulus;
    uint64_t raw;
};

/* What of a numeric point is the same in every answer, worked out once. */
struct decoder {
    uint64_t numerator, divisor; /* thousandths per unit of the register, both below 2^62 */
    bool negative;               /* the sign of the factors */
    bool fits;                   /* false: no value of the point can be represented */
    bool counter;
    int64_t step, modulus; /* of counters; step 0: depends on the value (floats) */
};

/* For a point without a scale register; one with such a register is worked out anew in each answer. */
void decoder_make(struct decoder *decoder, const struct point *point);

/* decode_point() with what decoder_make() worked out. */
enum decode_result decode_value(const struct decoder *decoder, const struct point *point,
                                const uint16_t *registers, int32_t request_address, struct decoded *out);

/* One numeric point. `registers` are those of the request that starts at
 * `request_address`; the point and its scale register lie inside it. `out` is
 * untouched unless the result is DECODE_OK. */
enum decode_result decode_point(const struct point *point, const uint16_t *registers, int32_t request_address,
                                struct decoded *out);

/* A text point, always terminated. Strings: up to the first NUL, trailing blanks
 * stripped, what is not printable ASCII as '?', at most TEXT_SIZE - 1
 * characters; the order swaps the bytes of a register, never registers. Integer
 * and decimal-coded types (serial numbers): their decimal digits, unscaled.
 * DECODE_ABSENT and "" where nothing printable is left or the not-implemented
 * code is sent; DECODE_RANGE and "" for floats and invalid decimal codes. */
enum decode_result decode_text(const struct point *point, const uint16_t *registers, int32_t request_address,
                               char text[TEXT_SIZE]);

#endif
