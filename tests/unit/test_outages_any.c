/* links: tools/outages/outages.c tools/outages/outages_cut.c tools/outages/outages_infer.c tools/outages/outages_inverter.c tools/outages/outages_made.c tools/outages/stretch.c tools/query/query.c tools/query/query_rows.c tools/query/query_outages.c tools/query/query_sql.c tools/output/number.c tools/balance/balance.c daemon/record/?*.c */
/* Any events in any order, as a damaged or re-dated record may have them: what
 * is made of them must stay sound. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "outages.h"
#include "query_state.h"
#include "schema.h"

enum { L = 300, EVENTS = 60, DAY_S = 86400 };

static uint64_t random_state;

static int64_t random_below(int64_t bound)
{
    random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (int64_t)((random_state >> 20) % (uint64_t)bound);
}

static void run(sqlite3 *database, const char *sql)
{
    char *error = NULL;
    if (sqlite3_exec(database, sql, NULL, NULL, &error) != SQLITE_OK)
        fail_msg("%s: %s", sql, error);
}

/* Two days of a site, its intervals with holes, its events mostly forward in time. */
static void make(sqlite3 *database)
{
    static const char *const kinds[] = { "start",      "stop",       "meter_lost", "meter_back",
                                         "bus_down",   "bus_up",     "grid_lost",  "grid_back",
                                         "phase_lost", "phase_back", "start",      "rejected",
                                         "clock",      "meter_lost", "meter_back", "start" };
    char sql[400];
    int64_t at_s = 1000 * L, boot = 0;
    run(database, schema_sql);
    run(database, "BEGIN");
    run(database, "INSERT INTO setting VALUES(1, 0, 'b0', 0, 'h', 's', 'UTC', '', 300, 1000, '', '')");
    run(database, "INSERT INTO meter_setting VALUES"
                  "(1, 1, 'g', 'grid', 'import', 0, 'netted', 1, 1, 0, NULL, NULL, '1', 'h'),"
                  "(1, 2, 'p', 'production', 'export', 0, 'netted', 1, 1, 0, NULL, NULL, '1', 'h')");
    for (int64_t k = 0; k < 2 * DAY_S / L; k++)
        for (int meter = 1; meter <= 2; meter++)
            if (random_below(10) > 0) {
                snprintf(sql, sizeof sql,
                         "INSERT INTO interval(id, import, export, estimated, unobserved, how, power) "
                         "VALUES(%lld, %d, %lld, 0, %lld, %lld, %s)",
                         (long long)((1000 + k) * L * 1024 + meter), meter == 1 ? 50000 : 0,
                         (long long)(random_below(2) * 90000), (long long)random_below(L + 1),
                         (long long)random_below(6), random_below(2) ? "NULL" : "100");
                run(database, sql);
            }
    for (int i = 0; i < EVENTS; i++) {
        bool same_boot = random_below(5) > 0;
        char at[24] = "NULL";
        at_s += random_below(6000) - (random_below(8) == 0 ? 5000 : 0);
        boot += !same_boot;
        if (random_below(10) > 0)
            snprintf(at, sizeof at, "%lld", (long long)at_s * 1000);
        snprintf(sql, sizeof sql,
                 "INSERT INTO event(at_ms, boot, boot_ms, kind, meter, bus, count, text) "
                 "VALUES(%s, 'b%lld', %lld, '%s', %lld, 'bus%lld', 1, 'L%lld: 0.0 V')",
                 at, (long long)boot, (long long)random_below(1000000), kinds[random_below(16)],
                 (long long)random_below(3), (long long)random_below(2), (long long)(1 + random_below(3)));
        run(database, sql);
    }
    run(database, "COMMIT");
}

static void check(const struct outages *outages)
{
    assert_false(outages->memory_out);
    for (int32_t i = 0; i < outages->count; i++) {
        const struct outage *outage = &outages->list[i];
        assert_true(outage->to_ms == UNKNOWN || outage->to_ms >= outage->from_ms);
        assert_true(outage->doubt_ms >= 0 && !outage->gone);
        assert_true(i == 0 || outage[-1].from_ms <= outage->from_ms);
    }
    /* A span cut anywhere sums to the whole. */
    for (int kind = 0; kind < OUTAGE_KINDS; kind++) {
        int64_t end_ms = outages->now_ms + 1000, cut_ms = random_below(end_ms);
        struct outage_sum whole = outages_sum(outages, (enum outage_kind)kind, 0, end_ms);
        struct outage_sum first = outages_sum(outages, (enum outage_kind)kind, 0, cut_ms);
        struct outage_sum second = outages_sum(outages, (enum outage_kind)kind, cut_ms, end_ms);
        assert_int_equal(first.ms + second.ms, whole.ms);
        assert_int_equal(first.count + second.count, whole.count);
        assert_true(whole.ms <= end_ms);
    }
}

static void test_any_events(void **state)
{
    (void)state;
    const char *given = getenv("METERBOOK_SEED");
    uint64_t first = given ? strtoull(given, NULL, 10) : 1, runs = given ? 1 : 60;
    print_message("seeds %" PRIu64 " to %" PRIu64 "\n", first, first + runs - 1);
    for (uint64_t seed = first; seed < first + runs; seed++) {
        static struct arrangement arrangement;
        struct query query = { .path = "memory" };
        struct setting_row setting = { .id = 1, .interval_s = L };
        struct outages outages;
        random_state = seed;
        assert_int_equal(sqlite3_open(":memory:", &query.database), SQLITE_OK);
        make(query.database);
        query_begin(&query);
        assert_true(query_meters(&query, &setting, &arrangement));
        outages_read(&outages, &query, (1000 * L + 2 * DAY_S + random_below(DAY_S)) * INT64_C(1000));
        outages_infer(&outages, &query, &arrangement);
        outages_find_inverters(&outages, &query, &arrangement, 0, 4 * DAY_S);
        outages_cut(&outages, &query);
        outages_estimate(&outages, &query, &arrangement);
        query_end(&query);
        if (query_error(&query))
            fail_msg("seed %" PRIu64 ": %s", seed, query_error(&query));
        check(&outages);
        outages_free(&outages);
        for (int i = 0; i < STATEMENT_COUNT; i++)
            sqlite3_finalize(query.statements[i]);
        sqlite3_close(query.database);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_any_events) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
