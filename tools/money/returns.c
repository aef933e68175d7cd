#include "returns.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "number.h"

enum { YEAR_DAYS = 365, YEAR_LEAST = YEAR_DAYS - 15, MILLION = 1000000 };

/* What does not fit stands behind the last one, and counts for nothing. */
static struct returns_flow *add(struct returns *returns, int64_t day, bool projected)
{
    struct returns_flow *flow = &returns->flows[returns->flow_count];
    if (returns->flow_count + 1 < RETURNS_FLOWS)
        returns->flow_count++;
    *flow = (struct returns_flow){ .from_day = day, .day = day, .projected = projected };
    return flow;
}

static int by_day(const void *a, const void *b)
{
    const struct returns_flow *first = a, *second = b;
    return (first->day > second->day) - (first->day < second->day);
}

static int64_t net_of(const struct returns_flow *flow)
{
    return flow->cost + flow->saving + flow->operating;
}

/* The same day so many years later. */
static int64_t years_after(int64_t day, int32_t years)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return civil_day_number(year + years, month, day_of_month);
}

/* ---- so far ---- */

static void take_realised(struct returns *returns, const struct contract_file *contract,
                          const struct saved *saved, int32_t count)
{
    returns->last_day = saved[count - 1].to_day;
    returns->first_day = saved[0].from_day;
    for (int32_t i = 0; i < contract->cost_count; i++) {
        const struct contract_cost *cost = &contract->costs[i];
        if (cost->day >= returns->last_day)
            continue;
        add(returns, cost->day, false)->cost = -cost->amount;
        returns->paid += cost->amount;
        returns->first_day = cost->day < returns->first_day ? cost->day : returns->first_day;
    }
    for (int32_t i = 0; i < count; i++) {
        add(returns, saved[i].to_day - 1, false)->saving = saved[i].saving;
        returns->saved += saved[i].saving;
    }
}

/* What a year's settlements pay. One is for all days since the one before, whatever bills they are in: so the
 * newest are spread over their own days, as many as make a year. Of less than a year of days no more is made
 * than they are of the year of bills. */
static int64_t settled_in_year(struct returns *returns, const struct saved *saved, int32_t count)
{
    int64_t settled = 0, until_day = UNKNOWN;
    for (int32_t i = count - 1; i >= -1; i--) {
        if (i >= 0 && !saved[i].settles)
            continue;
        int64_t end_day = i >= 0 ? saved[i].to_day : saved[0].from_day;
        if (until_day == UNKNOWN)
            returns->settled_until = i >= 0 ? end_day : UNKNOWN;
        else
            returns->settled_days += until_day - end_day;
        if (i < 0 || returns->settled_days >= YEAR_LEAST)
            break;
        settled += saved[i].settled;
        until_day = end_day;
    }
    int64_t days = returns->settled_days >= YEAR_LEAST || returns->settled_days > returns->year_days
                       ? returns->settled_days
                       : returns->year_days;
    return days > 0 ? multiply_round(settled, YEAR_DAYS, days) : 0;
}

/* The newest bills, up to a year of them: a year has all seasons. */
static void take_year(struct returns *returns, const struct saved *saved, int32_t count)
{
    int64_t saving = 0, production = 0;
    for (int32_t i = count - 1;
         i >= 0 && (i == count - 1 || returns->last_day - saved[i].from_day <= YEAR_DAYS + 31); i--) {
        saving += saved[i].saving - saved[i].settled;
        production += saved[i].production;
        returns->year_days += saved[i].to_day - saved[i].from_day;
        if (returns->year_days >= YEAR_LEAST)
            break;
    }
    if (returns->year_days > 0) {
        returns->year_saving =
            multiply_round(saving, YEAR_DAYS, returns->year_days) + settled_in_year(returns, saved, count);
        returns->year_production = multiply_round(production, YEAR_DAYS, returns->year_days);
    }
    returns->simple_return =
        returns->paid > 0 ? multiply_round(returns->year_saving, MILLION, returns->paid) : UNKNOWN;
}

/* ---- from here on ---- */

static double grown(double per_year, int32_t years)
{
    return pow(1 + per_year / MILLION, years);
}

static void project(struct returns *returns, const struct contract_file *contract)
{
    const struct contract_projection *projection = &contract->projection;
    int64_t begin_day = contract->part_count > 0 ? contract->parts[0].commissioned : returns->first_day;
    returns->end_day = years_after(begin_day, projection->life_years);
    for (int32_t year = 1; returns->last_day + (int64_t)(year - 1) * YEAR_DAYS < returns->end_day; year++) {
        int64_t from_day = years_after(returns->last_day, year - 1),
                to_day = years_after(returns->last_day, year);
        int64_t end_day = to_day < returns->end_day ? to_day : returns->end_day;
        double share = end_day > from_day ? (double)(end_day - from_day) / (double)(to_day - from_day) : 0;
        if (share <= 0)
            break;
        struct returns_flow *flow = add(returns, end_day - 1, true);
        flow->from_day = from_day;
        flow->saving =
            (int64_t)llround((double)returns->year_saving * grown(-(double)projection->degradation, year) *
                             grown((double)projection->escalation, year) * share);
        flow->operating = -(int64_t)llround((double)projection->operating *
                                            grown((double)projection->operating_escalation, year) * share);
    }
    int64_t replaced_day = years_after(begin_day, projection->replacement_year);
    if (projection->replacement_year > 0 && replaced_day >= returns->last_day &&
        replaced_day < returns->end_day)
        add(returns, replaced_day, true)->cost = -projection->replacement;
    for (int32_t i = 0; i < contract->cost_count; i++)
        if (contract->costs[i].day >= returns->last_day && contract->costs[i].day < returns->end_day)
            add(returns, contract->costs[i].day, true)->cost = -contract->costs[i].amount;
}

/* The day within a flow's on which a sum that was below 0 reaches it. */
static int64_t day_of_payback(const struct returns_flow *flow, int64_t before)
{
    int64_t days = flow->day - flow->from_day, net = net_of(flow);
    return flow->from_day + (days > 0 && net > 0 ? multiply_round(-before, days, net) : days);
}

static void find_payback(struct returns *returns)
{
    int64_t sum = 0;
    bool was_below = false;
    returns->payback_day = UNKNOWN;
    for (int32_t i = 0; i < returns->flow_count; i++) {
        int64_t before = sum;
        sum += net_of(&returns->flows[i]);
        was_below |= sum < 0;
        if (sum < 0) {
            returns->payback_day = UNKNOWN; /* a later cost takes it back */
        } else if (was_below && returns->payback_day == UNKNOWN) {
            returns->payback_day = day_of_payback(&returns->flows[i], before);
            returns->payback_projected = returns->flows[i].projected;
        }
    }
}

/* Worth at the end of the life of what is put at the deposit's rate on its day. */
static double wealth(const struct returns *returns, double rate, bool plant)
{
    double sum = 0;
    for (int32_t i = 0; i < returns->flow_count; i++) {
        const struct returns_flow *flow = &returns->flows[i];
        double years = (double)(returns->end_day - flow->day) / YEAR_DAYS;
        double amount = (double)(plant ? flow->saving + flow->operating : -flow->cost) / MILLION;
        if (plant && flow->projected)
            amount += (double)flow->cost / MILLION; /* a replacement is paid from the savings */
        if (!plant && flow->projected)
            amount = 0;
        sum += amount * pow(1 + rate, years);
    }
    return sum;
}

static void value(struct returns *returns, const struct contract_file *contract)
{
    const struct contract_projection *projection = &contract->projection;
    struct flow_of_money *flows = calloc((size_t)returns->flow_count + 1, sizeof(*flows));
    double deposit = (double)projection->deposit / MILLION;
    for (int32_t i = 0; flows && i < returns->flow_count; i++)
        flows[i] =
            (struct flow_of_money){ returns->flows[i].day, (double)net_of(&returns->flows[i]) / MILLION };
    if (flows) {
        returns->present_value =
            net_present_value_dated((double)projection->discount / MILLION, flows, returns->flow_count);
        returns->rate_count = internal_rates_dated(flows, returns->flow_count, returns->rates, RETURNS_RATES);
    }
    free(flows);
    double replacement =
        projection->replacement_year > 0
            ? (double)projection->replacement /
                  pow(1 + (double)projection->discount / MILLION, projection->replacement_year)
            : 0;
    returns->levelised = returns->year_production > 0
                             ? levelised_cost(((double)returns->paid + replacement) / MILLION,
                                              (double)projection->operating / MILLION,
                                              (double)projection->operating_escalation / MILLION,
                                              (double)returns->year_production / MILLION,
                                              (double)projection->degradation / MILLION,
                                              (double)projection->discount / MILLION, projection->life_years)
                             : NAN;
    returns->plant_wealth = wealth(returns, deposit, true);
    returns->deposit_wealth = wealth(returns, deposit, false);
}

void returns_make(struct returns *returns, const struct contract_file *contract, const struct saved *saved,
                  int32_t saved_count)
{
    *returns = (struct returns){ .has_projection = contract->has_projection, .payback_day = UNKNOWN };
    take_realised(returns, contract, saved, saved_count);
    take_year(returns, saved, saved_count);
    if (contract->has_projection)
        project(returns, contract);
    qsort(returns->flows, (size_t)returns->flow_count, sizeof(returns->flows[0]), by_day);
    find_payback(returns);
    if (contract->has_projection)
        value(returns, contract);
}
