/* links: tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* The real collector, store and SQLite on simulated meters, clocks and disk. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "disk.h"
#include "log.h"
#include "schema.h"
#include "site.h"

static struct site site;

static void begin(uint64_t seed, int count, const enum meter_role roles[], int64_t interval_s, int64_t step)
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, count, roles, interval_s, step);
}

static int64_t ask(const char *sql)
{
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open_v2("record.db", &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    int code = sqlite3_prepare_v2(db, sql, -1, &statement, NULL);
    if (code != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return value;
}

/* Invariant 1: rows telescope to the account, and the account stays inside the
 * register's last step. Checked on what is in the record plus what is open. */
static void check_conservation(void)
{
    char sql[512];
    for (int i = 0; i < site.config.meter_count; i++) {
        const struct meter *meter = &site.collect->meters[i];
        const struct series *series = &meter->series[SERIES_ACTIVE];
        for (int32_t k = 0; k < series->check.count; k++) {
            int c = series->check.counters[k];
            const struct counter_state *state = &meter->counters[c];
            int64_t shown = state->account.value;
            assert_true(state->account.account >= shown &&
                        state->account.account < shown + state->account.step);
            if (state->run.id == 0)
                continue;
            int64_t waiting = 0;
            for (int32_t r = 0; r < site.collect->outbox.row_count; r++)
                if (site.collect->outbox.rows[r].meter == i)
                    waiting += site.collect->outbox.rows[r].row.energy[c];
            snprintf(
                sql, sizeof sql,
                "SELECT base + coalesce((SELECT sum(%s) FROM interval WHERE meter = %d AND ts >= base_s), 0) "
                "FROM run WHERE id = %lld",
                c ? "export" : "import", i + 1, (long long)state->run.id);
            assert_int_equal(ask(sql) + waiting, series->book.fixed[k] - state->offset);
            snprintf(sql, sizeof sql,
                     "SELECT anchor + coalesce((SELECT sum(%s) FROM interval WHERE meter = %d AND ts >= "
                     "anchor_s), 0) "
                     "FROM run WHERE id = %lld",
                     c ? "export" : "import", i + 1, (long long)state->run.id);
            assert_int_equal(ask(sql) + waiting, series->book.fixed[k] - state->offset);
        }
    }
    assert_int_equal(ask("SELECT count(*) FROM interval WHERE import < 0 OR export < 0 OR estimated < 0"), 0);
}

/* Every closed day is the sum of its rows. */
static void check_days(void)
{
    assert_int_equal(
        ask("SELECT count(*) FROM day WHERE import IS NOT (SELECT sum(import) FROM interval AS i WHERE "
            "i.meter = day.meter AND ts >= from_s AND ts < to_s)"),
        0);
}

static void check_total(int64_t first)
{
    const struct meter *meter = &site.collect->meters[0];
    int64_t open_part = meter->series[0].book.to[0] - meter->series[0].book.fixed[0];
    int64_t waiting = 0;
    for (int32_t r = 0; r < site.collect->outbox.row_count; r++)
        if (site.collect->outbox.rows[r].meter == 0)
            waiting += site.collect->outbox.rows[r].row.energy[0];
    int64_t total = first + ask("SELECT sum(import) FROM interval WHERE meter = 1") + waiting + open_part;
    int64_t truth = site.meters[0].first[0] + site.meters[0].truth[0];
    if (llabs(total - truth) > site.meters[0].step + 2000)
        fail_msg("account %lld, truth %lld, off by %lld mWh", (long long)total, (long long)truth,
                 (long long)(total - truth));
}

static void wander(int64_t second)
{
    for (int i = 0; i < site.config.meter_count; i++) {
        struct site_meter *meter = &site.meters[i];
        if (second % 37 == i)
            meter->power_mw = (int64_t)(site_random(&site) % 12000000) - 6000000;
        if (second % 211 < 5)
            meter->power_mw = 0;
    }
}

static void run_wandering(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        wander(s);
        site_second(&site);
    }
}

static const enum meter_role one_grid[] = { ROLE_GRID };
static const enum meter_role two[] = { ROLE_GRID, ROLE_PRODUCTION };

static void test_measured_day(void **state)
{
    (void)state;
    static const int64_t steps[] = { 1, 1000, 10000, 100000, 1000000 };
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        begin(11 + i, 2, two, 300, steps[i]);
        assert_true(site_start(&site));
        run_wandering(30 * 3600);
        check_conservation();
        check_days();
        assert_int_equal(ask("SELECT count(*) FROM day"), 2);
        assert_int_equal(ask("SELECT count(*) FROM interval WHERE how <> 0 OR estimated <> 0"), 0);
        assert_int_equal(
            ask("SELECT count(*) FROM interval WHERE unobserved > 0 AND ts > (SELECT min(ts) FROM interval)"),
            0);
        check_total(ask("SELECT base FROM run WHERE meter = 1 AND counter = 0"));
        site_finish(&site);
    }
}

/* rules of the trade: from a coarse counter the interval's shape comes from
 * power. The figure of the README: mean absolute error of 5-min energy from a
 * 0.1 kWh counter, power reading 1 % off, in percent of the mean. */
static void test_coarse_counter(void **state)
{
    (void)state;
    begin(5, 1, one_grid, 300, 100000);
    site.meters[0].error_ppm = 10000;
    assert_true(site_start(&site));
    int64_t truth_before = 0, error = 0, plain_error = 0, sum = 0, shown_before = 0, rows = 0;
    for (int64_t s = 0; s < 24 * 3600; s++) {
        /* base load, a fridge, a kettle now and then */
        site.meters[0].power_mw = 180000 + (s % 2400 < 800 ? 90000 : 0) + (s % 9000 < 150 ? 2000000 : 0) +
                                  (s % 20000 < 4000 ? 700000 : 0);
        site_second(&site);
        if (site.real_ms / 1000 % 300 != 0)
            continue;
        site_run(&site, 2); /* let the collector see the boundary pass */
        s += 2;
        int64_t truth = site.meters[0].truth[0] - site.meters[0].power_mw * 2 / 3600,
                shown = site.meters[0].shown[0];
        char sql[96];
        snprintf(sql, sizeof sql, "SELECT import FROM interval WHERE id = %lld",
                 (long long)((site.real_ms / 1000 - 302) * 1024 + 1));
        if (rows++ > 2) {
            int64_t row = ask(sql);
            error += llabs(row - (truth - truth_before));
            plain_error += llabs(shown - shown_before - (truth - truth_before));
            sum += truth - truth_before;
        }
        truth_before = truth;
        shown_before = shown;
    }
    double percent = 100.0 * (double)error / (double)sum;
    print_message(
        "0.1 kWh counter, 5 min: mean absolute error %.2f %% of the mean; by plain differences %.0f %%\n",
        percent, 100.0 * (double)plain_error / (double)sum);
    assert_true(percent < 2.0);
    site_finish(&site);
}

static void test_silent_meter(void **state)
{
    (void)state;
    begin(7, 2, two, 300, 1000);
    assert_true(site_start(&site));
    run_wandering(4000);
    site.meters[0].silent = true;
    run_wandering(2500);
    site.meters[0].silent = false;
    run_wandering(1300);
    check_conservation();
    int64_t unobserved =
        ask("SELECT sum(unobserved) FROM interval WHERE meter = 1 AND ts > (SELECT min(ts) FROM interval)");
    assert_true(unobserved >= 2499 && unobserved <= 2504);
    assert_true(ask("SELECT count(*) FROM interval WHERE meter = 1 AND how = 1") >= 8);
    assert_true(ask("SELECT sum(estimated) FROM interval WHERE meter = 1") > 0);
    assert_int_equal(ask("SELECT count(*) FROM interval WHERE meter = 2 AND how <> 0"), 0);
    /* no hole */
    assert_int_equal(ask("SELECT (max(ts) - min(ts)) / 300 + 1 - count(*) FROM interval WHERE meter = 1"), 0);
    site_finish(&site);
}

static void test_long_gap_is_written_in_pieces(void **state)
{
    (void)state;
    begin(8, 1, one_grid, 60, 1000);
    assert_true(site_start(&site));
    run_wandering(1000);
    site.meters[0].silent = true;
    for (int h = 0; h < 40; h++) {
        site.meters[0].power_mw = 1000000;
        site_run(&site, 3600);
    }
    site.meters[0].silent = false;
    run_wandering(200);
    check_conservation();
    check_days();
    assert_true(ask("SELECT count(*) FROM interval WHERE (how & 15) = 2") > 2300);
    assert_int_equal(ask("SELECT (max(ts) - min(ts)) / 60 + 1 - count(*) FROM interval"), 0);
    site_finish(&site);
}

/* Glitches never become energy. */
static void test_glitches(void **state)
{
    (void)state;
    begin(9, 1, one_grid, 300, 1000);
    assert_true(site_start(&site));
    run_wandering(2000);
    site.meters[0].zero_polls = 1;
    run_wandering(500);
    site.meters[0].back_polls = 2;
    run_wandering(500);
    site.meters[0].zero_polls = 2;
    run_wandering(2000);
    check_conservation();
    int64_t total = site.collect->meters[0].counters[0].account.account;
    int64_t truth = site.meters[0].first[0] + site.meters[0].truth[0];
    assert_true(llabs(total - truth) <= 1000);
    assert_int_equal(ask("SELECT count(*) FROM run"), 2);
    assert_true(ask("SELECT sum(count) FROM event WHERE kind = 'rejected'") >= 2);
    site_finish(&site);
}

static void test_reset_and_rollover(void **state)
{
    (void)state;
    begin(10, 1, one_grid, 300, 1000);
    site.meters[0].modulus = 1000000000;
    site.meters[0].first[0] = 999000000; /* 1 kWh before it rolls over */
    assert_true(site_start(&site));
    for (int s = 0; s < 4000; s++) {
        site.meters[0].power_mw = 3000000;
        site_second(&site);
    }
    check_conservation();
    assert_int_equal(ask("SELECT count(*) FROM run WHERE ended = 'rollover'"), 1);
    int64_t energy = ask("SELECT sum(import) FROM interval");
    int64_t since =
        site.collect->meters[0].series[0].book.to[0] - site.collect->meters[0].series[0].book.fixed[0];
    assert_true(llabs(energy + since - site.meters[0].truth[0]) <= 5000);
    /* A reset: the second before it is unknown, nothing is invented. */
    site.meters[0].taken_off[0] = site.meters[0].truth[0] + site.meters[0].first[0] - 2000000;
    int64_t truth = site.meters[0].truth[0];
    for (int s = 0; s < 1000; s++)
        site_second(&site);
    check_conservation();
    assert_int_equal(ask("SELECT count(*) FROM run WHERE ended = 'reset'"), 1);
    int64_t after = ask("SELECT sum(import) FROM interval");
    since = site.collect->meters[0].series[0].book.to[0] - site.collect->meters[0].series[0].book.fixed[0];
    assert_true(after + since <= site.meters[0].truth[0] + 1000 &&
                after + since >= site.meters[0].truth[0] - 5000);
    assert_true(site.meters[0].truth[0] > truth);
    assert_true(ask("SELECT count(*) FROM interval WHERE how & 128") >= 1);
    site_finish(&site);
}

/* Everything committed before a cut is there after it, and no energy is lost. */
static void after_power_cut(int64_t rows_before, int64_t newest_before)
{
    char sql[128];
    assert_true(site_start(&site));
    assert_true(ask("SELECT count(*) FROM interval") >= rows_before);
    if (newest_before > 0) {
        snprintf(sql, sizeof sql, "SELECT count(*) FROM interval WHERE ts = %lld", (long long)newest_before);
        assert_true(ask(sql) > 0);
    }
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open("record.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, "PRAGMA integrity_check", -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    assert_string_equal((const char *)sqlite3_column_text(statement, 0), "ok");
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

static void test_power_cut_at_every_write(void **state)
{
    (void)state;
    int cuts = 0;
    for (int64_t n = 1; n < 400; n++) {
        begin(1000 + (uint64_t)n, 2, two, 60, 1000);
        bool started = site_start(&site);
        assert_true(started);
        run_wandering(130);
        int64_t first = site.meters[0].first[0];
        int64_t base = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
        first = base;
        disk_cut_at_write(n);
        int64_t rows = 0, newest = 0;
        for (int s = 0; s < 1500 && !disk_is_cut(); s++) {
            wander(s);
            rows = site.collect->outbox.row_count == 0 ? rows : rows;
            site_second(&site);
            if (!disk_is_cut() && site.collect->committed_end_s != newest) {
                newest = site.collect->committed_end_s;
                rows = ask("SELECT count(*) FROM interval");
            }
        }
        if (!disk_is_cut()) {
            site_finish(&site);
            break;
        }
        cuts++;
        site_power_off(&site, 30000 + (int64_t)(site_random(&site) % 400000));
        after_power_cut(rows, newest > 0 ? newest - 60 : 0);
        run_wandering(150);
        check_conservation();
        check_total(first);
        site_finish(&site);
    }
    print_message("%d power cuts, one at each write\n", cuts);
    assert_true(cuts > 100);
}

/* The n-th call of the disk fails, n = 1, 2, 3 ... until none fails. */
static void test_every_call_fails_once(void **state)
{
    (void)state;
    static const int codes[] = { SQLITE_IOERR_WRITE, SQLITE_FULL, SQLITE_IOERR_FSYNC };
    int faults = 0;
    for (size_t k = 0; k < 3; k++)
        for (int64_t n = 1;; n++) {
            begin(5000 + (uint64_t)n, 2, two, 60, 1000);
            assert_true(site_start(&site));
            run_wandering(130);
            int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
            disk_fail_at(n, codes[k]);
            run_wandering(400);
            bool failed = disk_failed();
            disk_fail_at(0, 0);
            run_wandering(400);
            assert_false(site.collect->failing);
            check_conservation();
            check_total(first);
            assert_int_equal(
                ask("SELECT (max(ts) - min(ts)) / 60 + 1 - count(*) FROM interval WHERE meter = 1"), 0);
            assert_int_equal(
                ask("SELECT (max(ts) - min(ts)) / 60 + 1 - count(*) FROM interval WHERE meter = 2"), 0);
            site_finish(&site);
            if (!failed)
                break;
            faults++;
        }
    print_message("%d failing calls\n", faults);
    assert_true(faults > 60);
}

static void test_full_disk_then_freed(void **state)
{
    (void)state;
    begin(77, 2, two, 60, 1000);
    assert_true(site_start(&site));
    run_wandering(130);
    int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
    disk_set_full(true);
    run_wandering(6 * 3600);
    assert_true(site.collect->failing);
    disk_set_full(false);
    run_wandering(200);
    assert_false(site.collect->failing);
    check_conservation();
    check_total(first);
    assert_int_equal(ask("SELECT count(*) FROM interval WHERE how <> 0"),
                     0); /* six hours fit in the outbox */
    site_finish(&site);
}

/* A week of eight meters fits in memory: nothing of it loses its shape. */
static void test_week_without_a_disk(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION, ROLE_PART,   ROLE_PART,
                                             ROLE_PART, ROLE_BRANCH,     ROLE_BRANCH, ROLE_STORAGE };
    begin(78, 8, roles, 300, 1000);
    assert_true(site_start(&site));
    run_wandering(700);
    int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
    disk_set_full(true);
    run_wandering(7 * 86400);
    assert_true(site.collect->failing);
    disk_set_full(false);
    run_wandering(200);
    assert_false(site.collect->failing);
    check_conservation();
    check_days();
    check_total(first);
    assert_int_equal(ask("SELECT count(*) FROM interval WHERE how <> 0"), 0);
    assert_int_equal(ask("SELECT count(*) FROM day"), 8 * 7);
    site_finish(&site);
}

static void test_restarts(void **state)
{
    (void)state;
    begin(21, 2, two, 300, 10000);
    assert_true(site_start(&site));
    run_wandering(700);
    int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
    for (int i = 0; i < 30; i++) {
        run_wandering(200 + (int64_t)(site_random(&site) % 3000));
        site_stop(&site, i % 2);
        run_wandering((int64_t)(site_random(&site) % 900));
        assert_true(site_start(&site));
    }
    run_wandering(900);
    check_conservation();
    check_total(first);
    assert_int_equal(ask("SELECT count(*) FROM run"), 4);
    assert_int_equal(ask("SELECT count(*) FROM setting"), 1);
    site_finish(&site);
}

/* Readings before the clock is trusted are held and dated when it comes. */
static void test_clock_comes_late(void **state)
{
    (void)state;
    begin(31, 2, two, 300, 1000);
    assert_true(site_start(&site));
    run_wandering(2000);
    int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
    site.synchronised = false;
    site.wall_error_ms = -INT64_C(86400000); /* the clock lost a day */
    site_power_off(&site, 600000);
    assert_true(site_start(&site));
    run_wandering(3000);
    int64_t rows = ask("SELECT count(*) FROM interval");
    assert_true(ask("SELECT count(*) FROM held") >= 4 * 9);
    assert_true(ask("SELECT count(*) FROM event WHERE at_ms IS NULL") > 0);
    site.synchronised = true;
    site.wall_error_ms = 0;
    run_wandering(700);
    assert_int_equal(ask("SELECT count(*) FROM held"), 0);
    assert_int_equal(ask("SELECT count(*) FROM event WHERE at_ms IS NULL"), 0);
    assert_true(ask("SELECT count(*) FROM interval") > rows + 2 * 10);
    assert_true(ask("SELECT count(*) FROM interval WHERE how & 32") > 0);
    assert_int_equal(ask("SELECT (max(ts) - min(ts)) / 300 + 1 - count(*) FROM interval WHERE meter = 1"), 0);
    check_conservation();
    check_total(first);
    site_finish(&site);
}

/* The clock is there at once where the collector starts again in the same boot: what was held waits
 * until the meters are heard, but not for one that is silent. */
static void test_clock_comes_with_restart(void **state)
{
    (void)state;
    for (int silent = 0; silent < 2; silent++) {
        begin(33, 2, two, 300, 1000);
        assert_true(site_start(&site));
        run_wandering(2000);
        int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
        site.synchronised = false;
        site.wall_error_ms = -INT64_C(86400000);
        site_power_off(&site, 600000);
        assert_true(site_start(&site));
        run_wandering(3000);
        assert_true(ask("SELECT count(*) FROM held") >= 4 * 9);
        site_stop(&site, true);
        site.synchronised = true;
        site.wall_error_ms = 0;
        site.meters[1].silent = silent == 1;
        assert_true(site_start(&site));
        run_wandering(700);
        assert_int_equal(ask("SELECT count(*) FROM held"), 0);
        assert_true(ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 32") > 8);
        site.meters[1].silent = false;
        run_wandering(700);
        assert_int_equal(ask("SELECT (max(ts) - min(ts)) / 300 + 1 - count(*) FROM interval WHERE meter = 1"),
                         0);
        check_conservation();
        check_total(first);
        site_finish(&site);
    }
}

/* No clock at all in one boot: its energy is in the next span. */
static void test_undated_boot(void **state)
{
    (void)state;
    begin(32, 1, one_grid, 300, 1000);
    assert_true(site_start(&site));
    run_wandering(2000);
    int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
    site.synchronised = false;
    site.wall_error_ms = -5000000;
    site_power_off(&site, 60000);
    assert_true(site_start(&site));
    run_wandering(2000);
    site.synchronised = true;
    site.wall_error_ms = 0;
    site_power_off(&site, 60000);
    assert_true(site_start(&site));
    run_wandering(700);
    assert_true(ask("SELECT count(*) FROM held WHERE state = 'undated'") > 0);
    check_conservation();
    check_total(first);
    site_finish(&site);
}

static void test_clock_steps(void **state)
{
    (void)state;
    static const int64_t steps[] = { 45000, -45000, 3600000, -3600000 };
    for (size_t i = 0; i < 4; i++) {
        begin(40 + i, 1, one_grid, 300, 1000);
        assert_true(site_start(&site));
        run_wandering(2000);
        int64_t first = ask("SELECT base FROM run WHERE meter = 1 AND counter = 0");
        site.wall_error_ms = steps[i];
        run_wandering(2000 + (steps[i] < 0 ? -steps[i] / 1000 : 0));
        check_conservation();
        check_total(first);
        assert_int_equal(ask("SELECT count(*) FROM interval WHERE how & 16") >= 1, 1);
        site_finish(&site);
    }
}

/* Production and whole consumption: import and export are derived. */
static void test_derived_meter(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };
    begin(50, 2, roles, 300, 1000);
    site.config.meters[1].delivers_by_export = true;
    assert_true(site_start(&site));
    int64_t import = 0, export = 0, work_in = 0, work_out = 0;
    for (int s = 0; s < 26 * 3600; s++) {
        if (s % 61 == 0)
            site.meters[0].power_mw = 200000 + (int64_t)(site_random(&site) % 3000000);
        if (s % 97 == 0)
            site.meters[1].power_mw = -(int64_t)(site_random(&site) % 4000000);
        int64_t net = site.meters[0].power_mw + site.meters[1].power_mw;
        if (s > 3000 && s < 4500)
            site.meters[1].silent = true;
        else
            site.meters[1].silent = false;
        work_in += net > 0 ? net : 0;
        work_out += net < 0 ? -net : 0;
        site_second(&site);
    }
    import = work_in / 3600;
    export = work_out / 3600;
    check_conservation();
    check_days();
    const char *off = "SELECT count(*) FROM interval AS g JOIN interval AS c ON c.id = g.id - 1022 JOIN "
                      "interval AS p ON p.id = g.id - 1021 "
                      "WHERE g.meter = 1023 AND (g.import - g.export <> c.import - p.export OR g.import > "
                      "c.import OR g.export > p.export "
                      "OR g.import < 0 OR g.export < 0)";
    assert_int_equal(ask(off), 0);
    assert_int_equal(ask("SELECT (SELECT count(*) FROM interval WHERE meter = 1) - (SELECT count(*) FROM "
                         "interval WHERE meter = 1023)"),
                     0);
    int64_t derived_in = ask("SELECT sum(import) FROM interval WHERE meter = 1023");
    int64_t derived_out = ask("SELECT sum(export) FROM interval WHERE meter = 1023");
    print_message("derived import %.2f %%, export %.2f %% off the truth (one gap of 25 min inside)\n",
                  100.0 * (double)(derived_in - import) / (double)import,
                  100.0 * (double)(derived_out - export) / (double)export);
    assert_true(llabs(derived_in - import) < import / 50 && llabs(derived_out - export) < export / 50);
    assert_true(ask("SELECT count(*) FROM interval WHERE meter = 1023 AND estimated > 0") < 15);
    assert_int_equal(ask("SELECT base + (SELECT sum(import) FROM interval WHERE meter = 1023) FROM run WHERE "
                         "meter = 1023 AND counter = 0"),
                     site.collect->derived.account[0]);
    site_stop(&site, false);
    assert_true(site_start(&site));
    run_wandering(900);
    assert_int_equal(ask(off), 0);
    site_finish(&site);
}

/* Another ratio: the run ends, the register goes on. */
static void test_other_ratio(void **state)
{
    (void)state;
    begin(60, 1, one_grid, 300, 1000);
    site.config.meters[0].ct_primary = 20;
    site.config.meters[0].rated_w = 400000;
    assert_true(site_start(&site));
    run_wandering(2000);
    site_stop(&site, true);
    site.config.meters[0].ct_primary = 40;
    snprintf(site.config.hash, sizeof site.config.hash, "%016d", 2);
    int64_t before = ask("SELECT sum(import) FROM interval");
    int64_t truth = site.meters[0].truth[0];
    assert_true(site_start(&site));
    run_wandering(3000);
    assert_int_equal(ask("SELECT count(*) FROM setting"), 2);
    assert_int_equal(ask("SELECT count(*) FROM factor"), 2);
    assert_int_equal(ask("SELECT count(*) FROM run WHERE ended = 'settings'"), 2);
    int64_t after = ask("SELECT sum(import) FROM interval");
    double ratio = (double)(after - before) / (double)(site.meters[0].truth[0] - truth);
    assert_true(ratio > 30 && ratio < 50);
    check_conservation();
    site_finish(&site);
}

/* Own code allocates nothing between turns: SQLite's allocator is its own. */
static void test_alien_and_newer_files(void **state)
{
    (void)state;
    begin(70, 1, one_grid, 300, 1000);
    sqlite3 *db;
    assert_int_equal(sqlite3_open("record.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "CREATE TABLE t(x)", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    assert_false(site_start(&site));
    assert_int_equal(ask("SELECT count(*) FROM sqlite_schema"), 1);
    site_finish(&site);
    begin(71, 1, one_grid, 300, 1000);
    assert_true(site_start(&site));
    site_stop(&site, true);
    assert_int_equal(sqlite3_open("record.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "PRAGMA user_version = 99", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
    assert_false(site_start(&site));
    site_finish(&site);
}

/* A record of version 1 has no curves: it gets the table and is collected on. */
static void test_earlier_file(void **state)
{
    (void)state;
    sqlite3 *db;
    begin(72, 1, one_grid, 300, 1000);
    assert_true(site_start(&site));
    site_run(&site, 1800);
    site_stop(&site, true);
    assert_int_equal(sqlite3_open("record.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "DROP TRIGGER day_dropped; DROP TABLE curve; PRAGMA user_version = 1",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(db);
    int64_t rows = ask("SELECT count(*) FROM interval");
    assert_true(site_start(&site));
    site_run(&site, INT64_C(2) * 86400);
    assert_int_equal(ask("PRAGMA user_version"), SCHEMA_VERSION);
    assert_true(ask("SELECT count(*) FROM interval") > rows + 200);
    assert_int_equal(ask("SELECT count(*) FROM day"), 2);
    assert_int_equal(ask("SELECT count(*) FROM curve"), 1); /* the first day was not whole */
    assert_int_equal(ask("SELECT count(*) FROM sqlite_schema WHERE name = 'day_dropped'"), 1);
    check_conservation();
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_measured_day),
        cmocka_unit_test(test_coarse_counter),
        cmocka_unit_test(test_silent_meter),
        cmocka_unit_test(test_long_gap_is_written_in_pieces),
        cmocka_unit_test(test_glitches),
        cmocka_unit_test(test_reset_and_rollover),
        cmocka_unit_test(test_power_cut_at_every_write),
        cmocka_unit_test(test_every_call_fails_once),
        cmocka_unit_test(test_full_disk_then_freed),
        cmocka_unit_test(test_week_without_a_disk),
        cmocka_unit_test(test_restarts),
        cmocka_unit_test(test_clock_comes_late),
        cmocka_unit_test(test_clock_comes_with_restart),
        cmocka_unit_test(test_undated_boot),
        cmocka_unit_test(test_clock_steps),
        cmocka_unit_test(test_derived_meter),
        cmocka_unit_test(test_other_ratio),
        cmocka_unit_test(test_alien_and_newer_files),
        cmocka_unit_test(test_earlier_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
