/* links: daemon/meter.c daemon/samples.c daemon/decode.c daemon/record/account.c daemon/record/check.c daemon/record/muldiv.c daemon/record/quantity.c daemon/record/book.c */
/* One meter's accounts, without the collector around it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "meter.h"

static const struct config_site site = { .interval_s = 300, .poll_period_ms = 1000, .voltage_max = 300 };
static struct config_meter config;
static struct plan plan;
static struct meter meter;
static struct reading reading;
static struct accounted accounted;

/* A meter whose map has these quantities. */
static void begin(const uint8_t quantities[], int count)
{
    config = (struct config_meter){ .number = 1,
                                    .rated_w = 20000,
                                    .ct_primary = 1,
                                    .ct_secondary = 1,
                                    .vt_primary = 1,
                                    .vt_secondary = 1,
                                    .reversed = config.reversed };
    memset(&plan, 0, sizeof plan);
    plan.point_count = count;
    for (int i = 0; i < count; i++)
        plan.points[i] = (struct point){ .quantity = quantities[i],
                                         .type = TYPE_UINT16,
                                         .size = 1,
                                         .multiplier = 1,
                                         .divisor = 1,
                                         .address = i,
                                         .scale_address = NO_REGISTER };
    plan.request_count = 1;
    plan.requests[0] = (struct request){ .count = (uint16_t)count, .point_count = (uint16_t)count };
    meter_init(&meter, &config, 0, &site);
    meter_set_plan(&meter, &plan, &site);
    memset(&reading, 0, sizeof reading);
}

static int64_t account_import(int64_t value)
{
    reading.boot_ms += 1000;
    reading.counter[Q_ACTIVE_IMPORT] = (struct counter_reading){ .value = value, .step = 1000 };
    meter_account(&meter, SERIES_ACTIVE, &reading, NULL, &accounted);
    return accounted.account[SERIES_ACTIVE][0];
}

/* Reversed currents turn reactive and apparent energy too, as they turn the power. */
static void test_reversed(void **state)
{
    (void)state;
    static const uint8_t all[] = { Q_ACTIVE_IMPORT, Q_REACTIVE_IMPORT, Q_APPARENT_EXPORT, Q_REACTIVE_POWER };
    static const uint16_t registers[] = { 11, 12, 13, 14 };
    const struct point *refused;
    config.reversed = true;
    begin(all, 4);
    assert_int_equal(meter_counters(&meter, &plan),
                     1U << Q_ACTIVE_EXPORT | 1U << Q_REACTIVE_EXPORT | 1U << Q_APPARENT_IMPORT);
    assert_int_equal(meter_decode(&meter, &plan, 0, registers, 1000000, &refused), 0);
    assert_int_equal(meter.pending.counter[Q_ACTIVE_EXPORT].value, 11000);
    assert_int_equal(meter.pending.counter[Q_REACTIVE_EXPORT].value, 12000);
    assert_int_equal(meter.pending.counter[Q_APPARENT_IMPORT].value, 13000);
    assert_int_equal(meter.pending.value[Q_REACTIVE_POWER], -14000);
    config.reversed = false;
}

/* Another serial number: another meter, even where its register could be the old one's. */
static void test_exchange_that_looks_like_energy(void **state)
{
    (void)state;
    static const uint8_t import[] = { Q_ACTIVE_IMPORT };
    begin(import, 1);
    snprintf(meter.serial, sizeof meter.serial, "A1");
    assert_int_equal(account_import(500000), 500000);
    assert_int_equal(account_import(501000), 501000);
    snprintf(meter.serial, sizeof meter.serial, "B2");
    assert_int_equal(account_import(503000), 501000);
    assert_int_equal(accounted.ended_count, 1);
    assert_string_equal(accounted.ended[0].ended, "exchange");
    assert_int_equal(account_import(504000), 502000);
    assert_int_equal(accounted.ended_count, 0);
}

/* A power register gone wrong moves the account inside its step and breaks no sum. */
static void test_absurd_power(void **state)
{
    (void)state;
    static const uint8_t import[] = { Q_ACTIVE_IMPORT };
    enum quantity first;
    begin(import, 1);
    account_import(500000);
    for (int i = 0; i < 40; i++) {
        reading.has[Q_POWER] = true;
        reading.value[Q_POWER] = i % 2 ? INT64_MAX : INT64_MIN;
        assert_int_equal(check_momentary(&meter.series[SERIES_ACTIVE].check, &reading, &first), 1);
        reading.has[Q_POWER] = true;
        reading.value[Q_POWER] = INT64_C(100000000000000);
        assert_int_equal(check_momentary(&meter.series[SERIES_ACTIVE].check, &reading, &first), 0);
        assert_in_range(account_import(500000), 500000, 500999);
        meter_sample(&meter, &reading, 0);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reversed),
        cmocka_unit_test(test_exchange_that_looks_like_energy),
        cmocka_unit_test(test_absurd_power),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
