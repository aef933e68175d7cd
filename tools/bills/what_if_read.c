#include "what_if_read.h"

#include <stdio.h>
#include <string.h>

#include "trace_read.h"

enum { MILLION = 1000000 };

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

struct what_if what_if_of(const struct what_if_base *base, const struct contract_case *entry)
{
    struct what_if what_if = what_if_recorded;
    if (entry->plant_kwp > 0 && base->recorded_kwp > 0)
        what_if.production_factor = multiply_round(entry->plant_kwp, MILLION, base->recorded_kwp);
    what_if.most_power = entry->inverter_kw;
    what_if.export_limit = entry->export_limit_kw;
    what_if.consumption_factor = MILLION + entry->consumption_change;
    if (entry->consumption_per_month > 0)
        what_if.consumption_factor = consumption_factor(&base->trace, entry->consumption_per_month);
    what_if.has_shape = entry->has_shape;
    for (int32_t month = 0; month < CASE_MONTHS; month++)
        for (int32_t hour = 0; hour < CASE_HOURS; hour++)
            what_if.shape[month][hour] =
                (int32_t)multiply_round(entry->shape_months[month], entry->shape_hours[hour], MILLION);
    what_if.has_load = entry->has_load;
    memcpy(what_if.load_w, entry->load_w, sizeof(what_if.load_w));
    what_if.battery = (struct battery){ .capacity = entry->battery_kwh,
                                        .power = entry->battery_kw,
                                        .efficiency = entry->battery_efficiency,
                                        .dispatch = (enum dispatch)entry->by_time_of_use,
                                        .block = entry->dispatch_block };
    what_if.netting_s = entry->netting_s;
    return what_if;
}

const char *sweep_lacks(const struct what_if_base *base, const struct contract_file *contract)
{
    return !contract->has_sweep        ? "'sweep'"
           : !contract->has_projection ? "'projection'"
           : base->recorded_kwp == 0   ? "'plant'"
                                       : NULL;
}
