/* links: tests/real/series.c tests/real/series_list.c tests/real/enter_files.c tests/real/entered.c tests/real/panel_site.c tests/real/record.c tools/panel/adu.c tools/panel/counting.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/replay.c tools/panel/reply.c tools/panel/scenario*.c tools/panel/world.c daemon/bus/plan.c COLLECTOR */
/* Real series, entered by the real program from files into which a seeded knife
 * cut gaps: counters, and interval energies where the dataset has those. Totals
 * are exact to the register unit, the same file again changes nothing, and the
 * shape in the gaps of a counter is held against the data, beside plain
 * interpolation. Then one series behind and into a record that was collected.
 *
 * Runs $BUILD/meterbook. METERBOOK_REAL_SEED, _RUNS, _SERIES as in test_panel_series.c. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "enter_files.h"
#include "entered.h"
#include "panel_site.h"
#include "record.h"

static struct cut cuts[KNIFE_MOST];
static struct panel_site site;

static const char fingerprint[] =
    "SELECT sum((coalesce(import, 7) * 3 + coalesce(export, 11) * 5 + estimated * 7 + how) % 1000003 * (id % "
    "1009)) FROM interval";

/* The same file again: nothing moves. */
static void enter_again(const char *options)
{
    struct record record;
    record_open(&record, entered_path("record.db"));
    int64_t before = record_ask(&record, fingerprint, 0, 0);
    int64_t most = record_ask(&record, "SELECT count(*) FROM event WHERE kind = 'entered'", 0, 0);
    record_close(&record);
    entered_file(options);
    record_open(&record, entered_path("record.db"));
    int64_t after = record_ask(&record, fingerprint, 0, 0);
    int64_t events = record_ask(&record, "SELECT count(*) FROM event WHERE kind = 'entered'", 0, 0);
    record_close(&record);
    if (before != after || events > most)
        fail_msg("entered a second time, the record is another: fingerprint %lld, then %lld; %lld events",
                 (long long)before, (long long)after, (long long)events);
}

#define OF_DAY                                                                                               \
    "FROM interval AS i WHERE i.id >= from_s * 1024 AND i.id < to_s * 1024 AND i.meter = day.meter)"

static void check_days(struct record *record)
{
    assert_int_equal(record_ask(record,
                                "SELECT count(*) FROM day WHERE import IS NOT (SELECT sum(import) " OF_DAY
                                " OR estimated IS NOT (SELECT sum(estimated) " OF_DAY,
                                0, 0),
                     0);
    assert_int_equal(
        record_ask(record, "SELECT count(*) FROM interval WHERE import < 0 OR export < 0 OR estimated < 0", 0,
                   0),
        0);
}

static bool run_counters(const struct dataset *series, int count, bool print, struct scores *scores)
{
    struct record record;
    bool good = true;
    entered_make_record(series);
    write_counters(entered_path("data.csv"), series, cuts, count);
    entered_file("");
    enter_again("");
    record_open(&record, entered_path("record.db"));
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++) {
            if (!series->value[m][c])
                continue;
            struct record_total total = {
                .first = record_ask(&record, "SELECT first FROM run WHERE meter = ?1 AND counter = ?2", m, c),
                .runs =
                    record_ask(&record, "SELECT count(*) FROM run WHERE meter = ?1 AND counter = ?2", m, c)
            };
            total.last = total.first + record_ask(&record,
                                                  "SELECT sum(iif(?2, export, import)) FROM interval WHERE "
                                                  "meter = ?1",
                                                  m, c);
            good = record_check(series, m, c, &total, print) && good;
        }
    check_days(&record);
    record_score(&record, series, cuts, count, scores);
    record_close(&record);
    return good;
}

/* Of what is missing between energies nothing is known: the sum is that of the file. */
static void run_energies(const struct dataset *series, int count)
{
    int64_t sums[SERIES_METERS][2];
    char options[32];
    struct record record;
    entered_make_record(series);
    write_energies(entered_path("data.csv"), series, cuts, count, sums);
    snprintf(options, sizeof options, "--length %ds", (int)series->info.step_s);
    entered_file(options);
    enter_again(options);
    record_open(&record, entered_path("record.db"));
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++)
            if (series->value[m][c] &&
                record_ask(&record, "SELECT sum(iif(?2, export, import)) FROM interval WHERE meter = ?1", m,
                           c) != sums[m][c])
                fail_msg("%s: interval energies of meter %d do not add up", series->name, m + 1);
    check_days(&record);
    record_close(&record);
}

/* Rows that overlap are no intervals. */
static bool has_energies(const struct dataset *series)
{
    for (int32_t i = 1; i < series->count; i++)
        if (series->at_s[i] - series->at_s[i - 1] < series->info.step_s)
            return false;
    return series->info.kind == SERIES_ROWS;
}

static bool run(const struct dataset *series, struct scores *scores)
{
    int64_t days = (series->at_s[series->count - 1] - series->at_s[0]) / 86400;
    int64_t runs = environment("METERBOOK_REAL_RUNS", days > 300 ? 1 : days > 20 ? 16 : 2);
    uint64_t seed = (uint64_t)environment("METERBOOK_REAL_SEED", 1);
    bool good = true;
    for (int64_t r = 0; r < runs; r++) {
        int count =
            knife_cut(series, seed + (uint64_t)r, series->info.step_s > 60 ? series->info.step_s : 60, cuts);
        good = run_counters(series, count, r == 0, scores) && good;
        if (r == 0 && has_energies(series))
            run_energies(series, count);
    }
    return good;
}

static void test_enter_series(void **state)
{
    (void)state;
    int found;
    bool good = series_each(run, &found);
    if (found == 0)
        skip();
    assert_true(good);
}

static const char measured[] =
    "SELECT sum((import * 3 + how) % 1000003 * (id % 1009)) FROM interval WHERE how & 15 = 0";

/* Three weeks that the collector read, with a day missing, and a file of the same
 * register from before and through them: what was read stands, the day is what
 * the file says, and the register is whole from its first line to the last poll. */
static void collect_behind(const struct dataset *series, int64_t from_s, const struct cut *silent)
{
    if (!panel_site_start(&site, series, entered_path("record.db"), from_s))
        fail_msg("neither panel nor collector starts");
    panel_site_run(&site, silent->from_s);
    site.silent = true;
    panel_site_run(&site, silent->to_s - 1);
    site.silent = false;
    panel_site_run(&site, series->at_s[series->count - 1] + 2 * series->info.interval_s + 60);
    panel_site_stop(&site);
}

static void test_behind_a_collector(void **state)
{
    (void)state;
    const struct series_info *info = series_list;
    struct dataset series;
    struct record record;
    while (strcmp(info->title, "household near Paris") != 0)
        info++;
    if (!series_open(&series, info, 0))
        skip();
    int64_t from_s = (series.at_s[0] / 86400 + 12) * 86400, unit = info->unit_mwh;
    struct cut silent = { .from_s = from_s + 4 * 86400 + 1020, .to_s = from_s + 5 * 86400 + 1020 };
    entered_drop_record();
    entered_write_config(&series);
    collect_behind(&series, from_s, &silent);
    record_open(&record, entered_path("record.db"));
    int64_t before = record_ask(&record, measured, 0, 0);
    assert_true(record_ask(&record, "SELECT count(*) FROM interval WHERE how & 1024", 0, 0) > 280);
    record_close(&record);
    cuts[0] = (struct cut){ .from_s = from_s - 3 * 86400, .to_s = from_s - 2 * 86400 };
    write_counters(entered_path("data.csv"), &series, cuts, 1);
    entered_file("--same-register"); /* up to the collector's first reading */
    enter_again("--same-register");
    entered_file(""); /* and what the collector missed */
    enter_again("");
    record_open(&record, entered_path("record.db"));
    assert_true(record_ask(&record, measured, 0, 0) == before);
    int64_t off = 0;
    for (int64_t at_s = silent.from_s / 300 * 300 + 300; at_s + 300 <= silent.to_s; at_s += 300) {
        char sql[96];
        snprintf(sql, sizeof sql, "SELECT import FROM interval WHERE meter = 1 AND ts = %lld",
                 (long long)at_s);
        int64_t miss = llabs(record_ask(&record, sql, 0, 0) -
                             (series_value(&series, 0, 0, at_s + 300) - series_value(&series, 0, 0, at_s)));
        off = miss > off ? miss : off;
    }
    int64_t sum = record_ask(&record, "SELECT sum(import) FROM interval", 0, 0);
    int64_t first = record_ask(&record, "SELECT min(first) FROM run WHERE began = 'entered'", 0, 0);
    printf("behind a collector: data 0 to %lld, record %lld to %lld; the day entered into its gap is off by "
           "%lld "
           "mWh an interval at most\n",
           (long long)(series.value[0][0][series.count - 1] / unit), (long long)(first / unit),
           (long long)((first + sum) / unit), (long long)off);
    assert_true((first + sum) / unit == series.value[0][0][series.count - 1] / unit);
    assert_true(off <= unit);
    check_days(&record);
    record_close(&record);
    series_close(&series);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_enter_series, entered_set_up, entered_tear_down),
        cmocka_unit_test_setup_teardown(test_behind_a_collector, entered_set_up, entered_tear_down),
    };
    setvbuf(stdout, NULL, _IOLBF, 0);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
