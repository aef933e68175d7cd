#include "what_if_read.h"

#include <stdio.h>

#include "trace_read.h"

bool what_if_base_read(struct what_if_base *base, const struct inquiry *inquiry, const struct bills *bills)
{
    const struct contract_file *contract = bills->contract;
    *base = (struct what_if_base){ 0 };
    bool wants_apparent = tariff_asks_apparent(bills->tariff) || tariff_asks_apparent(bills->without);
    for (int32_t i = 0; i < contract->case_count; i++)
        wants_apparent |= contract->cases[i].tariff[0] != '\0'; /* which is read later, and may ask */
    if (!trace_read(&base->trace, inquiry, wants_apparent))
        return false;
    trace_bins_make(&base->bins, &base->trace, bills->tariff);
    trace_bins_make(&base->without, &base->trace, bills->without);
    base->terms = contract_at(contract, base->trace.to_day - 1, true);
    for (int32_t p = 0; p < contract->part_count; p++)
        if (contract->parts[p].commissioned < base->trace.to_day)
            base->recorded_kwp += contract->parts[p].kilowatts;
    if (base->bins.memory_out || base->without.memory_out)
        fputs("meterbook: out of memory\n", stderr);
    return !base->bins.memory_out && !base->without.memory_out;
}

void what_if_base_free(struct what_if_base *base)
{
    trace_bins_free(&base->bins);
    trace_bins_free(&base->without);
    trace_free(&base->trace);
}

const char *sweep_lacks(const struct what_if_base *base, const struct contract_file *contract)
{
    return !contract->has_sweep        ? "'sweep'"
           : !contract->has_projection ? "'projection'"
           : base->recorded_kwp == 0   ? "'plant'"
                                       : NULL;
}
