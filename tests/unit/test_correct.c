/* links: daemon/record/correct.c daemon/record/muldiv.c */
/* Corrections of single rows: pure arithmetic. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "correct.h"
#include "muldiv.h"
#include "schema.h"

static struct correct_row row_with(int64_t import, int64_t export)
{
    return (struct correct_row){
        .energy = { import, export, CORRECT_NONE, CORRECT_NONE, CORRECT_NONE, CORRECT_NONE },
        .power = 100,
        .power_min = -20,
        .power_max = 300,
        .voltage = 23000,
    };
}

static void test_ratio_telescopes(void **state)
{
    (void)state;
    /* 100/5 was set, 150/7 was true: times 15/14, which no row divides by. */
    struct correction correction = {
        .what = CORRECT_RATIO, .from_s = 0, .to_s = 300000, .up = 15, .down = 14
    };
    int64_t before = 0, after = 0;
    for (int64_t i = 0; i < 1000; i++) {
        struct correct_row row = row_with(1 + i * 7919 % 23, 0);
        before += row.energy[0];
        assert_true(correct_apply(&correction, i * 300, 300, &row, NULL));
        after += row.energy[0];
        assert_int_equal(after, before * 15 / 14);
        assert_int_equal(row.energy[1], 0);
        assert_true(row.energy[2] == CORRECT_NONE);
        assert_int_equal(row.how, HOW_MEASURED | HOW_CORRECTED);
        assert_int_equal(row.power, 107);
        assert_int_equal(row.power_max, 321);
    }
}

static void test_ratio_keeps_what_does_not_fit(void **state)
{
    (void)state;
    struct correction correction = {
        .what = CORRECT_RATIO, .from_s = 0, .to_s = 600, .up = 1000000, .down = 1
    };
    struct correct_row row = row_with(INT64_C(1) << 60, 0), was = row;
    assert_false(correct_apply(&correction, 0, 300, &row, NULL));
    assert_memory_equal(&row, &was, sizeof row);
}

static void test_edge_splits_by_time(void **state)
{
    (void)state;
    struct correction correction = { .what = CORRECT_EXCHANGED, .from_s = 0, .to_s = 700 };
    struct correct_row row = row_with(900, 30);
    /* a third of [600, 900): 300 and 10 change places */
    assert_true(correct_apply(&correction, 600, 300, &row, NULL));
    assert_int_equal(row.energy[0], 610);
    assert_int_equal(row.energy[1], 320);
    assert_int_equal(row.estimated, 930);
    assert_int_equal(row.how, HOW_ESTIMATED | HOW_CORRECTED);
    assert_true(row.power == CORRECT_NONE);
    struct correct_row beyond = row_with(900, 30), was = beyond;
    assert_false(correct_apply(&correction, 900, 300, &beyond, NULL));
    assert_memory_equal(&beyond, &was, sizeof beyond);
}

static void test_exchanged_turns_power(void **state)
{
    (void)state;
    struct correction correction = { .what = CORRECT_EXCHANGED, .from_s = 0, .to_s = 300 };
    struct correct_row row = row_with(CORRECT_NONE, 30);
    assert_true(correct_apply(&correction, 0, 300, &row, NULL));
    assert_int_equal(row.energy[0], 30);
    assert_true(row.energy[1] == CORRECT_NONE);
    assert_int_equal(row.power, -100);
    assert_int_equal(row.power_min, -300);
    assert_int_equal(row.power_max, 20);
    assert_int_equal(row.estimated, 0);
}

static void test_swapped(void **state)
{
    (void)state;
    struct correction correction = { .what = CORRECT_SWAPPED, .from_s = 0, .to_s = 450 };
    struct correct_row a = row_with(100, 1), b = row_with(7, 50), was = a;
    b.voltage = 22900;
    assert_true(correct_apply(&correction, 0, 300, &a, &b));
    assert_int_equal(a.energy[0], 7);
    assert_int_equal(a.voltage, 22900);
    assert_int_equal(b.energy[1], 1);
    a = row_with(100, 1);
    b = row_with(7, 50);
    assert_true(correct_apply(&correction, 300, 300, &a, &b));
    assert_int_equal(a.energy[0], 100 - 50 + 3);
    assert_int_equal(b.energy[0], 7 + 50 - 3);
    assert_int_equal(a.energy[0] + b.energy[0], 107);
    assert_int_equal(a.energy[1] + b.energy[1], 51);
    /* one alone waits for the other */
    a = was;
    assert_false(correct_apply(&correction, 0, 300, &a, NULL));
    assert_memory_equal(&a, &was, sizeof a);
}

static void test_entered_stays(void **state)
{
    (void)state;
    static const enum logbook_what whats[] = { CORRECT_RATIO, CORRECT_EXCHANGED, CORRECT_SWAPPED };
    for (int i = 0; i < 3; i++)
        for (int side = 0; side < 2; side++) {
            struct correction correction = { .what = whats[i], .from_s = 0, .to_s = 300, .up = 3, .down = 2 };
            struct correct_row rows[2] = { row_with(100, 1), row_with(7, 50) };
            rows[side].how = HOW_ENTERED + side;
            struct correct_row was = rows[0];
            if (side == 1 && whats[i] != CORRECT_SWAPPED)
                continue;
            assert_false(correct_apply(&correction, 0, 300, &rows[0], &rows[1]));
            assert_memory_equal(&rows[0], &was, sizeof was);
        }
}

static void test_derived(void **state)
{
    (void)state;
    for (int64_t c = 0; c < 12; c++)
        for (int64_t p = 0; p < 12; p++)
            for (int64_t both = 0; both < 6; both++) {
                struct correct_row grid = row_with(5 + both, both);
                correct_derive(&grid, c, p);
                assert_int_equal(grid.energy[0] - grid.energy[1], c - p);
                assert_true(grid.energy[0] >= 0 && grid.energy[0] <= c);
                assert_true(grid.energy[1] >= 0 && grid.energy[1] <= p);
                int64_t kept = c < p ? grid.energy[0] : grid.energy[1];
                int64_t room = c < p ? c : p;
                assert_int_equal(kept, both < room ? both : room);
                assert_int_equal(grid.estimated, grid.energy[0] + grid.energy[1]);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ratio_telescopes),
        cmocka_unit_test(test_ratio_keeps_what_does_not_fit),
        cmocka_unit_test(test_edge_splits_by_time),
        cmocka_unit_test(test_exchanged_turns_power),
        cmocka_unit_test(test_swapped),
        cmocka_unit_test(test_entered_stays),
        cmocka_unit_test(test_derived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
