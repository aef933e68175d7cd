/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c COLLECTOR */
/* What of a meter's answers is not believed, as the record tells it: raw, counted, an event when it
 * begins and one when it is over. And who the meter is. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "audit.h"
#include "disk.h"
#include "log.h"
#include "wire.h"

static struct site site;
static const enum meter_role one_grid[] = { ROLE_GRID };

static void begin(uint64_t seed, const char *serial)
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, 1, one_grid, 300, 1000);
    site.meters[0].serial = serial;
    site.meters[0].first[0] += 5000000;
    site.meters[0].power_mw = 2000000;
    assert_true(site_start(&site));
    site_run(&site, 60);
}

static int64_t events(const char *kind, const char *text)
{
    return audit_ask("SELECT count(*) FROM event WHERE kind = '%s' AND text GLOB '%s'", kind, text);
}

static int64_t counted(const char *kind)
{
    return audit_ask("SELECT coalesce(sum(count), 0) FROM event WHERE kind = '%s'", kind);
}

/* Every other answer is zero for a while, and again an hour later. */
static void test_gate(void **state)
{
    (void)state;
    begin(1, NULL);
    for (int episode = 1; episode <= 2; episode++) {
        for (int i = 0; i < 50; i++) {
            site.meters[0].zero_polls = 1;
            site_run(&site, 2);
        }
        site_run(&site, 3600);
        assert_int_equal(
            events("rejected",
                   "active_import read 0 (raw 0x0) after *; active_export read 0 (raw 0x0) after *"),
            episode);
        assert_int_equal(events("rejected", "*"), 2 * episode);
        assert_int_equal(counted("rejected"), 50 * episode);
    }
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NOT NULL"), 0);
    audit_conservation(&site);
    site_finish(&site);
}

/* An episode that does not end is told of each day, one that the end of the process cuts at once. */
static void test_without_end(void **state)
{
    (void)state;
    begin(2, NULL);
    site.meters[0].voltage_mv = 500000;
    site_run(&site, 30 * 3600);
    assert_int_equal(events("rejected", "voltage_l1 read 500000 thousandths (raw 0xc350), *"), 2);
    assert_int_equal(events("rejected", "*"), 3);
    site_stop(&site, true);
    assert_int_equal(events("rejected", "*"), 4);
    assert_int_equal(counted("rejected"), 30 * 3600);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE voltage > 30000"), 0);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE how & 15 <> 0 OR voltage IS NULL AND ts > "
                  "(SELECT min(ts) FROM interval)") > 300,
        1);
    site_finish(&site);
}

static void test_jitter(void **state)
{
    (void)state;
    begin(3, NULL);
    site.meters[0].back_steps = 2;
    for (int i = 0; i < 20; i++) {
        site.meters[0].back_polls = 1;
        site_run(&site, 2);
    }
    site_run(&site, 3600);
    assert_int_equal(counted("jitter"), 20);
    assert_int_equal(events("jitter", "*"), 2);
    assert_int_equal(counted("rejected"), 0);
    audit_conservation(&site);
    site_finish(&site);
}

/* Registers that are no value are kept as they came. */
static void test_range(void **state)
{
    (void)state;
    begin(4, NULL);
    for (int i = 0; i < 3; i++) {
        struct message message = { .kind = MESSAGE_ANSWER,
                                   .generation = 1,
                                   .boot_us = site.boot_ms * 1000,
                                   .plan = site.meters[0].plan,
                                   .count = 15 };
        struct message end = { .kind = MESSAGE_CYCLE_END, .generation = 1, .result = WIRE_OK };
        memset(message.registers, 0xfe, 30);
        inbox_put(site.inbox, &message);
        inbox_put(site.inbox, &end);
        site_run(&site, 1);
    }
    site_run(&site, 1000);
    assert_int_equal(events("rejected", "active_import at address 0 is no value, raw fefe fefe fefe fefe"),
                     1);
    assert_true(counted("rejected") >= 3);
    audit_conservation(&site);
    site_finish(&site);
}

static void test_serial_configured(void **state)
{
    (void)state;
    for (int right = 0; right < 2; right++) {
        disk_install(6);
        disk_format();
        site_init(&site, 6, 1, one_grid, 300, 1000);
        site.meters[0].serial = "A-1";
        snprintf(site.config.meters[0].serial, sizeof site.config.meters[0].serial, right ? "A-1" : "A-7");
        assert_true(site_start(&site));
        site_run(&site, 1000);
        assert_int_equal(events("serial", "*"), !right);
        site_finish(&site);
    }
}

/* Another meter answers after a gap, with a reading that the first could have had. */
static void test_serial(void **state)
{
    (void)state;
    begin(5, "A-1");
    site_run(&site, 3600);
    site.meters[0].silent = true;
    site_run(&site, 600);
    site.meters[0].serial = "B-2";
    site.meters[0].first[0] += 300000;
    site.meters[0].silent = false;
    int64_t before = audit_ask("SELECT sum(import) FROM interval");
    site_run(&site, 1200);
    assert_int_equal(events("serial", "serial number is now ?B-2?, was ?A-1?"), 1);
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended = 'exchange' AND serial = 'A-1'"), 2);
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE began = 'exchange' AND serial = 'B-2'"), 2);
    /* 2 kW in the minutes that somebody watched, nothing for those in between */
    assert_in_range(audit_ask("SELECT sum(import) FROM interval") - before, 400000, 700000);
    audit_conservation(&site);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gate),   cmocka_unit_test(test_without_end),
        cmocka_unit_test(test_jitter), cmocka_unit_test(test_range),
        cmocka_unit_test(test_serial), cmocka_unit_test(test_serial_configured),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
