/* links: tools/bills/conventions.c tools/money/money.c daemon/record/muldiv.c */
/* What sheets call a saving, beside what bills say: made by hand, trade facts say where each is right. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "conventions.h"

#define KWH(x)   ((int64_t)(x)*1000000)
#define MONEY(x) ((int64_t)((x)*1e6 + ((x) < 0 ? -0.5 : 0.5)))

static int64_t says(enum convention convention, const struct saving *saving)
{
    return convention_saving(convention, saving);
}

/* 300 kWh used, 200 made, 80 of them used at once; one rate of 6 for import and of 2 for export, nothing
 * fixed. */
static void test_flat(void **state)
{
    struct saving saving = { .consumption = KWH(300),
                             .import = KWH(220),
                             .export = KWH(120),
                             .production = KWH(200),
                             .without = MONEY(1800),
                             .with = MONEY(1320 - 240),
                             .saved = MONEY(720),
                             .export_value = MONEY(240) };
    (void)state;
    assert_int_equal(says(CONVENTION_FIXED_AGAINST_PLANT, &saving), saving.saved);
    assert_int_equal(says(CONVENTION_PRODUCTION_AT_AVERAGE, &saving), MONEY(1200)); /* too high */
    assert_int_equal(says(CONVENTION_SELF_USE_AND_EXPORT, &saving), saving.saved);  /* right */
    saving.fixed = MONEY(45);
    saving.without += saving.fixed; /* due either way: 1845 for 300 kWh are 6.15 */
    saving.with += saving.fixed;
    assert_int_equal(says(CONVENTION_FIXED_AGAINST_PLANT, &saving), saving.saved - MONEY(45));
    assert_int_equal(says(CONVENTION_PRODUCTION_AT_AVERAGE, &saving), MONEY(1230));
    assert_int_equal(says(CONVENTION_SELF_USE_AND_EXPORT, &saving), MONEY(732));
}

/* Slabs of 100 at 3, 100 at 5, the rest at 9: what the plant takes off is the dearest of it. */
static void test_slabs(void **state)
{
    struct saving saving = { .consumption = KWH(300),
                             .import = KWH(200),
                             .production = KWH(100),
                             .without = MONEY(1700),
                             .with = MONEY(800),
                             .saved = MONEY(900) };
    (void)state;
    assert_int_equal(says(CONVENTION_SELF_USE_AND_EXPORT, &saving), 566666667); /* a third too low */
    assert_int_equal(says(CONVENTION_PRODUCTION_AT_AVERAGE, &saving), 566666667);
}

static void test_nothing_to_reckon_from(void **state)
{
    struct saving saving = {
        .production = KWH(200), .export = KWH(200), .export_value = MONEY(400), .saved = MONEY(400)
    };
    (void)state;
    assert_int_equal(says(CONVENTION_PRODUCTION_AT_AVERAGE, &saving), UNKNOWN); /* nothing was used */
    assert_int_equal(says(CONVENTION_SELF_USE_AND_EXPORT, &saving), UNKNOWN);
    saving.consumption = KWH(100);
    saving.export_value = UNKNOWN;
    assert_int_equal(says(CONVENTION_SELF_USE_AND_EXPORT, &saving), UNKNOWN);
    assert_int_equal(says(CONVENTION_FIXED_AGAINST_PLANT, &saving), MONEY(400));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_flat),
        cmocka_unit_test(test_slabs),
        cmocka_unit_test(test_nothing_to_reckon_from),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
