#include "audit.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>

#include "curves.h"

int64_t audit_ask(const char *format, ...)
{
    char sql[1024];
    sqlite3 *db;
    sqlite3_stmt *statement;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sql, sizeof sql, format, arguments);
    va_end(arguments);
    assert_int_equal(sqlite3_open_v2("record.db", &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    if (sqlite3_step(statement) != SQLITE_ROW)
        fail_msg("%s: no row: %s", sql, sqlite3_errmsg(db));
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return value;
}

/* Rows of a counter that are not in the record yet. */
static int64_t waiting(const struct site *site, int meter, int counter)
{
    const struct outbox *outbox = &site->collect->outbox;
    int64_t sum = 0;
    for (int32_t r = 0; r < outbox->row_count; r++)
        if (outbox->rows[r].meter == meter && outbox->rows[r].which == SERIES_ACTIVE)
            sum += outbox->rows[r].row.energy[counter];
    return sum;
}

static void conserved(const struct site *site, int meter, int32_t position, const char *base)
{
    const struct series *series = &site->collect->meters[meter].series[SERIES_ACTIVE];
    int c = series->check.counters[position];
    const struct counter_state *state = &site->collect->meters[meter].counters[c];
    int64_t account = audit_ask("SELECT %s + coalesce((SELECT sum(%s) FROM interval WHERE meter = %d AND ts "
                                ">= %s_s), 0) FROM run WHERE id = %lld",
                                base, c ? "export" : "import", (int)site->config.meters[meter].number, base,
                                (long long)state->run.id) +
                      waiting(site, meter, c);
    if (account != series->book.fixed[position] - state->offset)
        fail_msg("meter %d counter %d: %s + rows = %lld, the account at the frontier is %lld", meter, c, base,
                 (long long)account, (long long)(series->book.fixed[position] - state->offset));
}

void audit_conservation(const struct site *site)
{
    for (int i = 0; i < site->config.meter_count; i++) {
        const struct series *series = &site->collect->meters[i].series[SERIES_ACTIVE];
        for (int32_t k = 0; k < series->check.count; k++) {
            const struct counter_state *state = &site->collect->meters[i].counters[series->check.counters[k]];
            const struct account *account = &state->account;
            if (!state->open)
                continue;
            if (account->account < account->value || account->account >= account->value + account->step)
                fail_msg("meter %d: account %lld, register %lld, step %lld", i, (long long)account->account,
                         (long long)account->value, (long long)account->step);
            if (state->run.id == 0)
                continue;
            conserved(site, i, k, "base");
            conserved(site, i, k, "anchor");
        }
    }
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE import < 0 OR export < 0 OR estimated < 0 "
                  "OR unobserved < 0 OR estimated > coalesce(import, 0) + coalesce(export, 0)"),
        0);
}

void audit_days(void)
{
    assert_int_equal(
        audit_ask("SELECT count(*) FROM day WHERE (import, export, unobserved >= 0) IS NOT (SELECT "
                  "sum(import), sum(export), 1 FROM interval AS i WHERE i.meter = day.meter AND ts >= from_s "
                  "AND ts < to_s)"),
        0);
    audit_curves("record.db");
}

void audit_curves(const char *path)
{
    char why[200];
    sqlite3 *db;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    bool good = curves_agree(db, why, sizeof why);
    sqlite3_close(db);
    if (!good)
        fail_msg("%s: %s", path, why);
}

void audit_tiling(int64_t longest_s)
{
    int64_t holes =
        audit_ask("SELECT count(*) FROM (SELECT lead(ts) OVER (PARTITION BY meter ORDER BY ts) - ts "
                  "AS length, ts FROM interval WHERE meter < 1000) WHERE length > %d - ts %% %d",
                  (int)longest_s, (int)longest_s);
    if (holes != 0)
        fail_msg("%lld holes between rows", (long long)holes);
}

void audit_runs(void)
{
    assert_int_equal(audit_ask("SELECT count(*) FROM (SELECT 1 FROM run WHERE ended IS NULL GROUP BY meter, "
                               "counter HAVING count(*) > 1)"),
                     0);
    /* None twice. One that a better clock left no time has its date in common with the next. */
    assert_int_equal(
        audit_ask("SELECT count(*) - count(DISTINCT meter || ' ' || counter || ' ' || from_ms || "
                  "' ' || first || ' ' || began) FROM run WHERE meter < 1000 AND began <> "
                  "'settings'"),
        0);
}

void audit_first_runs(void)
{
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE meter < 1000 AND ts < (SELECT "
                               "min(base_s) FROM run WHERE run.meter = interval.meter AND counter < 2)"),
                     0);
}

int64_t audit_total(const struct site *site, int meter, int counter)
{
    const struct series *series = &site->collect->meters[meter].series[SERIES_ACTIVE];
    int number = site->config.meters[meter].number;
    int32_t position = series_position(series, counter);
    int64_t open =
        position >= 0 && series->book.open ? series->book.to[position] - series->book.fixed[position] : 0;
    return audit_ask("SELECT coalesce((SELECT base FROM run WHERE meter = %d AND counter = %d ORDER BY id), "
                     "0) + coalesce((SELECT sum(%s) FROM interval WHERE meter = %d), 0)",
                     number, counter, counter ? "export" : "import", number) +
           waiting(site, meter, counter) + open;
}
