/* The momentary values of one interval, summed as they are read, and their means. Pure. */
#ifndef METERBOOK_SAMPLES_H
#define METERBOOK_SAMPLES_H

#include <stdint.h>

#include "reading.h"
#include "store.h"

/* Sums over the readings of one interval. */
struct samples {
    int64_t start_ms;             /* of the interval (or of the boot-time slice while undated) */
    int64_t power_min, power_max; /* mW */
    int32_t count[QUANTITY_COUNT];
    int64_t sum[QUANTITY_COUNT]; /* voltages: of squares, in (10 mV)^2 */
};

/* Empties them for the interval that starts at start_ms. */
void samples_begin(struct samples *samples, int64_t start_ms);

/* Adds a reading's momentary values. */
void samples_add(struct samples *samples, const struct reading *reading);

/* Mean power etc. of the samples, W and 0.01 V; STORE_NULL without. */
void samples_power(const struct samples *samples, int64_t *power, int64_t *low, int64_t *high,
                   int64_t *voltage);

/* Their means into the row of the interval. */
void samples_row(const struct samples *samples, struct store_row *row);

#endif
