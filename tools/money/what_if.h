/* Another consumption, another plant, a battery, another tariff, over the intervals that were recorded: pure.
 *
 * Energies of an interval are netted as the site's meter did: what went both ways in it stays so. So a case
 * that changes nothing gives the recorded import and export, to the mWh. */
#ifndef METERBOOK_WHAT_IF_H
#define METERBOOK_WHAT_IF_H

#include "trace.h"

enum { CASE_MONTHS = 12, CASE_HOURS = 24, WHAT_IF_PERIODS = 400 };

enum dispatch { DISPATCH_SELF_CONSUMPTION, DISPATCH_TIME_OF_USE };

struct battery {
    int64_t capacity;       /* mWh that can be taken out; 0: none */
    int64_t power;          /* mW, in and out */
    int32_t efficiency;     /* round trip, millionths */
    enum dispatch dispatch; /* TIME_OF_USE: it gives only in the block `block` */
    const char *block;      /* its name; in a schedule that has none of it, it gives at any hour */
};

struct what_if {
    char name[TARIFF_NAME_SIZE];
    int64_t production_factor;  /* millionths of what was made */
    int64_t most_power;         /* mW that the inverters give; 0: no limit */
    int64_t export_limit;       /* mW; UNKNOWN: none */
    int64_t consumption_factor; /* millionths */
    bool has_shape;             /* another tilt or azimuth: its share of what was made, by month and hour */
    int32_t shape[CASE_MONTHS][CASE_HOURS]; /* millionths */
    bool has_load;
    int32_t load_w[CASE_HOURS]; /* an added load by hour of the day, W */
    struct battery battery;
    int32_t netting_s; /* the meter nets over so long; 0: as it does */
};

struct what_if_result {
    int64_t production, consumption, import, export, self_consumption; /* mWh */
    int64_t clipped, limited; /* not made: above most_power, above export_limit */
    int64_t through_battery;  /* given out of it */
    int64_t with,
        without;     /* bills of all periods, millionths; with: less what settlement paid. UNKNOWN: none */
    int32_t unknown; /* intervals of which the tariff asks for kVAh, kVA or kvarh that nobody knows:
                        there is no bill then */
    int64_t credit_left;  /* mWh of credit at the span's end, which no bill has counted */
    int64_t credit_worth; /* what the settlement rule would pay for it and for money credit (credit.h) */
    int32_t period_count;
};

/* What changes nothing. */
extern const struct what_if what_if_recorded;

/* Energies of a case, added to the bins' usages, which are a copy of `usages` in bins (as many). */
void what_if_flow(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                  struct usage *usages, struct what_if_result *result);

/* The two halves of what_if_run(): what is used alone decides the bills without the plant. */
bool what_if_with(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                  const struct contract *contract, struct what_if_result *result);
bool what_if_without(const struct what_if *what_if, const struct trace *trace,
                     const struct trace_bins *without, const struct contract *contract, int64_t *total);

/* Energies and bills; `bins` and `without` are those of the tariff with the plant and without it. False
 * without memory, or where a period cannot be billed. */
bool what_if_run(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                 const struct trace_bins *without, const struct contract *contract,
                 struct what_if_result *result);

/* Bills of the usages of all periods together, less settlements, and the credit after the last. */
struct what_if_bills {
    int64_t total;
    int64_t credit_left, credit_worth;
    int32_t period_count;
};
bool what_if_bill(const struct trace_bins *bins, const struct usage *usages, const struct contract *contract,
                  struct what_if_bills *bills);

/* What monthly sums of production and consumption would say of the same: import and export netted by month.
 */
bool what_if_monthly(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                     const struct contract *contract, struct what_if_result *result);

#endif
