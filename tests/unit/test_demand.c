/* links: tools/load/demand.c tools/balance/period.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include <cmocka.h>

#include "demand.h"
#include "number.h"
#include "period.h"

enum { MONTHS = 40, MINUTE = 60, HOUR = 3600 };

static const int64_t lengths[DEMAND_LENGTHS] = { 15 * MINUTE, 30 * MINUTE, 60 * MINUTE };
static struct demand demand;
static struct demand_scope months[MONTHS];
static int32_t month_count;

static void keep_month(void *self, const struct demand_scope *month)
{
    (void)self;
    assert_true(month_count < MONTHS);
    months[month_count++] = *month;
}

static struct civil *begin(const char *zone)
{
    struct civil *civil = civil_open(zone);
    assert_non_null(civil);
    month_count = 0;
    demand_init(&demand, civil, DEMAND_LENGTHS, lengths, keep_month, NULL);
    return civil;
}

static int64_t utc(int64_t year, int32_t month, int32_t day, int32_t hour, int32_t minute)
{
    return civil_day_number(year, month, day) * 86400 + hour * HOUR + minute * MINUTE;
}

/* Intervals of so many W from one instant to the next. */
static void feed(int64_t from_s, int64_t to_s, int32_t interval_s, int64_t watts)
{
    for (int64_t at_s = from_s; at_s < to_s; at_s += interval_s)
        demand_add(&demand, at_s, at_s + interval_s, watts * 1000 * interval_s / HOUR, true);
}

static void check(const struct demand_peak *peak, int64_t length_s, int64_t watts, int64_t start_s)
{
    assert_int_equal(demand_power(peak, length_s), watts * 1000);
    assert_int_equal(peak->start_s, start_s);
}

/* trade.md 4.6: 6 kW with ten minutes at 24 kW from xx:10. */
static void test_worst_offset(void **state)
{
    (void)state;
    struct civil *civil = begin("Europe/Berlin");
    int64_t at_s = utc(2026, 3, 5, 9, 0);
    feed(at_s, at_s + 610 * MINUTE, 300, 6000);
    feed(at_s + 610 * MINUTE, at_s + 620 * MINUTE, 300, 24000);
    feed(at_s + 620 * MINUTE, at_s + 1200 * MINUTE, 300, 6000);
    demand_end(&demand);
    const struct demand_scope *span = &demand.span;
    check(&span->peaks[0][DEMAND_ALIGNED], lengths[0], 12000, at_s + 600 * MINUTE);
    check(&span->peaks[0][DEMAND_WORST], lengths[0], 18000, at_s + 605 * MINUTE);
    check(&span->peaks[1][DEMAND_ALIGNED], lengths[1], 12000, at_s + 600 * MINUTE);
    check(&span->peaks[1][DEMAND_WORST], lengths[1], 12000, at_s + 590 * MINUTE);
    for (int i = 0; i < DEMAND_LENGTHS; i++)
        for (int o = 0; o < DEMAND_OFFSETS; o++)
            assert_false(demand_at_least(&span->peaks[i][o]));
    civil_close(civil);
}

/* A stretch known in sum: it may have flowed all in one window. */
static void test_stretch_bounds(void **state)
{
    (void)state;
    static const struct {
        int64_t base_w, stretch; /* of the rest; mWh in the stretch of 20 min; UNKNOWN */
        bool at_least;
    } cases[] = {
        { 1200, 100000, false }, /* all of it beside ten minutes of the rest (200 Wh): 300 Wh, as the peak */
        { 1200, 100004, true },
        { 1200, 0, false },      /* nothing flowed: nothing is hidden */
        { 8400, UNKNOWN, true }, /* nothing is known */
    };
    for (size_t c = 0; c < sizeof(cases) / sizeof(cases[0]); c++) {
        struct civil *civil = begin("Europe/Berlin");
        int64_t at_s = utc(2026, 3, 5, 9, 0);
        feed(at_s, at_s + 30 * MINUTE, 300, cases[c].base_w);
        for (int64_t i = 0; i < 4; i++)
            demand_add(&demand, at_s + (30 + 5 * i) * MINUTE, at_s + (35 + 5 * i) * MINUTE,
                       cases[c].stretch == UNKNOWN ? UNKNOWN : cases[c].stretch / 4, false);
        feed(at_s + 50 * MINUTE, at_s + 180 * MINUTE, 300, cases[c].base_w);
        demand_end(&demand);
        const struct demand_peak *worst = &demand.span.peaks[0][DEMAND_WORST];
        check(worst, lengths[0], cases[c].base_w, at_s);
        assert_int_equal(demand_at_least(worst), cases[c].at_least);
        assert_int_equal(demand.span.observed_s, 160 * MINUTE);
        civil_close(civil);
    }
}

/* A peak that stands out is certain: what a gap by night holds cannot reach it. Estimates never make one. */
static void test_stretch_is_small(void **state)
{
    (void)state;
    struct civil *civil = begin("Europe/Berlin");
    int64_t at_s = utc(2026, 3, 5, 0, 0);
    feed(at_s, at_s + HOUR, 300, 240);
    demand_add(&demand, at_s + HOUR, at_s + HOUR + 300, 900000, false); /* 10.8 kW if it were watched */
    feed(at_s + HOUR + 300, at_s + 2 * HOUR, 300, 240);
    feed(at_s + 2 * HOUR, at_s + 3 * HOUR, 300, 6000);
    demand_end(&demand);
    check(&demand.span.peaks[0][DEMAND_WORST], lengths[0], 6000, at_s + 2 * HOUR);
    assert_false(demand_at_least(&demand.span.peaks[0][DEMAND_WORST])); /* 0.94 < 1.5 kWh */
    assert_int_equal(demand.span.peaks[0][DEMAND_WORST].possible, 900000 + 2 * 20000);
    civil_close(civil);
}

/* Windows of the site's clock: in Kathmandu (+5:45) half hours begin at a quarter by UTC. */
static void test_aligned_by_clock(void **state)
{
    (void)state;
    struct civil *civil = begin("Asia/Kathmandu");
    int64_t at_s = utc(2026, 3, 5, 6, 0);
    feed(at_s, at_s + 2 * HOUR, 300, 1200);
    feed(at_s + 2 * HOUR, at_s + 2 * HOUR + 30 * MINUTE, 300, 4800); /* from 13:45 to 14:15 there */
    feed(at_s + 2 * HOUR + 30 * MINUTE, at_s + 5 * HOUR, 300, 1200);
    demand_end(&demand);
    check(&demand.span.peaks[1][DEMAND_WORST], lengths[1], 4800, at_s + 2 * HOUR);
    check(&demand.span.peaks[1][DEMAND_ALIGNED], lengths[1], 3000, at_s + 2 * HOUR - 15 * MINUTE);
    civil_close(civil);
}

/* On the day of 23 and on that of 25 hours every window is there once. */
static void test_clock_changes(void **state)
{
    (void)state;
    static const struct {
        int32_t month, day, hours;
    } days[] = { { 3, 29, 23 }, { 10, 25, 25 } };
    for (size_t d = 0; d < 2; d++) {
        struct civil *civil = begin("Europe/Berlin");
        int64_t day = civil_day_number(2026, days[d].month, days[d].day);
        int64_t from_s = civil_day_start(civil, day), to_s = civil_day_start(civil, day + 1);
        assert_int_equal(to_s - from_s, days[d].hours * HOUR);
        int64_t change_s = utc(2026, days[d].month, days[d].day, 1, 0);
        feed(from_s, change_s, 900, 1000);
        feed(change_s, change_s + HOUR, 900, 3000); /* the hour behind the change */
        feed(change_s + HOUR, to_s, 900, 1000);
        demand_end(&demand);
        check(&demand.span.peaks[2][DEMAND_ALIGNED], lengths[2], 3000, change_s);
        assert_int_equal(demand.span.observed_s, days[d].hours * HOUR);
        civil_close(civil);
    }
}

/* An interval of 30 min cannot tell 15; one of 10 min tells 30 and 60 only. */
static void test_long_intervals(void **state)
{
    (void)state;
    for (int32_t interval_s = 600; interval_s <= 1800; interval_s += 1200) {
        struct civil *civil = begin("Europe/Berlin");
        int64_t at_s = utc(2026, 3, 5, 9, 0);
        feed(at_s, at_s + 5 * HOUR, interval_s, 2400);
        demand_end(&demand);
        assert_true(demand.span.peaks[0][DEMAND_WORST].energy == UNKNOWN);
        assert_true(demand_power(&demand.span.peaks[0][DEMAND_ALIGNED], lengths[0]) == UNKNOWN);
        check(&demand.span.peaks[1][DEMAND_ALIGNED], lengths[1], 2400, at_s);
        check(&demand.span.peaks[2][DEMAND_WORST], lengths[2], 2400, at_s);
        civil_close(civil);
    }
}

/* ---- against brute force ---- */

enum { STEPS = 6000, STEP_S = 900 }; /* two months by quarter hours */

static int64_t energy[STEPS], stretch_sum[STEPS];
static bool watched[STEPS], unknown[STEPS];
static uint64_t random_state;

static uint32_t random_below(uint32_t limit)
{
    random_state = random_state * 6364136223846793005U + 1442695040888963407U;
    return (uint32_t)(random_state >> 33) % limit;
}

static void make_series(void)
{
    for (int i = 0; i < STEPS; i++) {
        energy[i] = random_below(20) == 0 ? random_below(3000000) : random_below(500000);
        watched[i] = true;
        unknown[i] = false;
    }
    for (uint32_t gaps = random_below(12); gaps > 0; gaps--) {
        bool blind = random_below(3) == 0;
        uint32_t from = random_below(STEPS), length = 1 + random_below(random_below(8) == 0 ? 3000 : 9);
        for (uint32_t i = from; i < from + length && i < STEPS; i++) {
            watched[i] = false;
            unknown[i] = unknown[i] || blind;
        }
    }
    for (int i = 0, j; i < STEPS; i = j) { /* each step knows its stretch's sum */
        int64_t sum = 0;
        for (j = i; j < STEPS && !watched[j]; j++)
            sum = unknown[j] || sum == INT64_MAX ? INT64_MAX : sum + energy[j];
        for (int k = i; k < j; k++)
            stretch_sum[k] = sum;
        j += j == i;
    }
}

/* The most that steps [a, b) may have had. */
static int64_t most_of(int a, int b)
{
    int64_t most = 0;
    for (int k = a; k < b; k++) {
        bool again = k > a && !watched[k] && !watched[k - 1];
        int64_t more = watched[k] ? energy[k] : again ? 0 : stretch_sum[k];
        most = most == INT64_MAX || more == INT64_MAX ? INT64_MAX : most + more;
    }
    return most;
}

static void check_scope(const struct civil *civil, const struct demand_scope *scope, int64_t from_s,
                        int first, int last)
{
    for (int i = 0; i < DEMAND_LENGTHS; i++)
        for (int o = 0; o < DEMAND_OFFSETS; o++) {
            struct demand_peak expected = { UNKNOWN, 0, INT64_MIN };
            int steps = (int)(lengths[i] / STEP_S);
            for (int a = first; a + steps <= last; a++) {
                int64_t start_s = from_s + (int64_t)a * STEP_S, sum = 0;
                bool whole = true;
                if (o == DEMAND_ALIGNED && (start_s + civil_offset(civil, start_s)) % lengths[i] != 0)
                    continue;
                for (int k = a; k < a + steps; k++) {
                    whole = whole && watched[k];
                    sum += energy[k];
                }
                int64_t most = whole ? INT64_MIN : most_of(a, a + steps);
                expected.possible = most > expected.possible ? most : expected.possible;
                if (whole && (expected.energy == UNKNOWN || sum > expected.energy))
                    expected = (struct demand_peak){ sum, start_s, expected.possible };
            }
            const struct demand_peak *peak = &scope->peaks[i][o];
            assert_int_equal(peak->energy, expected.energy);
            assert_int_equal(peak->start_s, expected.start_s);
            assert_int_equal(peak->possible, expected.possible);
        }
}

static void run_random(const char *zone, int64_t day)
{
    struct civil *civil = begin(zone);
    int64_t from_s = civil_day_start(civil, day);
    make_series();
    for (int i = 0; i < STEPS; i++)
        demand_add(&demand, from_s + (int64_t)i * STEP_S, from_s + (int64_t)(i + 1) * STEP_S,
                   unknown[i] ? UNKNOWN : energy[i], watched[i]);
    demand_end(&demand);
    check_scope(civil, &demand.span, from_s, 0, STEPS);
    int first = 0;
    for (int m = 0; first < STEPS; m++) {
        day = period_next_month(day);
        int last = (int)((civil_day_start(civil, day) - from_s) / STEP_S);
        last = last < STEPS ? last : STEPS;
        assert_true(m < month_count);
        assert_int_equal(months[m].from_s, from_s + (int64_t)first * STEP_S);
        check_scope(civil, &months[m], from_s, first, last);
        first = last;
    }
    civil_close(civil);
}

static void test_brute_force(void **state)
{
    (void)state;
    const char *seed = getenv("METERBOOK_SEED");
    random_state = seed ? strtoull(seed, NULL, 10) : (uint64_t)time(NULL);
    printf("seed %llu\n", (unsigned long long)random_state);
    for (int i = 0; i < 60; i++) {
        run_random("Europe/Berlin", civil_day_number(2026, 3, 1));
        run_random("Asia/Kathmandu", civil_day_number(2026, 1, 7));
        run_random("America/St_Johns", civil_day_number(2025, 10, 20));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_worst_offset),     cmocka_unit_test(test_stretch_bounds),
        cmocka_unit_test(test_stretch_is_small), cmocka_unit_test(test_aligned_by_clock),
        cmocka_unit_test(test_clock_changes),    cmocka_unit_test(test_long_intervals),
        cmocka_unit_test(test_brute_force),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
