#include "finance.h"

#include <math.h>
#include <stddef.h>

enum { STEPS = 4000, HALVINGS = 200, YEAR_DAYS = 365 };
/* Rates are looked for as log(1 + rate): from -99.99 % to 22000 % in steps of a quarter per cent and less. */
static const double least_log = -9.2, most_log = 5.4;

/* Payments with the periods after which they come. */
struct series {
    bool dated;
    const double *values;
    const struct flow_of_money *flows; /* instead, where they are dated */
    int32_t count;
};

static double amount_of(const struct series *series, int32_t i)
{
    return series->dated ? series->flows[i].amount : series->values[i];
}

static double time_of(const struct series *series, int32_t i)
{
    return series->dated ? (double)(series->flows[i].day - series->flows[0].day) / YEAR_DAYS : i;
}

static double value_at(const struct series *series, double log_rate)
{
    double sum = 0;
    for (int32_t i = 0; i < series->count; i++)
        sum += amount_of(series, i) * exp(-log_rate * time_of(series, i));
    return sum;
}

double net_present_value(double rate, const double *values, int32_t count)
{
    return value_at(&(struct series){ false, values, NULL, count }, log1p(rate));
}

double net_present_value_dated(double rate, const struct flow_of_money *flows, int32_t count)
{
    return value_at(&(struct series){ true, NULL, flows, count }, log1p(rate));
}

static double bisect(const struct series *series, double low, double high)
{
    bool rises = value_at(series, low) < 0;
    for (int32_t i = 0; i < HALVINGS; i++) {
        double middle = low + (high - low) / 2;
        if ((value_at(series, middle) < 0) == rises)
            low = middle;
        else
            high = middle;
    }
    return low + (high - low) / 2;
}

static bool goes_both_ways(const struct series *series)
{
    bool paid = false, received = false;
    for (int32_t i = 0; i < series->count; i++) {
        paid |= amount_of(series, i) < 0;
        received |= amount_of(series, i) > 0;
    }
    return paid && received;
}

/* Looks through all rates, so that a second solution is not missed; two that lie closer than a step are. */
static int32_t find_rates(const struct series *series, double *rates, int32_t most)
{
    int32_t count = 0;
    double step = (most_log - least_log) / STEPS, before = value_at(series, least_log);
    if (!goes_both_ways(series))
        return 0;
    for (int32_t i = 1; i <= STEPS; i++) {
        double at = least_log + i * step, value = value_at(series, at);
        if ((before < 0) != (value < 0) && before != 0) {
            if (count < most)
                rates[count] = expm1(bisect(series, at - step, at));
            count++;
        }
        before = value;
    }
    return count;
}

int32_t internal_rates(const double *values, int32_t count, double *rates, int32_t most)
{
    return find_rates(&(struct series){ false, values, NULL, count }, rates, most);
}

int32_t internal_rates_dated(const struct flow_of_money *flows, int32_t count, double *rates, int32_t most)
{
    return find_rates(&(struct series){ true, NULL, flows, count }, rates, most);
}

double modified_internal_rate(const double *values, int32_t count, double finance_rate, double reinvest_rate)
{
    double paid = 0, received = 0;
    for (int32_t i = 0; i < count; i++) {
        if (values[i] < 0)
            paid -= values[i] / pow(1 + finance_rate, i);
        else
            received += values[i] * pow(1 + reinvest_rate, count - 1 - i);
    }
    return paid > 0 && received > 0 ? pow(received / paid, 1.0 / (count - 1)) - 1 : NAN;
}

double recovery_factor(double rate, int32_t periods)
{
    return rate == 0 ? 1.0 / periods : rate / -expm1(-periods * log1p(rate));
}

double levelised_cost(double investment, double operating, double escalation, double energy,
                      double degradation, double rate, int32_t years)
{
    double cost = investment, made = 0;
    for (int32_t year = 1; year <= years; year++) {
        double discount = pow(1 + rate, -year);
        cost += operating * pow(1 + escalation, year - 1) * discount;
        made += energy * pow(1 - degradation, year - 1) * discount;
    }
    return made > 0 ? cost / made : NAN;
}

double end_wealth(double rate, const double *values, int32_t count)
{
    double wealth = 0;
    for (int32_t i = 0; i < count; i++)
        wealth = wealth * (1 + rate) + values[i];
    return wealth;
}
