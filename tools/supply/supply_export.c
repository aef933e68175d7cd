#include "supply_export.h"

#include <stdlib.h>
#include <string.h>

#include "muldiv.h"
#include "number.h"

enum { PHASES = 3, BLOCK_S = 600, FIRST_WIDTH_W = 100, VOLTAGE_BIN = 100, SLOPE_BIN = 10, HALF = 2 };

void supply_export_init(struct supply_export *sums)
{
    memset(sums, 0, sizeof(*sums));
    sums->width = FIRST_WIDTH_W;
    sums->last_s = INT64_MIN;
}

static void join(struct export_bin *to, const struct export_bin *from)
{
    to->count += from->count;
    to->sum += from->sum;
    for (int32_t v = 0; v < EXPORT_VOLTAGES; v++)
        to->voltages[v] += from->voltages[v];
}

/* 100, 500, 1000, 5000 ... W: so many bins become one. */
static void grow(struct supply_export *sums)
{
    int64_t leading = sums->width;
    while (leading >= 10)
        leading /= 10;
    int32_t times = leading == 1 ? 5 : 2;
    sums->width *= times;
    for (int32_t i = 0; i < EXPORT_BINS; i++) {
        struct export_bin *from = &sums->bins[1 + i], *to = &sums->bins[1 + i / times];
        if (from == to)
            continue;
        join(to, from);
        memset(from, 0, sizeof(*from));
    }
}

static void put(struct supply_export *sums, int64_t power, int64_t voltage)
{
    while (power >= sums->width * EXPORT_BINS && sums->width < INT64_MAX / (EXPORT_BINS * 10))
        grow(sums);
    struct export_bin *bin = &sums->bins[power <= 0 ? 0 : 1 + power / sums->width];
    int64_t place = (voltage + VOLTAGE_BIN / HALF) / VOLTAGE_BIN;
    bin->count++;
    bin->sum += voltage;
    bin->voltages[place < EXPORT_VOLTAGES ? place : EXPORT_VOLTAGES - 1]++;
}

static void put_change(struct supply_export *sums, int64_t power, int64_t voltage)
{
    int64_t change = power - sums->last_power;
    if (llabs(change) < EXPORT_CHANGE_W)
        return;
    int64_t slope = change > 0 ? mul_div(voltage - sums->last_voltage, 1000, change)
                               : mul_div(sums->last_voltage - voltage, 1000, -change);
    int64_t place =
        (slope >= 0 ? slope / SLOPE_BIN : -((-slope + SLOPE_BIN - 1) / SLOPE_BIN)) + EXPORT_SLOPES / HALF;
    place = place < 0 ? 0 : place < EXPORT_SLOPES ? place : EXPORT_SLOPES - 1;
    sums->slopes[place]++;
    sums->changes++;
}

void supply_export_take(struct supply_export *sums, int64_t start_s, const int64_t voltage[3],
                        int64_t exported)
{
    int64_t sum = 0, count = 0;
    unsigned phases = 0;
    for (int32_t p = 0; p < PHASES; p++) {
        sum += voltage[p] == UNKNOWN ? 0 : voltage[p];
        count += voltage[p] != UNKNOWN;
        phases |= voltage[p] != UNKNOWN ? 1U << p : 0;
    }
    if (count == 0 || exported == UNKNOWN)
        return;
    int64_t mean = sum / count, power = mul_div(exported, 3600 / BLOCK_S, 1000);
    put(sums, power, mean);
    if (sums->last_s == start_s - BLOCK_S && sums->last_phases == phases)
        put_change(sums, power, mean);
    sums->last_s = start_s;
    sums->last_phases = phases;
    sums->last_voltage = mean;
    sums->last_power = power;
}

int64_t export_bin_mean(const struct export_bin *bin)
{
    return bin->count > 0 ? bin->sum / bin->count : UNKNOWN;
}

/* Middle of the place that holds this one of the counts. */
static int64_t place_of(const uint32_t *counts, int32_t places, int64_t wanted)
{
    int64_t seen = 0;
    for (int32_t i = 0; i < places; i++) {
        seen += counts[i];
        if (seen > wanted)
            return i;
    }
    return places - 1;
}

int64_t export_bin_median(const struct export_bin *bin)
{
    if (bin->count == 0)
        return UNKNOWN;
    return place_of(bin->voltages, EXPORT_VOLTAGES, bin->count / HALF) * VOLTAGE_BIN;
}

int64_t supply_export_slope(const struct supply_export *sums, int32_t per_mille)
{
    if (sums->changes < EXPORT_LEAST_CHANGES)
        return UNKNOWN;
    int64_t place = place_of(sums->slopes, EXPORT_SLOPES, mul_div(sums->changes, per_mille, 1000));
    return (place - EXPORT_SLOPES / HALF) * SLOPE_BIN + SLOPE_BIN / HALF;
}

static int by_size(const void *left, const void *right)
{
    int64_t a = *(const int64_t *)left, b = *(const int64_t *)right;
    return a < b ? -1 : a > b;
}

int64_t supply_export_trend(const struct supply_export *sums)
{
    int64_t slopes[EXPORT_BINS * EXPORT_BINS / 2];
    int32_t used[EXPORT_BINS], bins = 0, count = 0;
    for (int32_t i = 1; i <= EXPORT_BINS; i++)
        if (sums->bins[i].count >= 3600 / BLOCK_S)
            used[bins++] = i;
    if (bins < EXPORT_LEAST_BINS)
        return UNKNOWN;
    for (int32_t a = 0; a < bins; a++)
        for (int32_t b = a + 1; b < bins; b++) {
            int64_t rise = export_bin_median(&sums->bins[used[b]]) - export_bin_median(&sums->bins[used[a]]);
            slopes[count++] = mul_div(rise, 1000, (used[b] - used[a]) * sums->width);
        }
    qsort(slopes, (size_t)count, sizeof(slopes[0]), by_size);
    return slopes[count / HALF];
}
