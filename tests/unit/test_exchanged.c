/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c tests/fake/corrected.c COLLECTOR */
/* Meters of ours that are exchanged while nobody asks them: what they counted comes back with the
 * readings that the logbook declares. */
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
#include "site.h"

static struct site site;

static const enum meter_role grid_and_roof[] = { ROLE_GRID, ROLE_PRODUCTION };

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
    corrected_live(&site, 4 * 3600 + 420);
    site.meters[0].power_mw = 3000000;
    site_power_off(&site, 1700000);
    exchange("2026-09-21T20:50", 7000000, 0);
    site.meters[0].power_mw = -1000000;
    site_power_off(&site, 1800000);
    if (declared_before)
        site.logbook = exchange_text;
    assert_true(site_start(&site));
    corrected_live(&site, 3600);
}

static void test_exchange_declared_before(void **state)
{
    (void)state;
    corrected_begin(&site, 11, 1, grid_and_roof);
    exchange_in_the_dark(true);
    corrected_settle(&site);
    assert_int_equal(audit_ask("SELECT count(*) FROM correction WHERE what = 'exchange'"), 1);
    all_there();
    corrected_audit(&site);
    corrected_audit_anew(&site);
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
    corrected_begin(&site, 12, 2, grid_and_roof);
    exchange_in_the_dark(false);
    corrected_settle(&site);
    assert_true(lost(0) > 500000);
    assert_true(lost(1) > 100000);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 128"), 1);
    /* what nobody knows is not observed */
    assert_true(
        audit_ask("SELECT sum(unobserved) FROM interval WHERE meter = 1 AND ts > (SELECT min(ts) FROM "
                  "interval)") >= 3500);
    dump_record(&before);
    corrected_write(&site, exchange_text);
    all_there();
    corrected_audit(&site);
    corrected_audit_anew(&site);
    /* with a wrong ratio all the time it is scaled as well */
    int64_t sum = audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 1");
    snprintf(text, sizeof text,
             "%s2026-09-20 correct house what=ratio from=2026-09-20 to=2026-09-29 old=1/1 "
             "new=2/1\n",
             exchange_text);
    corrected_write(&site, text);
    assert_int_equal(audit_ask("SELECT sum(import) FROM interval_as_corrected WHERE meter = 1"), 2 * sum);
    corrected_write(&site, "");
    dump_record(&after);
    dump_same(&before, &after);
    site_finish(&site);
}

/* The power stays on; what the new meter counts before it is asked is in its first reading. */
static void test_exchange_while_polling(void **state)
{
    (void)state;
    corrected_begin(&site, 13, 2, grid_and_roof);
    corrected_live(&site, 4 * 3600 + 420);
    site.meters[0].silent = true;
    corrected_live(&site, 600);
    exchange("2026-09-21", 0, 5000000);
    corrected_live(&site, 1200);
    site.meters[0].silent = false;
    corrected_live(&site, 3600);
    corrected_write(&site, exchange_text);
    all_there();
    corrected_audit(&site);
    assert_true(audit_ask("SELECT import FROM correction") > 10000);
    site_finish(&site);
}

/* Declared readings that the collector's contradict change nothing, nor do those of another day. */
static void test_exchange_does_not_fit(void **state)
{
    (void)state;
    corrected_begin(&site, 14, 2, grid_and_roof);
    exchange_in_the_dark(false);
    exchange_text[8] = exchange_text[8] == '1' ? '2' : '1'; /* 2026-09-11 */
    exchange_text[9] = '5';
    corrected_write(&site, exchange_text);
    assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 0);
    corrected_write(&site, "2026-09-21 exchange house old.import=999999 new.import=0\n");
    assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 0);
    corrected_write(&site, "2026-09-21 exchange house old.import=0 new.import=0\n");
    assert_int_equal(audit_ask("SELECT count(*) FROM correction"), 0);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exchange_declared_before),
        cmocka_unit_test(test_exchange_declared_later),
        cmocka_unit_test(test_exchange_while_polling),
        cmocka_unit_test(test_exchange_does_not_fit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
