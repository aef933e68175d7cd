/* links: tools/money/finance.c daemon/record/calendar.c */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "calendar.h"
#include "finance.h"

#define NEAR(a, b, by) assert_true(fabs((a) - (b)) <= (by))
#define COUNT(values)  ((int32_t)(sizeof(values) / sizeof((values)[0])))

static double rate_of(const double *values, int32_t count)
{
    double rates[8];
    assert_int_equal(internal_rates(values, count, rates, 8), 1);
    return rates[0];
}

/* numpy-financial: the docstring of npv (after Gitman), its tests of npv and irr. */
static void test_published(void **state)
{
    static const double gitman[] = { -40000, 5000, 8000, 12000, 30000 };
    static const double tested[] = { -15000, 1500, 2500, 3500, 4500, 6000 };
    static const double growing[] = { -150000, 15000, 25000, 35000, 45000, 60000 };
    static const double four[] = { -100, 39, 59, 55, 20 };
    static const double late[] = { -100, 0, 0, 74 }, early[] = { -100, 100, 0, 7 },
                        lost[] = { -100, 100, 0, -7 };
    static const double five[] = { -5, 10.5, 1, -8, 1 };
    static const double manual[] = { -70000, 12000, 15000, 18000, 21000, 26000 };
    static const double modified[] = { -120000, 39000, 30000, 21000, 37000, 46000 };
    double rates[8];
    (void)state;
    NEAR(net_present_value(0.08, gitman, COUNT(gitman)), 3065.22267, 0.00001);
    NEAR(net_present_value(0.05, tested, COUNT(tested)), 122.8949, 0.0001);
    NEAR(rate_of(growing, COUNT(growing)), 0.0524329, 1e-7);
    NEAR(rate_of(four, COUNT(four)), 0.28095, 1e-5);
    NEAR(rate_of(late, COUNT(late)), -0.0955, 1e-4);
    NEAR(rate_of(early, COUNT(early)), 0.06206, 1e-5);
    /* signs change twice in these: the published rate is one of the solutions, and we say that there are more
     */
    int32_t count = internal_rates(lost, COUNT(lost), rates, 8);
    assert_int_equal(count, 2);
    NEAR(rates[1], -0.0833, 1e-4);
    count = internal_rates(five, COUNT(five), rates, 8);
    assert_true(count > 1);
    bool found = false;
    for (int32_t i = 0; i < count; i++)
        found |= fabs(rates[i] - 0.0886) < 1e-4;
    assert_true(found);
    /* computed; manuals of spreadsheets print 8.7 % (from memory) */
    NEAR(rate_of(manual, COUNT(manual)), 0.0866, 1e-4);
    /* numpy-financial, test of mirr */
    NEAR(modified_internal_rate(modified, COUNT(modified), 0.10, 0.12), 0.126094, 1e-6);
}

/* All one way: there is no rate, and nothing is made up. */
static void test_no_solution(void **state)
{
    static const double paid[] = { -100, -20, -3 }, received[] = { 100, 20 };
    double rates[2] = { -7, -7 };
    (void)state;
    assert_int_equal(internal_rates(paid, COUNT(paid), rates, 2), 0);
    assert_int_equal(internal_rates(received, COUNT(received), rates, 2), 0);
    NEAR(rates[0], -7, 0);
    assert_true(isnan(modified_internal_rate(paid, COUNT(paid), 0.1, 0.1)));
}

/* A spreadsheet vendor's page of its function XIRR; XNPV of the same at 9 % computed. */
static void test_dated(void **state)
{
    const struct flow_of_money flows[] = {
        { civil_day_number(2008, 1, 1), -10000 }, { civil_day_number(2008, 3, 1), 2750 },
        { civil_day_number(2008, 10, 30), 4250 }, { civil_day_number(2009, 2, 15), 3250 },
        { civil_day_number(2009, 4, 1), 2750 },
    };
    double rates[2];
    (void)state;
    assert_int_equal(internal_rates_dated(flows, COUNT(flows), rates, 2), 1);
    NEAR(rates[0], 0.373362535, 1e-8);
    NEAR(net_present_value_dated(0.09, flows, COUNT(flows)), 2086.65, 0.005);
}

/* Annuity: numpy-financial, pmt(0.08 / 12, 60, 15000) = -304.145914. Factors computed from the formula of the
 * capital recovery factor; levelised cost of 5 kW at 16 % (7008 kWh a year), cost 250000, 2500 a year, 8 %,
 * 25 years computed both by the factor and as a discounted sum. Masters, Renewable and Efficient Electric
 * Power Systems, example 5.6: extra 1000 saves 200 a year: "just over 15 %" over 10 years, "between 19 and 21
 * %" over 20. */
static void test_annuities(void **state)
{
    double ten[11] = { -1000 }, twenty[21] = { -1000 };
    (void)state;
    NEAR(15000 * recovery_factor(0.08 / 12, 60), 304.145914, 1e-6);
    NEAR(recovery_factor(0.03, 30), 0.0510193, 1e-7);
    NEAR(recovery_factor(0.07, 20), 0.0943929, 1e-7);
    NEAR(recovery_factor(0.08, 25), 0.0936788, 1e-7);
    NEAR(recovery_factor(0.10, 25), 0.1101681, 1e-7);
    NEAR(recovery_factor(0, 25), 0.04, 1e-12);
    NEAR(levelised_cost(250000, 2500, 0, 7008, 0, 0.08, 25), 3.69859, 1e-5);
    /* two years, no interest: 100 and 10 and 11 over 10 and 10 */
    NEAR(levelised_cost(100, 10, 0.1, 10, 0, 0, 2), 121 / 20.0, 1e-12);
    NEAR((250000 * recovery_factor(0.08, 25) + 2500) / 7008, 3.69859, 1e-5);
    NEAR(levelised_cost(250000, 2500, 0, 7008, 0.005, 0.08, 25), 3.85217, 1e-5);
    for (int32_t i = 1; i <= 20; i++)
        twenty[i] = 200;
    for (int32_t i = 1; i <= 10; i++)
        ten[i] = 200;
    NEAR(rate_of(ten, 11), 0.15098, 1e-5);
    NEAR(rate_of(twenty, 21), 0.19426, 1e-5);
}

/* "15 % simple": cost 180000, 27000 a year falling by 0.5 %. Computed with another program. */
static void test_life(void **state)
{
    static const struct {
        int32_t years;
        double rate;
    } rows[] = { { 7, 0.0086 }, { 10, 0.0771 }, { 15, 0.1194 }, { 25, 0.1400 } };
    (void)state;
    for (size_t i = 0; i < 4; i++) {
        double values[26] = { -180000 };
        for (int32_t year = 1; year <= rows[i].years; year++)
            values[year] = 27000 * pow(0.995, year - 1);
        NEAR(rate_of(values, rows[i].years + 1), rows[i].rate, 0.00005);
        /* a deposit returns its capital: at the internal rate the two end alike */
        double rate = rate_of(values, rows[i].years + 1);
        NEAR(end_wealth(rate, values, rows[i].years + 1), 0, 0.01);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_published), cmocka_unit_test(test_no_solution), cmocka_unit_test(test_dated),
        cmocka_unit_test(test_annuities), cmocka_unit_test(test_life),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
