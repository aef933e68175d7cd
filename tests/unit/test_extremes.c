/* links: tools/balance/extremes.c tools/output/number.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "extremes.h"

enum { DAY = 86400 };

static const struct balance nothing = {
    UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN,
    UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN,
};

static struct answer_row day_of(int32_t number, int64_t production)
{
    struct answer_row row = { .from_s = (int64_t)number * DAY,
                              .to_s = (int64_t)(number + 1) * DAY,
                              .span_s = DAY,
                              .sources = SOURCE_RECORD,
                              .balance = nothing };
    row.balance.production = production;
    return row;
}

static struct extremes extremes;

static void add(const int64_t *energies, int32_t count)
{
    for (int32_t i = 0; i < count; i++) {
        struct answer_row row = day_of(i, energies[i]);
        extremes_add(&extremes, &row);
    }
}

static void assert_days(const struct extreme_day *list, int32_t count, const int32_t *days)
{
    for (int32_t i = 0; i < count; i++)
        assert_int_equal(list[i].from_s / DAY, days[i]);
}

static void test_order(void **state)
{
    /* two are equal: the earlier is first; negative ones are days like others */
    static const int64_t energies[] = { 5, 9, -2, 9, 0, 7, -2, 8 };
    (void)state;
    extremes_init(&extremes, EXTREMES_PRODUCTION, 3);
    add(energies, 8);
    assert_int_equal(extremes.high_count, 3);
    assert_int_equal(extremes.low_count, 3);
    assert_int_equal(extremes.days, 8);
    assert_days(extremes.high, 3, (int32_t[]){ 1, 3, 7 });
    assert_days(extremes.low, 3, (int32_t[]){ 2, 6, 4 });
}

static void test_few_days(void **state)
{
    static const int64_t energies[] = { 5, 9 };
    (void)state;
    extremes_init(&extremes, EXTREMES_PRODUCTION, EXTREMES_MOST);
    add(energies, 2);
    assert_int_equal(extremes.high_count, 2);
    assert_days(extremes.high, 2, (int32_t[]){ 1, 0 });
    assert_days(extremes.low, 2, (int32_t[]){ 0, 1 });
}

static void test_most_days(void **state)
{
    (void)state;
    extremes_init(&extremes, EXTREMES_PRODUCTION, EXTREMES_MOST);
    for (int32_t i = 0; i < 3 * EXTREMES_MOST; i++) {
        struct answer_row row = day_of(i, (int64_t)i * 7919 % 1009);
        extremes_add(&extremes, &row);
    }
    assert_int_equal(extremes.high_count, EXTREMES_MOST);
    assert_int_equal(extremes.low_count, EXTREMES_MOST);
    for (int32_t i = 1; i < EXTREMES_MOST; i++) {
        assert_true(extremes.high[i].energy <= extremes.high[i - 1].energy);
        assert_true(extremes.low[i].energy >= extremes.low[i - 1].energy);
    }
}

/* A day that lacks something may have had more: it is no lowest day, and marked among the highest. */
static void test_not_observed(void **state)
{
    struct answer_row row = day_of(0, 1);
    (void)state;
    extremes_init(&extremes, EXTREMES_PRODUCTION, 3);
    row.lost_s = 1;
    extremes_add(&extremes, &row);
    assert_int_equal(extremes.unobserved, 1);
    assert_int_equal(extremes.low_count, 0);
    assert_int_equal(extremes.high_count, 1);
    assert_int_equal(extremes.high[0].observed, 999988);
}

static void test_in_part(void **state)
{
    struct answer_row first = day_of(0, 1), unknown = day_of(1, UNKNOWN);
    (void)state;
    extremes_init(&extremes, EXTREMES_PRODUCTION, 3);
    first.span_s = DAY - 300;
    extremes_add(&extremes, &first);
    extremes_add(&extremes, &unknown);
    assert_int_equal(extremes.in_part, 2);
    assert_int_equal(extremes.days, 0);
    assert_int_equal(extremes.high_count + extremes.low_count, 0);
}

static void test_figures(void **state)
{
    struct answer_row row = day_of(0, 1);
    row.balance.import = 2;
    row.balance.export = 3;
    row.balance.consumption = 4;
    row.balance.self_consumption = 5;
    (void)state;
    for (int32_t i = 0; i < EXTREMES_FIGURES; i++) {
        extremes_init(&extremes, (enum extremes_of)i, 1);
        extremes_add(&extremes, &row);
        assert_int_equal(extremes.high[0].energy, i + 1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_order),     cmocka_unit_test(test_few_days),
        cmocka_unit_test(test_most_days), cmocka_unit_test(test_not_observed),
        cmocka_unit_test(test_in_part),   cmocka_unit_test(test_figures),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
