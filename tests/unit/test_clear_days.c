/* links: tools/plant/clear_days.c tools/plant/scatter.c */
/* Invented years of a plant: clear days, broken clouds, fog, and a plant that loses. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>

#include "clear_days.h"

enum { YEAR = 365, YEARS = 4, DAYS = YEAR * YEARS, BLOCKS = 48 };

static void near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.9g, expected %.9g +- %g", value, expected, within);
}

enum weather { CLEAR, BROKEN, FOG, BRIGHT /* clouds that brighten as much as they shade */ };

/* Every fifth day is clear, but for a winter fortnight of fog. */
static enum weather weather_of(int day)
{
    if (day % YEAR >= 330 && day % YEAR < 350)
        return FOG;
    return day % 5 == 0 ? CLEAR : day % 5 == 2 ? BRIGHT : BROKEN;
}

/* Energies by half hours, and their sum of a clear day's. */
static double curve(int day, double blocks[BLOCKS])
{
    double sum = 0, whole = 0;
    for (int i = 0; i < BLOCKS; i++) {
        double sun = fmax(0, sin((i - 12 + 0.5) / 24.0 * M_PI));
        double ripple = (((i * 7 + day * 3) % 5) - 2) / 2.0;
        double cloud[] = {
            [CLEAR] = 1, [BROKEN] = 0.75 + 0.25 * ripple, [FOG] = 0.3, [BRIGHT] = 1 + 0.1 * ripple
        };
        sun *= i >= 30 && i < 32 ? 0.7 : 1; /* a chimney's shadow each day */
        blocks[i] = sun * cloud[weather_of(day)];
        whole += sun;
        sum += blocks[i];
    }
    return sum / whole;
}

/* `state`: what is left of the plant on a day. */
static void make(struct clear_day *days, double (*state)(int))
{
    double blocks[BLOCKS];
    for (int i = 0; i < DAYS; i++) {
        /* a plane's own season: the shape of a clear sky is not quite its own */
        double season = 0.8 + 0.1 * cos(2 * M_PI * (i % YEAR) / YEAR);
        days[i] = (struct clear_day){ .day = 20000 + i, .season = i % YEAR, .whole = i % 37 != 0 };
        days[i].ratio = curve(i, blocks) * season * state(i);
    }
    clear_days_candidates(days, DAYS);
    for (int i = 0; i < DAYS; i++)
        if (days[i].candidate) {
            curve(i, blocks);
            days[i].roughness = clear_days_roughness(blocks, BLOCKS);
        }
    clear_days_choose(days, DAYS);
}

static double whole(int day)
{
    (void)day;
    return 1;
}

/* Half the plant fails for the last year; one day before that is a wrong one. */
static double failing(int day)
{
    return day == 721 ? 3 : day >= 3 * YEAR ? 0.5 : 1;
}

/* 6 % in a year's step. */
static double losing(int day)
{
    return day >= 3 * YEAR ? 0.94 : 1;
}

static void clear_days_are_found(void **state)
{
    (void)state;
    static struct clear_day days[DAYS];
    double (*const states[])(int) = { whole, failing, losing };
    for (int s = 0; s < 3; s++) {
        int found = 0, wrong = 0, missed = 0;
        make(days, states[s]);
        for (int i = 0; i < DAYS; i++) {
            bool is_clear = weather_of(i) == CLEAR && days[i].whole;
            found += days[i].clear && is_clear;
            wrong += days[i].clear && !is_clear;
            missed += !days[i].clear && is_clear;
        }
        assert_int_equal(wrong, 0);
        assert_true(missed <= 8);
        assert_true(found > DAYS / 6);
    }
}

static void index_tells_the_loss(void **state)
{
    (void)state;
    static struct clear_day days[DAYS];
    struct clear_index found;
    make(days, losing);
    assert_true(clear_days_compare(&found, days, DAYS, 20000 + 3 * YEAR, 20000 + DAYS));
    near(found.index, 0.94, 0.005);
    assert_true(found.days > 50 && found.references > 150);
    assert_true(found.error < 0.005);
    make(days, failing);
    assert_true(clear_days_compare(&found, days, DAYS, 20000 + 3 * YEAR + 60, 20000 + 3 * YEAR + 91));
    near(found.index, 0.5, 0.005);
    make(days, whole);
    assert_true(clear_days_compare(&found, days, DAYS, 20000 + YEAR, 20000 + 2 * YEAR));
    near(found.index, 1, 0.005);
}

static void nothing_to_compare(void **state)
{
    (void)state;
    static struct clear_day days[DAYS];
    struct clear_index found;
    make(days, whole);
    /* all of it: nothing is left outside */
    assert_true(clear_days_compare(&found, days, DAYS, 20000, 20000 + DAYS));
    assert_int_equal(found.days, 0);
    assert_true(isnan(found.index));
    assert_true(clear_days_compare(&found, days, 0, 20000, 20000 + DAYS));
    assert_true(isnan(found.index));
    assert_true(isinf(clear_days_roughness((double[]){ 0, 0, 0 }, 3)));
    near(clear_days_roughness((double[]){ 0, 1, 2, 1, 0 }, 5), 1, 1e-12);
    near(clear_days_roughness((double[]){ 2, 0, 2 }, 3), 2, 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clear_days_are_found),
        cmocka_unit_test(index_tells_the_loss),
        cmocka_unit_test(nothing_to_compare),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
