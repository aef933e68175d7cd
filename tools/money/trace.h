/* A span of a site interval by interval, as a case of what-if is computed over it: what was made, what was
 * used, and what the meter counted both ways within one interval. Plain arrays. */
#ifndef METERBOOK_TRACE_H
#define METERBOOK_TRACE_H

#include "bill.h"

/* mWh in an interval; 31 bits hold 2147 kWh. */
struct trace {
    int64_t from_day, to_day; /* civil days */
    int32_t count, room;
    int32_t interval_s;
    /* heap, one for each interval, by time */
    int32_t *production, *consumption;
    int32_t *overlap; /* what went both ways: the smaller of import and export */
    int32_t *day;     /* civil day less from_day */
    int32_t *second;  /* of the site's clock, since midnight */
    /* what the grid meter had beside active energy, of 2^31 - 1 at most; -1: not known. NULL: nobody asked */
    int32_t *nonactive; /* nonactive.h, mvarh */
    int32_t *reactive;  /* what is billed as kvarh */
    int64_t left_out;   /* intervals of which one side is not known */
    int64_t estimated;  /* mWh */
    int64_t energy_production, energy_consumption, energy_import, energy_export; /* sums, mWh */
};

/* Adds an interval; false without memory, or where an energy does not fit. */
bool trace_add(struct trace *trace, int64_t day, int32_t second, int64_t production, int64_t consumption,
               int64_t import, int64_t export);
/* Makes room for what trace_take_apparent() is told once all intervals are there; false without memory. */
bool trace_want_apparent(struct trace *trace);
/* Apparent energy of import, reactive energy of import and of export in an interval: mVAh, mvarh, or UNKNOWN.
 */
void trace_take_apparent(struct trace *trace, int32_t index, int64_t apparent, int64_t reactive,
                         int64_t reactive_export);
void trace_free(struct trace *trace);

/* Where each interval's energy goes: bins by billing period (calendar month), schedule and block. */
struct trace_bins {
    const struct tariff *tariff;
    int32_t *bin; /* heap, per interval: usage * TARIFF_BLOCKS + block; -1: no schedule holds */
    int32_t usage_count, room;
    struct usage *usages; /* heap: of all periods; energies 0 */
    int32_t *period;      /* heap, per usage: index of its billing period */
    int32_t period_count;
    bool wants_demand;
    bool wants_apparent, wants_reactive;
    bool memory_out;
};
void trace_bins_make(struct trace_bins *bins, const struct trace *trace, const struct tariff *tariff);
void trace_bins_free(struct trace_bins *bins);

#endif
