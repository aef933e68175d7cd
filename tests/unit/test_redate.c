/* links: tests/fake/disk.c daemon/record/?*.c */
/* Rows of all tables taken back and dated anew, on a record made for it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#include "civil.h"
#include "disk.h"
#include "redate.h"
#include "schema.h"
#include "store_private.h"

#define LENGTH  300
#define FROM_S  INT64_C(1790000100) /* a boundary */
#define ROWS    700
#define WEATHER 9

static struct store *store;
static struct civil *civil;

static int64_t ask(const char *sql)
{
    sqlite3 *db;
    sqlite3_stmt *s;
    assert_int_equal(sqlite3_open_v2("record.db", &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(db, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    sqlite3_close(db);
    return value;
}

static void put_row(int32_t meter, int64_t i)
{
    struct store_row row = { .start_s = FROM_S + i * LENGTH,
                             .meter = meter,
                             .counts = meter != WEATHER,
                             .other_energy = meter == 1,
                             .momentary = true,
                             .power = i,
                             .power_min = i,
                             .power_max = i,
                             .voltage = 23000,
                             .unobserved_s = i % 50 == 7 ? 20 : 0 };
    for (int c = 0; c < COUNTER_COUNT; c++)
        row.energy[c] = meter == 2 && c == 1 ? STORE_NULL : (i * 7919 + c * 31) % 90000 + 1000;
    row.estimated = i % 50 == 7 ? row.energy[0] / 3 : 0;
    for (int q = 0; q < QUANTITY_COUNT; q++)
        row.value[q] = i;
    assert_int_equal(store_add_row(store, &row), STORE_OK);
}

/* Two meters that count and a weather station, all under the battery clock of boot "a" from `from` on. */
static void make(int64_t from)
{
    char why[256];
    disk_install(1);
    disk_format();
    assert_int_equal(store_open(&store, "record.db", why), STORE_OK);
    civil = civil_open("Europe/Paris");
    store_begin(store);
    for (int32_t meter = 1; meter <= 2; meter++)
        for (int c = 0; c < COUNTER_COUNT; c++) {
            struct store_run run = { .meter = meter,
                                     .counter = c,
                                     .from_ms = FROM_S * 1000,
                                     .step = 1,
                                     .base_s = FROM_S,
                                     .base = 5000000,
                                     .began = "first reading" };
            if (meter == 1 || c == 0)
                assert_int_equal(store_put_run(store, &run), STORE_OK);
        }
    for (int64_t i = 0; i < ROWS; i++)
        for (int32_t meter = 1; meter <= WEATHER; meter = meter == 2 ? WEATHER : meter + 1)
            put_row(meter, i);
    store_add_clock(store, "n", 0, (FROM_S - 50) * 1000, "network", 1000, 0);
    store_add_clock(store, "a", 0, (FROM_S + from * LENGTH - 50) * 1000, "battery", 1000,
                    FROM_S + from * LENGTH);
    for (int64_t day = civil_day_of(civil, FROM_S) + 1;
         civil_day_start(civil, day + 1) <= FROM_S + ROWS * LENGTH; day++)
        store_close_day(store, 1, day, civil_day_start(civil, day), civil_day_start(civil, day + 1), LENGTH);
    store_add_event(store, (FROM_S + from * LENGTH + 1000) * 1000, "a", 1050000, "start", 0, NULL, 1, "");
    assert_int_equal(store_commit(store), STORE_OK);
}

static int redate(int64_t from, int64_t step_ms, struct redated *done)
{
    struct redate_clock clock = { .boot = "a",
                                  .source = "network",
                                  .boot_ms = (ROWS - from) * LENGTH * 1000 + 60000,
                                  .offset_ms = (FROM_S + from * LENGTH - 50) * 1000 + step_ms,
                                  .interval_s = LENGTH,
                                  .civil = civil };
    store_begin(store);
    int result = redate_run(store, &clock, done);
    assert_int_equal(store_commit(store), STORE_OK);
    return result;
}

static void finish(void)
{
    store_close(store);
    civil_close(civil);
}

/* What follows from the runs at the end of all rows. */
static int64_t account(int32_t meter, int counter)
{
    struct store_open_run run;
    assert_int_equal(store_read_run(store, meter, counter, LENGTH, &run), 1);
    return run.account;
}

/* By whole intervals: every row, of every table, is what it was at another place. */
static void test_whole_intervals(void **state)
{
    (void)state;
    static const int64_t steps[] = { 12, 288, -288 };
    for (int i = 0; i < 3; i++) {
        struct redated done;
        make(300);
        int64_t before[COUNTER_COUNT], energy = ask("SELECT sum(import) FROM interval WHERE meter = 2");
        for (int c = 0; c < COUNTER_COUNT; c++)
            before[c] = account(1, c);
        assert_int_equal(redate(300, steps[i] * LENGTH * 1000, &done), 1);
        assert_int_equal(done.from_s, FROM_S + 300 * LENGTH);
        if (steps[i] > 0) {
            for (int c = 0; c < COUNTER_COUNT; c++)
                assert_int_equal(account(1, c), before[c]);
            assert_int_equal(ask("SELECT sum(import) FROM interval WHERE meter = 2"), energy);
            assert_int_equal(ask("SELECT count(*) FROM interval WHERE meter = 1"), ROWS + steps[i]);
            assert_int_equal(ask("SELECT count(*) FROM energy"), ROWS + steps[i]);
            /* what nobody watched says so */
            assert_in_range(
                ask("SELECT count(*) FROM interval WHERE meter = 1 AND unobserved >= 299 AND estimated >= "
                    "import + export - 2"),
                steps[i] - 1, steps[i] + 1);
            /* the last row of each table is what row 699 was */
            assert_int_equal(ask("SELECT power FROM interval WHERE meter = 1 ORDER BY id DESC LIMIT 1"),
                             ROWS - 1);
            assert_int_equal(ask("SELECT import FROM interval WHERE meter = 1 ORDER BY id DESC LIMIT 1"),
                             (ROWS - 1) * 7919 % 90000 + 1000);
            assert_int_equal(ask("SELECT apparent_export FROM energy ORDER BY id DESC LIMIT 1"),
                             ((ROWS - 1) * 7919 + 155) % 90000 + 1000);
            assert_int_equal(ask("SELECT power_l2 FROM momentary WHERE meter = 1 ORDER BY id DESC LIMIT 1"),
                             ROWS - 1);
            assert_int_equal(ask("SELECT power_l2 FROM momentary WHERE meter = 9 ORDER BY id DESC LIMIT 1"),
                             ROWS - 1);
            assert_in_range(ask("SELECT count(*) FROM momentary WHERE meter = 9"), ROWS - 1, ROWS);
            assert_int_equal(ask("SELECT max(ts) FROM interval"), FROM_S + (ROWS - 1 + steps[i]) * LENGTH);
        } else {
            /* what would lie before the network's rows has no place; its energy has */
            assert_int_equal(ask("SELECT count(*) FROM interval WHERE meter = 1"), ROWS - 288);
            assert_int_equal(account(1, 0), before[0]);
        }
        assert_int_equal(ask("SELECT at_ms / 1000 FROM event WHERE boot = 'a'"),
                         FROM_S + (300 + steps[i]) * LENGTH + 1000);
        assert_int_equal(ask("SELECT count(*) FROM interval WHERE id < 0") +
                             ask("SELECT count(*) FROM energy WHERE "
                                 "id < 0") +
                             ask("SELECT count(*) FROM momentary WHERE id < 0"),
                         0);
        assert_int_equal(ask("SELECT count(*) FROM interval WHERE meter = 2 AND export IS NOT NULL"), 0);
        assert_int_equal(
            ask("SELECT count(*) FROM day WHERE import IS NOT (SELECT sum(import) FROM interval AS i WHERE "
                "i.meter = day.meter AND ts >= from_s AND ts < to_s)"),
            0);
        finish();
    }
}

/* By anything: sums stay to the mWh, of estimates too. */
static void test_odd_steps(void **state)
{
    (void)state;
    static const int64_t steps_ms[] = { 301234, 7777777, 86399999, 40000001 };
    for (int i = 0; i < 4; i++) {
        struct redated done;
        make(200);
        int64_t before[COUNTER_COUNT];
        int64_t observed = ask("SELECT sum(estimated) FROM interval WHERE meter = 1");
        for (int c = 0; c < COUNTER_COUNT; c++)
            before[c] = account(1, c);
        assert_int_equal(redate(200, steps_ms[i], &done), 1);
        for (int c = 0; c < COUNTER_COUNT; c++) {
            int64_t open = before[c] - account(1, c); /* of the last row's end, which is no boundary now */
            assert_true(open >= 0 && open < 91000);
        }
        assert_true(ask("SELECT sum(estimated) FROM interval WHERE meter = 1") >= observed - 91000);
        assert_int_equal(
            ask("SELECT count(*) FROM interval WHERE unobserved > 300 OR estimated > import + export"), 0);
        assert_int_equal(
            ask("SELECT count(*) FROM (SELECT ts, lead(ts) OVER (PARTITION BY meter ORDER BY ts) AS next "
                "FROM interval) WHERE next <> ts + 300"),
            0);
        finish();
    }
}

/* A person's clock takes nothing back that the network dated, nor calls it false. */
static void test_a_worse_clock_changes_nothing(void **state)
{
    (void)state;
    int64_t stays_s;
    make(300);
    struct redate_clock clock = { .boot = "z",
                                  .source = "hand",
                                  .boot_ms = 60000,
                                  .offset_ms = FROM_S * 1000,
                                  .interval_s = LENGTH,
                                  .civil = civil };
    assert_int_equal(redate_due(store, &clock, &stays_s), 0);
    assert_int_equal(stays_s, FROM_S + ROWS * LENGTH);
    clock.source = "network"; /* which says that all of it is in the future */
    assert_int_equal(redate_due(store, &clock, &stays_s), 1);
    finish();
}

static int count_work(void *work)
{
    (*(int64_t *)work)++;
    return 0;
}

/* Twice the rows are twice the work: months of a wrong clock are dated anew in minutes. */
static void test_work_grows_with_rows(void **state)
{
    (void)state;
    int64_t work[2] = { 0 };
    for (int i = 0; i < 2; i++) {
        struct redated done;
        make(i == 0 ? 356 : 12);
        sqlite3_progress_handler(store->db, 100, count_work, &work[i]);
        assert_int_equal(redate(i == 0 ? 356 : 12, 12 * LENGTH * 1000, &done), 1);
        finish();
    }
    assert_true(work[0] > 0);
    assert_true(work[1] < work[0] * 5 / 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_whole_intervals),
        cmocka_unit_test(test_odd_steps),
        cmocka_unit_test(test_a_worse_clock_changes_nothing),
        cmocka_unit_test(test_work_grows_with_rows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
