/* links: tools/sealed/spans.c tools/sealed/spans_month.c tools/balance/period.c tools/output/number.c tools/stamp.c daemon/record/config_sealed.c daemon/record/config_checks.c daemon/record/config_supply.c daemon/record/config_expected.c daemon/record/config_classes.c daemon/record/config_file.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/logbook.c daemon/record/logbook_line.c daemon/record/logbook_most.c daemon/record/logbook_names.c daemon/record/meter_names.c daemon/record/logbook_value.c daemon/record/nearest.c daemon/record/utf8.c daemon/record/muldiv.c daemon/record/sun.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Reading periods from logbooks, worked out by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "spans.h"

static struct config config;
static struct civil *civil;
static char notes[4096];

static void hear(void *self, const char *line)
{
    (void)self;
    snprintf(notes + strlen(notes), sizeof notes - strlen(notes), "%s\n", line);
}

static void hear_problem(void *self, bool error, const char *line)
{
    (void)self;
    fail_msg("%s: %s", error ? "error" : "warning", line);
}

static int setup(void **state)
{
    (void)state;
    civil = civil_open("Europe/Berlin");
    config.site.latitude = 50;
    config.site.longitude = 9;
    return civil ? 0 : -1;
}

static int finish(void **state)
{
    (void)state;
    civil_close(civil);
    return 0;
}

static void set_meter(uint32_t registers, int32_t digits, int32_t decimals, int32_t factor, bool whole)
{
    config.sealed_count = 1;
    config.sealed[0] = (struct config_sealed){ .name = "m",
                                               .role = ROLE_GRID,
                                               .registers = registers,
                                               .digits = digits,
                                               .decimals = decimals,
                                               .factor_thousandths = factor,
                                               .whole_units = whole };
}

static struct spans read_spans(const char *text)
{
    struct logbook_site site = { .civil = civil, .config = &config };
    struct problems problems = { .say = hear_problem };
    struct logbook *logbook = logbook_read(text, strlen(text), "log", &site, &problems);
    struct spans spans = { .config = &config, .civil = civil, .note = hear };
    assert_non_null(logbook);
    notes[0] = '\0';
    logbook_sort(logbook);
    spans_read(&spans, logbook, 0);
    spans_sort(&spans);
    logbook_free(logbook);
    assert_false(spans.memory_out);
    return spans;
}

#define IMPORT (1U << SEALED_IMPORT)
#define EXPORT (1U << SEALED_EXPORT)
#define KWH    INT64_C(1000000)

/* One register, one period or more: energies in Wh. */
static void test_energies(void **state)
{
    static const struct {
        const char *what;
        int32_t digits, decimals, factor;
        bool whole;
        const char *text;
        int32_t count;
        int64_t energy[3]; /* mWh */
        const char *note;  /* part of what is said; "" nothing */
    } table[] = {
        { "plain",
          5,
          1,
          1000,
          false,
          "2026-01-01 reading m import=412.9\n2026-02-01 reading m import=731.1\n",
          1,
          { 318200000 },
          "" },
        /* trade.md 2.5: 319, not 318 */
        { "cut to whole units before they are subtracted",
          5,
          1,
          1000,
          true,
          "2026-01-01 reading m import=412.9\n2026-02-01 reading m import=731.1\n",
          1,
          { 319 * KWH },
          "" },
        { "rollover of five digits, factor 20",
          5,
          0,
          20000,
          false,
          "2026-01-01 reading m import=99990\n2026-02-01 reading m import=5\n",
          1,
          { 15 * 20 * KWH },
          "" },
        { "rollover, decimals cut",
          5,
          1,
          1000,
          true,
          "2026-01-01 reading m import=99990.9\n2026-02-01 reading m import=5.1\n",
          1,
          { 15 * KWH },
          "" },
        { "a start, then readings in no order",
          6,
          0,
          1000,
          false,
          "2026-03-01 reading m import=300\n2025-12-31 start m import=0\n2026-02-01 reading m import=100\n",
          2,
          { 100 * KWH, 200 * KWH },
          "" },
        { "an exchange between two readings",
          6,
          0,
          1000,
          false,
          "2026-01-01 reading m import=1000\n2026-01-11 exchange m old.import=1100 new.import=7\n"
          "2026-02-01 reading m import=57\n",
          1,
          { 150 * KWH },
          "" },
        { "an exchange for a meter with other digits and factor",
          5,
          0,
          20000,
          false,
          "2026-01-01 reading m import=99999\n"
          "2026-01-11 exchange m old.import=1 new.import=0 digits=6 decimals=2 factor=1\n"
          "2026-02-01 reading m import=57.25\n",
          1,
          { 40 * KWH + 57250000 },
          "" },
        { "two exchanges",
          6,
          0,
          1000,
          false,
          "2026-01-01 reading m import=10\n2026-01-02 exchange m old.import=20 new.import=5\n"
          "2026-01-03 exchange m old.import=8 new.import=0\n2026-02-01 reading m import=4\n",
          1,
          { 17 * KWH },
          "" },
        { "nothing before the exchange",
          6,
          0,
          1000,
          false,
          "2026-01-11 exchange m old.import=1100 new.import=7\n2026-02-01 reading m import=57\n",
          1,
          { 50 * KWH },
          "" },
        { "a fall that is no rollover",
          5,
          0,
          1000,
          false,
          "2026-01-01 reading m import=5000\n2026-02-01 reading m import=4000\n2026-03-01 reading m "
          "import=4100\n",
          2,
          { UNKNOWN, 100 * KWH },
          "is below the one before and it is no rollover" },
        { "an estimate too high is taken back",
          5,
          0,
          1000,
          false,
          "2026-01-01 reading m import=100\n2026-02-01 reading m import=200 how=estimated\n"
          "2026-03-01 reading m import=190\n",
          2,
          { 100 * KWH, -10 * KWH },
          "from 2026-01-01 to 2026-03-01, between readings that were taken, exactly 90 kWh" },
        { "two estimates in a row",
          5,
          0,
          1000,
          false,
          "2026-01-01 reading m import=100\n2026-02-01 reading m import=150 how=estimated\n"
          "2026-03-01 reading m import=200 how=estimated\n2026-04-01 reading m import=290\n",
          3,
          { 50 * KWH, 50 * KWH, 90 * KWH },
          "exactly 190 kWh" },
        { "a revoked reading does not count",
          5,
          0,
          1000,
          false,
          "2026-01-01 reading m import=100\n2026-02-01 reading m import=900\n2026-02-02 revoke m "
          "of=2026-02-01\n"
          "2026-03-01 reading m import=150\n",
          1,
          { 50 * KWH },
          "" },
        { "a factor below one",
          5,
          2,
          500,
          false,
          "2026-01-01 reading m import=1.01\n2026-02-01 reading m import=1.02\n",
          1,
          { 5000 },
          "" },
        { "one reading", 5, 0, 1000, false, "2026-01-01 reading m import=100\n", 0, { 0 }, "" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        set_meter(IMPORT, table[i].digits, table[i].decimals, table[i].factor, table[i].whole);
        struct spans spans = read_spans(table[i].text);
        if (spans.count != table[i].count)
            fail_msg("%s: %d periods", table[i].what, (int)spans.count);
        for (int32_t k = 0; k < spans.count; k++)
            if (spans.periods[k].energy != table[i].energy[k])
                fail_msg("%s: period %d is %lld", table[i].what, (int)k, (long long)spans.periods[k].energy);
        if (table[i].note[0] ? !strstr(notes, table[i].note) : notes[0] != '\0')
            fail_msg("%s: says '%s'", table[i].what, notes);
        spans_free(&spans);
    }
}

static void test_marks(void **state)
{
    (void)state;
    set_meter(IMPORT | EXPORT, 5, 0, 1000, false);
    struct spans spans =
        read_spans("2026-01-01 reading m import=99990 export=5\n"
                   "2026-01-20 exchange m old.import=2 new.import=0 old.export=6 new.export=0\n"
                   "2026-02-01 reading m import=3 how=estimated\n"
                   "2026-03-01 reading m import=4 export=7\n");
    assert_int_equal(spans.count, 3);
    const struct spans_period *p = spans.periods;
    assert_int_equal(p[0].reg, SEALED_IMPORT);
    assert_true(p[0].rolled && p[0].exchanged && p[0].to_estimated && !p[0].from_estimated);
    assert_int_equal(p[1].reg, SEALED_EXPORT); /* its own period: nobody read it in February */
    assert_int_equal(p[1].energy, 8 * KWH);
    assert_true(p[1].exchanged && !p[1].rolled && !p[1].to_estimated);
    assert_true(p[2].from_estimated && !p[2].to_estimated && !p[2].exchanged && !p[2].rolled);
    spans_free(&spans);
    /* an exchange that does not say what a register stood at breaks its account */
    spans = read_spans("2026-01-01 reading m import=10 export=5\n"
                       "2026-01-20 exchange m old.import=20 new.import=0\n"
                       "2026-02-01 reading m import=3 export=1\n"
                       "2026-03-01 reading m import=4 export=7\n");
    assert_non_null(strstr(notes, "m, export: the exchange in line 2 has no reading of it"));
    assert_int_equal(spans.count, 3);
    assert_int_equal(spans.periods[2].energy, 6 * KWH);
    spans_free(&spans);
}

static void test_tariff_registers(void **state)
{
    (void)state;
    set_meter(IMPORT | 1U << SEALED_T1 | 1U << SEALED_T2 | 1U << SEALED_DEMAND, 6, 1, 1000, true);
    struct spans spans = read_spans("2026-01-01 reading m import=100.9 t1=60.5 t2=40.4\n"
                                    "2026-02-01 reading m import=201.0 t1=100.4 t2=100.6 demand=4.25\n"
                                    "2026-03-01 reading m import=301.0 t1=150.4 t2=155.6 demand=3.5\n");
    assert_int_equal(spans.count, 7);
    /* cut one by one: 101 = 40 + 60 + 1 is no mistake; 100 = 50 + 55 is one */
    assert_null(strstr(notes, "from 2026-01-01"));
    assert_non_null(strstr(
        notes, "m: from 2026-02-01 to 2026-03-01 its tariff registers add up to 105 kWh, import is 100"));
    for (int32_t i = 0; i < spans.count; i++)
        if (spans.periods[i].reg == SEALED_DEMAND)
            assert_int_equal(spans.periods[i].energy, 3500000); /* what was shown, no difference */
    spans_free(&spans);
}

/* A meter may count export by tariff period as well: a dial read wrongly shows in the sum. */
static void test_export_registers(void **state)
{
    (void)state;
    set_meter(IMPORT | 1U << SEALED_EXPORT | 1U << SEALED_EXPORT_T1 | 1U << SEALED_EXPORT_T2, 6, 1, 1000,
              false);
    struct spans spans = read_spans("2026-01-01 reading m import=0 export=100 export.t1=30 export.t2=70\n"
                                    "2026-02-01 reading m import=9 export=150 export.t1=40 export.t2=110\n"
                                    "2026-03-01 reading m import=9 export=170 export.t1=49 export.t2=140\n");
    assert_int_equal(spans.count, 8);
    assert_null(strstr(notes, "from 2026-01-01"));
    assert_non_null(strstr(
        notes, "m: from 2026-02-01 to 2026-03-01 its tariff registers add up to 39.0 kWh, export is 20.0"));
    spans_free(&spans);
}

static int64_t total_of(const struct spans *spans)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < spans->count; i++)
        sum += spans->periods[i].energy;
    return sum;
}

static void test_months(void **state)
{
    (void)state;
    set_meter(IMPORT, 6, 0, 1000, false);
    struct spans spans =
        read_spans("2026-01-01T00:00 reading m import=0\n2026-01-20 reading m import=77\n"
                   "2026-03-11T17:45 reading m import=1000\n2026-04-01T00:00 reading m import=1001\n");
    struct spans months = { .config = &config, .civil = civil, .note = hear };
    spans_by_month(&months, &spans);
    assert_int_equal(months.count, 3);
    assert_int_equal(total_of(&months), 1001 * KWH);
    assert_false(months.periods[0].partly);
    assert_int_equal(months.periods[1].share, SHARE_TIME);
    /* February: 28 days of the 50 d 5 h 45 min between noon of 20 January and 17:45 of 11 March */
    assert_int_equal(months.periods[1].energy, 923 * KWH * (28 * 86400) / (50 * 86400 + 20700));
    spans_free(&spans);
    spans_free(&months);
    /* only a part of the first and the last month is known */
    spans = read_spans("2026-01-20 reading m import=0\n2026-02-10 reading m import=100\n");
    months = (struct spans){ .config = &config, .civil = civil, .note = hear };
    spans_by_month(&months, &spans);
    assert_int_equal(months.count, 2);
    assert_true(months.periods[0].partly && months.periods[1].partly);
    assert_int_equal(months.periods[0].from_s, spans.periods[0].from_s);
    assert_int_equal(months.periods[1].to_s, spans.periods[0].to_s);
    assert_int_equal(total_of(&months), 100 * KWH);
    spans_free(&spans);
    spans_free(&months);
}

/* Production follows the sun: of a period over the turn of the year June gets more than its days. */
static void test_months_along_the_sun(void **state)
{
    (void)state;
    set_meter(EXPORT, 6, 0, 1000, false);
    config.sealed[0].role = ROLE_PRODUCTION;
    config.sealed[0].delivers_by_export = true;
    struct spans spans =
        read_spans("2026-01-01T00:00 reading m export=0\n2027-01-01T00:00 reading m export=1200\n");
    struct spans months = { .config = &config, .civil = civil, .note = hear };
    spans_by_month(&months, &spans);
    assert_int_equal(months.count, 12);
    assert_int_equal(total_of(&months), 1200 * KWH);
    assert_int_equal(months.periods[5].share, SHARE_SUN);
    assert_true(months.periods[5].energy > 150 * KWH && months.periods[5].energy < 200 * KWH);
    assert_true(months.periods[11].energy > 20 * KWH && months.periods[11].energy < 40 * KWH);
    spans_free(&spans);
    spans_free(&months);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_energies),         cmocka_unit_test(test_marks),
        cmocka_unit_test(test_tariff_registers), cmocka_unit_test(test_export_registers),
        cmocka_unit_test(test_months),           cmocka_unit_test(test_months_along_the_sun),
    };
    return cmocka_run_group_tests(tests, setup, finish);
}
