/* links: daemon/record/date.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "date.h"

#define TODAY INT64_C(1790000000000)

static struct date date;

static enum date_change at(int64_t boot_s, int64_t wall_ms, bool synchronised, int64_t newest_ms)
{
    struct instant now = { boot_s * 1000000, wall_ms * 1000, synchronised };
    return date_turn(&date, &now, newest_ms);
}

static void test_network_trust_is_a_latch(void **state)
{
    (void)state;
    date_init(&date, false);
    assert_int_equal(at(10, 5000, false, 0), DATE_SAME);
    assert_false(date.trusted);
    assert_int_equal(at(11, TODAY, true, 0), DATE_GAINED);
    assert_string_equal(date.source, "network");
    assert_int_equal(date_utc_ms(&date, 11000), TODAY);
    assert_int_equal(at(12, TODAY + 1000, false, 0), DATE_SOURCE); /* the network went: trust stays */
    assert_true(date.trusted);
    assert_string_equal(date.source, "holdover");
    assert_int_equal(at(13, TODAY + 2000, false, 0), DATE_SAME);
    assert_int_equal(at(14, TODAY + 3000, true, 0), DATE_SOURCE);
    assert_string_equal(date.source, "network");
    assert_int_equal(at(15, TODAY + 4000, true, 0), DATE_SAME);
}

static void test_battery_clock_must_be_plausible(void **state)
{
    (void)state;
    static const struct {
        int64_t wall_ms, newest_ms;
        enum date_change expected;
    } cases[] = {
        { TODAY, 0, DATE_GAINED },
        { TODAY, TODAY - 86400000, DATE_GAINED },
        { TODAY, TODAY + 3600000, DATE_REFUSED },                     /* earlier than the newest row */
        { 946684800000, 0, DATE_REFUSED },                            /* before this program was written */
        { TODAY, TODAY - INT64_C(401) * 86400 * 1000, DATE_REFUSED }, /* over 400 days after it */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        date_init(&date, true);
        assert_int_equal(at(10, cases[i].wall_ms, false, cases[i].newest_ms), cases[i].expected);
        assert_int_equal(at(11, cases[i].wall_ms + 1000, false, cases[i].newest_ms),
                         DATE_SAME); /* said once */
    }
    date_init(&date, false);
    assert_int_equal(at(10, TODAY, false, 0), DATE_SAME);
}

static void test_slew_is_followed(void **state)
{
    (void)state;
    date_init(&date, false);
    at(10, TODAY, true, 0);
    for (int s = 1; s < 2000; s++)
        assert_int_equal(at(10 + s, TODAY + s * 1000 + s / 4, true, 0), DATE_SAME); /* 250 ppm */
    assert_int_equal(date_utc_ms(&date, 2009 * 1000), TODAY + 1999 * 1000 + 499);
}

static void test_step_is_believed_the_second_time(void **state)
{
    (void)state;
    date_init(&date, false);
    at(10, TODAY, true, 0);
    assert_int_equal(at(11, TODAY + 3601000, true, 0), DATE_SAME);
    assert_int_equal(date_utc_ms(&date, 11000), TODAY + 1000);
    assert_int_equal(at(12, TODAY + 3602000, true, 0), DATE_STEPPED);
    assert_int_equal(date.step_ms, 3600000);
    assert_int_equal(date_utc_ms(&date, 12000), TODAY + 3602000);
    /* there and back within a turn: nothing happened */
    assert_int_equal(at(13, TODAY, true, 0), DATE_SAME);
    assert_int_equal(at(14, TODAY + 3604000, true, 0), DATE_SAME);
    assert_int_equal(at(15, TODAY, true, 0), DATE_SAME);
    assert_int_equal(date_utc_ms(&date, 15000), TODAY + 3605000);
}

static void test_unsynchronised_step_is_refused(void **state)
{
    (void)state;
    date_init(&date, false);
    at(10, TODAY, true, 0);
    assert_int_equal(at(11, TODAY - 7200000, false, 0), DATE_REFUSED);
    assert_int_equal(at(12, TODAY - 7199000, false, 0), DATE_SAME);
    assert_int_equal(date_utc_ms(&date, 12000), TODAY + 2000);
}

static void test_restart_in_the_same_boot(void **state)
{
    (void)state;
    date_init(&date, false);
    date_resume(&date, TODAY - 10000, "network");
    assert_true(date.trusted);
    assert_int_equal(at(20, TODAY + 10000, false, 0), DATE_SOURCE);
    assert_string_equal(date.source, "holdover");
    assert_int_equal(date_utc_ms(&date, 20000), TODAY + 10000);
}

/* A person's clock goes by boot time, whatever the wall clock shows, until the network comes. */
static void test_wall_clock_is_not_followed_where_another_vouches(void **state)
{
    (void)state;
    static const char *const sources[] = { "hand", "meter", "sun" };
    for (int i = 0; i < 3; i++) {
        date_init(&date, true);
        date_resume(&date, TODAY - 10000, sources[i]);
        assert_int_equal(at(20, 5000, false, 0), DATE_SAME);
        assert_int_equal(at(21, 7000000, false, 0), DATE_SAME);
        assert_int_equal(date_utc_ms(&date, 21000), TODAY + 11000);
        at(22, TODAY, true, 0);
        assert_int_equal(at(23, TODAY + 1000, true, 0), DATE_STEPPED);
        assert_int_equal(date.step_ms, -12000);
        assert_string_equal(date.source, "network");
    }
}

static void test_sources_have_an_order(void **state)
{
    (void)state;
    static const char *const order[] = { "network", "holdover", "meter", "hand", "battery", "sun", "nobody" };
    for (int i = 0; i < 6; i++)
        assert_true(date_rank(order[i]) < date_rank(order[i + 1]));
    assert_int_equal(date_rank("network"), 0);
}

/* The kernel takes a leap second back in one go. */
static void test_leap_second_is_a_step(void **state)
{
    (void)state;
    date_init(&date, false);
    at(10, TODAY, true, 0);
    assert_int_equal(at(11, TODAY, true, 0), DATE_SAME);
    assert_int_equal(at(12, TODAY + 1000, true, 0), DATE_STEPPED);
    assert_int_equal(date.step_ms, -1000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_network_trust_is_a_latch),
        cmocka_unit_test(test_battery_clock_must_be_plausible),
        cmocka_unit_test(test_slew_is_followed),
        cmocka_unit_test(test_step_is_believed_the_second_time),
        cmocka_unit_test(test_unsynchronised_step_is_refused),
        cmocka_unit_test(test_restart_in_the_same_boot),
        cmocka_unit_test(test_wall_clock_is_not_followed_where_another_vouches),
        cmocka_unit_test(test_sources_have_an_order),
        cmocka_unit_test(test_leap_second_is_a_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
