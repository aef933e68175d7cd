/* links: tools/load/profile.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

#include "number.h"
#include "profile.h"

enum { HOUR = 3600, WATT = 1000 /* mW */, MARCH = 2, OCTOBER = 9 };

static struct profile profile;

/* A civil day of intervals; so many W in each. */
static void feed_day(const struct civil *civil, int64_t day, int32_t interval_s, int64_t watts)
{
    int64_t to_s = civil_day_start(civil, day + 1);
    for (int64_t at_s = civil_day_start(civil, day); at_s < to_s; at_s += interval_s)
        profile_add(&profile, at_s, at_s + interval_s, watts * WATT * interval_s / HOUR);
}

static int64_t watts_of(int32_t month, int32_t class, int32_t hour)
{
    struct profile_cell cell = profile_hour(&profile, month, class, hour);
    return profile_power(&cell) == UNKNOWN ? -1 : profile_power(&cell) / WATT;
}

/* 2 to 8 March 2026 is a week from Monday on. */
static void test_classes(void **state)
{
    (void)state;
    struct civil *civil = civil_open("Europe/Berlin");
    int64_t monday = civil_day_number(2026, 3, 2);
    profile_init(&profile, civil);
    assert_true(profile_energy(&profile, PROFILE_ALL, PROFILE_ALL) == UNKNOWN);
    for (int64_t d = 0; d < 5; d++)
        feed_day(civil, monday + d, 300, 120 * (d + 1));
    feed_day(civil, monday + 5, 300, 1200);
    feed_day(civil, monday + 6, 300, 2400);
    for (int32_t hour = 0; hour < PROFILE_HOURS; hour++) {
        assert_int_equal(watts_of(MARCH, PROFILE_WORKDAY, hour), 360);
        assert_int_equal(watts_of(MARCH, PROFILE_SATURDAY, hour), 1200);
        assert_int_equal(watts_of(PROFILE_ALL, PROFILE_SUNDAY, hour), 2400);
        assert_int_equal(watts_of(MARCH, PROFILE_ALL, hour), (5 * 360 + 1200 + 2400) / 7);
        assert_int_equal(watts_of(MARCH + 1, PROFILE_ALL, hour), -1);
    }
    assert_int_equal(profile_days(&profile, MARCH, PROFILE_WORKDAY), 5);
    assert_int_equal(profile_days(&profile, PROFILE_ALL, PROFILE_SATURDAY), 1);
    assert_int_equal(profile_days(&profile, PROFILE_ALL, PROFILE_ALL), 7);
    assert_int_equal(profile_energy(&profile, MARCH, PROFILE_SUNDAY), 24 * 2400 * WATT);
    civil_close(civil);
}

/* Sundays of 23 and of 25 hours: an hour that is missing has no time, one that comes twice has both. */
static void test_clock_changes(void **state)
{
    (void)state;
    struct civil *civil = civil_open("Europe/Berlin");
    profile_init(&profile, civil);
    feed_day(civil, civil_day_number(2026, 3, 29), 900, 400);
    feed_day(civil, civil_day_number(2026, 10, 25), 900, 400);
    for (int32_t hour = 0; hour < PROFILE_HOURS; hour++) {
        assert_int_equal(profile_hour(&profile, MARCH, PROFILE_SUNDAY, hour).seconds, hour == 2 ? 0 : HOUR);
        assert_int_equal(profile_hour(&profile, OCTOBER, PROFILE_SUNDAY, hour).seconds,
                         hour == 2 ? 2 * HOUR : HOUR);
        assert_int_equal(watts_of(OCTOBER, PROFILE_SUNDAY, hour), 400);
    }
    assert_true(profile_energy(&profile, MARCH, PROFILE_SUNDAY) == UNKNOWN);
    assert_int_equal(profile_energy(&profile, PROFILE_ALL, PROFILE_SUNDAY), 24 * 400 * WATT);
    civil_close(civil);
    /* in Lord Howe the clock goes half an hour: at 2 o'clock half is missing */
    civil = civil_open("Australia/Lord_Howe");
    profile_init(&profile, civil);
    feed_day(civil, civil_day_number(2026, 10, 4), 1800, 400);
    assert_int_equal(profile_hour(&profile, OCTOBER, PROFILE_SUNDAY, 2).seconds, HOUR / 2);
    assert_int_equal(watts_of(OCTOBER, PROFILE_SUNDAY, 2), 400);
    civil_close(civil);
}

/* In Kathmandu (+5:45) an hour's interval by UTC lies in two hours of the clock; the sum stays. */
static void test_shared_hours(void **state)
{
    (void)state;
    struct civil *civil = civil_open("Asia/Kathmandu");
    int64_t at_s = civil_day_number(2026, 3, 2) * 86400 + 4 * HOUR; /* 9:45 there */
    profile_init(&profile, civil);
    profile_add(&profile, at_s, at_s + HOUR, 1001);
    assert_int_equal(profile_hour(&profile, MARCH, PROFILE_WORKDAY, 9).seconds, 900);
    assert_int_equal(profile_hour(&profile, MARCH, PROFILE_WORKDAY, 9).energy, 250);
    assert_int_equal(profile_hour(&profile, MARCH, PROFILE_WORKDAY, 10).energy, 751);
    assert_int_equal(profile_days(&profile, MARCH, PROFILE_WORKDAY), 1);
    civil_close(civil);
}

/* The C library's calendar over two years, a tenth of the intervals missing. */
static void test_brute_force(void **state)
{
    (void)state;
    static struct profile_cell expected[PROFILE_MONTHS][PROFILE_CLASSES][PROFILE_HOURS];
    const char *seed = getenv("METERBOOK_SEED");
    uint64_t random = seed ? strtoull(seed, NULL, 10) : (uint64_t)time(NULL);
    printf("seed %llu\n", (unsigned long long)random);
    setenv("TZ", "America/St_Johns", 1);
    tzset();
    struct civil *civil = civil_open("America/St_Johns");
    int64_t from_s = civil_day_start(civil, civil_day_number(2024, 2, 27));
    memset(expected, 0, sizeof(expected));
    profile_init(&profile, civil);
    for (int64_t at_s = from_s; at_s < from_s + 700 * INT64_C(86400); at_s += 300) {
        random = random * 6364136223846793005U + 1442695040888963407U;
        int64_t energy = (int64_t)(random >> 44);
        if ((random >> 20) % 10 == 0)
            continue;
        time_t instant = (time_t)at_s;
        struct tm local;
        localtime_r(&instant, &local);
        int class = local.tm_wday == 0   ? PROFILE_SUNDAY
                    : local.tm_wday == 6 ? PROFILE_SATURDAY
                                         : PROFILE_WORKDAY;
        expected[local.tm_mon][class][local.tm_hour].energy += energy;
        expected[local.tm_mon][class][local.tm_hour].seconds += 300;
        profile_add(&profile, at_s, at_s + 300, energy);
    }
    assert_memory_equal(profile.cells, expected, sizeof(expected));
    assert_int_equal(profile_days(&profile, PROFILE_ALL, PROFILE_ALL), 700);
    civil_close(civil);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_classes),
        cmocka_unit_test(test_clock_changes),
        cmocka_unit_test(test_shared_hours),
        cmocka_unit_test(test_brute_force),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
