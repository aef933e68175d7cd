/* links: tools/plant/expected.c tools/balance/period.c tools/output/number.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c daemon/record/muldiv.c */
/* A promise of invented months beside invented days. The light of a clear sky is made up here: twice as much
 * in the first half of a month as in the second. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>

#include "calendar.h"
#include "expected.h"

enum { DAY_S = 86400 };

static struct civil *civil;

static void near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.9g, expected %.9g +- %g", value, expected, within);
}

double plant_clear_sky(const struct plant *plant, int64_t from_s, int64_t to_s)
{
    double light = 0;
    (void)plant;
    for (int64_t at = from_s; at < to_s; at += 3600) {
        int32_t year, month, day;
        civil_date(at / DAY_S, &year, &month, &day);
        light += day <= 15 ? 2 : 1;
    }
    return light;
}

static struct plant plant_of(double peak_kw)
{
    struct plant plant = { .peak_kw = peak_kw, .has_place = true, .expected = { .given = true } };
    for (int i = 0; i < 12; i++)
        plant.expected.kwh_per_kwp[i] = (i + 1) * 10000; /* 10 kWh per kWp in January, 20 in February ... */
    plant.expected.uncertainty_ppm = 50000;
    return plant;
}

/* Whole days from the first of a month of 2025 on, 1 kWh each. */
static struct yield yield_of(const struct plant *plant, int32_t month, int32_t count)
{
    struct yield yield = { .day_count = count, .days = calloc((size_t)count, sizeof *yield.days) };
    assert_non_null(yield.days);
    for (int32_t i = 0; i < count; i++) {
        int64_t day = civil_day_number(2025, month, 1) + i;
        yield.days[i] = (struct yield_day){ .day = day,
                                            .from_s = day * DAY_S,
                                            .to_s = (day + 1) * DAY_S,
                                            .length_s = DAY_S,
                                            .known_s = DAY_S,
                                            .made = 1000000,
                                            .plant = plant };
    }
    return yield;
}

static void whole_months(void **state)
{
    (void)state;
    struct plant plant = plant_of(2);
    struct yield yield = yield_of(&plant, 1, 59);
    struct expected found;
    assert_true(expected_find(&found, &yield, civil, ROW_MONTH));
    assert_int_equal(found.row_count, 2);
    near(found.rows[0].expected, 20, 1e-9);
    near(found.rows[1].expected, 40, 1e-9);
    near(found.rows[1].known, 1, 1e-9);
    assert_int_equal(found.rows[0].made, 31000000);
    near(found.total.expected, 60, 1e-9);
    near(found.total.known, 1, 1e-9);
    near(found.months, 2, 1e-9);
    assert_int_equal(found.verdict, EXPECTED_NO_VERDICT); /* two months are no year */
    expected_free(&found);
    /* kWh of the whole plant, whatever its peak power */
    for (int i = 0; i < 12; i++) {
        plant.expected.kwh[i] = 7500;
        plant.expected.kwh_per_kwp[i] = 0;
    }
    plant.peak_kw = 0;
    assert_true(expected_find(&found, &yield, civil, ROW_YEAR));
    assert_int_equal(found.row_count, 1);
    near(found.rows[0].expected, 15, 1e-9);
    expected_free(&found);
    free(yield.days);
}

/* April has 15 days of double light and 15 of single: the first 15 are two thirds. */
static void parts_of_a_month(void **state)
{
    (void)state;
    struct plant plant = plant_of(1);
    struct yield yield = yield_of(&plant, 4, 15);
    struct expected found;
    assert_true(expected_find(&found, &yield, civil, ROW_MONTH));
    near(found.rows[0].known, 2.0 / 3, 1e-9);
    near(found.rows[0].expected, 40 * 2.0 / 3, 1e-9);
    expected_free(&found);
    /* a day that nothing is known of, and one that is known by half */
    yield.days[0].made = UNKNOWN;
    yield.days[1].known_s = DAY_S / 2;
    assert_true(expected_find(&found, &yield, civil, ROW_MONTH));
    near(found.rows[0].expected, 40 * (30 - 3) / 45.0, 1e-9);
    assert_int_equal(found.rows[0].made, 14000000);
    expected_free(&found);
    /* evenly by time where the site is nowhere */
    plant.has_place = false;
    yield.days[0].made = 1000000;
    yield.days[1].known_s = DAY_S;
    assert_true(expected_find(&found, &yield, civil, ROW_MONTH));
    near(found.rows[0].expected, 20, 1e-9);
    expected_free(&found);
    free(yield.days);
}

static void verdict_of_a_year(void **state)
{
    (void)state;
    struct plant plant = plant_of(1);
    struct yield yield = yield_of(&plant, 1, 365);
    struct expected found;
    const struct {
        double share;
        enum expected_verdict verdict;
    } years[] = { { 0.94, EXPECTED_BELOW }, { 0.96, EXPECTED_WITHIN }, { 1.06, EXPECTED_ABOVE } };
    for (int i = 0; i < 3; i++) {
        for (int32_t d = 0; d < 365; d++)
            yield.days[d].made = llround(780e6 * years[i].share / 365);
        assert_true(expected_find(&found, &yield, civil, ROW_YEAR));
        near(found.total.expected, 780, 1e-6);
        assert_int_equal(found.verdict, years[i].verdict);
        expected_free(&found);
    }
    free(yield.days);
}

static void nothing_promised(void **state)
{
    (void)state;
    struct plant plant = plant_of(0);
    struct yield yield = yield_of(&plant, 1, 31);
    struct expected found;
    assert_true(expected_find(&found, &yield, civil, ROW_MONTH));
    assert_true(isnan(found.total.expected));
    assert_int_equal(found.verdict, EXPECTED_NO_VERDICT);
    expected_free(&found);
    yield.day_count = 0;
    assert_true(expected_find(&found, &yield, civil, ROW_MONTH));
    assert_int_equal(found.row_count, 0);
    expected_free(&found);
    free(yield.days);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(whole_months),
        cmocka_unit_test(parts_of_a_month),
        cmocka_unit_test(verdict_of_a_year),
        cmocka_unit_test(nothing_promised),
    };
    civil = civil_open("Etc/UTC");
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    civil_close(civil);
    return failed;
}
