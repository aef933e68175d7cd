#include "what_if.h"

#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "muldiv.h"
#include "nonactive.h"
#include "number.h"

enum { MILLION = 1000000, HOUR_S = 3600 };

const struct what_if what_if_recorded = { .name = "as recorded",
                                          .production_factor = MILLION,
                                          .export_limit = UNKNOWN,
                                          .consumption_factor = MILLION };

/* ---- one interval ---- */

struct state {
    const struct what_if *what_if;
    int32_t interval_s;
    int64_t most_energy, export_limit, battery_step; /* mWh of an interval */
    int64_t stored;                                  /* mWh that can be taken out */
    int64_t net;                                     /* of a longer netting: what is summed up */
    int32_t day, month;                              /* of the interval before */
    const struct schedule *schedule;                 /* of the interval before */
    int32_t gives_in;                                /* its block in which the battery gives; -1: any */
};

static int64_t energy_of(int64_t power, int32_t interval_s)
{
    return power * interval_s / HOUR_S;
}

static int64_t scale(int32_t energy, int64_t factor)
{
    return factor == MILLION ? energy : energy * factor / MILLION;
}

/* What went both ways in an interval is not more than another plant makes in it. */
static int64_t overlap_of(const struct what_if *what_if, int64_t overlap, int64_t production)
{
    bool as_recorded = what_if->production_factor == MILLION && !what_if->has_shape;
    return as_recorded || overlap <= production ? overlap : production;
}

/* What the plant of the case makes in an interval, before any limit. */
static int64_t made_in(struct state *state, const struct trace *trace, int32_t i)
{
    int64_t made = scale(trace->production[i], state->what_if->production_factor);
    if (!state->what_if->has_shape)
        return made;
    if (trace->day[i] != state->day) {
        int32_t year, day_of_month;
        state->day = trace->day[i];
        civil_date(trace->from_day + state->day, &year, &state->month, &day_of_month);
    }
    return made * state->what_if->shape[state->month - 1][trace->second[i] / HOUR_S] / MILLION;
}

/* Each schedule has its blocks in an order of its own. */
static void enter_schedule(struct state *state, const struct schedule *schedule)
{
    const struct battery *battery = &state->what_if->battery;
    if (schedule == state->schedule)
        return;
    state->schedule = schedule;
    state->gives_in =
        battery->dispatch == DISPATCH_TIME_OF_USE ? schedule_find_block(schedule, battery->block) : -1;
}

/* What the battery takes of a surplus (below 0) or gives to a need; returns what is left of it. */
static int64_t pass_battery(struct state *state, int64_t net, int32_t block, struct what_if_result *result)
{
    const struct battery *battery = &state->what_if->battery;
    if (net < 0) {
        int64_t room = battery->capacity - state->stored;
        int64_t wanted = mul_div(room, MILLION, battery->efficiency) + (room > 0);
        int64_t taken = -net < wanted ? -net : wanted;
        taken = taken < state->battery_step ? taken : state->battery_step;
        int64_t kept = mul_div(taken, battery->efficiency, MILLION);
        state->stored += kept < room ? kept : room;
        return net + taken;
    }
    if (state->gives_in >= 0 && block != state->gives_in)
        return net;
    int64_t given = net < state->stored ? net : state->stored;
    given = given < state->battery_step ? given : state->battery_step;
    state->stored -= given;
    result->through_battery += given;
    return net - given;
}

/* ---- the whole span ---- */

/* The highest demand interval of each usage and block; `sum` is filled interval by interval. */
struct demand_sum {
    int32_t length_s;
    int64_t start, energy;
    int32_t filled_s;
};

static void add_demand(struct demand_sum *sum, const struct trace *trace, int32_t i, int64_t energy,
                       int64_t *highest)
{
    int64_t at_s = (int64_t)trace->day[i] * 86400 + trace->second[i], start = at_s - at_s % sum->length_s;
    if (start != sum->start)
        *sum = (struct demand_sum){ sum->length_s, start, 0, 0 };
    sum->energy += energy;
    sum->filled_s += trace->interval_s;
    if (sum->filled_s < sum->length_s)
        return;
    int64_t demand =
        (sum->energy * HOUR_S + sum->filled_s / 2) / sum->filled_s; /* of an hour at most: it fits */
    if (demand > *highest)
        *highest = demand;
}

/* Sums that only some tariffs ask for. */
struct asked {
    struct demand_sum real, apparent;
    int32_t unknown;
};

/* kVAh are counted while there is import, or nothing goes either way. */
static void add_apparent(struct asked *asked, const struct trace *trace, const struct trace_bins *bins,
                         int32_t i, int64_t import, int64_t export, struct usage *usage, int32_t block)
{
    int64_t apparent = 0;
    if (bins->wants_reactive) {
        bool known = trace->reactive && trace->reactive[i] >= 0;
        usage->energy[MEASURE_REACTIVE][block] += known ? trace->reactive[i] : 0;
        asked->unknown += !known;
    }
    if (!bins->wants_apparent)
        return;
    if (import > 0 || export == 0) {
        bool known = trace->nonactive && trace->nonactive[i] >= 0;
        apparent = known ? apparent_of(import, trace->nonactive[i]) : 0;
        asked->unknown += !known;
    }
    usage->energy[MEASURE_APPARENT][block] += apparent;
    add_demand(&asked->apparent, trace, i, apparent, &usage->apparent_demand[block]);
}

/* What follows from the other energies, once they are summed up. */
static void derive(struct usage *usages, int32_t count, struct what_if_result *result)
{
    for (int32_t u = 0; u < count; u++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            int64_t *const energy[] = { usages[u].energy[MEASURE_PRODUCTION],
                                        usages[u].energy[MEASURE_CONSUMPTION],
                                        usages[u].energy[MEASURE_IMPORT], usages[u].energy[MEASURE_EXPORT] };
            usages[u].energy[MEASURE_SELF_CONSUMPTION][b] = energy[0][b] - energy[3][b];
            result->production += energy[0][b];
            result->consumption += energy[1][b];
            result->import += energy[2][b];
            result->export += energy[3][b];
        }
    result->self_consumption = result->production - result->export;
}

/* Begin of the longer netting interval that an interval lies in, on the site's clock. */
static int64_t netting_of(const struct state *state, const struct trace *trace, int32_t i)
{
    int64_t at_s = (int64_t)trace->day[i] * 86400 + trace->second[i];
    return at_s - at_s % state->what_if->netting_s;
}

/* Over a longer netting interval only what remains goes one way: with the last of its intervals, whatever is
 * missing after that. */
static int64_t net_longer(struct state *state, const struct trace *trace, const struct trace_bins *bins,
                          int32_t i, int64_t net)
{
    bool ends = i + 1 == trace->count || bins->bin[i + 1] < 0 ||
                netting_of(state, trace, i + 1) != netting_of(state, trace, i);
    int64_t whole = state->net + net;
    state->net = ends ? 0 : whole;
    return ends ? whole : 0;
}

/* What may not be exported is not made; returns what is. */
static int64_t limit_export(const struct state *state, int64_t export, int64_t *production,
                            struct what_if_result *result)
{
    if (state->what_if->export_limit == UNKNOWN || export <= state->export_limit)
        return export;
    result->limited += export - state->export_limit;
    *production -= export - state->export_limit;
    return state->export_limit;
}

void what_if_flow(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                  struct usage *usages, struct what_if_result *result)
{
    struct state state = {
        .what_if = what_if,
        .interval_s = trace->interval_s,
        .most_energy = energy_of(what_if->most_power, trace->interval_s),
        .export_limit =
            what_if->export_limit == UNKNOWN ? UNKNOWN : energy_of(what_if->export_limit, trace->interval_s),
        .battery_step = energy_of(what_if->battery.power, trace->interval_s),
        .day = -1,
    };
    const struct demand_sum none = { .length_s = bins->tariff->demand_s, .start = INT64_MIN };
    struct asked asked = { none, none, 0 };
    *result = (struct what_if_result){ 0 };
    for (int32_t i = 0; i < trace->count; i++) {
        int32_t bin = bins->bin[i];
        if (bin < 0)
            continue;
        int32_t block = bin % TARIFF_BLOCKS;
        struct usage *usage = &usages[bin / TARIFF_BLOCKS];
        int64_t production = made_in(&state, trace, i);
        int64_t consumption = scale(trace->consumption[i], what_if->consumption_factor);
        if (what_if->has_load)
            consumption +=
                (int64_t)what_if->load_w[trace->second[i] / HOUR_S] * 1000 * trace->interval_s / HOUR_S;
        if (state.most_energy > 0 && production > state.most_energy) {
            result->clipped += production - state.most_energy;
            production = state.most_energy;
        }
        int64_t net = consumption - production, overlap = overlap_of(what_if, trace->overlap[i], production);
        if (what_if->battery.capacity > 0) {
            enter_schedule(&state, usage->schedule);
            net = pass_battery(&state, net, block, result);
        }
        int64_t import = (net > 0 ? net : 0) + overlap;
        int64_t export = limit_export(&state, (net < 0 ? -net : 0) + overlap, &production, result);
        if (bins->wants_demand) /* of power, over however long the energy is netted */
            add_demand(&asked.real, trace, i, import, &usage->demand[block]);
        if (bins->wants_apparent || bins->wants_reactive)
            add_apparent(&asked, trace, bins, i, import, export, usage, block);
        if (what_if->netting_s > 0) {
            net = net_longer(&state, trace, bins, i, import - export);
            import = net > 0 ? net : 0;
            export = net < 0 ? -net : 0;
        }
        usage->energy[MEASURE_IMPORT][block] += import;
        usage->energy[MEASURE_EXPORT][block] += export;
        usage->energy[MEASURE_PRODUCTION][block] += production;
        usage->energy[MEASURE_CONSUMPTION][block] += consumption;
    }
    result->unknown = asked.unknown;
    derive(usages, bins->usage_count, result);
}

/* ---- bills ---- */

bool what_if_bill(const struct trace_bins *bins, const struct usage *usages, const struct contract *contract,
                  struct what_if_bills *bills)
{
    struct credit *credit = calloc(1, sizeof(*credit));
    struct bill *bill = calloc(1, sizeof(*bill));
    bool good = credit && bill;
    *bills = (struct what_if_bills){ .period_count = bins->period_count };
    for (int32_t u = 0; good && u < bins->usage_count;) {
        int32_t first = u;
        while (u < bins->usage_count && bins->period[u] == bins->period[first])
            u++;
        good = bill_make(bill, bins->tariff, contract, &usages[first], u - first, credit) && !bill->cut;
        bills->total += bill->total - bill->settlement;
        bills->credit_left = credit_sum(credit);
        bills->credit_worth = credit_worth(credit, &usages[u - 1].schedule->netting);
    }
    free(credit);
    free(bill);
    return good;
}

static void take_bills(struct what_if_result *result, const struct what_if_bills *bills)
{
    bool known = result->unknown == 0;
    result->period_count = bills->period_count;
    result->with = known ? bills->total : UNKNOWN;
    result->credit_left = known ? bills->credit_left : UNKNOWN;
    result->credit_worth = known ? bills->credit_worth : UNKNOWN;
}

/* Without the plant all that is used is bought. */
static void take_plant_away(struct usage *usages, int32_t count)
{
    for (int32_t u = 0; u < count; u++) {
        memcpy(usages[u].energy[MEASURE_IMPORT], usages[u].energy[MEASURE_CONSUMPTION],
               sizeof(usages[u].energy[MEASURE_IMPORT]));
        memset(usages[u].energy[MEASURE_EXPORT], 0, sizeof(usages[u].energy[MEASURE_EXPORT]));
        memset(usages[u].energy[MEASURE_PRODUCTION], 0, sizeof(usages[u].energy[MEASURE_PRODUCTION]));
        memset(usages[u].energy[MEASURE_SELF_CONSUMPTION], 0,
               sizeof(usages[u].energy[MEASURE_SELF_CONSUMPTION]));
    }
}

static struct usage *copy(const struct trace_bins *bins)
{
    struct usage *usages = calloc((size_t)bins->usage_count + 1, sizeof(*usages));
    if (usages && bins->usage_count > 0)
        memcpy(usages, bins->usages, (size_t)bins->usage_count * sizeof(*usages));
    return usages;
}

bool what_if_without(const struct what_if *what_if, const struct trace *trace,
                     const struct trace_bins *without, const struct contract *contract, int64_t *total)
{
    struct usage *usages = copy(without);
    struct what_if alone = *what_if;
    struct what_if_result ignored;
    struct what_if_bills bills;
    struct contract no_plant = *contract;
    no_plant.with_plant = false;
    alone.production_factor = 0;
    alone.battery = (struct battery){ 0 };
    alone.netting_s = 0;
    bool good = usages != NULL;
    if (good) {
        what_if_flow(&alone, trace, without, usages, &ignored);
        take_plant_away(usages, without->usage_count);
        good = what_if_bill(without, usages, &no_plant, &bills);
        *total = ignored.unknown > 0 ? UNKNOWN : bills.total;
    }
    free(usages);
    return good;
}

bool what_if_with(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                  const struct contract *contract, struct what_if_result *result)
{
    struct usage *usages = copy(bins);
    struct what_if_bills bills;
    bool good = usages != NULL;
    if (good) {
        what_if_flow(what_if, trace, bins, usages, result);
        good = what_if_bill(bins, usages, contract, &bills);
        take_bills(result, &bills);
    }
    free(usages);
    return good;
}

bool what_if_run(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                 const struct trace_bins *without, const struct contract *contract,
                 struct what_if_result *result)
{
    return what_if_with(what_if, trace, bins, contract, result) &&
           what_if_without(what_if, trace, without, contract, &result->without);
}

bool what_if_monthly(const struct what_if *what_if, const struct trace *trace, const struct trace_bins *bins,
                     const struct contract *contract, struct what_if_result *result)
{
    struct usage *usages = copy(bins);
    struct what_if plain = *what_if;
    struct what_if_bills bills;
    bool good = usages != NULL;
    plain.battery = (struct battery){ 0 };
    if (good) {
        what_if_flow(&plain, trace, bins, usages, result);
        result->import = result->export = 0;
        for (int32_t u = 0; u < bins->usage_count; u++)
            for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
                int64_t net =
                    usages[u].energy[MEASURE_CONSUMPTION][b] - usages[u].energy[MEASURE_PRODUCTION][b];
                usages[u].energy[MEASURE_IMPORT][b] = net > 0 ? net : 0;
                usages[u].energy[MEASURE_EXPORT][b] = net < 0 ? -net : 0;
                usages[u].energy[MEASURE_SELF_CONSUMPTION][b] =
                    usages[u].energy[MEASURE_PRODUCTION][b] - usages[u].energy[MEASURE_EXPORT][b];
                result->import += usages[u].energy[MEASURE_IMPORT][b];
                result->export += usages[u].energy[MEASURE_EXPORT][b];
            }
        result->self_consumption = result->production - result->export;
        good = what_if_bill(bins, usages, contract, &bills);
        take_bills(result, &bills);
    }
    free(usages);
    return good;
}
