/* links: tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* Entering beside the real collector: data go in before its first row and into
 * its gaps, while it runs and while it does not, and its accounts stay exact. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "disk.h"
#include "enter_batch.h"
#include "log.h"
#include "site.h"

enum { INTERVAL = 300, STEP = 1000 };

static struct site site;

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

/* The account of each live run from both its ends, and days that are their rows' sum. */
static void check_record(void)
{
    assert_int_equal(ask("SELECT count(*) FROM run WHERE began <> 'entered' AND "
                         "base + (SELECT sum(iif(counter, export, import)) FROM interval AS i "
                         "        WHERE i.meter = run.meter AND ts >= base_s) IS NOT "
                         "anchor + coalesce((SELECT sum(iif(counter, export, import)) FROM interval AS i "
                         "                   WHERE i.meter = run.meter AND ts >= anchor_s), 0)"),
                     0);
    assert_int_equal(
        ask("SELECT count(*) FROM day WHERE import IS NOT (SELECT sum(import) FROM interval AS i WHERE "
            "i.meter = day.meter AND ts >= from_s AND ts < to_s) OR rows IS NOT (SELECT count(*) FROM "
            "interval AS i WHERE i.meter = day.meter AND ts >= from_s AND ts < to_s)"),
        0);
    assert_int_equal(ask("SELECT count(*) FROM interval WHERE import < 0 OR export < 0 OR estimated < 0 OR "
                         "unobserved < 0 OR unobserved > 300"),
                     0);
}

/* What the account says now against what flowed, from the first live row on. */
static void check_truth(void)
{
    const struct meter *meter = &site.collect->meters[0];
    const struct series *series = &meter->series[SERIES_ACTIVE];
    int64_t waiting = 0;
    for (int32_t r = 0; r < site.collect->outbox.row_count; r++)
        waiting += site.collect->outbox.rows[r].meter == 0 ? site.collect->outbox.rows[r].row.energy[0] : 0;
    int64_t account =
        ask("SELECT base + (SELECT sum(import) FROM interval WHERE meter = 1 AND ts >= base_s) FROM run "
            "WHERE meter = 1 AND counter = 0 AND began <> 'entered'") +
        waiting + series->book.to[0] - series->book.fixed[0];
    int64_t truth = site.meters[0].first[0] + site.meters[0].truth[0];
    if (llabs(account - truth) > STEP)
        fail_msg("account %lld, truth %lld", (long long)account, (long long)truth);
}

struct entry {
    struct store *store;
    struct store_enter *enter;
    struct civil *civil;
    struct enter_batch *batch;
    struct enter_series *series;
    int64_t from_s[8], length_s[8];
};

static void begin_entry(struct entry *entry, bool energies, bool same_register, bool fit)
{
    char why[256];
    assert_int_equal(store_open(&entry->store, "record.db", why), STORE_OK);
    assert_int_equal(store_enter_open(&entry->enter, entry->store), STORE_OK);
    entry->civil = civil_open("Europe/Paris");
    struct enter_setup setup = {
        .store = entry->store, .enter = entry->enter, .civil = entry->civil, .fit = fit, .name = "f"
    };
    setup.grid = (struct enter_grid){ store_enter_grid(entry->enter, entry->from_s, entry->length_s, 8),
                                      entry->from_s, entry->length_s };
    assert_int_equal(setup.grid.count, 1);
    entry->batch = enter_batch_create(&setup);
    entry->series = enter_batch_series(entry->batch, 1, 1U << Q_ACTIVE_IMPORT | 1U << Q_ACTIVE_EXPORT,
                                       energies, 20000000, same_register);
}

static void give(struct entry *entry, int64_t at_ms, int64_t value, bool begins)
{
    struct reading reading = { .boot_ms = at_ms };
    reading.counter[Q_ACTIVE_IMPORT] = (struct counter_reading){ .value = value, .step = 1 };
    reading.counter[Q_ACTIVE_EXPORT] =
        (struct counter_reading){ .value = site.meters[0].first[1], .step = 1 };
    assert_int_equal(enter_batch_read(entry->batch, entry->series, &reading, begins), ENTER_OK);
}

static struct enter_counts end_entry(struct entry *entry)
{
    int result = enter_batch_finish(entry->batch);
    if (result != ENTER_OK)
        fail_msg("%d: %s%s", result, enter_batch_why(entry->batch), store_why(entry->store));
    struct enter_counts counts = *enter_batch_counts(entry->batch, entry->series);
    enter_batch_destroy(entry->batch);
    civil_close(entry->civil);
    store_enter_close(entry->enter);
    store_close(entry->store);
    return counts;
}

/* What another logger on the same conductors recorded: the true register every minute. */
enum { LOGGED = 4 * 1440 };
static struct {
    int64_t at_ms[LOGGED], value[LOGGED];
    int32_t count;
} logged;

static void run(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        if (s % 97 == 0)
            site.meters[0].power_mw = (int64_t)(site_random(&site) % 8000000);
        site_second(&site);
        if (site.real_ms / 1000 % 60 == 0 && logged.count < LOGGED) {
            logged.at_ms[logged.count] = site.real_ms;
            logged.value[logged.count++] = site.meters[0].first[0] + site.meters[0].truth[0];
        }
    }
}

static void begin(uint64_t seed)
{
    static const enum meter_role roles[] = { ROLE_GRID };
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, 1, roles, INTERVAL, STEP);
    logged.count = 0;
}

static int64_t live_sum(void)
{
    return ask("SELECT sum(import) FROM interval WHERE meter = 1 AND ts >= (SELECT base_s FROM run WHERE "
               "counter = 0 "
               "AND began <> 'entered')");
}

/* The other logger's readings between two instants, one of `every` minutes. */
static struct enter_counts enter_log(int64_t from_ms, int64_t to_ms, int32_t every, bool fit)
{
    struct entry entry;
    begin_entry(&entry, false, false, fit);
    for (int32_t i = 0; i < logged.count; i++)
        if (logged.at_ms[i] >= from_ms && logged.at_ms[i] < to_ms && logged.at_ms[i] / 60000 % every == 0)
            give(&entry, logged.at_ms[i], logged.value[i], false);
    struct enter_counts counts = end_entry(&entry);
    check_record();
    return counts;
}

/* The collector is off; the other logger is not. */
static int64_t outage(int64_t seconds)
{
    int64_t from_ms = site.real_ms;
    site_stop(&site, true);
    run(seconds);
    assert_true(site_start(&site));
    return from_ms;
}

static void test_gap(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 6; seed++) {
        begin(seed);
        assert_true(site_start(&site));
        run(4000);
        int64_t from_ms = outage(5 * 3600 + (int64_t)seed * 1000);
        int64_t to_ms = site.real_ms;
        run(1800);
        assert_true(ask("SELECT count(*) FROM interval WHERE how & 15 = 2") > 50);
        if (seed % 2) /* in odd runs the collector is off meanwhile */
            site_stop(&site, true);
        int64_t before = live_sum();
        struct enter_counts counts = enter_log(from_ms, to_ms, 5, false);
        assert_true(counts.rows[ENTER_REPLACED] > 50);
        assert_int_equal(live_sum(), before);
        assert_true(ask("SELECT count(*) FROM interval WHERE how & 15 = 4 AND unobserved = 0") > 50);
        counts = enter_log(from_ms, to_ms, 5, false);
        assert_int_equal(counts.rows[ENTER_REPLACED] + counts.rows[ENTER_NEW] + counts.spread, 0);
        if (seed % 2)
            assert_true(site_start(&site));
        run(3600);
        check_truth();
        check_record();
        site_finish(&site);
    }
}

/* A gap over two midnights, entered in pieces from both ends, coarse and fine; anchors lie inside it. */
static void test_long_gap(void **state)
{
    (void)state;
    begin(11);
    assert_true(site_start(&site));
    run(4000);
    int64_t from_ms = outage(2 * 86400), to_ms = site.real_ms;
    run(1800);
    int64_t before = live_sum();
    int64_t third = (to_ms - from_ms) / 3;
    enter_log(from_ms + 2 * third, to_ms, 60, true);
    assert_int_equal(live_sum(), before);
    enter_log(from_ms, from_ms + third, 5, true);
    assert_int_equal(live_sum(), before);
    site_stop(&site, true);
    assert_true(site_start(&site));
    run(600);
    check_truth();
    before = live_sum();
    enter_log(from_ms + 3600000, to_ms, 1, true);
    assert_int_equal(live_sum(), before);
    run(86400);
    check_truth();
    check_record();
    site_finish(&site);
}

/* Years before the first poll, here two days of energies: no live row changes. */
static void test_before(void **state)
{
    (void)state;
    begin(21);
    int64_t begin_ms = site.real_ms / 3600000 * 3600000 - 2 * INT64_C(86400000);
    assert_true(site_start(&site));
    run(4000);
    int64_t before = live_sum();
    struct entry entry;
    begin_entry(&entry, true, false, false);
    for (int64_t i = 0; i <= 2 * 96 + 8; i++)
        give(&entry, begin_ms + i * 900000, i * 250000, false);
    struct enter_counts counts = end_entry(&entry);
    assert_true(counts.beyond > 0 || counts.rows[ENTER_LOWER] > 0);
    assert_true(counts.rows[ENTER_NEW] >= 2 * 96 * 3);
    assert_true(counts.days >= 1);
    assert_int_equal(live_sum(), before);
    check_record();
    run(86400);
    check_truth();
    check_record();
    assert_true(ask("SELECT count(*) FROM day") >= 2);
    site_finish(&site);
}

/* The same register, read by eye before: joined to the first live reading. */
static void test_same_register(void **state)
{
    (void)state;
    for (int off = 0; off < 2; off++) {
        begin(31);
        run(7000);
        assert_true(site_start(&site));
        run(3700);
        if (off)
            site_stop(&site, true);
        for (int again = 0; again < 2; again++) {
            struct entry entry;
            begin_entry(&entry, false, true, false);
            for (int32_t i = 0; i < 100; i++)
                give(&entry, logged.at_ms[i], logged.value[i] / STEP * STEP, false);
            struct enter_counts counts = end_entry(&entry);
            assert_int_equal(counts.rows[ENTER_COMPLETED], again ? 0 : 1);
            check_record();
        }
        assert_int_equal(
            ask("SELECT unobserved FROM interval WHERE ts = (SELECT base_s FROM run WHERE counter = 0 AND "
                "began <> 'entered')") < 300,
            1);
        if (off)
            assert_true(site_start(&site));
        run(86400);
        check_truth();
        check_record();
        /* from the first entered reading to now, all of it */
        int64_t rows = ask("SELECT sum(import) FROM interval");
        assert_true(llabs(rows - (site.meters[0].first[0] + site.meters[0].truth[0] -
                                  logged.value[0] / STEP * STEP)) < INT64_C(8000000) * 400 / 3600);
        site_finish(&site);
    }
}

/* The disk fails at every write in turn: either all of a transaction is there or nothing. */
static void test_failing_disk(void **state)
{
    (void)state;
    bool failed = true;
    for (int64_t n = 1; failed; n += 1 + n / 8) {
        begin(41);
        assert_true(site_start(&site));
        run(4000);
        int64_t from_ms = outage(4 * 3600), to_ms = site.real_ms;
        run(1800);
        int64_t before = live_sum();
        struct entry entry;
        begin_entry(&entry, false, false, true);
        disk_fail_at(n, SQLITE_IOERR_WRITE);
        for (int32_t i = 0; i < logged.count; i++)
            if (logged.at_ms[i] >= from_ms && logged.at_ms[i] < to_ms)
                give(&entry, logged.at_ms[i], logged.value[i], false);
        enter_batch_finish(entry.batch);
        failed = disk_failed();
        disk_fail_at(0, 0);
        enter_batch_destroy(entry.batch);
        civil_close(entry.civil);
        store_enter_close(entry.enter);
        store_close(entry.store);
        check_record();
        assert_int_equal(live_sum(), before);
        enter_log(from_ms, to_ms, 1, true);
        run(600);
        check_truth();
        check_record();
        site_finish(&site);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_gap),          cmocka_unit_test(test_long_gap),
        cmocka_unit_test(test_before),       cmocka_unit_test(test_same_register),
        cmocka_unit_test(test_failing_disk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
