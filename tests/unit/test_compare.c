/* links: tools/balance/compare.c tools/balance/period.c tools/output/number.c daemon/record/calendar.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "calendar.h"
#include "compare.h"

enum { DAY = 86400, HOUR = 3600 };
#define KWH INT64_C(1000000)

static int64_t day(int32_t year, int32_t month, int32_t date)
{
    return civil_day_number(year, month, date);
}

static void assert_period(struct period period, int64_t from_day, int64_t to_day)
{
    assert_int_equal(period.from_day, from_day);
    assert_int_equal(period.to_day, to_day);
}

static struct compare_span span_of(int64_t days, int64_t length_s, int64_t production, int64_t known_s)
{
    struct compare_span span = { .days = days, .length_s = length_s };
    int64_t unknown = UNKNOWN;
    for (size_t i = 0; i < sizeof(span.balance) / sizeof(unknown); i++)
        memcpy((char *)&span.balance + i * sizeof(unknown), &unknown, sizeof(unknown));
    span.balance.production = production;
    span.known_s[COMPARE_PRODUCTION] = known_s;
    return span;
}

/* February of 28 and of 29 days: a day's figure tells what the sums hide. */
static void test_by_day(void **state)
{
    struct compare_line lines[COMPARE_FIGURES];
    const struct compare_span spans[2] = { span_of(28, 28 * DAY, 280 * KWH, 28 * DAY),
                                           span_of(29, 29 * DAY, 232 * KWH, 29 * DAY) };
    (void)state;
    compare_make(spans, lines);
    const struct compare_line *line = &lines[COMPARE_PRODUCTION];
    assert_int_equal(line->side[0].energy, 280 * KWH);
    assert_int_equal(line->side[0].per_day, 10 * KWH);
    assert_int_equal(line->side[1].per_day, 8 * KWH);
    assert_int_equal(line->difference, 2 * KWH);
    assert_int_equal(line->difference_share, 250000);
    assert_true(lines[COMPARE_IMPORT].side[0].per_day == UNKNOWN);
    assert_true(lines[COMPARE_IMPORT].difference == UNKNOWN);
}

/* A day of 23 hours is a day: 31 of them in a March whose clock goes forward. Half of it known: half the
 * days. */
static void test_known_days(void **state)
{
    struct compare_line lines[COMPARE_FIGURES];
    const int64_t march_s = 31 * DAY - HOUR;
    const struct compare_span spans[2] = { span_of(31, march_s, 310 * KWH, march_s),
                                           span_of(31, march_s, 155 * KWH, march_s / 2) };
    (void)state;
    compare_make(spans, lines);
    assert_int_equal(lines[COMPARE_PRODUCTION].side[0].per_day, 10 * KWH);
    assert_int_equal(lines[COMPARE_PRODUCTION].side[1].per_day, 10 * KWH);
    assert_int_equal(lines[COMPARE_PRODUCTION].difference, 0);
}

static void test_nothing_known(void **state)
{
    struct compare_line lines[COMPARE_FIGURES];
    const struct compare_span spans[2] = { span_of(1, DAY, KWH, DAY), span_of(1, DAY, 0, DAY) };
    const struct compare_span dark[2] = { span_of(1, DAY, KWH, DAY), span_of(1, DAY, KWH, 0) };
    (void)state;
    compare_make(spans, lines);
    assert_int_equal(lines[COMPARE_PRODUCTION].difference, KWH);
    assert_true(lines[COMPARE_PRODUCTION].difference_share == UNKNOWN); /* of nothing */
    compare_make(dark, lines);
    assert_true(lines[COMPARE_PRODUCTION].side[1].per_day == UNKNOWN);
    assert_true(lines[COMPARE_PRODUCTION].difference == UNKNOWN);
}

static void test_year_before(void **state)
{
    (void)state;
    assert_period(compare_year_before(&(struct period){ day(2026, 3, 1), day(2026, 4, 1) }, false),
                  day(2025, 3, 1), day(2025, 4, 1));
    assert_period(compare_year_before(&(struct period){ day(2024, 2, 1), day(2024, 3, 1) }, false),
                  day(2023, 2, 1), day(2023, 3, 1));
    assert_period(compare_year_before(&(struct period){ day(2024, 2, 29), day(2024, 3, 1) }, false),
                  day(2023, 3, 1), day(2023, 3, 2));
    /* week 10 of 2026 and of 2025; 2020 had 53 weeks, so week 10 of 2021 lies 53 after that of 2020 */
    assert_period(compare_year_before(&(struct period){ day(2026, 3, 2), day(2026, 3, 9) }, true),
                  day(2025, 3, 3), day(2025, 3, 10));
    assert_period(compare_year_before(&(struct period){ day(2021, 3, 8), day(2021, 3, 15) }, true),
                  day(2020, 3, 2), day(2020, 3, 9));
}

static void test_cut(void **state)
{
    struct period over[2] = { { day(2026, 3, 1), day(2026, 4, 1) }, { day(2025, 3, 1), day(2025, 4, 1) } };
    (void)state;
    assert_int_equal(compare_cut(over, day(2026, 4, 1)), -1);
    assert_period(over[0], day(2026, 3, 1), day(2026, 4, 1));

    struct period month[2] = { { day(2026, 3, 1), day(2026, 4, 1) }, { day(2025, 3, 1), day(2025, 4, 1) } };
    assert_int_equal(compare_cut(month, day(2026, 3, 30)), 0);
    assert_period(month[0], day(2026, 3, 1), day(2026, 3, 30));
    assert_period(month[1], day(2025, 3, 1), day(2025, 3, 30));

    /* by date, not by count: 29 February stands between */
    struct period year[2] = { { day(2025, 1, 1), day(2026, 1, 1) }, { day(2024, 1, 1), day(2025, 1, 1) } };
    assert_int_equal(compare_cut(year, day(2025, 3, 11)), 0);
    assert_period(year[1], day(2024, 1, 1), day(2024, 3, 11));

    /* the second goes on, and begins on another date */
    struct period other[2] = { { day(2026, 2, 1), day(2026, 3, 1) }, { day(2026, 3, 2), day(2026, 4, 1) } };
    assert_int_equal(compare_cut(other, day(2026, 3, 12)), 1);
    assert_period(other[0], day(2026, 2, 1), day(2026, 2, 11));
    assert_period(other[1], day(2026, 3, 2), day(2026, 3, 12));

    /* nothing yet */
    struct period today[2] = { { day(2026, 3, 30), day(2026, 3, 31) },
                               { day(2025, 3, 30), day(2025, 3, 31) } };
    assert_int_equal(compare_cut(today, day(2026, 3, 30)), 0);
    assert_int_equal(today[0].from_day, today[0].to_day);
    assert_int_equal(today[1].from_day, today[1].to_day);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_by_day),        cmocka_unit_test(test_known_days),
        cmocka_unit_test(test_nothing_known), cmocka_unit_test(test_year_before),
        cmocka_unit_test(test_cut),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
