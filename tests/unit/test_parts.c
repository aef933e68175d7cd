/* links: tools/plant/parts.c tools/plant/parts_median.c tools/plant/parts_judge.c tools/plant/parts_change.c tools/plant/parts_cause.c daemon/record/muldiv.c */
/* The comparison of parts on small invented plants: who is a peer, what counts, what is a change. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "parts.h"

enum { DAYS = 160, FIRST_HOUR = 7, LAST_HOUR = 18, PEAK_W = 4000 };

static struct parts parts;
static struct part_hour hours[PARTS_MOST][PARTS_HOURS];

static void begin(int32_t count, int32_t days)
{
    memset(&parts, 0, sizeof parts);
    assert_true(parts_open(&parts, count, days, 0));
    for (int32_t p = 0; p < count; p++) {
        const struct part_facts facts = { 0, true, PEAK_W, 180, 30 };
        parts_set_facts(&parts.part[p], &facts);
    }
}

static int end(void **state)
{
    (void)state;
    parts_close(&parts);
    return 0;
}

/* A bell of ten hours; every fourth day is dull. All alike, in mWh. */
static void fill_day(int32_t day)
{
    memset(hours, 0, sizeof hours);
    for (int32_t p = 0; p < parts.count; p++) {
        for (int32_t h = FIRST_HOUR; h <= LAST_HOUR; h++) {
            int64_t bell = (h - FIRST_HOUR + 1) * (LAST_HOUR + 1 - h);
            hours[p][h].energy = bell * PEAK_W * (day % 4 == 3 ? 3 : 20) + (day * 7 + p * 13 + h) % 9 * 1000;
            hours[p][h].state = HOUR_SEEN;
        }
    }
}

static void scale(int32_t part, int32_t first_hour, int32_t last_hour, int32_t percent)
{
    for (int32_t h = first_hour; h <= last_hour; h++)
        hours[part][h].energy = hours[part][h].energy * percent / 100;
}

static void feed(int32_t day)
{
    parts_feed(&parts, day, (const struct part_hour(*)[PARTS_HOURS])hours);
}

static void judge(void)
{
    assert_true(parts_judge(&parts, NULL, 0));
}

static void takes_the_median(void **state)
{
    int32_t odd[] = { 9, 1, 5 }, even[] = { 4, 1, 9, 6 }, one[] = { 7 }, same[] = { 2, 2, 2, 2 };
    (void)state;
    assert_int_equal(parts_median(odd, 3), 5);
    assert_int_equal(parts_median(even, 4), 5);
    assert_int_equal(parts_median(one, 1), 7);
    assert_int_equal(parts_median(same, 4), 2);
    assert_int_equal(parts_median(one, 0), 0);
}

/* Against a sort, with many sizes. */
static void median_of_any_size(void **state)
{
    int32_t values[200], sorted[200];
    uint32_t random = 12345;
    (void)state;
    for (int32_t count = 1; count < 200; count++) {
        for (int32_t i = 0; i < count; i++) {
            random = random * 1664525 + 1013904223; /* from memory */
            values[i] = sorted[i] = (int32_t)(random >> 16) % 97;
            for (int32_t at = i; at > 0 && sorted[at - 1] > sorted[at]; at--) {
                int32_t value = sorted[at];
                sorted[at] = sorted[at - 1];
                sorted[at - 1] = value;
            }
        }
        int32_t expected = (sorted[count / 2] + sorted[(count - 1) / 2]) / 2;
        assert_int_equal(parts_median(values, count), expected);
    }
}

static void set_plane(int32_t part, int64_t azimuth, int64_t tilt)
{
    parts.part[part].facts[0].azimuth = azimuth;
    parts.part[part].facts[0].tilt = tilt;
}

static void planes_have_a_tolerance(void **state)
{
    (void)state;
    begin(6, 1);
    set_plane(0, 358, 30);
    set_plane(1, 3, 33);   /* five degrees and three: one plane */
    set_plane(2, 4, 30);   /* six */
    set_plane(3, 358, 34); /* four */
    set_plane(4, 0, 0);
    set_plane(5, 180, 3); /* what lies flat looks nowhere */
    assert_int_equal(parts_peers(&parts, 0, 0), 1 << 0 | 1 << 1);
    assert_int_equal(parts_peers(&parts, 1, 0), 1 << 0 | 1 << 1 | 1 << 2 | 1 << 3);
    assert_int_equal(parts_peers(&parts, 4, 0), 1 << 4 | 1 << 5);
    set_plane(0, UNKNOWN, 30);
    assert_int_equal(parts_peers(&parts, 0, 0), 0);
    parts.part[4].facts[0].peak_w = 0;
    assert_int_equal(parts_peers(&parts, 4, 0), 0);
    assert_int_equal(parts_peers(&parts, 5, 0), 1 << 5);
}

static void two_are_not_comparable(void **state)
{
    (void)state;
    begin(4, 60);
    set_plane(2, 90, 30);
    set_plane(3, 90, 30);
    for (int32_t day = 0; day < 60; day++) {
        fill_day(day);
        feed(day);
    }
    judge();
    for (int32_t p = 0; p < 4; p++)
        assert_int_equal(parts.part[p].verdict, VERDICT_NOT_COMPARABLE);
}

/* A counter that runs 3 % low, and one 2 % high, all the time. */
static void constant_offset_is_nothing(void **state)
{
    (void)state;
    begin(5, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        scale(1, 0, 23, 97);
        scale(2, 0, 23, 102);
        feed(day);
    }
    judge();
    for (int32_t p = 0; p < 5; p++)
        assert_int_equal(parts.part[p].verdict, VERDICT_AS_USUAL);
    assert_in_range(parts.part[1].offset, 9695, 9705);
    assert_in_range(-parts.part[1].against, 29500, 30500); /* millionths */
}

/* What one day or a few may bring, on one part: clouds, snow, nothing read, a cut of the grid. */
static void single_days_set_nothing_off(void **state)
{
    (void)state;
    begin(4, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day == 60)
            scale(1, 0, 23, 40);
        if (day >= 80 && day < 86)
            scale(1, 0, 23, 2); /* six days of snow that its peers shed */
        if (day == 100)
            scale(1, 10, 23, 0);
        for (int32_t h = 0; (day == 110 || (day >= 130 && day < 140)) && h < 24; h++)
            hours[1][h].state = HOUR_UNSEEN;
        feed(day);
    }
    judge();
    for (int32_t p = 0; p < 4; p++)
        assert_int_equal(parts.part[p].verdict, VERDICT_AS_USUAL);
    assert_int_equal(parts_at(&parts, 110, 1)->state, PART_DAY_UNSEEN);
    assert_int_equal(parts_at(&parts, 110, 0)->state, PART_DAY_COUNTS);
    assert_int_equal(parts_at(&parts, 111, 1)->state, PART_DAY_DARK);
}

/* Half of the power at noon is not let through from day 70 on: that is its rating at work, no change. */
static void clipping_is_no_lagging(void **state)
{
    (void)state;
    for (int32_t round = 0; round < 2; round++) {
        begin(4, DAYS);
        for (int32_t day = 0; day < DAYS; day++) {
            fill_day(day);
            for (int32_t h = 11; day >= 70 && h <= 14; h++) {
                scale(2, h, h, 60);
                hours[2][h].state = round == 0 ? HOUR_LIMITED : HOUR_SEEN;
            }
            feed(day);
        }
        judge();
        assert_int_equal(parts.part[2].verdict, round == 0 ? VERDICT_AS_USUAL : VERDICT_LAGS);
        parts_close(&parts);
    }
}

static void failure_of_a_string(void **state)
{
    (void)state;
    begin(4, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day >= 90)
            scale(3, 0, 23, 67);
        feed(day);
    }
    judge();
    const struct part *part = &parts.part[3];
    assert_int_equal(part->verdict, VERDICT_LAGS);
    const struct part_episode *episode = &part->episodes[part->main];
    assert_int_equal(episode->from, 90);
    assert_int_equal(episode->to, -1);
    assert_int_equal(episode->cause, CAUSE_FAILURE);
    assert_int_equal(episode->left, 2);
    assert_int_equal(episode->left_of, 3);
    int64_t expected = 0;
    for (int32_t day = 90; day < DAYS; day++) {
        fill_day(day);
        for (int32_t h = 0; h < 24; h++)
            expected += hours[3][h].energy * 33 / 100;
    }
    assert_in_range(episode->lost, expected * 99 / 100, expected * 101 / 100);
    assert_true(llabs(episode->lost - expected) <= episode->lost_doubt);
    for (int32_t p = 0; p < 3; p++)
        assert_int_equal(parts.part[p].verdict, VERDICT_AS_USUAL);
}

/* Two of four stay behind at once: the other two are still the measure. */
static void two_of_four_lag(void **state)
{
    (void)state;
    begin(4, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day >= 60)
            scale(0, 0, 23, 50);
        if (day >= 80)
            scale(1, 0, 23, 0);
        feed(day);
    }
    judge();
    assert_int_equal(parts.part[0].episodes[0].from, 60);
    assert_int_equal(parts.part[0].verdict, VERDICT_LAGS);
    assert_in_range(parts.part[0].episodes[0].level, 4900, 5100);
    assert_int_equal(parts.part[1].episodes[0].from, 80);
    assert_int_equal(parts.part[1].episodes[0].cause, CAUSE_FAILURE);
    assert_int_equal(parts.part[1].episodes[0].left, 0);
    assert_int_equal(parts.part[2].verdict, VERDICT_AS_USUAL);
    assert_int_equal(parts.part[3].verdict, VERDICT_AS_USUAL);
}

/* From 14:00 to 16:00 three quarters of the sun are gone; of a dull day nothing is. */
static void shading_in_certain_hours(void **state)
{
    (void)state;
    begin(4, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day >= 70 && day % 4 != 3)
            scale(0, 14, 15, 25);
        feed(day);
    }
    judge();
    const struct part_episode *episode = &parts.part[0].episodes[0];
    assert_int_equal(parts.part[0].episode_count, 1);
    assert_int_equal(episode->from, 70);
    assert_int_equal(episode->cause, CAUSE_SHADING);
}

/* A quarter of a per cent a day, washed off on day 120, which is noted. */
static void soiling_until_a_cleaning(void **state)
{
    const struct part_cleaning cleanings[] = { { 50, 2 }, { 119, 1 } };
    (void)state;
    begin(4, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day >= 60 && day < 120)
            for (int32_t h = 0; h < 24; h++)
                hours[1][h].energy = hours[1][h].energy * (400 - (day - 60)) / 400;
        feed(day);
    }
    assert_true(parts_judge(&parts, cleanings, 2));
    const struct part_episode *episode = &parts.part[1].episodes[0];
    assert_int_equal(parts.part[1].verdict, VERDICT_LAGGED);
    assert_in_range(episode->from, 55, 65);
    assert_int_equal(episode->to, 120);
    assert_int_equal(episode->cause, CAUSE_SOILING);
    assert_true(episode->cleaned);
}

/* A part that makes a third, and one that makes nothing from the first day on and comes right on day 100. The
 * others must be more than half. */
static void low_from_the_beginning(void **state)
{
    (void)state;
    begin(5, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        scale(1, 0, 23, 33);
        if (day < 100)
            scale(2, 0, 23, 0);
        feed(day);
    }
    judge();
    assert_int_equal(parts.part[1].verdict, VERDICT_LOW);
    assert_int_equal(parts.part[2].verdict, VERDICT_LOW_UNTIL);
    assert_int_equal(parts.part[2].episodes[0].to, 100);
    assert_int_equal(parts.part[0].verdict, VERDICT_AS_USUAL);
}

/* A part grows by half on day 80, in kWp and in energy. Its failure from day 60 on is one, not two. */
static void kwp_has_a_date(void **state)
{
    (void)state;
    for (int32_t round = 0; round < 2; round++) {
        begin(4, DAYS);
        struct part_facts more = parts.part[1].facts[0];
        more.from_day = 80;
        more.peak_w = PEAK_W * 3 / 2;
        parts_set_facts(&parts.part[1], &more);
        for (int32_t day = 0; day < DAYS; day++) {
            fill_day(day);
            if (day >= 80)
                scale(1, 0, 23, 150);
            if (round == 1 && day >= 60)
                scale(1, 0, 23, 50);
            feed(day);
        }
        judge();
        assert_int_equal(parts.part[1].episode_count, round);
        if (round == 1) {
            assert_int_equal(parts.part[1].episodes[0].from, 60);
            assert_int_equal(parts.part[1].episodes[0].to, -1);
        }
        parts_close(&parts);
    }
}

/* Registers that show every fourth kWh only, without a power between them: their hours are nothing or much.
 */
static void coarse_registers(void **state)
{
    enum { STEP = 4000000 };
    int64_t registers[4] = { 0, 1200000, 2600000, 3600000 };
    (void)state;
    begin(4, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day >= 90)
            scale(3, 0, 23, 50);
        for (int32_t p = 0; p < 4; p++) {
            for (int32_t h = 0; h < 24; h++) {
                int64_t before = registers[p] / STEP;
                registers[p] += hours[p][h].energy;
                hours[p][h].energy = (registers[p] / STEP - before) * STEP;
            }
        }
        feed(day);
    }
    judge();
    for (int32_t p = 0; p < 3; p++) {
        assert_int_equal(parts.part[p].verdict, VERDICT_AS_USUAL);
        assert_in_range(parts.part[p].offset, 9900, 10100);
    }
    assert_int_equal(parts.part[3].verdict, VERDICT_LAGS);
    assert_in_range(parts.part[3].episodes[0].from, 89, 91);
}

/* A part that does not answer any more is not "as usual". */
static void silence_is_told(void **state)
{
    (void)state;
    begin(3, DAYS);
    for (int32_t day = 0; day < DAYS; day++) {
        fill_day(day);
        if (day >= 140)
            memset(hours[1], 0, sizeof hours[1]);
        if (day >= 157)
            memset(hours[2], 0, sizeof hours[2]);
        feed(day);
    }
    judge();
    assert_int_equal(parts.part[0].unseen_from, -1);
    assert_int_equal(parts.part[1].unseen_from, 140);
    assert_int_equal(parts.part[2].unseen_from, -1);
    assert_int_equal(parts.part[1].episode_count, 0);
}

/* 2 % a year, for three years. */
static void drift_is_no_dirt(void **state)
{
    (void)state;
    begin(4, 3 * 365);
    for (int32_t day = 0; day < 3 * 365; day++) {
        fill_day(day);
        for (int32_t h = 0; h < 24; h++)
            hours[1][h].energy -= hours[1][h].energy / 1000 * day * 20 / 365;
        feed(day);
    }
    judge();
    assert_int_equal(parts.part[1].verdict, VERDICT_LAGS);
    assert_int_equal(parts.part[1].episodes[0].cause, CAUSE_DRIFT);
}

static void a_month_is_too_little(void **state)
{
    (void)state;
    begin(3, 31);
    for (int32_t day = 0; day < 31; day++) {
        fill_day(day);
        if (day > 20)
            scale(0, 0, 23, 0);
        feed(day);
    }
    judge();
    assert_int_equal(parts.part[0].verdict, VERDICT_TOO_LITTLE);
}

/* Anything in a record must not lead astray: no energy, negative, huge. */
static void odd_energies(void **state)
{
    (void)state;
    begin(3, 60);
    for (int32_t day = 0; day < 60; day++) {
        fill_day(day);
        for (int32_t h = 0; h < 24; h++)
            hours[day % 3][h].energy = day % 2 ? INT64_MAX : INT64_MIN / 2;
        if (day > 40)
            memset(hours, 0, sizeof hours);
        feed(day);
    }
    judge();
    parts_close(&parts);
    begin(1, 0);
    judge();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(takes_the_median),
        cmocka_unit_test(median_of_any_size),
        cmocka_unit_test_teardown(planes_have_a_tolerance, end),
        cmocka_unit_test_teardown(two_are_not_comparable, end),
        cmocka_unit_test_teardown(constant_offset_is_nothing, end),
        cmocka_unit_test_teardown(single_days_set_nothing_off, end),
        cmocka_unit_test(clipping_is_no_lagging),
        cmocka_unit_test_teardown(failure_of_a_string, end),
        cmocka_unit_test_teardown(two_of_four_lag, end),
        cmocka_unit_test_teardown(shading_in_certain_hours, end),
        cmocka_unit_test_teardown(soiling_until_a_cleaning, end),
        cmocka_unit_test_teardown(low_from_the_beginning, end),
        cmocka_unit_test(kwp_has_a_date),
        cmocka_unit_test_teardown(silence_is_told, end),
        cmocka_unit_test_teardown(drift_is_no_dirt, end),
        cmocka_unit_test_teardown(coarse_registers, end),
        cmocka_unit_test_teardown(a_month_is_too_little, end),
        cmocka_unit_test_teardown(odd_energies, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
