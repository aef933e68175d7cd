/* Registers to numbers: order, type, sign, scale, not-implemented codes. Pure. */
#ifndef METERBOOK_DECODE_H
#define METERBOOK_DECODE_H

#include <stdbool.h>
#include <stdint.h>

#include "map.h"

enum decode_result {
    DECODE_OK = 0,
    DECODE_ABSENT = -1,  /* the meter's not-implemented code, NaN, or an invalid scale register */
    DECODE_RANGE = -2,   /* does not fit int64 thousandths, or an invalid decimal code */
};

struct decoded {
    int64_t value;    /* thousandths of the base unit; counters floored, others rounded half away from zero */
    int64_t step;     /* counters: least amount the register shows, in thousandths, at least 1; else 0 */
    int64_t modulus;  /* integer counters: value at which the register rolls over, 0 = none known */
    uint64_t raw;     /* the register bits, in natural order */
};

/* One numeric point. `registers` are those of the request that starts at
 * `request_address`; the point and its scale register lie inside it. */
enum decode_result decode_point(const struct point *point, const uint16_t *registers, int32_t request_address,
                                struct decoded *out);

/* A string point: printable ASCII, trailing blanks and NULs stripped, always terminated. */
enum decode_result decode_text(const struct point *point, const uint16_t *registers, int32_t request_address,
                               char text[TEXT_SIZE]);

#endif
