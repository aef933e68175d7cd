/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c COLLECTOR */
/* Corrections in the logbook, with the real collector and store on simulated meters: what they
 * change, that what was measured stays, and that a correction taken back leaves no trace. */
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
#include "muldiv.h"
#include "schema.h"
#include "site.h"

enum { MOST_TABLES = 32 };

static struct site site;

static const char *const names[] = { "house", "roof", "barn", "shed" };

/* Begins on 21 September 2026 at 16:13 local time. */
static void begin(uint64_t seed, int count, const enum meter_role roles[])
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, count, roles, 300, 1000);
    for (int i = 0; i < count; i++) {
        snprintf(site.config.meters[i].name, sizeof site.config.meters[i].name, "%s", names[i]);
        site.config.meters[i].delivers_by_export = roles[i] == ROLE_PRODUCTION;
    }
    assert_true(site_start(&site));
}

static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        for (int i = 0; i < site.config.meter_count; i++) {
            struct site_meter *meter = &site.meters[i];
            enum meter_role role = site.config.meters[i].role;
            if (s % 37 != i)
                continue;
            int64_t power = (int64_t)(site_random(&site) % 6000000);
            meter->power_mw = role == ROLE_CONSUMPTION  ? power
                              : role == ROLE_PRODUCTION ? -power
                                                        : power - 3000000;
        }
        site_second(&site);
    }
}

/* Turns without time: what is due is applied. */
static void settle(void)
{
    for (int i = 0; i < 20; i++)
        collect_turn(site.collect);
    assert_int_equal(audit_ask("SELECT count(*) FROM correction_due"), 0);
}

static void write_logbook(const char *text)
{
    assert_true(site_write_logbook(&site, text));
    settle();
}

/* ---- the record, whole ---- */

struct dump {
    int count;
    char tables[MOST_TABLES][40];
    uint64_t hashes[MOST_TABLES];
};

static uint64_t hash_table(sqlite3 *db, const char *table)
{
    char sql[100];
    sqlite3_stmt *s;
    uint64_t hash = 14695981039346656037U;
    snprintf(sql, sizeof sql, "SELECT * FROM %s ORDER BY 1, 2", table);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &s, NULL), SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW)
        for (int c = 0; c < sqlite3_column_count(s); c++) {
            const unsigned char *text = sqlite3_column_text(s, c);
            for (const unsigned char *at = text ? text : (const unsigned char *)"\1"; *at; at++)
                hash = (hash ^ *at) * 1099511628211U;
            hash = (hash ^ 0xff) * 1099511628211U;
        }
    sqlite3_finalize(s);
    return hash;
}

/* All tables but that of events. */
static void dump(struct dump *dump)
{
    sqlite3 *db;
    sqlite3_stmt *s;
    dump->count = 0;
    assert_int_equal(sqlite3_open_v2("record.db", &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db,
                                        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN "
                                        "('event', 'correction_due') ORDER BY name",
                                        -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW) {
        snprintf(dump->tables[dump->count], sizeof dump->tables[0], "%s",
                 (const char *)sqlite3_column_text(s, 0));
        dump->hashes[dump->count] = hash_table(db, dump->tables[dump->count]);
        dump->count++;
    }
    sqlite3_finalize(s);
    sqlite3_close(db);
}

static void same(const struct dump *a, const struct dump *b)
{
    assert_true(a->count >= 15);
    assert_int_equal(a->count, b->count);
    for (int i = 0; i < a->count; i++)
        if (a->hashes[i] != b->hashes[i])
            fail_msg("table %s differs", a->tables[i]);
}

/* ---- what must hold ---- */

static void audit_corrected(void)
{
    audit_conservation(&site);
    audit_days();
    assert_int_equal(
        audit_ask(
            "SELECT count(*) FROM day_as_corrected AS d WHERE (import, export, estimated, unobserved) "
            "IS NOT (SELECT sum(import), sum(export), sum(estimated), sum(unobserved) + (d.expected - "
            "d.rows) * 300 FROM interval_as_corrected AS i WHERE i.meter = d.meter AND ts >= from_s AND "
            "ts < to_s)"),
        0);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected_day WHERE corrected IS NOT (SELECT count(*) "
                               "FROM corrected AS c WHERE c.meter = corrected_day.meter AND ts >= from_s AND "
                               "ts < to_s) OR flags & 512 = 0"),
                     0);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE how & 512 = 0 OR id NOT IN "
                               "(SELECT id FROM interval)"),
                     0);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE how & 512 <> 0"), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval_as_corrected WHERE import < 0 OR export < 0 OR "
                               "estimated > import + export"),
                     0);
}

/* The overlay is what applying everything anew gives. */
static void audit_anew(void)
{
    struct dump before, after;
    dump(&before);
    audit_ask("INSERT INTO correction_due SELECT DISTINCT ts / 86400 FROM interval WHERE true ON CONFLICT DO "
              "NOTHING RETURNING 1");
    settle();
    dump(&after);
    same(&before, &after);
}

static const enum meter_role grid_and_roof[] = { ROLE_GRID, ROLE_PRODUCTION };
static const enum meter_role three_grids[] = { ROLE_GRID, ROLE_GRID, ROLE_GRID };
static const enum meter_role derived_site[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };

#define IN(from, to) "ts >= unixepoch('" from "') AND ts < unixepoch('" to "')"

static void test_ratio(void **state)
{
    (void)state;
    static const char *const counters[] = { "import", "export" };
    struct dump before, after;
    begin(1, 2, grid_and_roof);
    live(80 * 3600);
    dump(&before);
    write_logbook("2026-09-24 correct house what=ratio from=2026-09-21T22:00 to=2026-09-24T06:00 old=100/5 "
                  "new=150/7\n");
    audit_corrected();
    for (int c = 0; c < 2; c++) {
        int64_t was = audit_ask(
            "SELECT sum(%s) FROM interval WHERE meter = 1 AND " IN("2026-09-21 20:00", "2026-09-24 04:00"),
            counters[c]);
        int64_t is = audit_ask("SELECT sum(%s) FROM interval_as_corrected WHERE meter = 1 AND " IN(
                                   "2026-09-21 20:00", "2026-09-24 04:00"),
                               counters[c]);
        assert_true(was > 1000000);
        assert_int_equal(is, mul_div(was, 15, 14));
    }
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected"), 56 * 12);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE meter <> 1 OR NOT (" IN(
                         "2026-09-21 20:00", "2026-09-24 04:00") ")"),
                     0);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected_day"), 4);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM event WHERE kind = 'correction' AND meter = 1 AND text = "
                  "'taken up: what=ratio old=100/5 new=150/7 from=2026-09-21T22:00:00+02:00 "
                  "to=2026-09-24T06:00:00+02:00'"),
        1);
    audit_anew();
    /* taken back */
    write_logbook(
        "2026-09-24 correct house what=ratio from=2026-09-21T22:00 to=2026-09-24T06:00 old=100/5 new=150/7\n"
        "2026-09-24T09:00 revoke house of=2026-09-24 kind=correct\n");
    dump(&after);
    same(&before, &after);
    /* and a line that is gone is taken back too */
    write_logbook("2026-09-24 correct house what=exchanged from=2026-09-21T22:00 to=2026-09-24T06:00\n");
    assert_true(audit_ask("SELECT count(*) FROM corrected") > 0);
    write_logbook("# nothing\n");
    dump(&after);
    same(&before, &after);
    site_finish(&site);
}

/* Until 12:42:30, within an interval. */
static void test_exchanged(void **state)
{
    (void)state;
    begin(2, 2, grid_and_roof);
    live(40 * 3600);
    write_logbook("2026-09-23 correct house what=exchanged from=2026-09-21 to=2026-09-22T12:42:30\n");
    audit_corrected();
    assert_int_equal(
        audit_ask(
            "SELECT count(*) FROM corrected AS c JOIN interval AS i USING(id) WHERE (c.import, c.export, "
            "c.power, c.power_min, c.power_max, c.estimated) IS NOT (i.export, i.import, -i.power, "
            "-i.power_max, -i.power_min, i.estimated) AND i.ts < unixepoch('2026-09-22 10:40')"),
        0);
    assert_int_equal(audit_ask("SELECT max(ts) - unixepoch('2026-09-22 10:40') FROM corrected"), 0);
    assert_int_equal(
        audit_ask(
            "SELECT c.import - i.import - i.export / 2 + i.import / 2 FROM corrected AS c JOIN interval AS "
            "i USING(id) WHERE i.ts = unixepoch('2026-09-22 10:40')"),
        0);
    assert_int_equal(audit_ask("SELECT c.estimated = c.import + c.export AND c.how = 514 AND c.power IS NULL "
                               "FROM corrected AS c WHERE ts = unixepoch('2026-09-22 10:40')"),
                     1);
    audit_anew();
    site_finish(&site);
}

static void test_swapped(void **state)
{
    (void)state;
    begin(3, 3, three_grids);
    live(30 * 3600);
    write_logbook(
        "2026-09-23 correct house what=swapped with=barn from=2026-09-21T18:00 to=2026-09-22T18:00\n");
    audit_corrected();
    assert_int_equal(
        audit_ask("SELECT count(*) FROM corrected AS c JOIN interval AS i ON i.ts = c.ts AND i.meter "
                  "= 4 - c.meter WHERE (c.import, c.export, c.power, c.voltage) IS (i.import, "
                  "i.export, i.power, i.voltage)"),
        2 * 288);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected"), 2 * 288);
    audit_anew();
    site_finish(&site);
}

/* One entry is taken back from between others: the rest is as if it had never been. */
static void test_overlapping(void **state)
{
    (void)state;
    static const char *const lines[] = {
        "2026-09-24T01:00 correct house what=ratio from=2026-09-21T22:00 to=2026-09-24T06:00 old=100/5 "
        "new=150/7\n",
        "2026-09-24T02:00 correct house what=exchanged from=2026-09-22T08:01 to=2026-09-23T08:02\n",
        "2026-09-24T03:00 correct house what=swapped with=barn from=2026-09-22T20:00 to=2026-09-23T20:00\n",
        "2026-09-24T04:00 correct barn what=ratio from=2026-09-21T18:00 to=2026-09-23T12:34 old=3/1 "
        "new=1/1\n",
    };
    struct dump without[4], all, now;
    char text[1000];
    begin(4, 3, three_grids);
    live(70 * 3600);
    for (int left_out = 0; left_out < 4; left_out++) {
        text[0] = '\0';
        for (int i = 0; i < 4; i++)
            if (i != left_out)
                snprintf(text + strlen(text), sizeof text - strlen(text), "%s", lines[i]);
        write_logbook(text);
        audit_corrected();
        dump(&without[left_out]);
        write_logbook("");
    }
    snprintf(text, sizeof text, "%s%s%s%s", lines[0], lines[1], lines[2], lines[3]);
    write_logbook(text);
    audit_corrected();
    audit_anew();
    dump(&all);
    for (int left_out = 0; left_out < 4; left_out++) {
        snprintf(text, sizeof text, "%s%s%s%s2026-09-25 revoke %s of=2026-09-24T0%d:00\n", lines[0], lines[1],
                 lines[2], lines[3], left_out == 3 ? "barn" : "house", left_out + 1);
        write_logbook(text);
        audit_corrected();
        assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 3);
        dump(&now);
        for (int i = 0; i < now.count; i++) /* ids and dates of the entries are others */
            if (strncmp(now.tables[i], "correct", 7) != 0)
                assert_int_equal(now.hashes[i], all.hashes[i]);
            else if (strcmp(now.tables[i], "corrected_day") == 0)
                assert_int_equal(now.hashes[i], without[left_out].hashes[i]);
        snprintf(text, sizeof text, "%s%s%s%s", lines[0], lines[1], lines[2], lines[3]);
        write_logbook(text);
    }
    for (int i = 0; i < now.count; i++)
        if (strcmp(all.tables[i], "corrected_day") == 0) {
            dump(&now);
            assert_int_equal(now.hashes[i], all.hashes[i]);
        }
    site_finish(&site);
}

/* The same lines in another order are other corrections: what is exchanged and then swapped. */
static void test_order(void **state)
{
    (void)state;
    begin(5, 3, three_grids);
    live(30 * 3600);
    write_logbook("2026-09-23T01:00 correct house what=exchanged from=2026-09-21T18:00 to=2026-09-22T18:00\n"
                  "2026-09-23T02:00 correct house what=swapped with=barn from=2026-09-21T18:00 "
                  "to=2026-09-22T18:00\n");
    int64_t first = audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 3");
    audit_corrected();
    write_logbook(
        "2026-09-23T01:00 correct house what=swapped with=barn from=2026-09-21T18:00 "
        "to=2026-09-22T18:00\n"
        "2026-09-23T02:00 correct house what=exchanged from=2026-09-21T18:00 to=2026-09-22T18:00\n");
    audit_corrected();
    int64_t second = audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 3");
    assert_true(first != second);
    assert_int_equal(audit_ask("SELECT sum(c.import - i.import) FROM corrected AS c JOIN interval AS i ON "
                               "i.meter = 1 AND i.ts = c.ts WHERE c.meter = 3"),
                     0);
    site_finish(&site);
}

static void test_derived(void **state)
{
    (void)state;
    struct dump before, after;
    begin(6, 2, derived_site);
    live(40 * 3600);
    dump(&before);
    write_logbook(
        "2026-09-23 correct roof what=ratio from=2026-09-21T20:02 to=2026-09-22T20:07 old=2/1 new=3/1\n"
        "2026-09-23 correct house what=ratio from=2026-09-22T10:02 to=2026-09-23T02:02 old=3/1 new=2/1\n");
    audit_corrected();
    assert_true(audit_ask("SELECT count(*) FROM corrected WHERE meter = 1023") > 300);
    assert_int_equal(
        audit_ask(
            "SELECT count(*) FROM interval_as_corrected AS g JOIN interval_as_corrected AS c ON c.id = g.id "
            "- 1022 JOIN interval_as_corrected AS p ON p.id = g.id - 1021 WHERE g.meter = 1023 AND "
            "(g.import - g.export <> c.import - p.export OR g.import > c.import OR g.export > p.export)"),
        0);
    /* what was netted in turn stays where both sides have so much */
    assert_true(audit_ask("SELECT count(*) FROM corrected WHERE meter = 1023 AND import > 0 AND export > 0") >
                200);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE meter = 1023 AND (estimated <> import + "
                               "export OR how & 15 <> 2)"),
                     0);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected_day WHERE meter = 1023"), 2);
    audit_anew();
    write_logbook("");
    dump(&after);
    same(&before, &after);
    site_finish(&site);
}

/* Up to a day to come: rows are corrected by the commit that stores them, also over a gap, a
 * restart and midnight. */
static void test_to_now(void **state)
{
    (void)state;
    begin(7, 2, derived_site);
    live(3600);
    write_logbook(
        "2026-09-21T17:00 correct roof what=ratio from=2026-09-21T17:00 to=2026-09-25 old=2/1 new=3/1\n"
        "2026-09-21T17:00 correct house what=exchanged from=2026-09-21T20:00 to=2026-09-25\n");
    for (int i = 0; i < 200; i++) {
        live(300);
        if (audit_ask(
                "SELECT count(*) FROM interval WHERE meter = 2 AND ts >= unixepoch('2026-09-21 15:00') AND "
                "id NOT IN (SELECT id FROM corrected)") > 0)
            fail_msg("a row came without its correction");
        assert_int_equal(audit_ask("SELECT count(*) FROM correction_due"), 0);
        if (i == 90)
            site.meters[0].silent = true;
        if (i == 130)
            site.meters[0].silent = false;
        if (i == 150) {
            site_power_off(&site, 5000000);
            assert_true(site_start(&site));
        }
    }
    settle();
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 1024") > 0);
    audit_corrected();
    audit_anew();
    site_finish(&site);
}

/* Power goes at every write while corrections are applied: a consistent record each time, and in
 * the end the same. */
static void test_cut_anywhere(void **state)
{
    (void)state;
    static const char text[] =
        "2026-09-23T01:00 correct roof what=ratio from=2026-09-21T20:02 to=2026-09-22T20:07 old=2/1 new=3/1\n"
        "2026-09-23T02:00 correct house what=exchanged from=2026-09-22T10:02 to=2026-09-23T02:02\n";
    struct dump none, whole, now;
    begin(8, 2, derived_site);
    live(33 * 3600);
    dump(&none);
    write_logbook(text);
    audit_corrected();
    dump(&whole);
    for (int64_t n = 1; n < 100; n++) {
        bool withdraws = n % 2 == 1;
        assert_true(site_write_logbook(&site, withdraws ? "" : text));
        disk_cut_at_write(n / 2 + 1);
        for (int i = 0; i < 20; i++)
            collect_turn(site.collect);
        bool cut = disk_is_cut();
        disk_cut_at_write(0);
        site_power_off(&site, 0);
        assert_true(site_start(&site));
        audit_days();
        settle();
        audit_corrected();
        dump(&now);
        for (int i = 0; i < now.count; i++)
            if (strcmp(now.tables[i], "corrected") == 0 || strcmp(now.tables[i], "corrected_day") == 0)
                assert_int_equal(now.hashes[i], withdraws ? none.hashes[i] : whole.hashes[i]);
        if (!cut) {
            print_message("%lld writes\n", (long long)n / 2);
            site_finish(&site);
            return;
        }
    }
    fail_msg("the power went at every write");
}

/* What is changed afterwards by somebody else is corrected at the next turn. */
static void test_changed_afterwards(void **state)
{
    (void)state;
    begin(9, 2, grid_and_roof);
    live(40 * 3600);
    write_logbook("2026-09-23 correct house what=ratio from=2026-09-21T20:02 to=2026-09-23T02:00 old=100/5 "
                  "new=150/7\n");
    audit_corrected();
    audit_ask(
        "UPDATE interval SET import = import + 1001 WHERE meter = 1 AND ts = unixepoch('2026-09-22 03:00') "
        "RETURNING 1");
    assert_true(audit_ask("SELECT count(*) FROM correction_due") > 0);
    settle();
    audit_anew();
    /* entered: it did not pass the wiring */
    audit_ask(
        "UPDATE interval SET how = 4 WHERE meter = 1 AND ts = unixepoch('2026-09-22 03:00') RETURNING 1");
    settle();
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE ts = unixepoch('2026-09-22 03:00')"), 0);
    audit_ask("DELETE FROM interval WHERE meter = 1 AND ts = unixepoch('2026-09-22 03:05') RETURNING 1");
    settle();
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE ts = unixepoch('2026-09-22 03:05')"), 0);
    site_finish(&site);
}

/* The logbook cannot be read, or a line is said twice. */
static void test_logbook(void **state)
{
    (void)state;
    struct dump once, now;
    static const char line[] =
        "2026-09-22 correct house what=ratio from=2026-09-21T20:02 to=2026-09-23T02:00 old=100/5 new=150/7\n";
    char twice[400];
    begin(10, 2, grid_and_roof);
    live(20 * 3600);
    write_logbook(line);
    dump(&once);
    snprintf(twice, sizeof twice, "%s%s", line, line);
    write_logbook(twice);
    dump(&now);
    same(&once, &now);
    site.logbook = NULL;
    site_stop(&site, true);
    assert_true(site_start(&site));
    settle();
    dump(&now);
    same(&once, &now);
    site_finish(&site);
}

/* ---- an exchanged meter of ours ---- */

/* What the register shows, in 10^-6 kWh. */
static int64_t shown(int way)
{
    const struct site_meter *meter = &site.meters[0];
    return (meter->first[way] + meter->truth[way] - meter->taken_off[way]) / meter->step * meter->step;
}

static char exchange_text[300];

/* Another meter in its place, from now on; what an entry of it says. */
static void exchange(const char *date, int64_t new_import, int64_t new_export)
{
    struct site_meter *meter = &site.meters[0];
    int64_t old[2] = { shown(0), shown(1) };
    meter->taken_off[0] = meter->first[0] + meter->truth[0] - new_import;
    meter->taken_off[1] = meter->first[1] + meter->truth[1] - new_export;
    snprintf(exchange_text, sizeof exchange_text,
             "%s exchange house old.import=%lld.%06lld new.import=%lld.%06lld old.export=%lld.%06lld "
             "new.export=%lld.%06lld\n",
             date, (long long)old[0] / 1000000, (long long)old[0] % 1000000, (long long)new_import / 1000000,
             (long long)new_import % 1000000, (long long)old[1] / 1000000, (long long)old[1] % 1000000,
             (long long)new_export / 1000000, (long long)new_export % 1000000);
}

/* Energy that answers lack of the truth, of both counters; the row going on is not committed yet. */
static int64_t lost(int way)
{
    const struct series *series = &site.collect->meters[0].series[SERIES_ACTIVE];
    int64_t open = series->book.to[way] - series->book.fixed[way];
    return site.meters[0].first[way] + site.meters[0].truth[way] -
           audit_ask(
               "SELECT (SELECT base FROM run WHERE meter = 1 AND counter = %d ORDER BY id) + (SELECT sum(%s) "
               "FROM interval_as_corrected WHERE meter = 1)",
               way, way ? "export" : "import") -
           open;
}

static void all_there(void)
{
    for (int way = 0; way < 2; way++)
        if (llabs(lost(way)) > 3 * site.meters[0].step)
            fail_msg("%lld mWh of counter %d are lost", (long long)lost(way), way);
}

/* Power goes at :07, the meter is exchanged in the dark, power comes back an hour later. */
static void exchange_in_the_dark(bool declared_before)
{
    live(4 * 3600 + 420);
    site.meters[0].power_mw = 3000000;
    site_power_off(&site, 1700000);
    exchange("2026-09-21T20:50", 7000000, 0);
    site.meters[0].power_mw = -1000000;
    site_power_off(&site, 1800000);
    if (declared_before)
        site.logbook = exchange_text;
    assert_true(site_start(&site));
    live(3600);
}

static void test_exchange_declared_before(void **state)
{
    (void)state;
    begin(11, 1, grid_and_roof);
    exchange_in_the_dark(true);
    settle();
    assert_int_equal(audit_ask("SELECT count(*) FROM correction WHERE what = 'exchange'"), 1);
    all_there();
    audit_corrected();
    audit_anew();
    assert_int_equal(audit_ask("SELECT count(*) FROM interval_as_corrected WHERE how & 128"), 0);
    /* in the dark it was import, then export: in all rows of the gap, as filled */
    assert_true(audit_ask("SELECT count(*) FROM corrected WHERE estimated > 0 AND how & 15 = 1") >= 12);
    assert_int_equal(
        audit_ask("SELECT sum(c.import - i.import) - (SELECT import FROM correction) FROM corrected "
                  "AS c JOIN interval AS i USING(id)"),
        0);
    site_finish(&site);
}

static void test_exchange_declared_later(void **state)
{
    (void)state;
    struct dump before, after;
    char text[600];
    begin(12, 2, grid_and_roof);
    exchange_in_the_dark(false);
    settle();
    assert_true(lost(0) > 500000);
    assert_true(lost(1) > 100000);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 128"), 1);
    /* what nobody knows is not observed */
    assert_true(
        audit_ask("SELECT sum(unobserved) FROM interval WHERE meter = 1 AND ts > (SELECT min(ts) FROM "
                  "interval)") >= 3500);
    dump(&before);
    write_logbook(exchange_text);
    all_there();
    audit_corrected();
    audit_anew();
    /* with a wrong ratio all the time it is scaled as well */
    int64_t sum = audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 1");
    snprintf(text, sizeof text,
             "%s2026-09-20 correct house what=ratio from=2026-09-20 to=2026-09-29 old=1/1 "
             "new=2/1\n",
             exchange_text);
    write_logbook(text);
    assert_int_equal(audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 1"), 2 * sum);
    write_logbook("");
    dump(&after);
    same(&before, &after);
    site_finish(&site);
}

/* The power stays on; what the new meter counts before it is asked is in its first reading. */
static void test_exchange_while_polling(void **state)
{
    (void)state;
    begin(13, 2, grid_and_roof);
    live(4 * 3600 + 420);
    site.meters[0].silent = true;
    live(600);
    exchange("2026-09-21", 0, 5000000);
    live(1200);
    site.meters[0].silent = false;
    live(3600);
    write_logbook(exchange_text);
    all_there();
    audit_corrected();
    assert_true(audit_ask("SELECT import FROM correction") > 10000);
    site_finish(&site);
}

/* Declared readings that the collector's contradict change nothing, nor do those of another day. */
static void test_exchange_does_not_fit(void **state)
{
    (void)state;
    begin(14, 2, grid_and_roof);
    exchange_in_the_dark(false);
    exchange_text[8] = exchange_text[8] == '1' ? '2' : '1'; /* 2026-09-11 */
    exchange_text[9] = '5';
    write_logbook(exchange_text);
    assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 0);
    write_logbook("2026-09-21 exchange house old.import=999999 new.import=0\n");
    assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 0);
    write_logbook("2026-09-21 exchange house old.import=0 new.import=0\n");
    assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 0);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ratio),
        cmocka_unit_test(test_exchanged),
        cmocka_unit_test(test_swapped),
        cmocka_unit_test(test_overlapping),
        cmocka_unit_test(test_order),
        cmocka_unit_test(test_derived),
        cmocka_unit_test(test_to_now),
        cmocka_unit_test(test_cut_anywhere),
        cmocka_unit_test(test_changed_afterwards),
        cmocka_unit_test(test_logbook),
        cmocka_unit_test(test_exchange_declared_before),
        cmocka_unit_test(test_exchange_declared_later),
        cmocka_unit_test(test_exchange_while_polling),
        cmocka_unit_test(test_exchange_does_not_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
