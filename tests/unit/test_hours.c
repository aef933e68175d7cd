/* links: tools/hours.c tools/output/words.c tools/balance/period.c tools/output/number.c tools/stamp.c daemon/record/muldiv.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "hours.h"
#include "words.h"

enum { KWH = 1000000 };

static struct hours hours;
static struct civil *civil;

static int open_zone(void **state)
{
    (void)state;
    civil = civil_open("Europe/Berlin");
    return civil ? 0 : -1;
}

static int close_zone(void **state)
{
    (void)state;
    civil_close(civil);
    return 0;
}

static void add(int64_t from_s, int32_t length_s, int64_t production, int64_t estimated)
{
    const int64_t energy[HOURS_TERMS] = { production, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN };
    hours_add(&hours, civil, from_s, length_s, energy, estimated);
}

/* Half an hour of 1 kWh is 2 kW, however much of the hour is missing. */
static void test_mean(void **state)
{
    (void)state;
    int64_t day = civil_day_number(2026, 6, 3), noon_s = civil_day_start(civil, day) + 12 * 3600;
    assert_true(hours_init(&hours, day, day + 2, 400));
    assert_int_equal(hours.column_count, 2);
    add(noon_s, 900, KWH / 2, 0);
    add(noon_s + 900, 900, KWH / 2, KWH / 10);
    add(noon_s + 86400, 900, UNKNOWN, 0);
    assert_int_equal(hours_power(&hours.columns[0][12], HOURS_PRODUCTION), 2 * KWH);
    assert_int_equal(hours_power(&hours.columns[1][12], HOURS_PRODUCTION), UNKNOWN);
    assert_int_equal(hours_power(&hours.columns[0][12], HOURS_IMPORT), UNKNOWN);
    assert_int_equal(hours_power(&hours.months[5][12], HOURS_PRODUCTION), 2 * KWH);
    assert_true(hours_estimated(&hours.columns[0][12]));
    assert_true(hours_has(&hours, HOURS_PRODUCTION));
    assert_false(hours_has(&hours, HOURS_EXPORT));
    /* outside of the span */
    add(noon_s - 86400, 900, KWH, 0);
    add(noon_s + 2 * 86400, 900, KWH, 0);
    assert_int_equal(hours.all[12].energy[HOURS_PRODUCTION], KWH);
    int32_t column, hour;
    assert_int_equal(hours_highest(&hours, HOURS_PRODUCTION, &column, &hour), 2 * KWH);
    assert_int_equal(column, 0);
    assert_int_equal(hour, 12);
    hours_free(&hours);
}

/* The clock is put back at 03:00 and forward at 02:00. */
static void test_clock_changes(void **state)
{
    (void)state;
    int64_t autumn = civil_day_number(2026, 10, 25), spring = civil_day_number(2026, 3, 29);
    assert_true(hours_init(&hours, autumn, autumn + 1, 400));
    for (int32_t h = 0; h < 25; h++)
        add(civil_day_start(civil, autumn) + h * 3600, 3600, KWH, 0);
    assert_int_equal(hours.columns[0][2].known_s[HOURS_PRODUCTION], 7200);
    assert_int_equal(hours_power(&hours.columns[0][2], HOURS_PRODUCTION), KWH);
    hours_free(&hours);
    assert_true(hours_init(&hours, spring, spring + 1, 400));
    for (int32_t h = 0; h < 23; h++)
        add(civil_day_start(civil, spring) + h * 3600, 3600, KWH, 0);
    assert_int_equal(hours.columns[0][2].known_s[HOURS_PRODUCTION], 0);
    assert_true(hours.columns[0][2].skipped);
    assert_false(hours.columns[0][1].skipped || hours.columns[0][3].skipped);
    hours_free(&hours);
}

static void test_columns(void **state)
{
    (void)state;
    static const struct {
        int32_t days, days_a_column, columns;
    } cases[] = { { 365, 1, 365 }, { 400, 1, 400 }, { 401, 7, 58 }, { 3653, 14, 261 } };
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
        assert_true(hours_init(&hours, 0, cases[i].days, 400));
        assert_int_equal(hours.days_a_column, cases[i].days_a_column);
        assert_int_equal(hours.column_count, cases[i].columns);
        hours_free(&hours);
    }
}

static void test_words(void **state)
{
    (void)state;
    char text[WORDS_SIZE];
    const struct period year = { civil_day_number(2026, 1, 1), civil_day_number(2027, 1, 1) };
    const struct period month = { civil_day_number(2026, 12, 1), civil_day_number(2027, 1, 1) };
    const struct period day = { civil_day_number(2026, 3, 5), civil_day_number(2026, 3, 6) };
    const struct period days = { civil_day_number(2026, 3, 5), civil_day_number(2026, 4, 8) };
    assert_string_equal(words_period(text, &year), "2026");
    assert_string_equal(words_period(text, &month), "December 2026");
    assert_string_equal(words_period(text, &day), "5 March 2026");
    assert_string_equal(words_period(text, &days), "5 March 2026 to 7 April 2026");
    assert_string_equal(words_energy(text, INT64_C(1512400000), 3), "1,512 kWh");
    assert_string_equal(words_energy(text, 41250000, 3), "41.3 kWh");
    assert_string_equal(words_energy(text, 2141000, 3), "2.14 kWh");
    assert_string_equal(words_energy(text, 2141000, 1), "2.1 kWh");
    assert_string_equal(words_energy(text, -2141000, 3), "-2.14 kWh");
    assert_string_equal(words_energy(text, UNKNOWN, 3), "not known");
    assert_string_equal(words_power(text, 5413000), "5.41 kW");
    assert_string_equal(words_share(text, 412345), "41 %");
    assert_string_equal(words_share(text, 34000), "3.4 %");
    assert_string_equal(words_share(text, 0), "0 %");
    assert_string_equal(words_share(text, 400), "less than 0.1 %");
    assert_string_equal(words_minute(text, civil, civil_day_start(civil, day.from_day) + 50700),
                        "5 March 2026, 14:05");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_mean),
        cmocka_unit_test(test_clock_changes),
        cmocka_unit_test(test_columns),
        cmocka_unit_test(test_words),
    };
    return cmocka_run_group_tests(tests, open_zone, close_zone);
}
