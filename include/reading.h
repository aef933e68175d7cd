/* What one poll cycle brought from one meter. */
#ifndef METERBOOK_READING_H
#define METERBOOK_READING_H

#include <stdbool.h>
#include <stdint.h>

#include "map.h"
#include "quantity.h"

/* A counter as read: all but raw in thousandths (mWh, mvarh, mVAh) after the
 * CT and VT ratios. */
struct counter_reading {
    int64_t value;
    int64_t step;    /* least amount the register shows, at least 1 */
    int64_t modulus; /* value at which the register rolls over, 0 = unknown */
    uint64_t raw;    /* the register's bits, before any factor */
};

struct reading {
    int64_t boot_ms;               /* when, in boot time */
    bool has[QUANTITY_COUNT];      /* which of the following were read */
    int64_t value[QUANTITY_COUNT]; /* momentary values, thousandths; counters below */
    struct counter_reading counter[COUNTER_COUNT];
};

#endif
