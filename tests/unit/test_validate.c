/* links: tools/checks/validate.c tools/checks/validate_time.c tools/checks/validate_sum.c tools/checks/validate_block.c tools/checks/validate_spike.c tools/checks/validate_use.c tools/checks/validate_sun.c tools/checks/validate_identity.c tools/output/number.c daemon/record/muldiv.c daemon/record/sun.c */
/* Each check on its own: what passes, and what must fail. Invented figures. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "validate_identity.h"
#include "validate_spike.h"
#include "validate_sum.h"
#include "validate_sun.h"
#include "validate_time.h"
#include "validate_use.h"

enum { DAY = 86400, START = 1772323200 }; /* 2026-03-01 00:00 UTC, a Sunday */

static struct tally tallies[ITEM_COUNT];

static int clear(void **state)
{
    (void)state;
    memset(tallies, 0, sizeof tallies);
    return 0;
}

#define ASSERT_TALLY(item, tested_, failed_, untold_)                                                        \
    do {                                                                                                     \
        assert_int_equal(tallies[item].tested, tested_);                                                     \
        assert_int_equal(tallies[item].failed, failed_);                                                     \
        assert_int_equal(tallies[item].untold, untold_);                                                     \
    } while (0)

static void rows(struct time_check *check, int64_t from_s, int64_t to_s, int32_t interval_s)
{
    for (int64_t s = from_s; s < to_s; s += interval_s)
        time_check_row(check, tallies, s, interval_s);
}

static void test_time_clean(void **state)
{
    struct time_check check;
    (void)state;
    time_check_init(&check, START, START + 3 * DAY);
    rows(&check, START, START + DAY, 300);
    time_check_day(&check, tallies, START, START + DAY);
    /* another length from noon on, which begins off its own grid */
    rows(&check, START + DAY, START + DAY + 300, 300);
    time_check_row(&check, tallies, START + DAY + 300, 600);
    rows(&check, START + DAY + 600, START + 2 * DAY, 600);
    time_check_day(&check, tallies, START + DAY, START + 2 * DAY);
    time_check_end(&check, tallies, START + 2 * DAY, false);
    for (int item = ITEM_PRESENT; item <= ITEM_DAYS; item++)
        assert_int_equal(tally_result(&tallies[item]), TALLY_PASSED);
    assert_int_equal(tallies[ITEM_DAYS].tested, 2);
    assert_int_equal(check.missing_s, 0);
}

static void test_time_faults(void **state)
{
    struct time_check check;
    (void)state;
    time_check_init(&check, START, START + DAY);
    rows(&check, START, START + 3000, 300);
    rows(&check, START + 3900, START + 7200, 300);      /* three are missing */
    time_check_row(&check, tallies, START + 7100, 300); /* off the grid, inside the one before */
    rows(&check, START + 7200, START + DAY + 600, 300); /* two end later than now */
    time_check_day(&check, tallies, START, START + DAY);
    ASSERT_TALLY(ITEM_GRID, 288 - 3 + 2 + 1, 1, 0);
    ASSERT_TALLY(ITEM_ORDER, 288, 1, 0);
    ASSERT_TALLY(ITEM_FUTURE, 288, 2, 0);
    ASSERT_TALLY(ITEM_PRESENT, 288 + 3, 3, 0);
    assert_int_equal(tallies[ITEM_PRESENT].places[0], START + 3000);
    assert_int_equal(tallies[ITEM_PRESENT].worst.seconds, 900);
    assert_int_equal(tallies[ITEM_ORDER].worst.seconds, 100);
    assert_int_equal(check.missing_s, 900);
}

/* A silent meter's day is not told until it is heard again. */
static void test_time_silent(void **state)
{
    struct time_check check;
    (void)state;
    time_check_init(&check, START, START + 5 * DAY);
    rows(&check, START, START + DAY / 2, 300);
    time_check_day(&check, tallies, START, START + DAY);
    time_check_day(&check, tallies, START + DAY, START + 2 * DAY);
    ASSERT_TALLY(ITEM_DAYS, 0, 0, 0);
    struct time_check again = check;
    time_check_end(&check, tallies, START + 2 * DAY, false);
    ASSERT_TALLY(ITEM_DAYS, 0, 0, 2);
    ASSERT_TALLY(ITEM_PRESENT, 144, 0, 144 + 288);
    clear(NULL);
    time_check_end(&again, tallies, START + 2 * DAY, true);
    ASSERT_TALLY(ITEM_DAYS, 2, 2, 0);
    ASSERT_TALLY(ITEM_PRESENT, 432, 432, 0);
    assert_int_equal(tallies[ITEM_DAYS].worst.seconds, DAY);
}

/* Days of 23 and of 25 hours. */
static void test_time_days(void **state)
{
    struct time_check check;
    (void)state;
    time_check_init(&check, START, START + 5 * DAY);
    rows(&check, START, START + 23 * 3600, 900);
    time_check_day(&check, tallies, START, START + 23 * 3600);
    rows(&check, START + 23 * 3600, START + 47 * 3600, 900); /* an hour too few */
    time_check_day(&check, tallies, START + 23 * 3600, START + 48 * 3600);
    ASSERT_TALLY(ITEM_DAYS, 1, 0, 0);
    rows(&check, START + 48 * 3600, START + 49 * 3600, 900);
    ASSERT_TALLY(ITEM_DAYS, 2, 1, 0);
    rows(&check, START + 50 * 3600, START + 72 * 3600, 900); /* a hole, but its end is there */
    time_check_day(&check, tallies, START + 48 * 3600, START + 72 * 3600);
    ASSERT_TALLY(ITEM_DAYS, 3, 2, 0);
    assert_int_equal(tallies[ITEM_DAYS].worst.seconds, 3600);
    assert_int_equal(tallies[ITEM_DAYS].places[0], START + 23 * 3600);
}

static struct run_row run_of(int64_t first, int64_t last, const char *ended)
{
    struct run_row run = { .meter = 1,
                           .from_ms = START * INT64_C(1000),
                           .first = first,
                           .first_raw = (uint64_t)(first / 1000),
                           .step = 1000,
                           .base_s = START,
                           .base = first,
                           .anchor_s = START + 600,
                           .anchor = first + 5000,
                           .to_ms = UNKNOWN,
                           .last = UNKNOWN,
                           .factor = { 1, 1, 1, 1, 0 } };
    if (ended[0]) {
        run.to_ms = (START + 1000) * INT64_C(1000);
        run.last = last;
        run.last_raw = (uint64_t)(last / 1000);
        snprintf(run.ended, sizeof run.ended, "%s", ended);
    }
    return run;
}

/* Rows of 2, 3 and 4 Wh; the fourth belongs to the next run. */
static void count(struct run_check *check)
{
    static const int64_t energies[] = { 2000, 3000, 4000, 999999 };
    for (int i = 0; i < 4; i++)
        run_check_add(check, START + i * 300, energies[i]);
    run_check_add(check, START - 300, 777777); /* before its base */
}

static void test_account(void **state)
{
    struct run_row run = run_of(100000, 0, "");
    struct run_check check = { .run = &run, .anchored = true };
    (void)state;
    count(&check);
    run_check_end(&check, tallies);
    ASSERT_TALLY(ITEM_ACCOUNT, 1, 0, 0);
    ASSERT_TALLY(ITEM_REGISTER, 0, 0, 1);
    run.anchor += 7;
    run_check_end(&check, tallies);
    ASSERT_TALLY(ITEM_ACCOUNT, 2, 1, 0);
    assert_int_equal(tallies[ITEM_ACCOUNT].worst.energy, -7);
    assert_int_equal(tallies[ITEM_ACCOUNT].places[0], START + 600);
}

/* The old run's last account is 500 above the boundary at which the next one counts. */
static void end_in(const char *ended, int64_t next_first, int64_t next_base, int64_t failed)
{
    struct run_row run = run_of(100000, 109500, ended), next = run_of(next_first, 0, "");
    struct run_check check = { .run = &run, .next = &next, .anchored = true };
    clear(NULL);
    next.base_s = START + 900;
    next.base = next_base;
    count(&check);
    run_check_end(&check, tallies);
    if (tallies[ITEM_ACCOUNT].tested != 2 || tallies[ITEM_ACCOUNT].failed != failed)
        fail_msg("%s: %d failed", ended, (int)tallies[ITEM_ACCOUNT].failed);
}

static void test_end_of_run(void **state)
{
    (void)state;
    end_in("reset", 700, 200, 0);
    end_in("reset", 700, 201, 1); /* 1 mWh was lost over it */
    end_in("exchange", 60000, 59500, 0);
    end_in("rollover", 3000, -891000, 0); /* 1 kWh register: 894 Wh - 0.5 to go and 3 */
    end_in("rollover", 3000, 2501, 1);    /* energy below zero */
}

static void test_register(void **state)
{
    struct run_row run = run_of(100000, 109500, "reset");
    struct run_check check = { .run = &run };
    int64_t shown, doubt;
    float first = 12.5F, last = 13.75F; /* kWh in a float register */
    uint32_t bits;
    (void)state;
    run_check_end(&check, tallies);
    ASSERT_TALLY(ITEM_REGISTER, 1, 0, 0);
    run.last = 110000; /* one step above what the register showed */
    run_check_end(&check, tallies);
    ASSERT_TALLY(ITEM_REGISTER, 2, 1, 0);
    run.last = 108999; /* below it */
    run_check_end(&check, tallies);
    ASSERT_TALLY(ITEM_REGISTER, 3, 2, 0);
    assert_int_equal(tallies[ITEM_REGISTER].worst.energy, 1000);
    memcpy(&bits, &first, sizeof bits);
    run = run_of(12500000, 13750000, "reset");
    run.first_raw = bits;
    memcpy(&bits, &last, sizeof bits);
    run.last_raw = bits;
    run.step = 1;
    assert_true(run_last_shown(&run, &shown, &doubt));
    assert_true(shown - 13750000 <= doubt && 13750000 - shown <= doubt && doubt <= 2);
    run.last_raw = 0;
    assert_false(run_last_shown(&run, &shown, &doubt));
}

static void test_day_sums(void **state)
{
    struct day_check check = day_check_empty;
    struct interval_row row = { .start_s = START, .import = 10, .export = UNKNOWN, .unobserved = 5 };
    struct day_row day = { .from_s = START,
                           .to_s = START + DAY,
                           .import = 30,
                           .export = UNKNOWN,
                           .unobserved = 15 + 285 * 300,
                           .rows = 3,
                           .expected = 288 };
    (void)state;
    for (int turn = 0; turn < 3; turn++) {
        for (int i = 0; i < 3; i++)
            day_check_add(&check, &row);
        day.import = turn == 1 ? 31 : 30;
        day_check_end(&check, turn == 2 ? NULL : &day, &tallies[ITEM_DAY_SUMS], START, START + DAY);
    }
    ASSERT_TALLY(ITEM_DAY_SUMS, 2, 1, 1);
    assert_int_equal(tallies[ITEM_DAY_SUMS].worst.energy, 1);
    assert_int_equal(check.rows, 0);
}

/* A day of 5-min intervals in quarters of an hour, 100 Wh each, but for some. */
static void spike_day(struct spike_check *check, int64_t highest, int64_t third)
{
    struct block block = { .length_s = 900 }, done;
    for (int i = 0; i < 288; i++) {
        int64_t energy[2] = { i / 3 == 40                  ? highest / 3
                              : i / 3 == 50 || i / 3 == 60 ? third / 3
                                                           : 33333,
                              UNKNOWN };
        if (block_add(&block, START + i * 300, START + i * 300 + 300, energy, true, &done))
            spike_check_block(check, &done);
    }
    if (block_end(&block, &done))
        spike_check_block(check, &done);
    spike_check_day(check, &tallies[ITEM_SPIKE]);
}

static void test_spike(void **state)
{
    struct spike_check check = { .percent = 180, .floor_w = 500 };
    (void)state;
    spike_day(&check, 839999, 300000); /* 2.8 times the third */
    ASSERT_TALLY(ITEM_SPIKE, 1, 0, 0);
    spike_day(&check, 840300, 300000);
    ASSERT_TALLY(ITEM_SPIKE, 2, 1, 0);
    assert_int_equal(tallies[ITEM_SPIKE].places[0], START + 40 * 900);
    spike_day(&check, 349999, 99999); /* 3.5 times, but within 2.8 x 500 W */
    ASSERT_TALLY(ITEM_SPIKE, 3, 1, 0);
    check.floor_w = 100;
    spike_day(&check, 349999, 99999);
    ASSERT_TALLY(ITEM_SPIKE, 4, 2, 0);
}

static void test_spike_filled(void **state)
{
    struct spike_check check = { .percent = 180, .floor_w = 500 };
    struct block block = { .length_s = 900, .covered_s = 900, .energy = { 999999999, 0 } };
    (void)state;
    for (int i = 0; i < 96; i++)
        spike_check_block(&check, &block); /* not measured */
    spike_check_day(&check, &tallies[ITEM_SPIKE]);
    ASSERT_TALLY(ITEM_SPIKE, 0, 0, 1);
}

static void test_rated(void **state)
{
    const int64_t energies[][2] = { { 500999, 0 }, { UNKNOWN, 501000 }, { UNKNOWN, UNKNOWN } };
    (void)state;
    for (int i = 0; i < 3; i++)
        spike_check_rated(&tallies[ITEM_RATED], 5000, 1000, START + i * 300, START + i * 300 + 300,
                          energies[i]);
    ASSERT_TALLY(ITEM_RATED, 2, 1, 1); /* 5 kW x 5 min x 1.2 and a step */
    assert_int_equal(tallies[ITEM_RATED].worst.share, 1202402);
}

static void test_day_use(void **state)
{
    struct use_check check;
    (void)state;
    use_check_init(&check, 300, 25);
    /* 100 on workdays, 10 on Saturdays, 20 on Sundays; from a Sunday on */
    for (int64_t day = 0; day < 28; day++)
        use_check_day(&check, NULL, 20513 + day, 0, day % 7 == 0 ? 20 : day % 7 == 6 ? 10 : 100);
    use_check_day(&check, &tallies[ITEM_DAY_USE], 20541, 1, 60); /* Sunday: three times */
    use_check_day(&check, &tallies[ITEM_DAY_USE], 20542, 2, 24); /* Monday: below a quarter */
    use_check_day(&check, &tallies[ITEM_DAY_USE], 20547, 3, 31); /* Saturday: above three times */
    use_check_day(&check, &tallies[ITEM_DAY_USE], 20548, 4, UNKNOWN);
    ASSERT_TALLY(ITEM_DAY_USE, 3, 2, 1);
    assert_int_equal(tallies[ITEM_DAY_USE].places[0], 2);
    assert_int_equal(tallies[ITEM_DAY_USE].places[1], 3);
    use_check_day(&check, &tallies[ITEM_DAY_USE], 20641, 5, 100); /* no reference so late */
    ASSERT_TALLY(ITEM_DAY_USE, 3, 2, 2);
}

static void test_month_use(void **state)
{
    (void)state;
    use_compare(&tallies[ITEM_MONTH_USE], ITEM_MONTH_USE, 1, 200, 100, 200, 50);
    use_compare(&tallies[ITEM_MONTH_USE], ITEM_MONTH_USE, 2, 201, 100, 200, 50);
    use_compare(&tallies[ITEM_MONTH_USE], ITEM_MONTH_USE, 3, 49, 100, 200, 50);
    use_compare(&tallies[ITEM_MONTH_USE], ITEM_MONTH_USE, 4, 49, UNKNOWN, 200, 50);
    ASSERT_TALLY(ITEM_MONTH_USE, 3, 2, 1);
}

/* 5 kWp flat on the equator at the equinox: at noon 1035 W/m2 (Haurwitz), so 1294 Wh a quarter of an hour. */
static void test_sun(void **state)
{
    struct sun_check check = {
        .has_place = true, .has_plane = true, .peak_w = 5000, .percent = 130, .by_export = true
    };
    struct block noon = { .length_s = 900, .start_s = START + 19 * DAY + 12 * 3600, .covered_s = 900 };
    struct block night = noon;
    (void)state;
    night.start_s -= 12 * 3600;
    noon.energy[1] = 1660000;
    sun_check_block(&check, tallies, &noon);
    ASSERT_TALLY(ITEM_CLEAR_SKY, 1, 0, 0);
    noon.energy[1] = 1700000;
    sun_check_block(&check, tallies, &noon);
    ASSERT_TALLY(ITEM_CLEAR_SKY, 2, 1, 0);
    sun_check_block(&check, tallies, &night);
    ASSERT_TALLY(ITEM_NIGHT, 1, 0, 0);
    night.energy[1] = 12500; /* 50 W of 5 kWp */
    sun_check_block(&check, tallies, &night);
    ASSERT_TALLY(ITEM_NIGHT, 2, 0, 0);
    night.energy[1] = 12501;
    sun_check_block(&check, tallies, &night);
    ASSERT_TALLY(ITEM_NIGHT, 3, 1, 0);
    check.has_plane = false;
    sun_check_block(&check, tallies, &noon);
    ASSERT_TALLY(ITEM_CLEAR_SKY, 2, 1, 1);
}

static void test_identity(void **state)
{
    struct run_row before = run_of(0, 5000, "reset"), run = run_of(0, 0, "");
    (void)state;
    snprintf(before.serial, sizeof before.serial, "A");
    snprintf(run.serial, sizeof run.serial, "A");
    snprintf(run.began, sizeof run.began, "reset");
    identity_check_run(tallies, &run, &before, true, "A", false);
    ASSERT_TALLY(ITEM_SERIAL, 1, 0, 0);
    ASSERT_TALLY(ITEM_FACTORS, 1, 0, 0);
    assert_int_equal(tallies[ITEM_RUNS].noted, 1);
    snprintf(run.serial, sizeof run.serial, "B");
    identity_check_run(tallies, &run, &before, true, "", false);
    ASSERT_TALLY(ITEM_SERIAL, 2, 1, 0);
    identity_check_run(tallies, &run, &before, true, "", true); /* declared */
    ASSERT_TALLY(ITEM_SERIAL, 3, 1, 0);
    run.factor[0] = 100;
    run.factor[4] = 1;
    identity_check_run(tallies, &run, &before, true, "C", true);
    ASSERT_TALLY(ITEM_SERIAL, 4, 2, 0);
    assert_int_equal(tallies[ITEM_FACTORS].noted, 1);
    assert_string_equal(tallies[ITEM_FACTORS].remark, "CT 100/1 after 1/1, reversed");
    assert_string_equal(tallies[ITEM_SERIAL].remark,
                        "'B' after 'A', no exchange declared, 'B' where 'C' is configured");
    run.serial[0] = '\0';
    identity_check_run(tallies, &run, NULL, false, "C", false);
    ASSERT_TALLY(ITEM_SERIAL, 4, 2, 1);
}

static void test_tally(void **state)
{
    struct tally tally = { 0 };
    (void)state;
    assert_int_equal(tally_result(&tally), TALLY_ABSENT);
    tally_untold(&tally, 2);
    assert_int_equal(tally_result(&tally), TALLY_UNTOLD);
    for (int i = 1; i <= 5; i++) {
        struct finding finding = { i, i == 3 ? -90 : i, UNKNOWN, UNKNOWN };
        tally_note(&tally, ITEM_ACCOUNT, &finding, 1);
    }
    assert_int_equal(tally_result(&tally), TALLY_NOTED);
    assert_int_equal(tally.worst.energy, -90);
    assert_int_equal(tally.place_count, TALLY_PLACES);
    for (int64_t at_s = 0; at_s > -2; at_s--) { /* found later, but earlier */
        struct finding earlier = finding_at(at_s);
        tally_note(&tally, ITEM_ACCOUNT, &earlier, 1);
    }
    struct finding nowhere = finding_at(UNKNOWN);
    tally_note(&tally, ITEM_ACCOUNT, &nowhere, 1);
    assert_int_equal(tally.places[0], -1);
    assert_int_equal(tally.places[1], 0);
    assert_int_equal(tally.places[2], 1);
    struct finding finding = { 9, 2, UNKNOWN, UNKNOWN };
    tally_fail(&tally, ITEM_ACCOUNT, &finding, 4); /* the places are the failures' from now on */
    assert_int_equal(tally_result(&tally), TALLY_FAILED);
    assert_int_equal(tally.place_count, 1);
    assert_int_equal(tally.worst.at_s, 9);
    for (int i = 0; i < 60; i++)
        tally_remark(&tally, "reason %d", i % 40);
    assert_true(strlen(tally.remark) < sizeof tally.remark);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(test_time_clean, clear),  cmocka_unit_test_setup(test_time_faults, clear),
        cmocka_unit_test_setup(test_time_silent, clear), cmocka_unit_test_setup(test_time_days, clear),
        cmocka_unit_test_setup(test_account, clear),     cmocka_unit_test_setup(test_end_of_run, clear),
        cmocka_unit_test_setup(test_register, clear),    cmocka_unit_test_setup(test_day_sums, clear),
        cmocka_unit_test_setup(test_spike, clear),       cmocka_unit_test_setup(test_spike_filled, clear),
        cmocka_unit_test_setup(test_rated, clear),       cmocka_unit_test_setup(test_day_use, clear),
        cmocka_unit_test_setup(test_month_use, clear),   cmocka_unit_test_setup(test_sun, clear),
        cmocka_unit_test_setup(test_identity, clear),    cmocka_unit_test_setup(test_tally, clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
