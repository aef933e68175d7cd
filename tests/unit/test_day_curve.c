/* links: daemon/record/day_curve.c daemon/record/schema.c daemon/record/store.c daemon/record/store_day.c daemon/record/store_sql.c */
/* Days folded into quarter hours: nothing is lost on the way, what is damaged is noticed, and the record's
 * curve is that of its rows. Random days; METERBOOK_SEED=N for others. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "day_curve.h"
#include "schema.h"
#include "store_private.h"

enum { HOUR = 3600, FROM = 1767222000 /* a midnight of UTC+1 */, DAY = 20454, METER = 7 };

static uint64_t random_state = 1;

static uint32_t pick(uint32_t below)
{
    random_state = random_state * 6364136223846793005U + 1442695040888963407U;
    return (uint32_t)(random_state >> 33) % below;
}

/* A row: now asleep, now filled, sometimes of a size that no meter counts. */
static void invent_row(int64_t values[CURVE_SERIES], bool has_export)
{
    int64_t import = pick(4) == 0 ? 0 : (int64_t)pick(3000000) << (pick(2000) == 0 ? 25 : 0);
    bool filled = pick(30) == 0;
    values[CURVE_IMPORT] = import;
    values[CURVE_EXPORT] = has_export ? pick(200) : CURVE_UNKNOWN;
    values[CURVE_ESTIMATED] = filled ? import : 0;
    values[CURVE_UNOBSERVED] = filled ? 1 + pick(60) : 0;
}

struct day {
    int64_t to_s, interval_s, rows;
    int64_t values[26 * 60][CURVE_SERIES];
};

static void invent_day(struct day *day)
{
    static const int64_t intervals[] = { 60, 60, 100, 180, 300, 300, 300, 450, 900 };
    static const int64_t hours[] = { 23 * HOUR, 24 * HOUR, 24 * HOUR + HOUR / 2, 25 * HOUR };
    bool has_export = pick(2) == 0;
    day->interval_s = intervals[pick(sizeof intervals / sizeof intervals[0])];
    day->to_s = FROM + hours[pick(4)];
    day->rows = (day->to_s - FROM) / day->interval_s;
    for (int64_t i = 0; i < day->rows; i++)
        invent_row(day->values[i], has_export);
}

static size_t fold(const struct day *day, struct day_curve *curve, unsigned char *bytes)
{
    day_curve_begin(curve, FROM, day->to_s, day->interval_s);
    for (int64_t i = 0; i < day->rows; i++)
        day_curve_add(curve, FROM + i * day->interval_s, day->values[i]);
    return day_curve_pack(curve, bytes);
}

static int64_t sum_of(const struct day *day, int series, int64_t from_s, int64_t to_s)
{
    int64_t sum = 0;
    for (int64_t i = 0; i < day->rows; i++)
        if (FROM + i * day->interval_s >= from_s && FROM + i * day->interval_s < to_s)
            sum += day->values[i][series] == CURVE_UNKNOWN ? 0 : day->values[i][series];
    return sum;
}

static void test_what_comes_out_is_what_went_in(void **state)
{
    static struct day day;
    static struct day_curve curve, out;
    static unsigned char bytes[CURVE_BYTES];
    (void)state;
    for (int round = 0; round < 300; round++) {
        invent_day(&day);
        size_t size = fold(&day, &curve, bytes);
        assert_true(size > 0 && size <= CURVE_BYTES);
        assert_true(day_curve_unpack(&out, bytes, size, FROM, day.to_s));
        assert_int_equal(out.interval_s, day.interval_s);
        assert_int_equal(out.quarters, (day.to_s - FROM) / CURVE_QUARTER_S);
        for (int s = 0; s < CURVE_SERIES; s++) {
            bool known = day.values[0][s] != CURVE_UNKNOWN;
            assert_int_equal(out.sums[s], known ? sum_of(&day, s, FROM, day.to_s) : CURVE_UNKNOWN);
            for (int32_t q = 0; q < out.quarters; q++)
                assert_int_equal(out.energy[s][q], sum_of(&day, s, FROM + (int64_t)q * CURVE_QUARTER_S,
                                                          FROM + (int64_t)(q + 1) * CURVE_QUARTER_S));
        }
    }
}

/* Any byte may be another: it is no curve then, or does not add up to the day. */
static void test_damage_is_noticed(void **state)
{
    static struct day day;
    static struct day_curve curve, out;
    static unsigned char bytes[CURVE_BYTES], hurt[CURVE_BYTES];
    (void)state;
    for (int round = 0; round < 6; round++) {
        invent_day(&day);
        size_t size = fold(&day, &curve, bytes);
        assert_true(day_curve_unpack(&curve, bytes, size, FROM, day.to_s));
        for (size_t at = 0; at < size; at++)
            for (int value = 0; value < 256; value++) {
                memcpy(hurt, bytes, size);
                hurt[at] = (unsigned char)value;
                if (value == bytes[at] || !day_curve_unpack(&out, hurt, size, FROM, day.to_s))
                    continue;
                if (out.interval_s == curve.interval_s && memcmp(out.sums, curve.sums, sizeof out.sums) == 0)
                    fail_msg("byte %zu of %zu: %d for %d is believed", at, size, value, bytes[at]);
            }
        for (size_t cut = 0; cut < size; cut++)
            assert_false(day_curve_unpack(&out, bytes, cut, FROM, day.to_s));
        assert_false(day_curve_unpack(&out, bytes, size + 1, FROM, day.to_s));
        assert_false(day_curve_unpack(&out, bytes, size, FROM, day.to_s + HOUR));
        assert_false(day_curve_unpack(&out, bytes, size, FROM + 60, day.to_s + 60));
    }
}

static void test_noise_is_no_curve(void **state)
{
    static struct day_curve out;
    static unsigned char bytes[CURVE_BYTES];
    int64_t believed = 0;
    (void)state;
    for (int round = 0; round < 20000; round++) {
        size_t size = pick(600);
        for (size_t i = 0; i < size; i++)
            bytes[i] = (unsigned char)(pick(3) == 0 ? 0 : pick(256));
        if (round % 2 == 0) { /* a good head, so that more of it is looked at */
            bytes[0] = (unsigned char)pick(16);
            bytes[1] = 60;
        }
        believed += day_curve_unpack(&out, bytes, size, FROM, FROM + 24 * HOUR);
    }
    assert_true(believed < 50); /* the day's sums hold against these */
    assert_false(day_curve_unpack(&out, NULL, 0, FROM, FROM + 24 * HOUR));
    /* sums beyond what a number holds */
    memset(bytes, 0xff, sizeof bytes);
    for (int q = 0; q < 96; q++)
        bytes[2 + q * 9 + 8] = 0x7f;
    bytes[0] = 1;
    bytes[1] = 60;
    assert_false(day_curve_unpack(&out, bytes, 2 + 96 * 9, FROM, FROM + 24 * HOUR));
}

static bool packs(const struct day *day)
{
    static struct day_curve curve;
    static unsigned char bytes[CURVE_BYTES];
    return fold(day, &curve, bytes) > 0;
}

static void test_days_without(void **state)
{
    static struct day day;
    static struct day_curve curve;
    static unsigned char bytes[CURVE_BYTES];
    (void)state;
    do
        invent_day(&day);
    while (day.interval_s != 300 || day.to_s != FROM + 24 * HOUR ||
           day.values[0][CURVE_EXPORT] != CURVE_UNKNOWN);
    assert_true(packs(&day));
    day.rows--;
    assert_false(packs(&day));
    day.rows += 2; /* one of the next day */
    assert_false(packs(&day));
    day.rows--;
    day.values[200][CURVE_EXPORT] = 0; /* known in one row alone */
    assert_false(packs(&day));
    day.values[200][CURVE_EXPORT] = CURVE_UNKNOWN;
    day.values[99][CURVE_IMPORT] = -1;
    assert_false(packs(&day));
    day.values[99][CURVE_IMPORT] = INT64_MAX;
    day.values[100][CURVE_IMPORT] = 1;
    assert_false(packs(&day));
    day.values[99][CURVE_IMPORT] = 0;
    assert_true(packs(&day));
    const int64_t lengths[] = { 0, -300, 7, 600, 1800, INT64_MAX, INT64_MIN };
    for (size_t i = 0; i < sizeof lengths / sizeof lengths[0]; i++) {
        day.interval_s = lengths[i];
        day_curve_begin(&curve, FROM, day.to_s, day.interval_s);
        day_curve_add(&curve, FROM, day.values[0]);
        assert_int_equal(day_curve_pack(&curve, bytes), 0);
    }
    day_curve_begin(&curve, FROM + 60, day.to_s + 60, 60); /* no quarter hour of UTC */
    assert_int_equal(day_curve_pack(&curve, bytes), 0);
    day_curve_begin(&curve, FROM, FROM + 48 * HOUR, 300);
    assert_int_equal(day_curve_pack(&curve, bytes), 0);
}

/* ---- in the record ---- */

static void run(sqlite3 *db, const char *sql)
{
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
}

static int64_t ask(sqlite3 *db, const char *sql)
{
    sqlite3_stmt *s;
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &s, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return value;
}

static void put_rows(sqlite3 *db, const struct day *day)
{
    sqlite3_stmt *s;
    run(db, "BEGIN; DELETE FROM interval");
    assert_int_equal(
        sqlite3_prepare_v2(db,
                           "INSERT INTO interval(id, import, export, estimated, unobserved, how, "
                           "power_max) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                           -1, &s, NULL),
        SQLITE_OK);
    for (int64_t i = 0; i < day->rows; i++) {
        sqlite3_bind_int64(s, 1, row_id(FROM + i * day->interval_s, METER));
        for (int v = 0; v < CURVE_SERIES; v++)
            store_bind(s, 2 + v, day->values[i][v]);
        sqlite3_bind_int64(s, 6, i == 30 ? HOW_BACK_DATED | HOW_SHAPED : i == 40 ? HOW_POWER_FAILED : 0);
        store_bind(s, 7, i % 50 == 1 ? i : STORE_NULL);
        assert_int_equal(sqlite3_step(s), SQLITE_DONE);
        sqlite3_reset(s);
    }
    sqlite3_finalize(s);
    /* another meter beside it */
    run(db, "INSERT INTO interval(id, import, estimated, unobserved, how) SELECT id + 1, 5, 0, 0, 64 FROM "
            "interval");
    run(db, "COMMIT");
}

static void check_curve(sqlite3 *db, const struct day *day)
{
    static struct day_curve curve;
    sqlite3_stmt *s;
    assert_int_equal(
        sqlite3_prepare_v2(db, "SELECT quarters FROM curve WHERE day = 20454 AND meter = 7", -1, &s, NULL),
        SQLITE_OK);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    assert_true(day_curve_unpack(&curve, sqlite3_column_blob(s, 0), (size_t)sqlite3_column_bytes(s, 0), FROM,
                                 day->to_s));
    sqlite3_finalize(s);
    for (int v = 0; v < CURVE_SERIES; v++)
        for (int32_t q = 0; q < curve.quarters; q++)
            assert_int_equal(curve.energy[v][q], sum_of(day, v, FROM + (int64_t)q * CURVE_QUARTER_S,
                                                        FROM + (int64_t)(q + 1) * CURVE_QUARTER_S));
}

static void test_closed_days_have_one(void **state)
{
    static struct day day;
    struct store *store;
    char why[256];
    (void)state;
    assert_int_equal(store_open(&store, ":memory:", why), STORE_OK);
    sqlite3 *db = store->db;
    for (int round = 0; round < 20; round++) {
        do
            invent_day(&day);
        while (day.rows < 200);
        put_rows(db, &day);
        assert_int_equal(store_close_day(store, METER, DAY, FROM, day.to_s, day.interval_s), STORE_OK);
        check_curve(db, &day);
        assert_int_equal(
            ask(db, "SELECT count(*) FROM day WHERE (import, export, estimated, unobserved, rows, power_max, "
                    "expected) IS (SELECT sum(import), sum(export), sum(estimated), sum(unobserved), "
                    "count(*), max(power_max), count(*) FROM interval WHERE meter = 7)"),
            1);
        assert_int_equal(ask(db, "SELECT flags FROM day"), HOW_BACK_DATED | HOW_POWER_FAILED);
    }
    /* A row is gone: the day has no curve any more, and what it lacks was not observed. */
    int64_t unobserved = ask(db, "SELECT unobserved FROM day");
    run(db, "UPDATE interval SET unobserved = 0 WHERE unobserved IS NULL; DELETE FROM interval WHERE id = "
            "(SELECT max(id) FROM interval WHERE meter = 7 AND unobserved = 0)");
    assert_int_equal(store_close_day(store, METER, DAY, FROM, day.to_s, day.interval_s), STORE_OK);
    assert_int_equal(ask(db, "SELECT count(*) FROM curve"), 0);
    assert_int_equal(ask(db, "SELECT unobserved FROM day"), unobserved + day.interval_s);
    /* Who drops the day drops its curve. */
    put_rows(db, &day);
    assert_int_equal(store_close_day(store, METER, DAY, FROM, day.to_s, day.interval_s), STORE_OK);
    assert_int_equal(ask(db, "SELECT count(*) FROM curve"), 1);
    run(db, "DELETE FROM day");
    assert_int_equal(ask(db, "SELECT count(*) FROM curve"), 0);
    /* Nothing at all makes no day. */
    assert_int_equal(store_close_day(store, METER + 20, DAY, FROM, day.to_s, day.interval_s), STORE_OK);
    assert_int_equal(ask(db, "SELECT count(*) FROM day"), 0);
    /* A sum that no number holds is refused, not wrapped. */
    run(db, "UPDATE interval SET import = 9223372036854775807");
    assert_int_equal(store_close_day(store, METER, DAY, FROM, day.to_s, day.interval_s), STORE_FAILED);
    store_close(store);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_comes_out_is_what_went_in),
        cmocka_unit_test(test_damage_is_noticed),
        cmocka_unit_test(test_noise_is_no_curve),
        cmocka_unit_test(test_days_without),
        cmocka_unit_test(test_closed_days_have_one),
    };
    const char *seed = getenv("METERBOOK_SEED");
    random_state = seed ? strtoull(seed, NULL, 10) : 1;
    print_message("METERBOOK_SEED=%llu\n", (unsigned long long)random_state);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
