/* Returns on money: pure, in binary fractions (a bill has none, a projection may). Rates are per period, as
 * in 0.08. */
#ifndef METERBOOK_FINANCE_H
#define METERBOOK_FINANCE_H

#include <stdbool.h>
#include <stdint.h>

/* A payment on a civil day: above 0 received. */
struct flow_of_money {
    int64_t day;
    double amount;
};

/* Present value of values[0], values[1] ... at the ends of periods 0, 1 ...: the first is not discounted. */
double net_present_value(double rate, const double *values, int32_t count);
/* The same of dated payments, discounted from the first one's day, a year being 365 days. */
double net_present_value_dated(double rate, const struct flow_of_money *flows, int32_t count);

/* Internal rates of return: rates above -100 % at which the present value is zero, rising, up to `most` of
 * them. Returns how many there are: 0 where all payments go one way, more than 1 where their sign changes
 * more than once: then no one of them is the return. */
int32_t internal_rates(const double *values, int32_t count, double *rates, int32_t most);
int32_t internal_rates_dated(const struct flow_of_money *flows, int32_t count, double *rates, int32_t most);

/* Modified: what is paid is financed, what is received reinvested, at rates of their own. Not a number where
 * all go one way. */
double modified_internal_rate(const double *values, int32_t count, double finance_rate, double reinvest_rate);

/* What a loan of one unit costs in each of `periods`, at their ends: the capital recovery factor. */
double recovery_factor(double rate, int32_t periods);

/* Cost of a unit of energy over a life: the present value of all costs over that of what is made, both at the
 * ends of years 1 to `years`, the investment at 0; operating cost
 * grows by `escalation` from year to year. */
double levelised_cost(double investment, double operating, double escalation, double energy,
                      double degradation, double rate, int32_t years);

/* Wealth at the end of the last period where each payment is put at, or taken from, an account at this rate.
 */
double end_wealth(double rate, const double *values, int32_t count);

#endif
