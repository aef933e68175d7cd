/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c tests/fake/corrected.c COLLECTOR */
/* Corrections in the logbook, with the real collector and store on simulated meters: what they
 * change, that what was measured stays, and that a correction taken back leaves no trace. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "corrected.h"
#include "disk.h"
#include "muldiv.h"
#include "site.h"

static struct site site;

static const enum meter_role grid_and_roof[] = { ROLE_GRID, ROLE_PRODUCTION };
static const enum meter_role three_grids[] = { ROLE_GRID, ROLE_GRID, ROLE_GRID };
static const enum meter_role derived_site[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };

#define IN(from, to) "ts >= unixepoch('" from "') AND ts < unixepoch('" to "')"

static void test_ratio(void **state)
{
    (void)state;
    static const char *const counters[] = { "import", "export" };
    struct dump before, after;
    corrected_begin(&site, 1, 2, grid_and_roof);
    corrected_live(&site, 80 * 3600);
    dump_record(&before);
    corrected_write(&site,
                    "2026-09-24 correct house what=ratio from=2026-09-21T22:00 to=2026-09-24T06:00 old=100/5 "
                    "new=150/7\n");
    corrected_audit(&site);
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
    corrected_audit_anew(&site);
    /* taken back */
    corrected_write(
        &site,
        "2026-09-24 correct house what=ratio from=2026-09-21T22:00 to=2026-09-24T06:00 old=100/5 new=150/7\n"
        "2026-09-24T09:00 revoke house of=2026-09-24 kind=correct\n");
    dump_record(&after);
    dump_same(&before, &after);
    /* and a line that is gone is taken back too */
    corrected_write(&site,
                    "2026-09-24 correct house what=exchanged from=2026-09-21T22:00 to=2026-09-24T06:00\n");
    assert_true(audit_ask("SELECT count(*) FROM corrected") > 0);
    corrected_write(&site, "# nothing\n");
    dump_record(&after);
    dump_same(&before, &after);
    site_finish(&site);
}

/* Until 12:42:30, within an interval. */
static void test_exchanged(void **state)
{
    (void)state;
    corrected_begin(&site, 2, 2, grid_and_roof);
    corrected_live(&site, 40 * 3600);
    corrected_write(&site,
                    "2026-09-23 correct house what=exchanged from=2026-09-21 to=2026-09-22T12:42:30\n");
    corrected_audit(&site);
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
    corrected_audit_anew(&site);
    site_finish(&site);
}

static void test_swapped(void **state)
{
    (void)state;
    corrected_begin(&site, 3, 3, three_grids);
    corrected_live(&site, 30 * 3600);
    corrected_write(
        &site, "2026-09-23 correct house what=swapped with=barn from=2026-09-21T18:00 to=2026-09-22T18:00\n");
    corrected_audit(&site);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM corrected AS c JOIN interval AS i ON i.ts = c.ts AND i.meter "
                  "= 4 - c.meter WHERE (c.import, c.export, c.power, c.voltage) IS (i.import, "
                  "i.export, i.power, i.voltage)"),
        2 * 288);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected"), 2 * 288);
    corrected_audit_anew(&site);
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
    corrected_begin(&site, 4, 3, three_grids);
    corrected_live(&site, 70 * 3600);
    for (int left_out = 0; left_out < 4; left_out++) {
        text[0] = '\0';
        for (int i = 0; i < 4; i++)
            if (i != left_out)
                snprintf(text + strlen(text), sizeof text - strlen(text), "%s", lines[i]);
        corrected_write(&site, text);
        corrected_audit(&site);
        dump_record(&without[left_out]);
        corrected_write(&site, "");
    }
    snprintf(text, sizeof text, "%s%s%s%s", lines[0], lines[1], lines[2], lines[3]);
    corrected_write(&site, text);
    corrected_audit(&site);
    corrected_audit_anew(&site);
    dump_record(&all);
    for (int left_out = 0; left_out < 4; left_out++) {
        snprintf(text, sizeof text, "%s%s%s%s2026-09-25 revoke %s of=2026-09-24T0%d:00\n", lines[0], lines[1],
                 lines[2], lines[3], left_out == 3 ? "barn" : "house", left_out + 1);
        corrected_write(&site, text);
        corrected_audit(&site);
        assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 3);
        dump_record(&now);
        for (int i = 0; i < now.count; i++) /* ids and dates of the entries are others */
            if (strncmp(now.tables[i], "correct", 7) != 0)
                assert_int_equal(now.hashes[i], all.hashes[i]);
            else if (strcmp(now.tables[i], "corrected_day") == 0)
                assert_int_equal(now.hashes[i], without[left_out].hashes[i]);
        snprintf(text, sizeof text, "%s%s%s%s", lines[0], lines[1], lines[2], lines[3]);
        corrected_write(&site, text);
    }
    for (int i = 0; i < now.count; i++)
        if (strcmp(all.tables[i], "corrected_day") == 0) {
            dump_record(&now);
            assert_int_equal(now.hashes[i], all.hashes[i]);
        }
    site_finish(&site);
}

/* The same lines in another order are other corrections: what is exchanged and then swapped. */
static void test_order(void **state)
{
    (void)state;
    corrected_begin(&site, 5, 3, three_grids);
    corrected_live(&site, 30 * 3600);
    corrected_write(
        &site, "2026-09-23T01:00 correct house what=exchanged from=2026-09-21T18:00 to=2026-09-22T18:00\n"
               "2026-09-23T02:00 correct house what=swapped with=barn from=2026-09-21T18:00 "
               "to=2026-09-22T18:00\n");
    int64_t first = audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 3");
    corrected_audit(&site);
    corrected_write(
        &site, "2026-09-23T01:00 correct house what=swapped with=barn from=2026-09-21T18:00 "
               "to=2026-09-22T18:00\n"
               "2026-09-23T02:00 correct house what=exchanged from=2026-09-21T18:00 to=2026-09-22T18:00\n");
    corrected_audit(&site);
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
    corrected_begin(&site, 6, 2, derived_site);
    corrected_live(&site, 40 * 3600);
    dump_record(&before);
    corrected_write(
        &site,
        "2026-09-23 correct roof what=ratio from=2026-09-21T20:02 to=2026-09-22T20:07 old=2/1 new=3/1\n"
        "2026-09-23 correct house what=ratio from=2026-09-22T10:02 to=2026-09-23T02:02 old=3/1 new=2/1\n");
    corrected_audit(&site);
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
    corrected_audit_anew(&site);
    corrected_write(&site, "");
    dump_record(&after);
    dump_same(&before, &after);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_ratio),       cmocka_unit_test(test_exchanged), cmocka_unit_test(test_swapped),
        cmocka_unit_test(test_overlapping), cmocka_unit_test(test_order),     cmocka_unit_test(test_derived),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
