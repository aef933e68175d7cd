/* Multiply, then divide, without losing the product's upper half.
 *
 * 10 kW over a gap of 30 days already overflows 64 bits, and 32-bit ARM has no
 * 128-bit integer: the product is made of two 64-bit halves. Used wherever a
 * value is scaled or a difference is shared out. */
#ifndef METERBOOK_MULDIV_H
#define METERBOOK_MULDIV_H

#include <stdbool.h>
#include <stdint.h>

/* An unsigned 128-bit number. */
struct wide {
    uint64_t high, low;
};

struct wide wide_multiply(uint64_t a, uint64_t b);

/* a / divisor, rounded down; *remainder may be NULL. divisor must not be 0. */
struct wide wide_divide(struct wide a, uint64_t divisor, uint64_t *remainder);

/* floor(a * b / c) for c > 0. False, *result untouched, when it does not fit. */
bool mul_div_fits(int64_t a, int64_t b, int64_t c, int64_t *result);

/* The same for callers who know that it fits, as a share of a 64-bit value
 * does. One that does not gives INT64_MAX or INT64_MIN, whichever is nearer. */
int64_t mul_div(int64_t a, int64_t b, int64_t c);

#endif
