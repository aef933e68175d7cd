#include "sweep.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "finance.h"
#include "number.h"

enum { MILLION = 1000000, MOST_YEARS = 61 };
/* A mean month has 30.4375 days, a year 365.25. */
enum { MONTH_DAYS_E4 = 304375, E4 = 10000 };

int32_t sweep_steps(int64_t from, int64_t to, int64_t step, int32_t most)
{
    int64_t count = (to - from) / step + 1;
    return count >= 1 && count <= most ? (int32_t)count : 0;
}

int64_t consumption_factor(const struct trace *trace, int64_t per_month)
{
    int64_t days = trace->to_day - trace->from_day;
    int64_t wanted = multiply_round(per_month, days * E4, MONTH_DAYS_E4);
    return trace->energy_consumption > 0 ? multiply_round(wanted, MILLION, trace->energy_consumption) : 0;
}

static int64_t of_a_year(const struct trace *trace, int64_t value)
{
    return multiply_round(value, 365, trace->to_day - trace->from_day);
}

/* What the savings of a year are worth over the life, less the cost. */
static double present_value(const struct contract_projection *projection, int64_t cost, int64_t saving)
{
    double values[MOST_YEARS] = { -(double)cost / MILLION }, factor = 1,
           operating = (double)projection->operating / MILLION;
    for (int32_t year = 1; year <= projection->life_years && year < MOST_YEARS; year++) {
        values[year] = (double)saving / MILLION * factor - operating;
        factor *=
            (1 - (double)projection->degradation / MILLION) * (1 + (double)projection->escalation / MILLION);
        operating *= 1 + (double)projection->operating_escalation / MILLION;
        if (year == projection->replacement_year)
            values[year] -= (double)projection->replacement / MILLION;
    }
    return net_present_value((double)projection->discount / MILLION, values, projection->life_years + 1);
}

double years_of_change(const struct contract_file *contract, const struct trace *trace)
{
    int32_t year, month, day;
    if (contract->part_count == 0)
        return contract->projection.life_years;
    civil_date(contract->parts[0].commissioned, &year, &month, &day);
    int64_t left = civil_day_number(year + contract->projection.life_years, month, day) - trace->to_day;
    return left > 0 ? (double)left / 365.25 : 0;
}

/* What the plant costs to run is the same with the change and without it. */
double value_of_change(const struct contract_file *contract, const struct trace *trace, int64_t cost,
                       int64_t saving)
{
    const struct contract_projection *projection = &contract->projection;
    double years = years_of_change(contract, trace), value = -(double)cost / MILLION,
           of_year = (double)of_a_year(trace, saving) / MILLION,
           discount = 1 + (double)projection->discount / MILLION;
    for (int32_t year = 0; year < years; year++) {
        double share = year + 1 < years ? 1 : years - year;
        value += of_year * share / pow(discount, year + share);
        of_year *=
            (1 - (double)projection->degradation / MILLION) * (1 + (double)projection->escalation / MILLION);
    }
    return value;
}

static bool fill_cell(struct sweep_cell *cell, const struct contract_file *contract,
                      const struct trace *trace, const struct trace_bins *bins, int64_t recorded_kwp,
                      int64_t without, bool *unknown)
{
    struct what_if what_if = what_if_recorded;
    struct what_if_result result;
    struct contract terms = contract_at(contract, trace->to_day - 1, cell->plant > 0);
    what_if.production_factor = multiply_round(cell->plant, MILLION, recorded_kwp);
    what_if.consumption_factor = consumption_factor(trace, cell->consumption);
    what_if.most_power = multiply_round(cell->plant, contract->sweep.inverter_share, MILLION);
    if (!what_if_with(&what_if, trace, bins, &terms, &result))
        return false;
    *unknown |= result.unknown > 0 || without == UNKNOWN;
    if (*unknown)
        return true;
    if (cell->plant > 0)
        cell->cost =
            contract->sweep.cost_fixed + multiply_round(cell->plant, contract->sweep.cost_per_kwp, MILLION);
    cell->saving = of_a_year(trace, without - result.with);
    cell->self_consumption = of_a_year(trace, result.self_consumption);
    cell->export = of_a_year(trace, result.export);
    cell->present_value =
        cell->plant > 0 ? present_value(&contract->projection, cell->cost, cell->saving) : 0;
    return true;
}

static bool fill_row(struct sweep_cell *row, int32_t count, const struct contract_file *contract,
                     const struct trace *trace, const struct trace_bins *bins,
                     const struct trace_bins *without_bins, int64_t recorded_kwp, bool *unknown)
{
    struct what_if what_if = what_if_recorded;
    struct contract terms = contract_at(contract, trace->to_day - 1, false);
    int64_t without;
    what_if.consumption_factor = consumption_factor(trace, row->consumption);
    if (!what_if_without(&what_if, trace, without_bins, &terms, &without))
        return false;
    for (int32_t p = 0; p < count; p++)
        if (!fill_cell(&row[p], contract, trace, bins, recorded_kwp, without, unknown))
            return false;
    return true;
}

static void mark_best(struct sweep_cell *cells, int32_t count)
{
    int32_t best = 0;
    for (int32_t i = 1; i < count; i++)
        if (cells[i].present_value > cells[best].present_value)
            best = i;
    cells[best].best = true;
    cells[best].at_end = count > 1 && (best == 0 || best + 1 == count);
}

bool sweep_run(struct sweep *sweep, const struct contract_file *contract, const struct trace *trace,
               const struct trace_bins *bins, const struct trace_bins *without, int64_t recorded_kwp)
{
    const struct contract_sweep *range = &contract->sweep;
    *sweep = (struct sweep){
        .plant_count = sweep_steps(range->plant_from, range->plant_to, range->plant_step, SWEEP_PLANTS),
        .consumption_count = sweep_steps(range->consumption_from, range->consumption_to,
                                         range->consumption_step, SWEEP_CONSUMPTIONS),
    };
    sweep->cells =
        calloc((size_t)sweep->plant_count * (size_t)sweep->consumption_count + 1, sizeof(*sweep->cells));
    if (!sweep->cells || recorded_kwp <= 0)
        return false;
    for (int32_t c = 0; c < sweep->consumption_count; c++) {
        struct sweep_cell *row = &sweep->cells[(size_t)c * (size_t)sweep->plant_count];
        for (int32_t p = 0; p < sweep->plant_count; p++)
            row[p] =
                (struct sweep_cell){ .plant = range->plant_from + p * range->plant_step,
                                     .consumption = range->consumption_from + c * range->consumption_step };
        if (!fill_row(row, sweep->plant_count, contract, trace, bins, without, recorded_kwp, &sweep->unknown))
            return false;
        mark_best(row, sweep->plant_count);
    }
    return true;
}

void sweep_free(struct sweep *sweep)
{
    free(sweep->cells);
    *sweep = (struct sweep){ 0 };
}
