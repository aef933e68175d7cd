/* links: tools/balance/period.c tools/stamp.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "civil.h"
#include "period.h"
#include "stamp.h"

enum { TODAY_YEAR = 2026, TODAY_MONTH = 3, TODAY_DAY = 1 };

static int64_t today(void)
{
    return civil_day_number(TODAY_YEAR, TODAY_MONTH, TODAY_DAY);
}

struct expected {
    const char *word;
    int32_t from[3], to[3]; /* year, month, day; a year of 0: refused */
};

typedef const char *reader(struct period *period, const char *word, int64_t today);

static void check(reader *read, const struct expected *table, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const struct expected *row = &table[i];
        struct period period = { -7, -7 };
        const char *allowed = read(&period, row->word, today());
        if (row->from[0] == 0) {
            assert_non_null(allowed);
            assert_int_equal(period.from_day, -7);
            continue;
        }
        assert_null(allowed);
        assert_int_equal(period.from_day, civil_day_number(row->from[0], row->from[1], row->from[2]));
        assert_int_equal(period.to_day, civil_day_number(row->to[0], row->to[1], row->to[2]));
    }
}

#define CHECK(read, table) check(read, table, sizeof(table) / sizeof((table)[0]))

static void test_days(void **state)
{
    static const struct expected table[] = {
        { NULL, { 2026, 3, 1 }, { 2026, 3, 2 } },
        { "today", { 2026, 3, 1 }, { 2026, 3, 2 } },
        { "yesterday", { 2026, 2, 28 }, { 2026, 3, 1 } },
        { "2024-02-29", { 2024, 2, 29 }, { 2024, 3, 1 } },
        { "1970-01-01", { 1970, 1, 1 }, { 1970, 1, 2 } },
        { "2026-12-31", { 2026, 12, 31 }, { 2027, 1, 1 } },
        { "2026-02-29", { 0 }, { 0 } },
        { "2026-04-31", { 0 }, { 0 } },
        { "2026-00-01", { 0 }, { 0 } },
        { "2026-13-01", { 0 }, { 0 } },
        { "2026-03-00", { 0 }, { 0 } },
        { "1969-12-31", { 0 }, { 0 } },
        { "2026-3-5", { 0 }, { 0 } },
        { "2026-03-05x", { 0 }, { 0 } },
        { "2026-03", { 0 }, { 0 } },
        { "20260305", { 0 }, { 0 } },
        { "05.03.2026", { 0 }, { 0 } },
        { "-026-03-05", { 0 }, { 0 } },
        { "tomorrow", { 0 }, { 0 } },
        { "", { 0 }, { 0 } },
    };
    (void)state;
    CHECK(period_day, table);
}

static void test_months(void **state)
{
    static const struct expected table[] = {
        { NULL, { 2026, 3, 1 }, { 2026, 4, 1 } },
        { "this", { 2026, 3, 1 }, { 2026, 4, 1 } },
        { "last", { 2026, 2, 1 }, { 2026, 3, 1 } },
        { "2025-12", { 2025, 12, 1 }, { 2026, 1, 1 } },
        { "2024-02", { 2024, 2, 1 }, { 2024, 3, 1 } },
        { "2026-13", { 0 }, { 0 } },
        { "2026", { 0 }, { 0 } },
        { "2026-03-01", { 0 }, { 0 } },
        { "march", { 0 }, { 0 } },
    };
    (void)state;
    CHECK(period_month, table);
}

static void test_years(void **state)
{
    static const struct expected table[] = {
        { NULL, { 2026, 1, 1 }, { 2027, 1, 1 } },
        { "this", { 2026, 1, 1 }, { 2027, 1, 1 } },
        { "last", { 2025, 1, 1 }, { 2026, 1, 1 } },
        { "2024", { 2024, 1, 1 }, { 2025, 1, 1 } },
        { "24", { 0 }, { 0 } },
        { "20244", { 0 }, { 0 } },
        { "2024-", { 0 }, { 0 } },
    };
    (void)state;
    CHECK(period_year, table);
}

static void test_next_month(void **state)
{
    (void)state;
    assert_int_equal(period_next_month(civil_day_number(2025, 12, 31)), civil_day_number(2026, 1, 1));
    assert_int_equal(period_next_month(civil_day_number(2024, 2, 1)), civil_day_number(2024, 3, 1));
    assert_int_equal(period_next_year(civil_day_number(2024, 2, 29)), civil_day_number(2025, 1, 1));
    assert_int_equal(period_next_year(civil_day_number(2024, 12, 31)), civil_day_number(2025, 1, 1));
}

static void test_stamps(void **state)
{
    char buffer[STAMP_SIZE];
    struct civil *berlin = civil_open("Europe/Berlin"), *kathmandu = civil_open("Asia/Kathmandu");
    struct civil *newfoundland = civil_open("America/St_Johns");
    (void)state;
    if (!berlin || !kathmandu || !newfoundland) {
        print_message("skipped: no zone data on this computer\n");
        skip();
    }
    /* 25 October 2026, 01:00 UTC: the hour from 02:00 comes a second time */
    int64_t turn = civil_day_number(2026, 10, 25) * 86400 + 3600;
    assert_string_equal(stamp_rfc3339(buffer, berlin, turn - 1), "2026-10-25T02:59:59+02:00");
    assert_string_equal(stamp_rfc3339(buffer, berlin, turn), "2026-10-25T02:00:00+01:00");
    assert_string_equal(stamp_clock(buffer, berlin, turn, STAMP_OFFSET), "02:00+01:00");
    assert_string_equal(stamp_clock(buffer, berlin, turn, 0), "02:00");
    assert_string_equal(stamp_clock(buffer, berlin, turn + 5, STAMP_OFFSET | STAMP_SECONDS),
                        "02:00:05+01:00");
    assert_string_equal(stamp_minute(buffer, berlin, turn), "2026-10-25 02:00");
    assert_string_equal(stamp_minute(buffer, berlin, turn + 5), "2026-10-25 02:00:05");
    assert_string_equal(stamp_rfc3339(buffer, kathmandu, turn), "2026-10-25T06:45:00+05:45");
    assert_string_equal(stamp_rfc3339(buffer, newfoundland, turn), "2026-10-24T22:30:00-02:30");
    assert_string_equal(stamp_month(buffer, newfoundland, turn), "2026-10");
    assert_string_equal(stamp_year(buffer, newfoundland, turn), "2026");
    assert_string_equal(stamp_week(buffer, berlin, turn), "2026-W43");
    /* 31 December 2018, 23:30 UTC: in Berlin it is Tuesday of the first week of 2019, in Newfoundland Monday
     * of it */
    turn = civil_day_number(2018, 12, 31) * 86400 + 84600;
    assert_string_equal(stamp_year(buffer, berlin, turn), "2019");
    assert_string_equal(stamp_year(buffer, newfoundland, turn), "2018");
    assert_string_equal(stamp_week(buffer, newfoundland, turn), "2019-W01");
    civil_close(berlin);
    civil_close(kathmandu);
    civil_close(newfoundland);
}

static const char *any(struct period *period, const char *word, int64_t day)
{
    const struct period reach = { civil_day_number(2019, 4, 5), civil_day_number(2026, 3, 2) };
    return period_any(period, word, day, &reach);
}

/* Weeks as ISO 8601 counts them: 2020 has 53, 2026-01-01 is a Thursday. */
static void test_any(void **state)
{
    static const struct expected table[] = {
        { "2026", { 2026, 1, 1 }, { 2027, 1, 1 } },
        { "2026-02", { 2026, 2, 1 }, { 2026, 3, 1 } },
        { "2026-03-05", { 2026, 3, 5 }, { 2026, 3, 6 } },
        { "yesterday", { 2026, 2, 28 }, { 2026, 3, 1 } },
        { "all", { 2019, 4, 5 }, { 2026, 3, 2 } },
        { "this-month", { 2026, 3, 1 }, { 2026, 4, 1 } },
        { "last-month", { 2026, 2, 1 }, { 2026, 3, 1 } },
        { "this-year", { 2026, 1, 1 }, { 2027, 1, 1 } },
        { "last-year", { 2025, 1, 1 }, { 2026, 1, 1 } },
        { "last-year/last-month", { 2025, 1, 1 }, { 2026, 3, 1 } },
        { "last-week", { 0 }, { 0 } },
        { "2026-W01", { 2025, 12, 29 }, { 2026, 1, 5 } },
        { "2020-W53", { 2020, 12, 28 }, { 2021, 1, 4 } },
        { "2026-W53", { 2026, 12, 28 }, { 2027, 1, 4 } },
        { "2026-01/2026-03", { 2026, 1, 1 }, { 2026, 4, 1 } },
        { "2026-01-15/today", { 2026, 1, 15 }, { 2026, 3, 2 } },
        { "2025/2025-06-01", { 2025, 1, 1 }, { 2025, 6, 2 } },
        { "2025-W53", { 0 }, { 0 } },
        { "2026-W00", { 0 }, { 0 } },
        { "2026-W1", { 0 }, { 0 } },
        { "2026-03/2026-01", { 0 }, { 0 } },
        { "2026-13", { 0 }, { 0 } },
        { "2026-01/", { 0 }, { 0 } },
        { "/2026-01", { 0 }, { 0 } },
        { "2026-01/2026-02/2026-03", { 0 }, { 0 } },
        { "this", { 0 }, { 0 } },
        { "2026-01-01-01-01-01/2026", { 0 }, { 0 } },
        { "", { 0 }, { 0 } },
    };
    (void)state;
    check(any, table, sizeof(table) / sizeof(table[0]));
}

static void test_weeks(void **state)
{
    int32_t year, week;
    (void)state;
    period_week(civil_day_number(2021, 1, 3), &year, &week);
    assert_int_equal(year, 2020);
    assert_int_equal(week, 53);
    period_week(civil_day_number(1969, 12, 29), &year, &week);
    assert_int_equal(year, 1970);
    assert_int_equal(week, 1);
    assert_int_equal(period_week_start(civil_day_number(1969, 12, 28)), civil_day_number(1969, 12, 22));
}

static void test_reading_stamps(void **state)
{
    static const struct {
        const char *text;
        int64_t utc_s;
    } good[] = {
        { "1970-01-01T00:00:00Z", 0 },
        { "1970-01-02T00:00:01Z", 86401 },
        { "1970-01-01T05:30:00+05:30", 0 },
        { "1969-12-31T20:30:00-03:30", 0 },
    };
    static const char *const bad[] = {
        "",
        "noon",
        "1970-01-01",
        "1970-01-01T00:00:00",
        "1970-01-01 00:00:00Z",
        "1970-13-01T00:00:00Z",
        "1970-01-01T24:00:00Z",
        "1970-01-01T00:60:00Z",
        "1970-01-01T00:00:00+1:00",
        "1970-01-01T00:00:00+01:00x",
    };
    (void)state;
    for (size_t i = 0; i < sizeof(good) / sizeof(good[0]); i++) {
        int64_t utc_s = -1;
        assert_true(stamp_read(good[i].text, &utc_s));
        assert_int_equal(utc_s, good[i].utc_s);
    }
    for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++) {
        int64_t utc_s = -1;
        assert_false(stamp_read(bad[i], &utc_s));
        assert_int_equal(utc_s, -1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_days),   cmocka_unit_test(test_months),
        cmocka_unit_test(test_years),  cmocka_unit_test(test_next_month),
        cmocka_unit_test(test_any),    cmocka_unit_test(test_weeks),
        cmocka_unit_test(test_stamps), cmocka_unit_test(test_reading_stamps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
