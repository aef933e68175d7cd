#include "samples.h"

#include <math.h>

void samples_begin(struct samples *samples, int64_t start_ms)
{
    *samples = (struct samples){ .start_ms = start_ms, .power_min = INT64_MAX, .power_max = INT64_MIN };
}

void samples_add(struct samples *samples, const struct reading *reading)
{
    for (int q = Q_POWER; q < Q_SERIAL_NUMBER; q++) {
        if (!reading->has[q] || q == Q_CLOCK)
            continue;
        int64_t value = reading->value[q];
        bool voltage = q >= Q_VOLTAGE_L1 && q <= Q_VOLTAGE_L3;
        samples->count[q]++;
        samples->sum[q] += voltage ? (value / 10) * (value / 10) : value;
    }
    if (reading->has[Q_POWER]) {
        int64_t power = reading->value[Q_POWER];
        samples->power_min = power < samples->power_min ? power : samples->power_min;
        samples->power_max = power > samples->power_max ? power : samples->power_max;
    }
}

/* Rounded half away from zero. */
static int64_t divide(int64_t a, int64_t b)
{
    return a >= 0 ? (a + b / 2) / b : -((-a + b / 2) / b);
}

static int64_t mean(const struct samples *samples, int q)
{
    if (samples->count[q] == 0)
        return STORE_NULL;
    if (q >= Q_VOLTAGE_L1 && q <= Q_VOLTAGE_L3)
        return 10 * (int64_t)llround(sqrt((double)samples->sum[q] / samples->count[q]));
    return divide(samples->sum[q], samples->count[q]);
}

void samples_power(const struct samples *samples, int64_t *power, int64_t *low, int64_t *high,
                   int64_t *voltage)
{
    bool any = samples->count[Q_POWER] > 0;
    *power = any ? divide(mean(samples, Q_POWER), 1000) : STORE_NULL;
    *low = any ? divide(samples->power_min, 1000) : STORE_NULL;
    *high = any ? divide(samples->power_max, 1000) : STORE_NULL;
    *voltage = samples->count[Q_VOLTAGE_L1] > 0 ? mean(samples, Q_VOLTAGE_L1) / 10 : STORE_NULL;
}

/* Do the samples hold anything that only the table `momentary` has a place for? */
static bool has_other(const struct samples *samples)
{
    for (int q = Q_POWER_L1; q < Q_SERIAL_NUMBER; q++)
        if (samples->count[q] > 0 && q != Q_VOLTAGE_L1 && q != Q_CLOCK)
            return true;
    return false;
}

void samples_row(const struct samples *samples, struct store_row *row)
{
    samples_power(samples, &row->power, &row->power_min, &row->power_max, &row->voltage);
    row->momentary = has_other(samples);
    for (int q = 0; q < QUANTITY_COUNT; q++)
        row->value[q] = row->momentary ? mean(samples, q) : STORE_NULL;
}
