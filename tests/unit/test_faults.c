/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* One fault after another, each found by reading or by tests/sim: the collector,
 * its store and SQLite on simulated meters, clocks and disk. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "disk.h"
#include "log.h"

static struct site site;
static const enum meter_role grid[] = { ROLE_GRID };
static const enum meter_role household[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };

static void begin(uint64_t seed, int count, const enum meter_role roles[], int64_t interval_s)
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, count, roles, interval_s, 1000);
    for (int i = 0; i < count; i++)
        site.meters[i].power_mw = 3600000;
}

/* Another configuration, read at a reload or a start. */
static void change_setting(void)
{
    static int loads;
    snprintf(site.config.hash, sizeof site.config.hash, "%016d", ++loads + 1);
}

static void restart(void)
{
    site_stop(&site, true);
    assert_true(site_start(&site));
}

static void check_all(void)
{
    audit_conservation(&site);
    audit_days();
    audit_tiling(900);
    audit_runs();
}

/* The account stands where the register would had it never been reset. */
static void check_total(int meter, int counter, int64_t lost)
{
    int64_t truth = site.meters[meter].first[counter] + site.meters[meter].truth[counter];
    int64_t total = audit_total(&site, meter, counter);
    if (total > truth + 1000 || total < truth - 2000 - lost)
        fail_msg("meter %d counter %d: account %lld, truth %lld: %lld too much", meter, counter,
                 (long long)total, (long long)truth, (long long)(total - truth));
}

/* A map that gains a counter: its register is no energy. */
static void test_counter_joins(void **state)
{
    (void)state;
    begin(1, 1, grid, 60);
    site.meters[0].without = 2;
    assert_true(site_start(&site));
    site_run(&site, 500);
    site_stop(&site, true);
    site.meters[0].without = 0;
    assert_true(site_start(&site));
    site_run(&site, 500);
    check_all();
    check_total(0, 0, 0);
    assert_int_equal(audit_ask("SELECT sum(export) FROM interval"), 0);
    site_finish(&site);
}

/* A walk finds another counter while rows wait for their commit. */
static void test_counter_joins_while_running(void **state)
{
    (void)state;
    begin(2, 1, grid, 60);
    site.config.site.commit_s = 900;
    site.meters[0].without = 2;
    assert_true(site_start(&site));
    site_run(&site, 1300);
    site.meters[0].without = 0;
    site_replan(&site.meters[0]);
    site_run(&site, 3000);
    assert_false(site.collect->failing);
    check_all();
    check_total(0, 0, 0);
    assert_int_equal(audit_ask("SELECT sum(export) FROM interval"), 0);
    site_finish(&site);
}

/* The known counter is reset while off, beside one that is new. */
static void test_counter_joins_after_reset(void **state)
{
    (void)state;
    begin(3, 1, grid, 60);
    site.meters[0].first[0] = 500000000;
    site.meters[0].without = 2;
    assert_true(site_start(&site));
    site_run(&site, 500);
    site_stop(&site, true);
    site.meters[0].without = 0;
    site.meters[0].taken_off[0] = site.meters[0].first[0] + site.meters[0].truth[0];
    assert_true(site_start(&site));
    site_run(&site, 500);
    check_all();
    check_total(0, 0, 100000);
    site_finish(&site);
}

/* A meter answers for the first time while the record is closed. */
static void test_answer_while_closed(void **state)
{
    (void)state;
    begin(4, 2, (const enum meter_role[]){ ROLE_GRID, ROLE_PRODUCTION }, 60);
    assert_true(site_start(&site));
    site_run(&site, 500);
    site_stop(&site, true);
    site.meters[1].silent = true;
    assert_true(site_start(&site));
    disk_fail_at(1, SQLITE_IOERR_WRITE);
    for (int s = 0; s < 200 && !site.collect->failing; s++)
        site_second(&site);
    assert_null(site.collect->store);
    site.meters[1].silent = false;
    site_run(&site, 500);
    assert_false(site.collect->failing);
    check_all();
    check_total(1, 0, 0);
    site_finish(&site);
}

/* The clock goes back by an hour, then the process ends: the frontier lies ahead. */
static void test_restart_behind_the_frontier(void **state)
{
    (void)state;
    begin(5, 1, grid, 300);
    assert_true(site_start(&site));
    site_run(&site, 4000);
    site.wall_error_ms = -3600000;
    site_run(&site, 1000);
    restart();
    site_run(&site, 4000);
    check_all();
    check_total(0, 0, 0);
    site_finish(&site);
}

/* A register that shows two steps less after a restart. */
static void test_jitter_at_start(void **state)
{
    (void)state;
    begin(6, 1, grid, 60);
    assert_true(site_start(&site));
    site_run(&site, 500);
    site_stop(&site, true);
    site.meters[0].power_mw = 0;
    site.meters[0].back_polls = 30;
    site.meters[0].back_steps = 2;
    assert_true(site_start(&site));
    site_run(&site, 300);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE import < 0"), 0);
    check_all();
    check_total(0, 0, 0);
    site_finish(&site);
}

/* A sync fails at the first commit of a run; the run changes before the record is open again. */
static void test_run_changes_while_in_doubt(void **state)
{
    (void)state;
    int doubts = 0;
    for (int64_t n = 1; n < 40; n++) {
        begin(100 + (uint64_t)n, 1, grid, 60);
        site.meters[0].first[0] = 500000000;
        assert_true(site_start(&site));
        disk_fail_at(n, SQLITE_IOERR_FSYNC);
        for (int s = 0; s < 200 && !site.collect->failing; s++)
            site_second(&site);
        doubts += site.collect->in_doubt;
        site.meters[0].taken_off[0] = site.meters[0].first[0] + site.meters[0].truth[0];
        site_run(&site, 400);
        disk_fail_at(0, 0);
        site_run(&site, 200);
        assert_false(site.collect->failing);
        check_all();
        restart();
        site_run(&site, 200);
        check_all();
        check_total(0, 0, 10000);
        site_finish(&site);
    }
    assert_true(doubts > 0);
}

/* The same where the commit holds a run and events but no row yet. */
static void test_doubt_without_rows(void **state)
{
    (void)state;
    int doubts = 0;
    for (int64_t n = 1; n < 20; n++) {
        begin(200 + (uint64_t)n, 1, grid, 900);
        site.real_ms -= site.real_ms % 900000;
        assert_true(site_start(&site));
        disk_fail_at(n, SQLITE_IOERR_FSYNC);
        for (int s = 0; s < 400 && !site.collect->failing; s++)
            site_second(&site);
        doubts += site.collect->in_doubt && site.collect->outbox.row_count == 0;
        site_run(&site, 400);
        disk_fail_at(0, 0);
        site_run(&site, 1200);
        check_all();
        assert_int_equal(audit_ask("SELECT count(*) FROM run"), 2);
        assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'start'"), 1);
        site_finish(&site);
    }
    assert_true(doubts > 0);
}

/* The interval's length changes at a reload; restarts follow while partial rows are the newest. */
static void test_interval_changes(void **state)
{
    (void)state;
    static const int32_t lengths[] = { 60, 300, 900, 60, 900, 300 };
    begin(7, 1, grid, 300);
    assert_true(site_start(&site));
    site_run(&site, 1000);
    for (int i = 0; i < 6; i++) {
        site_stop(&site, true);
        site.config.site.interval_s = lengths[i];
        change_setting();
        assert_true(site_start(&site));
        for (int k = 0; k < 5; k++) {
            site_run(&site, 100 + 137 * k);
            restart();
        }
        site_run(&site, 50);
        audit_conservation(&site);
        audit_tiling(900);
    }
    site_run(&site, 2000);
    check_all();
    check_total(0, 0, 0);
    site_finish(&site);
}

/* Two lengths are loaded while the meter is silent: its newest row was of neither. */
static void test_interval_changes_in_a_gap(void **state)
{
    (void)state;
    begin(8, 1, grid, 60);
    assert_true(site_start(&site));
    site_run(&site, 1000);
    site.meters[0].silent = true;
    static const int32_t lengths[] = { 900, 300 };
    for (int i = 0; i < 2; i++) {
        site_stop(&site, true);
        site.config.site.interval_s = lengths[i];
        change_setting();
        assert_true(site_start(&site));
        site_run(&site, 100);
    }
    site.meters[0].silent = false;
    site_run(&site, 2000);
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM (SELECT lead(ts) OVER (ORDER BY ts) - ts AS n FROM "
                               "interval) WHERE n > 300"),
                     0);
    check_total(0, 0, 0);
    site_finish(&site);
}

/* A step of an hour ahead is seen between two polls: what it skips is not measured. */
static void test_step_between_polls(void **state)
{
    (void)state;
    begin(9, 1, grid, 300);
    site.config.site.poll_period_ms = 20000;
    assert_true(site_start(&site));
    site_run(&site, 2000);
    while (site.boot_ms % 20000 != 5000)
        site_second(&site);
    site.wall_error_ms = 3600000;
    site_run(&site, 1000);
    check_all();
    int64_t unobserved =
        audit_ask("SELECT sum(unobserved) FROM interval WHERE ts > (SELECT min(ts) FROM interval)");
    assert_true(unobserved >= 3500 && unobserved <= 3700);
    site_finish(&site);
}

/* Direction turned at a reload, where the map has one counter. */
static void test_direction_of_one_counter(void **state)
{
    (void)state;
    begin(10, 1, grid, 60);
    site.meters[0].without = 2;
    assert_true(site_start(&site));
    site_run(&site, 500);
    site_stop(&site, true);
    site.config.meters[0].reversed = true;
    change_setting();
    site_run(&site, 100);
    assert_true(site_start(&site));
    site_run(&site, 500);
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NULL"), 1);
    int64_t energy = audit_ask("SELECT sum(coalesce(import, 0) + coalesce(export, 0)) FROM interval");
    const struct book *book = &site.collect->meters[0].series[0].book;
    assert_true(llabs(energy + book->to[0] - book->fixed[0] - site.meters[0].truth[0]) < 6000);
    site_finish(&site);
}

/* More runs end at once than wait ordinarily: a ratio before all meters changes. */
static void test_many_runs_end_at_once(void **state)
{
    (void)state;
    enum meter_role roles[SITE_METERS];
    for (int i = 0; i < SITE_METERS; i++)
        roles[i] = ROLE_BRANCH;
    begin(11, SITE_METERS, roles, 60);
    assert_true(site_start(&site));
    site_run(&site, 200);
    site_stop(&site, true);
    for (int i = 0; i < SITE_METERS; i++)
        site.config.meters[i].vt_primary = 2;
    change_setting();
    assert_true(site_start(&site));
    disk_set_full(true);
    for (int k = 0; k < 10; k++) {
        for (int i = 0; i < SITE_METERS; i++)
            site.meters[i].taken_off[0] = site.meters[i].first[0] + site.meters[i].truth[0];
        site_run(&site, 20);
    }
    disk_set_full(false);
    site_run(&site, 200);
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NULL"), 2 * SITE_METERS);
    site_finish(&site);
}

/* A meter whose map lacks the counter to be netted leaves the derived meter without rows, nothing else. */
static void test_derived_without_a_counter(void **state)
{
    (void)state;
    begin(12, 2, household, 60);
    site.meters[0].without = 1;
    assert_true(site_start(&site));
    site_run(&site, 500);
    assert_false(site.collect->failing);
    check_all();
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE meter = 1") > 5);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE meter = 1023"), 0);
    site_finish(&site);
}

/* A side that misses polls inside an interval: nothing flows both ways because of it. */
static void test_derived_side_misses_polls(void **state)
{
    (void)state;
    begin(13, 2, household, 300);
    assert_true(site_start(&site));
    site.meters[0].power_mw = 3600000;
    site.meters[1].power_mw = 1800000;
    while (site.real_ms % 300000 != 10000)
        site_second(&site);
    site_run(&site, 600);
    site.meters[1].silent = true;
    site_run(&site, 200);
    site.meters[1].silent = false;
    site_run(&site, 900);
    check_all();
    assert_true(audit_ask("SELECT sum(export) FROM interval WHERE meter = 1023") < 3000);
    assert_true(audit_ask("SELECT max(unobserved) FROM interval WHERE meter = 1023 AND ts > (SELECT min(ts) "
                          "FROM interval WHERE meter = 1023)") >= 199);
    site_finish(&site);
}

/* The derived meter is not needed for a while: what a real one measured is not derived afterwards. */
static void test_derived_comes_back(void **state)
{
    (void)state;
    begin(14, 3, (const enum meter_role[]){ ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_BRANCH }, 60);
    assert_true(site_start(&site));
    site_run(&site, 400);
    int64_t rows[3];
    static const enum meter_role then[] = { ROLE_GRID, ROLE_BRANCH, ROLE_BRANCH };
    for (int i = 0; i < 3; i++) {
        rows[i] = audit_ask("SELECT count(*) FROM interval WHERE meter = 1023");
        site_stop(&site, true);
        site.config.meters[2].role = then[i];
        change_setting();
        assert_true(site_start(&site));
        site_run(&site, 600);
        check_all();
    }
    assert_int_equal(rows[0], rows[1]);
    assert_true(rows[2] > rows[1] && rows[2] < rows[1] + 13);
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE meter = 1023"), 4);
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE meter = 1023 AND ended IS NULL"), 2);
    site_finish(&site);
}

/* Begins an undated boot of a site that has run for a while. */
static void begin_undated(uint64_t seed, int64_t interval_s)
{
    begin(seed, 1, grid, interval_s);
    site.meters[0].first[0] = 500000000;
    assert_true(site_start(&site));
    site_run(&site, 1000);
    site.synchronised = false;
    site.wall_error_ms = -86400000;
    site_power_off(&site, 60000);
    assert_true(site_start(&site));
    site_run(&site, 1000);
}

static void come_into_date(void)
{
    site.synchronised = true;
    site.wall_error_ms = 0;
    site_run(&site, 1000);
    check_all();
    site_run(&site, 1000);
    restart();
    site_run(&site, 1000);
    check_all();
}

/* Runs that change while nothing is dated: a reset, and an exchange for a meter that shows more. */
static void test_run_changes_while_undated(void **state)
{
    (void)state;
    static const int64_t moves[] = { 400000000, -100000, -400000000 };
    for (int i = 0; i < 3; i++)
        for (int again = 0; again < 2; again++) {
            begin_undated(15, 300);
            site.meters[0].taken_off[0] += moves[i];
            site_run(&site, 1000);
            if (again) {
                restart();
                site_run(&site, 700);
            }
            come_into_date();
            check_total(0, 0, 10000);
            site_finish(&site);
        }
}

/* Trust comes while the disk is full. */
static void test_trust_while_full(void **state)
{
    (void)state;
    for (int first = 0; first < 2; first++) {
        begin(16, 1, grid, 60);
        if (!first) {
            assert_true(site_start(&site));
            site_run(&site, 300);
        }
        site.synchronised = false;
        site.wall_error_ms = -86400000;
        site_power_off(&site, 60000);
        assert_true(site_start(&site));
        site_run(&site, 500);
        disk_set_full(true);
        site_run(&site, 500);
        site.synchronised = true;
        site.wall_error_ms = 0;
        site_run(&site, 500);
        disk_set_full(false);
        site_run(&site, 500);
        assert_false(site.collect->failing);
        check_all();
        check_total(0, 0, 0);
        assert_int_equal(audit_ask("SELECT count(*) FROM held"), 0);
        assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 32") > 10);
        site_finish(&site);
    }
}

/* Absurd power (a float gone wrong) moves nothing out of its step and breaks no sum. */
static void test_absurd_power(void **state)
{
    (void)state;
    struct account account;
    account_begin(&account, 1000, 1000);
    account_read(&account, 1000, 1000, 0, 1000);
    begin(17, 1, grid, 60);
    assert_true(site_start(&site));
    struct meter *meter = &site.collect->meters[0];
    site_run(&site, 100);
    struct reading reading = { .boot_ms = meter->series[0].check.last_ms };
    memcpy(reading.counter, meter->series[0].check.last, sizeof reading.counter);
    for (int i = 0; i < 40; i++) {
        struct accounted accounted;
        enum quantity first;
        reading.boot_ms += 1000;
        reading.value[Q_POWER] = i % 2 ? INT64_MAX / 2 : INT64_MIN / 2;
        check_momentary(&meter->series[0].check, &reading, &first);
        meter_account(meter, SERIES_ACTIVE, &reading, NULL, &accounted);
        meter_sample(meter, &reading, 0);
        reading.has[Q_POWER] = true;
    }
    audit_conservation(&site);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_counter_joins),
        cmocka_unit_test(test_counter_joins_while_running),
        cmocka_unit_test(test_counter_joins_after_reset),
        cmocka_unit_test(test_answer_while_closed),
        cmocka_unit_test(test_restart_behind_the_frontier),
        cmocka_unit_test(test_jitter_at_start),
        cmocka_unit_test(test_run_changes_while_in_doubt),
        cmocka_unit_test(test_doubt_without_rows),
        cmocka_unit_test(test_interval_changes),
        cmocka_unit_test(test_interval_changes_in_a_gap),
        cmocka_unit_test(test_step_between_polls),
        cmocka_unit_test(test_direction_of_one_counter),
        cmocka_unit_test(test_many_runs_end_at_once),
        cmocka_unit_test(test_derived_without_a_counter),
        cmocka_unit_test(test_derived_side_misses_polls),
        cmocka_unit_test(test_derived_comes_back),
        cmocka_unit_test(test_run_changes_while_undated),
        cmocka_unit_test(test_trust_while_full),
        cmocka_unit_test(test_absurd_power),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
