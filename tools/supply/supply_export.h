/* Voltage against export: the plant lifts the voltage at its connection by itself. Bins of the
 * power that leaves the site, and how much the voltage moves with it: the median over changes
 * from one ten minutes to the next, so that what the grid does in a day drops out.
 * Pure, constant memory. Voltages in mV, the mean of the phases that are known; powers in W. */
#ifndef METERBOOK_SUPPLY_EXPORT_H
#define METERBOOK_SUPPLY_EXPORT_H

#include <stdbool.h>
#include <stdint.h>

enum {
    EXPORT_BINS = 20,
    EXPORT_VOLTAGES = 5120,    /* one each 0.1 V, which stands in its middle */
    EXPORT_SLOPES = 4001,      /* 0.01 V per kW each, from -20 on; beyond both ends in the last */
    EXPORT_CHANGE_W = 500,     /* a smaller change of power tells nothing */
    EXPORT_LEAST_CHANGES = 30, /* for a slope */
    EXPORT_LEAST_BINS = 4
};

struct export_bin {
    int64_t count, sum;
    uint32_t voltages[EXPORT_VOLTAGES];
};

struct supply_export {
    int64_t width;                           /* of a bin; grows so that all powers find one */
    struct export_bin bins[EXPORT_BINS + 1]; /* the first: nothing leaves the site */
    int64_t changes;
    uint32_t slopes[EXPORT_SLOPES];
    int64_t last_s, last_voltage, last_power; /* the ten minutes before */
    unsigned last_phases;
};

void supply_export_init(struct supply_export *sums);

/* Ten minutes: `voltage` of three phases, UNKNOWN where not valid; `exported` what left the site less
 * what came, mWh, UNKNOWN where not measured. */
void supply_export_take(struct supply_export *sums, int64_t start_s, const int64_t voltage[3],
                        int64_t exported);

/* UNKNOWN for an empty bin. */
int64_t export_bin_mean(const struct export_bin *bin);
int64_t export_bin_median(const struct export_bin *bin);

/* The slope that so many parts of a thousand changes stay below, in mV per kW: 500 is the median.
 * UNKNOWN with too few changes. */
int64_t supply_export_slope(const struct supply_export *sums, int32_t per_mille);

/* The median of the slopes between the medians of any two bins of at least an hour each, in mV per kW: where
 * the power changes too slowly for the other one. What the grid does at the hours of each bin
 * is in it. UNKNOWN with fewer than EXPORT_LEAST_BINS. */
int64_t supply_export_trend(const struct supply_export *sums);

#endif
