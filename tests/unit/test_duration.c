/* links: tools/load/duration.c tools/load/baseload.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

#include "baseload.h"
#include "duration.h"
#include "number.h"

enum { HOUR = 3600, WATT = 1000 /* mW */, MOST_ROWS = 5000 };

static struct duration duration;
static struct baseload baseload;

static void add(int64_t watts, int64_t seconds)
{
    duration_add(&duration, watts * WATT * seconds / HOUR, seconds);
}

static struct duration_point point(int64_t share)
{
    struct duration_point at;
    duration_points(&duration, 1, &share, &at);
    return at;
}

/* Ten hours: 1 of 6 kW, 2 of 3 kW, 3 of 1 kW, 4 of nothing. */
static void test_by_hand(void **state)
{
    (void)state;
    static const struct {
        int64_t share, watts, hours, kwh, above_kwh;
    } expected[] = {
        { 0, 6000, 1, 6, 0 },       { 100000, 6000, 1, 6, 0 },  { 110000, 3000, 3, 12, 3 },
        { 300000, 3000, 3, 12, 3 }, { 500000, 1000, 6, 15, 9 }, { 600000, 1000, 6, 15, 9 },
        { 700000, 0, 10, 15, 15 },  { 1000000, 0, 10, 15, 15 },
    };
    duration_init(&duration);
    assert_true(point(500000).power == UNKNOWN);
    for (int i = 0; i < 4; i++) /* by quarter hours and by hours, mixed */
        add(1000, HOUR / 4);
    add(6000, HOUR);
    add(3000, 2 * HOUR);
    add(0, 4 * HOUR);
    add(1000, 2 * HOUR);
    for (size_t i = 0; i < sizeof(expected) / sizeof(expected[0]); i++) {
        struct duration_point at = point(expected[i].share);
        assert_int_equal(at.power, expected[i].watts * WATT);
        assert_int_equal(at.seconds, expected[i].hours * HOUR);
        assert_int_equal(at.energy, expected[i].kwh * 1000000);
        assert_int_equal(at.above, expected[i].above_kwh * 1000000);
    }
    assert_int_equal(duration.width, DURATION_FINEST);
}

/* What a figure made of several meters may have: the lowest is told as it is. */
static void test_negative(void **state)
{
    (void)state;
    duration_init(&duration);
    add(-36, HOUR);
    add(72, HOUR);
    assert_int_equal(point(SHARE_ONE).power, -36 * WATT);
    assert_int_equal(point(0).power, 72 * WATT);
    assert_int_equal(point(SHARE_ONE).energy, 36 * WATT);
    assert_int_equal(point(SHARE_ONE).above, (36 + 2 * 36) * WATT);
}

static uint64_t random_state;

static uint64_t random_below(uint64_t limit)
{
    random_state = random_state * 6364136223846793005U + 1442695040888963407U;
    return (random_state >> 20) % limit;
}

struct row {
    int64_t energy, seconds, power;
};

static struct row rows[MOST_ROWS];

static int higher_first(const void *a, const void *b)
{
    const struct row *x = a, *y = b;
    return (x->power < y->power) - (x->power > y->power);
}

/* Of a sorted list: within a width of the power; sums exact for the power that is named. */
static void run_random(int64_t most_w)
{
    int64_t shares[40], total = 0;
    struct duration_point points[40];
    int count = 1 + (int)random_below(MOST_ROWS);
    duration_init(&duration);
    for (int i = 0; i < count; i++) {
        rows[i].seconds = random_below(4) ? 300 : 900;
        rows[i].energy = (int64_t)random_below((uint64_t)most_w * WATT * 300 / HOUR + 1);
        rows[i].power = rows[i].energy * HOUR / rows[i].seconds;
        duration_add(&duration, rows[i].energy, rows[i].seconds);
        total += rows[i].seconds;
    }
    qsort(rows, (size_t)count, sizeof(rows[0]), higher_first);
    for (int p = 0; p < 40; p++)
        shares[p] = p == 39 ? SHARE_ONE : p * 25000;
    duration_points(&duration, 40, shares, points);
    assert_true(duration.width < rows[0].power / (DURATION_BINS / 2) + 2 * DURATION_FINEST);
    for (int p = 0, i = 0; p < 40; p++) {
        int64_t wanted = total * shares[p] / SHARE_ONE, reached = 0, seconds = 0, energy = 0;
        for (i = 0; i < count && (i == 0 || reached < wanted); i++)
            reached += rows[i].seconds;
        int64_t exact = rows[i - 1].power;
        assert_true(points[p].power <= exact && points[p].power > exact - duration.width);
        if (p == 0 || p == 39)
            assert_int_equal(points[p].power, exact);
        int64_t edge = points[p].power / duration.width * duration.width;
        for (i = 0; i < count && rows[i].power >= edge; i++) {
            seconds += rows[i].seconds;
            energy += rows[i].energy;
        }
        assert_int_equal(points[p].seconds, seconds);
        assert_int_equal(points[p].energy, energy);
    }
}

static void test_brute_force(void **state)
{
    (void)state;
    const char *seed = getenv("METERBOOK_SEED");
    random_state = seed ? strtoull(seed, NULL, 10) : (uint64_t)time(NULL);
    printf("seed %llu\n", (unsigned long long)random_state);
    for (int i = 0; i < 60; i++)
        run_random((int64_t[]){ 3, 5000, 40000, 3000000 }[i % 4]);
}

/* Intervals of 5 min all day; between 2 and 3 o'clock so many W, else 500. */
static void feed_day(const struct civil *civil, int64_t day, int64_t night_w, bool watched)
{
    int64_t from_s = civil_day_start(civil, day), to_s = civil_day_start(civil, day + 1);
    for (int64_t at_s = from_s; at_s < to_s; at_s += 300) {
        int64_t hour = (at_s + civil_offset(civil, at_s)) / HOUR % 24;
        if (watched || hour != 4 || at_s % HOUR != 900)
            baseload_add(&baseload, at_s, at_s + 300, (hour == 2 ? night_w : 504) * WATT / 12);
    }
}

/* Twenty nights, the supply out in two of them, the others from 144 W on. */
static void test_base_load(void **state)
{
    (void)state;
    struct civil *civil = civil_open("Europe/Berlin");
    assert_non_null(civil);
    int64_t day =
        civil_day_number(2026, 3, 20); /* over the change of the clock: that night has no 2 o'clock */
    baseload_init(&baseload, civil);
    for (int64_t d = 0; d < 20; d++)
        feed_day(civil, day + d, d < 2 ? 0 : 120 + 12 * d, true);
    /* nine nights in ten are 18 of the 20 */
    assert_int_equal(baseload_end(&baseload), 144 * WATT);
    assert_int_equal(baseload.nights, 20);
    /* in the night of the change the least whole hour was another */
    struct duration_point lowest;
    duration_points(&baseload.least_hours, 1, (int64_t[]){ 0 }, &lowest);
    assert_int_equal(lowest.power, 504 * WATT);
    civil_close(civil);
}

/* Hours in which something is missing are no whole ones; few nights tell nothing. */
static void test_base_load_whole_hours(void **state)
{
    (void)state;
    struct civil *civil = civil_open("Australia/Lord_Howe");
    assert_non_null(civil);
    baseload_init(&baseload, civil);
    for (int64_t d = 0; d < 9; d++)
        feed_day(civil, civil_day_number(2026, 5, 1) + d, 240, false);
    assert_true(baseload_end(&baseload) == UNKNOWN);
    assert_int_equal(baseload.nights, 9);
    feed_day(civil, civil_day_number(2026, 5, 10), 240, false);
    assert_int_equal(baseload_end(&baseload), 240 * WATT);
    baseload_init(&baseload, civil);
    for (int64_t d = 0; d < 12; d++) /* one interval a night: no whole hour */
        baseload_add(&baseload, civil_day_start(civil, d + 20000) + 2 * HOUR,
                     civil_day_start(civil, d + 20000) + 2 * HOUR + 300, 0);
    assert_true(baseload_end(&baseload) == UNKNOWN);
    assert_int_equal(baseload.nights, 0);
    civil_close(civil);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_by_hand),
        cmocka_unit_test(test_negative),
        cmocka_unit_test(test_brute_force),
        cmocka_unit_test(test_base_load),
        cmocka_unit_test(test_base_load_whole_hours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
