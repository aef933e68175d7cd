/* Plant sizes against consumptions: what each would have saved over the recorded span, and what it would be
 * worth over a plant's life. Pure. */
#ifndef METERBOOK_SWEEP_H
#define METERBOOK_SWEEP_H

#include "contract.h"
#include "what_if.h"

enum { SWEEP_PLANTS = 400, SWEEP_CONSUMPTIONS = 100 };

struct sweep_cell {
    int64_t plant;                    /* 10^-6 kWp */
    int64_t consumption;              /* mWh in the mean month */
    int64_t cost;                     /* millionths */
    int64_t saving;                   /* of a year of 365 days, millionths */
    double present_value;             /* over the projection's life, in the currency's unit */
    int64_t self_consumption, export; /* mWh in a year of 365 days */
    bool best;                        /* highest present value of its consumption */
    bool at_end;                      /* the best, at an end of the range of sizes: it may lie beyond */
};

struct sweep {
    int32_t plant_count, consumption_count;
    bool unknown; /* kVAh, kVA or kvarh that a tariff asks for are not known: amounts are nothing then */
    struct sweep_cell *cells; /* heap: by consumption, then by plant */
};

/* How many sizes a range has; 0 where they are too many. */
int32_t sweep_steps(int64_t from, int64_t to, int64_t step, int32_t most);

/* `recorded_kwp` is the plant that made what the trace has. False without memory or where a bill cannot be
 * made; sweep_free() takes it in any case. */
bool sweep_run(struct sweep *sweep, const struct contract_file *contract, const struct trace *trace,
               const struct trace_bins *bins, const struct trace_bins *without, int64_t recorded_kwp);
void sweep_free(struct sweep *sweep);

/* Years that remain of the plant's life at a trace's end, when a change is thought to be made; 0 after it.
 * Where the contract names no plant, a whole life. */
double years_of_change(const struct contract_file *contract, const struct trace *trace);

/* What a change is worth over these years that costs so much and saves so much more in the days of a
 * trace: its saving ages and grows as the plant's does. */
double value_of_change(const struct contract_file *contract, const struct trace *trace, int64_t cost,
                       int64_t saving);

/* Factor (millionths) by which the consumption is multiplied to be so much (mWh) in the mean month of a
 * trace. */
int64_t consumption_factor(const struct trace *trace, int64_t per_month);

#endif
