/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c tests/fake/corrected.c COLLECTOR */
/* Corrections while the record changes: rows that come later, rows that others change, power cuts,
 * logbooks that cannot be read. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "corrected.h"
#include "disk.h"
#include "site.h"
#include "store_private.h"

static struct site site;

static const enum meter_role grid_and_roof[] = { ROLE_GRID, ROLE_PRODUCTION };
static const enum meter_role roofs[] = { ROLE_GRID, ROLE_PART, ROLE_PART, ROLE_PART };
static const enum meter_role derived_site[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };

/* Up to a day to come: rows are corrected by the commit that stores them, also over a gap, a
 * restart and midnight. */
static void test_to_now(void **state)
{
    (void)state;
    corrected_begin(&site, 7, 2, derived_site);
    corrected_live(&site, 3600);
    corrected_write(
        &site,
        "2026-09-21T17:00 correct roof what=ratio from=2026-09-21T17:00 to=2026-09-25 old=2/1 new=3/1\n"
        "2026-09-21T17:00 correct house what=exchanged from=2026-09-21T20:00 to=2026-09-25\n");
    for (int i = 0; i < 200; i++) {
        corrected_live(&site, 300);
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
    corrected_settle(&site);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 1024") > 0);
    corrected_audit(&site);
    corrected_audit_anew(&site);
    site_finish(&site);
}

/* Rows and their corrections are in one commit: none is without, wherever the power goes. */
static void test_one_commit(void **state)
{
    (void)state;
    corrected_begin(&site, 17, 2, derived_site);
    corrected_live(&site, 3600);
    corrected_write(
        &site,
        "2026-09-21T17:00 correct roof what=ratio from=2026-09-21T16:00 to=2026-09-25 old=2/1 new=3/1\n");
    for (int64_t n = 1; n < 200; n++) {
        disk_cut_at_write(n);
        corrected_live(&site, 600);
        bool cut = disk_is_cut();
        disk_cut_at_write(0);
        site_power_off(&site, 1000);
        assert_int_equal(
            audit_ask("SELECT count(*) FROM interval WHERE meter = 2 AND id NOT IN (SELECT id FROM "
                      "corrected)"),
            0);
        assert_true(site_start(&site));
        if (!cut) {
            print_message("%lld writes\n", (long long)n - 1);
            site_finish(&site);
            return;
        }
    }
    fail_msg("the power went at every write");
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
    corrected_begin(&site, 8, 2, derived_site);
    corrected_live(&site, 33 * 3600);
    dump_record(&none);
    corrected_write(&site, text);
    corrected_audit(&site);
    dump_record(&whole);
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
        corrected_settle(&site);
        corrected_audit(&site);
        dump_record(&now);
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

/* A meter that was renamed is still the one that was meant; the name may be another's by then. */
static void test_renamed(void **state)
{
    (void)state;
    static const char text[] =
        "2026-09-21T17:00 correct roof what=ratio from=2026-09-21T16:00 to=2026-09-25 old=2/1 new=3/1\n";
    char *name = site.config.meters[1].name;
    corrected_begin(&site, 19, 2, grid_and_roof);
    corrected_live(&site, 3600);
    corrected_write(&site, text);
    int64_t rows = audit_ask("SELECT count(*) FROM corrected WHERE meter = 2");
    assert_true(rows > 0);
    site_power_off(&site, 1000);
    snprintf(name, CONFIG_NAME_SIZE, "attic");
    snprintf(site.config.hash, sizeof site.config.hash, "renamed");
    assert_true(site_start(&site));
    corrected_live(&site, 3600);
    assert_true(audit_ask("SELECT count(*) FROM corrected WHERE meter = 2") > rows);
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'correction'"), 1);
    assert_true(site_write_logbook(&site, text)); /* read anew while it runs */
    corrected_settle(&site);
    corrected_audit(&site);
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'correction'"), 1);
    snprintf(site.config.meters[0].name, CONFIG_NAME_SIZE, "roof");
    assert_false(site_write_logbook(&site, text)); /* whose? */
    site_finish(&site);
}

static void all_is_due(void)
{
    sqlite3 *db;
    assert_int_equal(sqlite3_open_v2("record.db", &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db,
                                  "DELETE FROM corrected; INSERT OR IGNORE INTO correction_due "
                                  "SELECT DISTINCT ts / 86400 FROM interval",
                                  NULL, NULL, NULL),
                     SQLITE_OK);
    sqlite3_close(db);
}

/* A disk that fails while a commit corrects takes the whole transaction along, or only what was corrected. */
static void test_commit_fails(void **state)
{
    (void)state;
    char text[1200] = "";
    corrected_begin(&site, 18, 4, roofs);
    for (int m = 0; m < 4; m++)
        snprintf(text + strlen(text), sizeof text - strlen(text),
                 "2026-09-21T17:00 correct %s what=exchanged from=2026-09-21T16:00 to=2026-09-25\n",
                 site.config.meters[m].name);
    corrected_live(&site, 40 * 3600);
    corrected_write(&site, text);
    int n = 1;
    for (int fails = 1; fails; n++) {
        corrected_live(&site, 320);
        all_is_due();
        outbox_event(site.collect, "test", 0, NULL, "%d", n);
        /* few pages in memory: it writes before the commit does */
        sqlite3_exec(site.collect->store->db, "PRAGMA cache_size = 10", NULL, NULL, NULL);
        disk_fail_at(n, 13 /* SQLITE_FULL */);
        commit_now(site.collect);
        fails = disk_failed();
        disk_fail_at(0, 0);
        assert_int_equal(commit_now(site.collect), 0);
        assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'test'"), n);
    }
    print_message("%d writes\n", n - 2);
    corrected_settle(&site);
    corrected_audit(&site);
    site_finish(&site);
}

/* What is changed afterwards by somebody else is corrected at the next turn. */
static void test_changed_afterwards(void **state)
{
    (void)state;
    corrected_begin(&site, 9, 2, grid_and_roof);
    corrected_live(&site, 40 * 3600);
    corrected_write(&site,
                    "2026-09-23 correct house what=ratio from=2026-09-21T20:02 to=2026-09-23T06:00 old=100/5 "
                    "new=150/7\n");
    corrected_audit(&site);
    audit_ask(
        "UPDATE interval SET import = import + 1001 WHERE meter = 1 AND ts = unixepoch('2026-09-22 03:00') "
        "RETURNING 1");
    assert_true(audit_ask("SELECT count(*) FROM correction_due") > 0);
    corrected_settle(&site);
    corrected_audit_anew(&site);
    /* entered: it did not pass the wiring */
    audit_ask(
        "UPDATE interval SET how = 4 WHERE meter = 1 AND ts = unixepoch('2026-09-22 03:00') RETURNING 1");
    corrected_settle(&site);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE ts = unixepoch('2026-09-22 03:00')"), 0);
    audit_ask("DELETE FROM interval WHERE meter = 1 AND ts = unixepoch('2026-09-22 03:05') RETURNING 1");
    corrected_settle(&site);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE ts = unixepoch('2026-09-22 03:05')"), 0);
    site_finish(&site);
}

/* A day is closed when nothing of what is corrected in it changes any more. */
static void test_day_closes_later(void **state)
{
    (void)state;
    corrected_begin(&site, 16, 2, grid_and_roof);
    corrected_live(&site, 28 * 3600);
    corrected_write(&site,
                    "2026-09-22 correct house what=exchanged from=2026-09-22T09:00 to=2026-09-22T12:42\n");
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected_day"), 0);
    corrected_live(&site, 8 * 3600);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected_day"), 1);
    corrected_audit(&site);
    site_finish(&site);
}

/* A better clock takes rows out, and others in. */
static void test_moved(void **state)
{
    (void)state;
    struct dump before, after;
    corrected_begin(&site, 15, 2, grid_and_roof);
    corrected_live(&site, 40 * 3600);
    corrected_write(&site, "2026-09-23 correct house what=ratio from=2026-09-21T20:02 to=2026-09-23T02:00 "
                           "old=100/5 new=150/7\n");
    dump_record(&before);
    audit_ask("UPDATE interval SET id = -id WHERE ts >= unixepoch('2026-09-22 03:00') RETURNING 1");
    corrected_settle(&site);
    assert_int_equal(audit_ask("SELECT max(ts) < unixepoch('2026-09-22 03:00') FROM corrected"), 1);
    audit_ask("UPDATE interval SET id = -id WHERE id < 0 RETURNING 1");
    corrected_settle(&site);
    dump_record(&after);
    dump_same(&before, &after);
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
    corrected_begin(&site, 10, 2, grid_and_roof);
    corrected_live(&site, 20 * 3600);
    corrected_write(&site, line);
    dump_record(&once);
    snprintf(twice, sizeof twice, "%s%s", line, line);
    corrected_write(&site, twice);
    dump_record(&now);
    dump_same(&once, &now);
    site.logbook = NULL;
    site_stop(&site, true);
    assert_true(site_start(&site));
    corrected_settle(&site);
    dump_record(&now);
    dump_same(&once, &now);
    site_finish(&site);
}

static void change_record(const char *sql)
{
    sqlite3 *db;
    assert_int_equal(sqlite3_open("record.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

/* A damaged cell may be NULL in spite of its column: the correction is taken up anew. */
static void test_damaged(void **state)
{
    (void)state;
    corrected_begin(&site, 11, 2, grid_and_roof);
    corrected_live(&site, 20 * 3600);
    corrected_write(&site, "2026-09-22 correct house what=ratio from=2026-09-21T20:02 to=2026-09-22T02:00 "
                           "old=100/5 new=150/7\n");
    int64_t once = audit_ask("SELECT sum(import) FROM corrected");
    assert_true(once > 0);
    site_stop(&site, true);
    change_record("PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(sql, 'TEXT NOT NULL', "
                  "'TEXT') WHERE name = 'correction'");
    change_record("UPDATE correction SET hash = NULL, what = NULL, entry = NULL");
    change_record("PRAGMA writable_schema = ON; UPDATE sqlite_schema SET sql = replace(replace(replace(sql, "
                  "'what TEXT,', 'what TEXT NOT NULL,'), 'entry TEXT,', 'entry TEXT NOT NULL,'), "
                  "'hash TEXT,', 'hash TEXT NOT NULL,') WHERE name = 'correction'");
    assert_true(site_start(&site));
    corrected_settle(&site);
    assert_int_equal(audit_ask("SELECT count(*) FROM correction WHERE hash <> '' AND what = 'ratio'"), 1);
    assert_int_equal(audit_ask("SELECT sum(import) FROM corrected"), once);
    corrected_audit(&site);
    corrected_audit_anew(&site);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_to_now),           cmocka_unit_test(test_one_commit),
        cmocka_unit_test(test_commit_fails),     cmocka_unit_test(test_cut_anywhere),
        cmocka_unit_test(test_renamed),          cmocka_unit_test(test_changed_afterwards),
        cmocka_unit_test(test_day_closes_later), cmocka_unit_test(test_moved),
        cmocka_unit_test(test_logbook),          cmocka_unit_test(test_damaged),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
