/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c COLLECTOR */
/* Rows that a wrong clock dated are taken back and dated anew: with the real
 * collector and store on simulated meters, clocks and disk. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "disk.h"
#include "log.h"
#include "schema.h"
#include "site.h"

#define HOUR INT64_C(3600)
#define DAY  INT64_C(86400)

enum { MARKS = 4000, LENGTH = 300 };

static struct site site;
static const enum meter_role sides[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };

/* What went through meter 1 until each whole 5 minutes of true time. */
static int64_t marks[MARKS], marks_from_s;

static void begin(uint64_t seed)
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, 2, sides, LENGTH, 1000);
    site.config.site.clock_trust = TRUST_BATTERY;
    site.config.site.poll_period_ms = 10000;
    site.config.meters[1].delivers_by_export = true;
    marks_from_s = site.real_ms / 1000 / LENGTH * LENGTH;
    memset(marks, 0, sizeof marks);
}

static void mark(void)
{
    int64_t at = (site.real_ms / 1000 - marks_from_s) / LENGTH;
    if (at >= 0 && at < MARKS && site.real_ms / 1000 % LENGTH == 0)
        marks[at] = site.meters[0].truth[0];
}

/* Another power each hour of true time. */
static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        int64_t hour = site.real_ms / 3600000;
        site.meters[0].power_mw = 200000 + hour * 7919 % 13 * 150000;
        site.meters[1].power_mw = -(hour * 104729 % 11) * 200000;
        site_second(&site);
        mark();
    }
}

static void boot(int64_t off_s, int64_t wall_error_ms, bool synchronised)
{
    site_power_off(&site, off_s * 1000);
    site.wall_error_ms = wall_error_ms;
    site.synchronised = synchronised;
    assert_true(site_start(&site));
}

static void network(void)
{
    site.wall_error_ms = 0;
    site.synchronised = true;
}

static void check_accounts(int64_t longest_s)
{
    audit_conservation(&site);
    audit_days();
    audit_tiling(longest_s);
    audit_runs();
    audit_first_runs();
    for (int m = 0; m < 2; m++) {
        int64_t truth = site.meters[m].first[m] + site.meters[m].truth[m], total = audit_total(&site, m, m);
        if (total > truth + 1000 || total < truth - 20000)
            fail_msg("meter %d: account %lld, truth %lld", m, (long long)total, (long long)truth);
    }
}

static void check_all(void)
{
    check_accounts(LENGTH);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE id < 0 OR estimated < 0 OR unobserved > 300"), 0);
    /* in every derived row: I - E = C - P, neither more than its side */
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval AS d JOIN interval AS c ON c.id = d.id - 1022 "
                  "JOIN interval AS p ON p.id = d.id - 1021 WHERE d.meter = 1023 AND (d.import - "
                  "d.export <> c.import - p.export OR d.import > c.import OR d.export > p.export "
                  "OR d.import < 0 OR d.export < 0)"),
        0);
    int64_t last_s = audit_ask("SELECT max(ts) + 300 FROM interval");
    if (last_s * 1000 > site.real_ms + LENGTH * 1000)
        fail_msg("a row ends %lld s later than now", (long long)(last_s - site.real_ms / 1000));
}

/* Each hour of watched rows is what went through the meter in that hour; it was read into rows of so many s.
 */
static int check_hours(int64_t from_s, int64_t to_s, int64_t row_s)
{
    int hours = 0;
    for (int64_t s = (from_s + HOUR - 1) / HOUR * HOUR; s + HOUR <= to_s; s += HOUR) {
        int64_t sum =
            audit_ask("SELECT coalesce(sum(import), -1) FROM interval WHERE meter = 1 AND ts >= %lld "
                      "AND ts < %lld AND unobserved < 60",
                      (long long)s, (long long)(s + HOUR));
        int64_t count =
            audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND ts >= %lld AND ts < %lld "
                      "AND unobserved < 60",
                      (long long)s, (long long)(s + HOUR));
        int64_t truth = marks[(s + HOUR - marks_from_s) / LENGTH] - marks[(s - marks_from_s) / LENGTH];
        if (count != HOUR / site.config.site.interval_s)
            continue;
        hours++;
        /* at the two ends half a row's difference of power may be on the wrong side */
        if (llabs(sum - truth) > 160000 * row_s / LENGTH)
            fail_msg("hour %lld: %lld mWh, truth %lld", (long long)((s - marks_from_s) / HOUR),
                     (long long)sum, (long long)truth);
    }
    return hours;
}

/* A battery clock is off; the network comes in the same boot. */
static void test_network_corrects_the_battery(void **state)
{
    (void)state;
    static const int64_t errors[] = {
        2 * HOUR + 17, -2 * HOUR - 17, 30 * DAY, 400, -400, 11 * HOUR, 9 * DAY
    };
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        begin(10 + i);
        boot(0, 0, true);
        live(5 * HOUR + 1000);
        boot(3 * HOUR, errors[i] * 1000, false);
        int64_t from_s = site.real_ms / 1000;
        live(10 * HOUR);
        assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'battery'"), 1);
        network();
        live(2 * HOUR);
        check_all();
        assert_true(check_hours(from_s + 600, site.real_ms / 1000 - 600, LENGTH) >= 9);
        assert_true(check_hours(marks_from_s + LENGTH, from_s, LENGTH) >= 4);
        assert_true(audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 64") > 100);
        assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'battery'"), 0);
        live(i == 0 ? DAY : HOUR);
        check_all();
        boot(60, 0, true);
        live(HOUR);
        check_all();
        site_finish(&site);
    }
}

/* Several boots under the same wrong battery clock. */
static void test_earlier_boots_take_the_same_step(void **state)
{
    (void)state;
    static const int64_t errors[] = { 5 * HOUR + 123, -90 * 60 };
    for (size_t i = 0; i < 2; i++) {
        begin(30 + i);
        boot(0, 0, true);
        live(5 * HOUR);
        int64_t from_s = site.real_ms / 1000 + 2 * HOUR;
        for (int b = 0; b < 3; b++) {
            boot(2 * HOUR, errors[i] * 1000, false);
            live(4 * HOUR + 77 * b);
        }
        network();
        live(3 * HOUR);
        check_all();
        assert_true(check_hours(from_s + 600, site.real_ms / 1000 - 600, LENGTH) >= 10);
        assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'battery'"), 2);
        live(3 * HOUR);
        check_all();
        site_finish(&site);
    }
}

/* A boot with the network says that what an earlier one dated lies in the future. */
static void test_rows_later_than_now_become_a_gap(void **state)
{
    (void)state;
    static const int64_t errors[] = { 9 * DAY, 4 * HOUR };
    for (size_t i = 0; i < 2; i++) {
        begin(40 + i);
        boot(0, 0, true);
        live(5 * HOUR);
        boot(HOUR, errors[i] * 1000, false);
        live(9 * HOUR);
        boot(HOUR, 0, true);
        live(3 * HOUR);
        check_all();
        assert_true(check_hours(site.real_ms / 1000 - 3 * HOUR + 600, site.real_ms / 1000 - 600, LENGTH) >=
                    1);
        live(3 * HOUR);
        check_all();
        site_finish(&site);
    }
}

/* The network's own time is wrong for a while. */
static void test_step_there_and_back(void **state)
{
    (void)state;
    begin(50);
    boot(0, 0, true);
    live(15 * HOUR);
    site.wall_error_ms = 2 * HOUR * 1000;
    live(HOUR);
    network();
    live(4 * HOUR);
    check_all();
    assert_true(check_hours(marks_from_s + LENGTH, site.real_ms / 1000 - 600, LENGTH) >= 16);
    site.wall_error_ms = -3 * HOUR * 1000; /* back, of a long stretch: what it had is squeezed into a gap */
    live(HOUR);
    audit_conservation(&site);
    network();
    live(5 * HOUR);
    check_all();
    site_finish(&site);
}

/* Rows of another length than those now: each still ends where the next begins. */
static void test_interval_changed_before(void **state)
{
    (void)state;
    static const int32_t lengths[][2] = { { 60, 900 }, { 300, 900 }, { 900, 300 } };
    static const int64_t errors[] = { 5000, -1922, 2 * HOUR + 17 };
    for (size_t i = 0; i < 9; i++) {
        begin(70 + i);
        site.config.site.interval_s = lengths[i % 3][0];
        site.synchronised = false;
        site.wall_error_ms = errors[i / 3] * 1000;
        site_run(&site, 97);
        assert_true(site_start(&site));
        live(4 * HOUR + 1000);
        site_stop(&site, true);
        int64_t changed_s = site.real_ms / 1000;
        site.config.site.interval_s = lengths[i % 3][1];
        assert_true(site_start(&site));
        live(HOUR);
        network();
        live(HOUR);
        assert_true(audit_ask("SELECT count(*) FROM event WHERE kind = 'clock' AND text LIKE '%% anew'") > 0);
        check_accounts(900);
        assert_in_range(check_hours(marks_from_s + LENGTH, changed_s, lengths[i % 3][0]), 3, 4);
        site_finish(&site);
    }
}

/* A month without network, then it says that boot time has drifted. */
static void test_holdover_is_stretched(void **state)
{
    (void)state;
    begin(60);
    boot(0, 0, true);
    live(2 * HOUR);
    site.synchronised = false;
    live(3 * DAY);
    assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'holdover'"), 1);
    int64_t rows = audit_ask("SELECT count(*) FROM interval WHERE meter = 1");
    /* 400 s in 3 days; boot time was slow by so much */
    site.real_ms += 400000;
    site.synchronised = true;
    live(2 * HOUR);
    check_all();
    assert_in_range(audit_ask("SELECT count(*) FROM interval WHERE meter = 1") - rows, 24, 26);
    assert_int_equal(
        audit_ask("SELECT sum(unobserved) FROM interval WHERE meter = 1 AND ts > (SELECT min(ts) "
                  "FROM interval)") < 700,
        1);
    assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'network'"), 2);
    site_finish(&site);
}

/* The clock was stepped and the disk was full: what was held since stands in the account of a process
 * that has ended. The next one takes up the record's, in which the register rolled over. */
static void test_held_by_a_process_before(void **state)
{
    (void)state;
    for (int hours = -1; hours <= 2; hours += 3) {
        begin(70);
        site.config.site.poll_period_ms = 1000;
        site.meters[0].modulus = 100000000;
        site.meters[0].first[0] = site.meters[0].modulus - 1000000;
        boot(0, 0, true);
        live(4 * HOUR);
        assert_true(site.meters[0].shown[0] < site.meters[0].modulus / 2);
        for (int64_t s = 0; s < HOUR; s++) {
            site.wall_error_ms = s < HOUR / 2 ? 0 : hours * HOUR * 1000;
            disk_fail_at(1, 13 /* SQLITE_FULL */);
            live(1);
        }
        assert_false(site.collect->date.trusted);
        disk_fail_at(0, 0);
        site_stop(&site, true);
        assert_true(audit_ask("SELECT count(*) FROM held") > 0);
        assert_true(site_start(&site));
        live(HOUR);
        network();
        live(HOUR);
        check_all();
        assert_int_equal(audit_ask("SELECT count(*) FROM held"), 0);
        assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended = 'reset'"), 0);
        site_finish(&site);
    }
}

/* A clock that stood still while the power was off: the energy of all these hours comes at once. */
static void test_clock_that_stood_still(void **state)
{
    (void)state;
    begin(70);
    boot(0, 0, true);
    live(2 * HOUR);
    boot(20 * HOUR, -(20 * HOUR - 60) * 1000, false);
    live(HOUR);
    assert_string_equal(site.collect->date.source, "battery");
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NOT NULL"), 0);
    boot(HOUR, 0, true);
    live(HOUR);
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NOT NULL"), 0);
    site_finish(&site);
}

/* By a clock that was put back, rows of the boot before end within this one: what flowed since is no jump. */
static void test_rows_end_within_the_next_boot(void **state)
{
    (void)state;
    begin(80);
    boot(0, 0, false);
    live(2 * HOUR);
    boot(600, -HOUR * 1000, false);
    site.meters[0].power_mw = 9000000;
    site_run(&site, 2900);
    site_stop(&site, false);
    site_run(&site, 200);
    assert_true(site_start(&site));
    network();
    live(HOUR);
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NOT NULL"), 0);
    check_all();
    site_finish(&site);
}

/* The transaction fails at each of its writes; then power is cut at each. */
static void test_all_or_nothing(void **state)
{
    (void)state;
    for (int cut = 0; cut < 2; cut++)
        for (int64_t n = 1, fails = 1; fails; n += 1 + n / 4) {
            begin(100 + (uint64_t)n);
            boot(0, 0, true);
            live(HOUR);
            boot(HOUR, 5 * HOUR * 1000, false);
            live(HOUR);
            network();
            if (cut)
                disk_cut_at_write(n);
            else
                disk_fail_at(n, 10 /* SQLITE_IOERR */);
            live(20);
            fails = cut ? disk_is_cut() : disk_failed();
            if (cut && fails)
                boot(60, 0, true);
            disk_fail_at(0, 0);
            disk_cut_at_write(0);
            live(1200);
            check_all();
            site_finish(&site);
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_network_corrects_the_battery),
        cmocka_unit_test(test_earlier_boots_take_the_same_step),
        cmocka_unit_test(test_rows_later_than_now_become_a_gap),
        cmocka_unit_test(test_step_there_and_back),
        cmocka_unit_test(test_interval_changed_before),
        cmocka_unit_test(test_holdover_is_stretched),
        cmocka_unit_test(test_held_by_a_process_before),
        cmocka_unit_test(test_clock_that_stood_still),
        cmocka_unit_test(test_rows_end_within_the_next_boot),
        cmocka_unit_test(test_all_or_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
