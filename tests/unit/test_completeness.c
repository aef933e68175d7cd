/* links: tools/supply/completeness.c tools/output/number.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "completeness.h"
#include "schema.h"

enum { L = 300, METER = 7, START = 1780264800 };

static struct interval_row row_at(int32_t place, int32_t how, int64_t unobserved)
{
    int32_t method = how & HOW_METHOD_MASK;
    return (struct interval_row){ .start_s = START + (int64_t)place * L,
                                  .meter = METER,
                                  .import = 1000,
                                  .export = UNKNOWN,
                                  .estimated =
                                      method == HOW_INTERPOLATED || method == HOW_ESTIMATED ? 1000 : 0,
                                  .unobserved = unobserved,
                                  .how = how };
}

/* Each second and each mWh stands in one place. */
static void test_shares(void **state)
{
    (void)state;
    struct completeness_shares shares = completeness_nothing;
    const struct interval_row rows[] = {
        row_at(0, HOW_MEASURED, 0),     row_at(1, HOW_MEASURED, 40),
        row_at(2, HOW_INTERPOLATED, L), row_at(3, HOW_INTERPOLATED, 100),
        row_at(4, HOW_ESTIMATED, L),    row_at(5, HOW_ESTIMATED | HOW_SHAPED, L),
        row_at(6, HOW_ENTERED, 0),      row_at(7, HOW_ENTERED_ENERGY, 0),
        row_at(8, HOW_ASLEEP, 0),       row_at(9, HOW_MEASURED | HOW_CORRECTED | HOW_CLOCK, 0),
        row_at(10, HOW_BACK_DATED, L),  row_at(11, HOW_RE_DATED, 0),
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        completeness_row(&shares, &rows[i], L);
    completeness_expect(&shares, 14 * L);
    assert_int_equal(shares.rows, 12);
    assert_int_equal(shares.observed_s, 5 * L - 40 + 200);
    assert_int_equal(shares.entered_s, 2 * L);
    assert_int_equal(shares.interpolated_s, L + 100);
    assert_int_equal(shares.estimated_s, 2 * L);
    assert_int_equal(shares.unanswered_s, L + 40);
    assert_int_equal(shares.missing_s, 2 * L);
    assert_int_equal(shares.energy, 12000);
    assert_int_equal(shares.import, 12000);
    assert_int_equal(shares.export, UNKNOWN);
    assert_int_equal(shares.interpolated, 2000);
    assert_int_equal(shares.estimated, 2000);
    assert_int_equal(shares.entered, 2000);
    assert_int_equal(shares.corrected, 1000);
    assert_int_equal(shares.stepped + shares.back_dated + shares.re_dated, 3);
    /* what is lost never rounds away */
    completeness_expect(&shares, 100000 * (int64_t)L);
    assert_true(completeness_observed(&shares) < SHARE_ONE);
    shares = completeness_nothing;
    assert_int_equal(completeness_observed(&shares), UNKNOWN);
}

/* A closed day says the same as its rows. */
static void test_day(void **state)
{
    (void)state;
    struct completeness_shares rows = completeness_nothing, day = completeness_nothing, sum;
    for (int32_t i = 0; i < 288; i++) {
        struct interval_row row = row_at(i, HOW_MEASURED, 0);
        completeness_row(&rows, &row, L);
    }
    const struct day_row closed = { .from_s = START,
                                    .to_s = START + 86400,
                                    .import = 288000,
                                    .export = UNKNOWN,
                                    .rows = 288,
                                    .expected = 288 };
    completeness_day(&day, &closed);
    completeness_expect(&rows, 86400);
    completeness_expect(&day, 86400);
    assert_memory_equal(&rows, &day, sizeof day);
    sum = completeness_nothing;
    completeness_sum(&sum, &day);
    assert_memory_equal(&sum, &day, sizeof day);
    completeness_sum(&sum, &day);
    assert_int_equal(sum.energy, 576000);
    assert_int_equal(completeness_observed(&sum), SHARE_ONE);
}

/* More rows than the settings expect: the first began before them. */
static void test_more_than_expected(void **state)
{
    (void)state;
    struct completeness_shares shares = completeness_nothing;
    struct interval_row row = row_at(0, HOW_MEASURED, 0);
    completeness_row(&shares, &row, L);
    completeness_expect(&shares, 100);
    assert_int_equal(shares.missing_s, 0);
    assert_int_equal(completeness_observed(&shares), SHARE_ONE);
}

/* ---- gaps ---- */

struct found {
    struct completeness_gap gaps[400];
    int32_t count;
};

static void give(struct gap_search *search, struct found *found, int32_t place, int32_t how,
                 int64_t unobserved)
{
    struct interval_row row = row_at(place, how, unobserved);
    found->count += gap_search_row(search, &row, L, &found->gaps[found->count]);
}

static void test_gap(void **state)
{
    (void)state;
    struct gap_search search;
    struct found found = { 0 };
    gap_search_begin(&search, METER, START);
    give(&search, &found, 0, HOW_MEASURED, 0);
    give(&search, &found, 1, HOW_MEASURED, 60);
    give(&search, &found, 2, HOW_INTERPOLATED, L);
    give(&search, &found, 3, HOW_ESTIMATED | HOW_SHAPED, L);
    give(&search, &found, 5, HOW_MEASURED, 20); /* one lacks before it */
    assert_int_equal(found.count, 0);
    give(&search, &found, 6, HOW_MEASURED, 0);
    assert_int_equal(found.count, 1);
    const struct completeness_gap *gap = &found.gaps[0];
    assert_int_equal(gap->meter, METER);
    assert_int_equal(gap->from_s, START + 2 * L - 60);
    assert_int_equal(gap->to_s, START + 5 * L + 20);
    assert_int_equal(gap->unobserved_s, 60 + 3 * L + 20);
    assert_int_equal(gap->placed, 2000);
    assert_int_equal(gap->how, GAP_COUNTED | GAP_INTERPOLATED | GAP_SHAPED | GAP_MISSING);
    assert_false(gap->open);
    give(&search, &found, 7, HOW_ESTIMATED, L);
    assert_true(gap_search_whole(&search, START + 8 * L, START + 288 * L, &found.gaps[found.count]));
    assert_int_equal(found.gaps[1].how, GAP_EVENLY);
    assert_int_equal(found.gaps[1].from_s, START + 7 * L);
    assert_int_equal(found.gaps[1].to_s, START + 8 * L);
    assert_false(gap_search_end(&search, START + 288 * L, &found.gaps[2]));
    assert_true(gap_search_end(&search, START + 300 * L, &found.gaps[2]));
    assert_true(found.gaps[2].open);
    assert_int_equal(found.gaps[2].unobserved_s, 12 * L);
    assert_int_equal(found.gaps[2].how, GAP_MISSING);
}

/* What a flaky meter loses in each interval is no gap of hours. */
static void test_flaky(void **state)
{
    (void)state;
    struct gap_search search;
    struct found found = { 0 };
    gap_search_begin(&search, METER, START);
    for (int32_t i = 0; i < 100; i++)
        give(&search, &found, i, HOW_MEASURED, 5);
    give(&search, &found, 100, HOW_MEASURED, 0);
    assert_int_equal(found.count, 50);
    for (int32_t i = 0; i < found.count; i++)
        assert_int_equal(found.gaps[i].unobserved_s, 10);
}

/* By chance: all that is lost is in some gap, once, and gaps follow one another. */
static void test_any(void **state)
{
    uint64_t random = 20261125;
    (void)state;
    print_message("  seed %llu\n", (unsigned long long)random);
    for (int32_t run = 0; run < 500; run++) {
        struct gap_search search;
        struct found found = { 0 };
        struct completeness_shares shares = completeness_nothing;
        int64_t lost_s = 0, placed = 0;
        gap_search_begin(&search, METER, START);
        for (int32_t i = 0; i < 300; i++) {
            static const int32_t hows[] = { HOW_MEASURED, HOW_INTERPOLATED, HOW_ESTIMATED, HOW_ENTERED };
            random = random * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
            int32_t draw = (int32_t)(random >> 40) % 100, how = hows[(random >> 33) % 4];
            if (draw < 5 || (i > 200 && i < 210))
                continue;
            int64_t unobserved = draw < 15 ? L : draw < 30 ? 10 : 0;
            struct interval_row row = row_at(i, how, unobserved);
            if (unobserved == 0)
                row.estimated = 0;
            placed += row.estimated;
            completeness_row(&shares, &row, L);
            found.count += gap_search_row(&search, &row, L, &found.gaps[found.count]);
        }
        found.count += gap_search_end(&search, START + 300 * (int64_t)L, &found.gaps[found.count]);
        completeness_expect(&shares, 300 * (int64_t)L);
        for (int32_t i = 0; i < found.count; i++) {
            const struct completeness_gap *gap = &found.gaps[i];
            lost_s += gap->unobserved_s;
            placed -= gap->placed;
            assert_true(gap->to_s > gap->from_s);
            assert_true(gap->unobserved_s <= gap->to_s - gap->from_s);
            assert_true(gap->how != 0);
            assert_true(i == 0 || gap->from_s >= found.gaps[i - 1].to_s);
        }
        assert_int_equal(placed, 0);
        assert_int_equal(lost_s, shares.expected_s - shares.observed_s - shares.entered_s);
        assert_int_equal(lost_s,
                         shares.interpolated_s + shares.estimated_s + shares.unanswered_s + shares.missing_s);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shares),
        cmocka_unit_test(test_day),
        cmocka_unit_test(test_more_than_expected),
        cmocka_unit_test(test_gap),
        cmocka_unit_test(test_flaky),
        cmocka_unit_test(test_any),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
