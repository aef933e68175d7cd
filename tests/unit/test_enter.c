/* links: daemon/record/enter.c daemon/record/muldiv.c */
/* Which of two rows stands, and what a gap becomes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "enter.h"
#include "schema.h"

enum { L = 900, MOST = 64 };

static struct enter_row row(int64_t import, int64_t export, int64_t unobserved_s, int how)
{
    return (struct enter_row){ .energy = { import, export, ENTER_NONE, ENTER_NONE },
                               .estimated = unobserved_s == L ? import : 0,
                               .unobserved_s = unobserved_s,
                               .how = (uint16_t)how };
}

/* Lowest rank first. */
static const struct {
    int64_t unobserved_s;
    int how;
} ladder[] = { { L, HOW_ESTIMATED }, { L, HOW_INTERPOLATED },   { L, HOW_ENTERED_ENERGY },
               { L, HOW_ENTERED },   { 0, HOW_ENTERED_ENERGY }, { 0, HOW_ENTERED },
               { 0, HOW_MEASURED } };
enum { RUNGS = sizeof(ladder) / sizeof(ladder[0]) };

static void test_ranks(void **state)
{
    (void)state;
    for (int i = 0; i < RUNGS; i++)
        for (int j = 0; j < RUNGS; j++)
            for (int replace = 0; replace < 2; replace++) {
                struct enter_row stored = row(100, 5, ladder[i].unobserved_s, ladder[i].how), result;
                struct enter_row entered = row(101, 5, ladder[j].unobserved_s, ladder[j].how);
                enum enter_verdict verdict = enter_merge(&stored, &entered, L, replace, &result);
                enum enter_verdict expected = j > i     ? ENTER_REPLACED
                                              : j < i   ? ENTER_LOWER
                                              : replace ? ENTER_REPLACED
                                                        : ENTER_DIFFERS;
                if (verdict != expected)
                    fail_msg("rung %d over %d, replace %d: %d", j, i, replace, verdict);
                if (verdict == ENTER_REPLACED)
                    assert_int_equal(result.energy[0], 101);
                entered.energy[0] = 100;
                entered.estimated = stored.estimated;
                if (i == j)
                    assert_int_equal(enter_merge(&stored, &entered, L, replace, &result), ENTER_EQUAL);
            }
    /* what a sleeping or partly watched meter measured is measured */
    struct enter_row asleep = row(0, 0, 0, HOW_ASLEEP), partly = row(1, 0, 300, HOW_INTERPOLATED);
    assert_int_equal(enter_rank(&asleep, L), RANK_MEASURED);
    assert_int_equal(enter_rank(&partly, L), RANK_MEASURED);
}

static void test_merge(void **state)
{
    (void)state;
    struct enter_row stored, entered, result;
    entered = row(100, ENTER_NONE, 0, HOW_ENTERED_ENERGY);
    assert_int_equal(enter_merge(NULL, &entered, L, false, &result), ENTER_NEW);
    assert_memory_equal(&result, &entered, sizeof result);
    /* the other register, then more of the time, then less of it */
    stored = row(100, ENTER_NONE, 0, HOW_ENTERED_ENERGY);
    entered = row(ENTER_NONE, 7, L, HOW_ENTERED_ENERGY);
    entered.estimated = 7;
    assert_int_equal(enter_merge(&stored, &entered, L, false, &result), ENTER_COMPLETED);
    assert_int_equal(result.energy[0], 100);
    assert_int_equal(result.energy[1], 7);
    assert_int_equal(result.estimated, 7);
    assert_int_equal(enter_merge(&result, &entered, L, false, &stored), ENTER_EQUAL);
    entered = row(100, ENTER_NONE, 0, HOW_ENTERED_ENERGY);
    assert_int_equal(enter_merge(&result, &entered, L, false, &stored), ENTER_EQUAL);
    stored = row(60, 0, 300, HOW_ENTERED);
    entered = row(90, 0, 0, HOW_ENTERED);
    assert_int_equal(enter_merge(&stored, &entered, L, false, &result), ENTER_COMPLETED);
    assert_int_equal(enter_merge(&entered, &stored, L, false, &result), ENTER_LOWER);
    entered.energy[0] = 50;
    assert_int_equal(enter_merge(&stored, &entered, L, false, &result), ENTER_DIFFERS);
    /* flags of the row stay, but not that it followed a shape */
    stored = row(60, 0, L, HOW_ESTIMATED | HOW_BACK_DATED | HOW_SHAPED);
    assert_int_equal(enter_merge(&stored, &entered, L, false, &result), ENTER_REPLACED);
    assert_int_equal(result.how, HOW_ENTERED | HOW_BACK_DATED);
}

static struct enter_row stored[MOST], result[MOST], data[MOST];
static const struct enter_row *entered[MOST];
static enum enter_verdict verdict[MOST];
static struct enter_misfit misfit;

static bool edges; /* both ends of the gap were measured in part */

static bool into_gap(int32_t count, bool fit, int64_t tolerance)
{
    struct enter_gap gap = {
        .count = count, .stored = stored, .entered = entered, .length_s = L, .fit = fit
    };
    gap.first_edge = gap.last_edge = edges;
    gap.tolerance[0] = gap.tolerance[1] = tolerance;
    return enter_into_gap(&gap, result, verdict, &misfit);
}

static void fill(int32_t count, int64_t import)
{
    for (int32_t i = 0; i < count; i++) {
        stored[i] = row(import, 10, L, HOW_ESTIMATED);
        stored[i].estimated = import + 10;
        entered[i] = NULL;
    }
}

static void test_gap(void **state)
{
    (void)state;
    fill(4, 100);
    data[0] = row(190, 10, 0, HOW_ENTERED);
    entered[1] = &data[0];
    assert_true(into_gap(4, false, 0));
    const int64_t expected[] = { 70, 190, 70, 70 };
    for (int i = 0; i < 4; i++) {
        assert_int_equal(result[i].energy[0], expected[i]);
        assert_int_equal(result[i].energy[1], 10);
        assert_int_equal(verdict[i], ENTER_REPLACED);
        assert_int_equal(result[i].estimated, i == 1 ? 0 : 80);
        assert_int_equal(result[i].how, i == 1 ? HOW_ENTERED : HOW_ESTIMATED);
    }
    /* the same again: nothing; less good data: nothing; a better row beside it: it stays */
    memcpy(stored, result, sizeof stored);
    assert_true(into_gap(4, false, 0));
    for (int i = 0; i < 4; i++)
        assert_int_equal(verdict[i], ENTER_EQUAL);
    data[0] = row(150, 10, 0, HOW_ENTERED_ENERGY);
    assert_true(into_gap(4, false, 0));
    assert_int_equal(verdict[1], ENTER_LOWER);
    data[1] = row(0, 10, 0, HOW_ENTERED_ENERGY);
    entered[2] = &data[1];
    assert_true(into_gap(4, false, 0));
    assert_int_equal(result[1].energy[0], 190);
    assert_int_equal(result[2].energy[0], 0);
    assert_int_equal(result[0].energy[0], 105);
}

/* Rows at the ends that were measured in part give and take only what was placed in them. */
static void test_gap_edges(void **state)
{
    (void)state;
    fill(4, 100);
    stored[0] = row(130, 10, 300, HOW_ESTIMATED);
    stored[0].estimated = 33;
    stored[3] = row(170, 10, 600, HOW_ESTIMATED);
    stored[3].estimated = 66;
    data[0] = row(100, 10, 0, HOW_ENTERED);
    data[1] = row(130, 10, 0, HOW_ENTERED);
    data[2] = row(5, 5, 0, HOW_ENTERED); /* for an edge: not taken */
    entered[1] = &data[0];
    entered[2] = &data[1];
    entered[3] = NULL;
    edges = true;
    assert_true(into_gap(4, false, 0));
    assert_int_equal(result[0].energy[0], 120);
    assert_int_equal(result[0].estimated, 23);
    assert_int_equal(result[3].energy[0], 150);
    assert_int_equal(result[3].estimated, 46);
    assert_int_equal(result[3].unobserved_s, 600);
    memcpy(stored, result, sizeof stored);
    assert_true(into_gap(4, false, 0));
    for (int i = 0; i < 4; i++)
        assert_int_equal(verdict[i], ENTER_EQUAL);
    data[1].energy[0] += 70;
    assert_false(into_gap(4, false, 0));
    edges = false;
}

/* The rest keeps the weights it had, and where it had none, time's. */
static void test_gap_weights(void **state)
{
    (void)state;
    fill(4, 0);
    stored[0].energy[0] = 300;
    stored[1].energy[0] = 100;
    data[0] = row(200, 10, 0, HOW_ENTERED);
    entered[2] = &data[0];
    assert_true(into_gap(4, false, 0));
    assert_int_equal(result[0].energy[0], 150);
    assert_int_equal(result[1].energy[0], 50);
    assert_int_equal(result[3].energy[0], 0);
    fill(3, 0);
    stored[0].energy[0] = 100;
    data[0] = row(11, 10, 0, HOW_ENTERED);
    entered[0] = &data[0];
    assert_true(into_gap(3, false, 0));
    assert_int_equal(result[1].energy[0] + result[2].energy[0], 89);
    assert_int_equal(result[1].energy[0], 44);
}

static void test_gap_misfit(void **state)
{
    (void)state;
    fill(2, 100);
    data[0] = row(201, 10, 0, HOW_ENTERED);
    entered[0] = &data[0];
    assert_false(into_gap(2, false, 0));
    assert_int_equal(misfit.counter, 0);
    assert_int_equal(misfit.known, 200);
    assert_int_equal(misfit.entered, 201);
    /* within what the registers tell it is shared out; so is any, when asked to */
    assert_true(into_gap(2, false, 1));
    assert_int_equal(result[0].energy[0], 200);
    assert_int_equal(result[1].energy[0], 0);
    data[0].energy[0] = 4000;
    assert_true(into_gap(2, true, 0));
    assert_int_equal(result[0].energy[0], 200);
    /* nothing left to take the rest */
    data[0] = row(60, 10, 0, HOW_ENTERED);
    data[1] = row(40, 10, 0, HOW_ENTERED);
    entered[1] = &data[1];
    assert_false(into_gap(2, false, 99));
    assert_true(into_gap(2, true, 0));
    assert_int_equal(result[0].energy[0], 120);
    assert_int_equal(result[1].energy[0], 80);
    memcpy(stored, result, sizeof stored);
    assert_true(into_gap(2, true, 0));
    assert_int_equal(verdict[0], ENTER_EQUAL);
    data[0] = row(0, 10, 0, HOW_ENTERED);
    data[1] = row(0, 10, 0, HOW_ENTERED);
    assert_false(into_gap(2, true, 0));
}

static uint64_t seed = 20260505;

static int64_t below(uint64_t n)
{
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return (int64_t)(seed % n);
}

/* Whatever is entered, and however often: every counter's sum stays, none is negative. */
static void test_gap_random(void **state)
{
    (void)state;
    printf("seed %llu\n", (unsigned long long)seed);
    for (int round = 0; round < 20000; round++) {
        int32_t count = 1 + (int32_t)below(MOST);
        int64_t before[2] = { 0 }, after[2] = { 0 };
        for (int32_t i = 0; i < count; i++) {
            int how = below(4) ? HOW_ESTIMATED : below(2) ? HOW_ENTERED : HOW_ENTERED_ENERGY;
            stored[i] = row(below(INT64_C(1) << (1 + below(52))), below(3) ? 0 : below(1000000),
                            how == HOW_ESTIMATED || below(3) == 0 ? L : 0, how);
            data[i] = row(below(INT64_C(1) << (1 + below(52))), below(5) ? ENTER_NONE : below(100),
                          below(4) ? 0 : L, below(2) ? HOW_ENTERED : HOW_ENTERED_ENERGY);
            entered[i] = below(3) ? NULL : &data[i];
            for (int c = 0; c < 2; c++)
                before[c] += stored[i].energy[c];
        }
        edges = count > 2 && below(2);
        for (int32_t e = 0; edges && e < count; e += count - 1) {
            int64_t part = below((uint64_t)stored[e].energy[0] + 1);
            before[0] -= stored[e].energy[0];
            stored[e] = row(stored[e].energy[0], 0, 100, HOW_ESTIMATED);
            before[0] += stored[e].energy[0];
            stored[e].estimated = part;
            before[1] = 0;
        }
        for (int32_t i = 0; i < count && edges; i++)
            before[1] += stored[i].energy[1];
        if (!into_gap(count, below(2) == 0, below(1000)))
            continue;
        for (int32_t i = 0; i < count; i++)
            for (int c = 0; c < 2; c++) {
                assert_true(result[i].energy[c] >= 0);
                after[c] += result[i].energy[c];
            }
        assert_int_equal(after[0], before[0]);
        assert_int_equal(after[1], before[1]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ranks),       cmocka_unit_test(test_merge),
        cmocka_unit_test(test_gap),         cmocka_unit_test(test_gap_edges),
        cmocka_unit_test(test_gap_weights), cmocka_unit_test(test_gap_misfit),
        cmocka_unit_test(test_gap_random),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
