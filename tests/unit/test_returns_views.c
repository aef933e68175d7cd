/* links: tools/money/returns_views.c tools/output/number.c daemon/record/calendar.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "calendar.h"
#include "number.h"
#include "returns_views.h"

static const struct returns_figure *find(const struct returns_figure *figures, int32_t count,
                                         const char *name)
{
    for (int32_t i = 0; i < count; i++)
        if (strcmp(figures[i].name, name) == 0)
            return &figures[i];
    return NULL;
}

/* A year that has both kinds says so; sums go on over years. */
static void test_years(void **state)
{
    (void)state;
    static struct returns returns = { .flow_count = 4 };
    returns.flows[0] = (struct returns_flow){ civil_day_number(2024, 12, 31), false, -100, 0, 0, 0 };
    returns.flows[1] = (struct returns_flow){ civil_day_number(2025, 1, 1), false, 0, 30, 0, 0 };
    returns.flows[2] = (struct returns_flow){ civil_day_number(2025, 12, 31), true, 0, 40, -5, 0 };
    returns.flows[3] = (struct returns_flow){ civil_day_number(2027, 6, 1), true, -20, 60, -5, 0 };
    static const struct returns_year expected[] = {
        { 2024, true, false, -100, 0, 0, -100 },
        { 2025, true, true, 0, 70, -5, -35 },
        { 2027, false, true, -20, 60, -5, 0 },
    };
    struct returns_year year;
    int32_t at = 0;
    for (size_t i = 0; i < sizeof(expected) / sizeof(expected[0]); i++) {
        assert_true(returns_next_year(&returns, &at, &year));
        assert_int_equal(year.year, expected[i].year);
        assert_int_equal(year.realised, expected[i].realised);
        assert_int_equal(year.projected, expected[i].projected);
        assert_int_equal(year.cost, expected[i].cost);
        assert_int_equal(year.saving, expected[i].saving);
        assert_int_equal(year.operating, expected[i].operating);
        assert_int_equal(year.sum, expected[i].sum);
    }
    assert_false(returns_next_year(&returns, &at, &year));
}

/* What is realised and what is projected never share a row; no rate is one rate. */
static void test_figures(void **state)
{
    (void)state;
    struct returns_figure figures[RETURNS_FIGURES];
    struct contract_projection projection = { .deposit = 60000 };
    static struct returns returns = { .paid = 0, .first_day = 100, .payback_day = UNKNOWN };
    returns.simple_return = UNKNOWN;
    int32_t count = returns_figures(&returns, &projection, figures);
    assert_null(find(figures, count, "paid back"));
    assert_int_equal(find(figures, count, "of what was paid")->share, UNKNOWN);
    for (int32_t i = 0; i < count; i++)
        assert_false(figures[i].projected);
    assert_null(returns_rate_words(&returns));

    returns.has_projection = true;
    count = returns_figures(&returns, &projection, figures);
    assert_true(find(figures, count, "paid back: never within the life")->projected);
    assert_null(find(figures, count, "internal rate of return"));
    assert_non_null(strstr(returns_rate_words(&returns), "no solution"));

    returns.payback_day = 465;
    returns.rate_count = 2;
    count = returns_figures(&returns, &projection, figures);
    assert_false(find(figures, count, "paid back")->projected);
    assert_int_equal(find(figures, count, "paid back")->days, 365);
    assert_non_null(find(figures, count, "internal rate, one of several"));
    assert_non_null(strstr(returns_rate_words(&returns), "several solutions"));

    returns.payback_projected = true;
    returns.rate_count = 1;
    returns.rates[0] = 0.1234;
    count = returns_figures(&returns, &projection, figures);
    assert_true(find(figures, count, "paid back")->projected);
    assert_int_equal(find(figures, count, "internal rate of return")->share, 123400);
    assert_null(returns_rate_words(&returns));
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_years), cmocka_unit_test(test_figures) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
