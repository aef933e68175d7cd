/* links: tools/money/carbon.c tools/money/money.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tools/money/tariff.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "calendar.h"
#include "carbon.h"

#define KWH(x) ((int64_t)(x)*1000000)

static void say(void *self, bool error, const char *line)
{
    (void)self, (void)error;
    fprintf(stderr, "%s\n", line);
}

/* The file that comes with the program holds the published editions (standards.md section 6 names each), and
 * reads. */
static void test_editions(void **state)
{
    static const struct {
        const char *name;
        enum carbon_kind kind;
        int32_t year;
        int64_t per_kwh;
    } rows[] = {
        { "United States, avoided", CARBON_MARGINAL, 2019, 707000 },
        { "United States, avoided", CARBON_MARGINAL, 2021, 709000 },
        { "United States, avoided", CARBON_MARGINAL, 2023, 699000 },
        { "United States, consumed", CARBON_AVERAGE, 2021, 433000 },
        { "United States, consumed", CARBON_AVERAGE, 2023, 417000 },
        { "United States, avoided", CARBON_MARGINAL, 2017, 744000 },
        { "United States, consumed", CARBON_AVERAGE, 2025, 394000 },
        { "India, average", CARBON_AVERAGE, 2007, 790000 },
        { "India, average", CARBON_AVERAGE, 2008, 820000 },
        { "India, average", CARBON_AVERAGE, 2022, 716000 },
        { "India, average", CARBON_AVERAGE, 2023, 727000 },
        { "India, average", CARBON_AVERAGE, 2024, 710000 },
        { "India, combined margin for solar", CARBON_MARGINAL, 2023, 861000 },
    };
    struct problems problems = { .say = say };
    struct carbon_factors *factors = carbon_load("config/carbon/published.factors", &problems);
    enum carbon_fit fit;
    (void)state;
    if (!factors) {
        print_message("skipped: run in the checkout, where config/carbon is\n");
        skip();
    }
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        const struct carbon_factor *factor =
            carbon_at(factors, rows[i].name, rows[i].kind, civil_day_number(rows[i].year, 7, 1), &fit);
        assert_non_null(factor);
        assert_int_equal(factor->per_kwh, rows[i].per_kwh);
        assert_int_equal(fit, CARBON_OF_THE_DAY);
    }
    /* never past its time without a word */
    assert_non_null(carbon_at(factors, "India, average", CARBON_AVERAGE, civil_day_number(2026, 1, 1), &fit));
    assert_int_equal(fit, CARBON_EARLIER);
    assert_non_null(carbon_at(factors, "India, average", CARBON_AVERAGE, civil_day_number(2001, 1, 1), &fit));
    assert_int_equal(fit, CARBON_LATER);
    /* between two editions the earlier one stands */
    assert_int_equal(
        carbon_at(factors, "India, average", CARBON_AVERAGE, civil_day_number(2015, 1, 1), &fit)->per_kwh,
        820000);
    assert_null(carbon_at(factors, "India, average", CARBON_MARGINAL, civil_day_number(2023, 7, 1), &fit));
    free(factors);
}

/* 1000 kWh at 6.99e-4 t: 0.699 t, 11.65 seedlings of 0.060 t, 78.65 gallons of 8.887 kg (computed from the
 * Greenhouse Gas Equivalencies of 2023-24). */
static void test_masses(void **state)
{
    int64_t mass = carbon_of(KWH(1000), 699000);
    (void)state;
    assert_int_equal(mass, KWH(699));
    assert_int_equal(mass * 100 / KWH(60), 1165);
    assert_int_equal(mass * 1000 / 8887000 / 10, 7865);
    /* 948.718 kWh used where they are made stand for 1000 generated, where 5.1282 % are lost */
    assert_in_range(carbon_with_losses(948718000, 51282), 999999000, 1000001000);
    assert_int_equal(carbon_with_losses(KWH(7), 0), KWH(7));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_editions),
        cmocka_unit_test(test_masses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
