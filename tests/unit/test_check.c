/* links: daemon/record/check.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "check.h"

/* One counter of 1 Wh steps behind 10 kW, polled each second. */
static struct check check;
static struct verdict verdict;

static int take_at(int64_t second, int64_t wh)
{
    static struct reading reading; /* the verdict may point to it */
    reading = (struct reading){ .boot_ms = second * 1000 };
    reading.has[Q_ACTIVE_IMPORT] = true;
    reading.counter[Q_ACTIVE_IMPORT] = (struct counter_reading){
        .value = wh * 1000, .step = 1000, .modulus = 1000000000, .raw = (uint64_t)wh
    };
    check_take(&check, &reading, &verdict);
    return verdict.accepted;
}

static void on_track(int64_t second, int64_t wh)
{
    check_init(&check, 1U << Q_ACTIVE_IMPORT, 10000000, 10000);
    assert_int_equal(take_at(second - 2, wh), 0);
    assert_int_equal(take_at(second - 1, wh), 0);
    assert_int_equal(take_at(second, wh), CHECK_CONFIRM);
}

static int64_t accepted_wh(int i)
{
    return verdict.readings[i].counter[Q_ACTIVE_IMPORT].value / 1000;
}

static void test_first_reading_is_confirmed_by_two(void **state)
{
    (void)state;
    check_init(&check, 1U << Q_ACTIVE_IMPORT, 10000000, 10000);
    assert_int_equal(take_at(1, 777777), 0); /* one bad word */
    assert_int_equal(take_at(2, 5000), 0);
    assert_true(verdict.dropped);
    assert_int_equal(take_at(3, 5001), 0);
    assert_int_equal(take_at(4, 5002), 3);
    assert_int_equal(accepted_wh(0), 5000);
    assert_int_equal(take_at(5, 5003), 1);
}

static void test_normal_and_jitter(void **state)
{
    (void)state;
    on_track(10, 5000);
    assert_int_equal(take_at(11, 5003), 1); /* 12 kW for a second is 3.3 Wh, and a step */
    assert_int_equal(take_at(12, 5002), 1); /* a step back is jitter: the higher value stands */
    assert_int_equal(accepted_wh(0), 5003);
    assert_int_equal(check.jitters, 1);
    assert_int_equal(take_at(13, 5003), 1);
    assert_int_equal(check.rejected, 0);
}

/* A counter that reads 0 once after a meter's reboot, or one bad word. */
static void test_glitch_is_dropped(void **state)
{
    (void)state;
    static const int64_t bad[] = { 0, 4000, 4990, 999999, 70000 };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        on_track(10, 5000);
        assert_int_equal(take_at(11, bad[i]), 0);
        assert_int_equal(take_at(12, 5001), 1);
        assert_true(verdict.dropped);
        assert_int_equal(verdict.drop.counter[0].value, bad[i] * 1000);
        assert_int_equal(accepted_wh(0), 5001);
        assert_int_equal(check.rejected, 1);
    }
}

static void test_two_zeros_are_no_reset(void **state)
{
    (void)state;
    on_track(10, 5000);
    assert_int_equal(take_at(11, 0), 0);
    assert_int_equal(take_at(12, 0), 0);
    assert_int_equal(take_at(13, 5001), 1);
    assert_true(verdict.dropped);
}

static void test_confirmed_changes(void **state)
{
    (void)state;
    static const struct {
        int64_t before, after;
        enum run_end ended;
    } cases[] = {
        { 5000, 3, RUN_RESET },
        { 999999, 1, RUN_ROLLOVER }, /* the modulus is 1 000 000 Wh */
        { 5000, 90000, RUN_RISE },
        { 500000, 2, RUN_RESET }, /* a fall from far below the modulus */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        on_track(10, cases[i].before);
        assert_int_equal(take_at(11, cases[i].after), 0);
        assert_int_equal(take_at(12, cases[i].after + 1), 0);
        assert_int_equal(take_at(13, cases[i].after + 2), 3);
        assert_int_equal(verdict.ended[0], cases[i].ended);
        assert_int_equal(accepted_wh(0), cases[i].after);
        assert_int_equal(take_at(14, cases[i].after + 3), 1);
    }
}

/* Every reading that ends a gap is confirmed, however plausible, and keeps its own stamp. */
static void test_gap_end(void **state)
{
    (void)state;
    on_track(10, 5000);
    assert_int_equal(take_at(100, 5100), 0);
    assert_int_equal(take_at(101, 5101), 0);
    assert_int_equal(take_at(102, 5103), 3);
    assert_int_equal(verdict.readings[0].boot_ms, 100000);
    assert_int_equal(verdict.ended[0], RUN_GOES_ON);
    on_track(10, 5000);
    assert_int_equal(take_at(100, 8000000), 0); /* a bad word right after the gap */
    assert_int_equal(take_at(101, 5101), 0);
    assert_true(verdict.dropped);
    assert_int_equal(take_at(102, 5101), 0);
    assert_int_equal(take_at(103, 5101), 3);
    assert_int_equal(verdict.ended[0], RUN_GOES_ON);
}

/* Where nobody watched for so long that any energy could have flowed, the time does not tell
 * a rollover from a reset: how near to the modulus the register was does. */
static void test_fall_after_an_unknown_time(void **state)
{
    (void)state;
    static const struct {
        int64_t before, after;
        enum run_end ended;
    } cases[] = {
        { 990000, 20000, RUN_ROLLOVER }, /* the modulus is 1 000 000 Wh */
        { 760000, 5000, RUN_ROLLOVER },  { 740000, 5000, RUN_RESET },
        { 2438, 1500, RUN_RESET },       { 990000, 500000, RUN_RESET },
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        on_track(10, cases[i].before);
        int64_t second = INT64_C(400) * 86400;
        assert_int_equal(take_at(second, cases[i].after), 0);
        assert_int_equal(take_at(second + 1, cases[i].after + 1), 0);
        assert_int_equal(take_at(second + 2, cases[i].after + 2), 3);
        assert_int_equal(verdict.ended[0], cases[i].ended);
    }
}

/* A stored account lies up to a step above the register. */
static void test_resumed_track(void **state)
{
    (void)state;
    int64_t account[COUNTER_COUNT] = { 5000999 }, step[COUNTER_COUNT] = { 1000 };
    check_init(&check, 1U << Q_ACTIVE_IMPORT, 10000000, 10000);
    check_resume(&check, account, step, -600000);
    assert_int_equal(take_at(5, 5000), 0);
    assert_int_equal(take_at(6, 5000), 0);
    assert_int_equal(take_at(7, 5001), 3);
    assert_int_equal(verdict.ended[0], RUN_GOES_ON);
    check_init(&check, 1U << Q_ACTIVE_IMPORT, 10000000, 10000);
    check_resume(&check, account, step, -600000);
    take_at(5, 4);
    take_at(6, 4);
    assert_int_equal(take_at(7, 4), 3);
    assert_int_equal(verdict.ended[0], RUN_RESET);
}

/* One counter's fault holds the whole reading: both are dated together. */
static void test_two_counters(void **state)
{
    (void)state;
    struct reading reading = { .boot_ms = 1000 };
    check_init(&check, 3, 10000000, 10000);
    for (int i = 0; i < 3; i++, reading.boot_ms += 1000) {
        for (int c = 0; c < 2; c++)
            reading.counter[c] = (struct counter_reading){ .value = 5000000, .step = 1000 };
        check_take(&check, &reading, &verdict);
    }
    assert_int_equal(verdict.accepted, 3);
    reading.counter[1].value = 0;
    for (int i = 0; i < 3; i++, reading.boot_ms += 1000)
        check_take(&check, &reading, &verdict);
    assert_int_equal(verdict.accepted, 3);
    assert_int_equal(verdict.ended[0], RUN_GOES_ON);
    assert_int_equal(verdict.ended[1], RUN_RESET);
}

static void test_momentary_windows(void **state)
{
    (void)state;
    struct reading reading = { .boot_ms = 1000 };
    check_init(&check, 0, 10000000, 10000);
    check.window[0] = 100000;
    check.window[1] = 300000;
    check.window[2] = 45000;
    check.window[3] = 65000;
    reading.has[Q_VOLTAGE_L1] = reading.has[Q_VOLTAGE_L2] = reading.has[Q_FREQUENCY] =
        reading.has[Q_CURRENT_L1] = true;
    reading.value[Q_VOLTAGE_L1] = 230000;
    reading.value[Q_VOLTAGE_L2] = 4000;
    reading.value[Q_FREQUENCY] = 500000;
    reading.has[Q_VOLTAGE_L3] = true; /* not connected: left out, no fault */
    enum quantity first = Q_POWER;
    assert_int_equal(check_momentary(&check, &reading, &first), 2);
    assert_int_equal(first, Q_VOLTAGE_L2);
    assert_true(reading.has[Q_VOLTAGE_L1] && reading.has[Q_CURRENT_L1]);
    assert_false(reading.has[Q_VOLTAGE_L2] || reading.has[Q_VOLTAGE_L3] || reading.has[Q_FREQUENCY]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_first_reading_is_confirmed_by_two),
        cmocka_unit_test(test_normal_and_jitter),
        cmocka_unit_test(test_glitch_is_dropped),
        cmocka_unit_test(test_two_zeros_are_no_reset),
        cmocka_unit_test(test_confirmed_changes),
        cmocka_unit_test(test_gap_end),
        cmocka_unit_test(test_fall_after_an_unknown_time),
        cmocka_unit_test(test_resumed_track),
        cmocka_unit_test(test_two_counters),
        cmocka_unit_test(test_momentary_windows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
