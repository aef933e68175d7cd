/* links: tests/real/series.c tests/real/series_list.c tests/real/panel_site.c tests/real/record.c tests/fake/disk.c tools/panel/adu.c tools/panel/counting.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/replay.c tools/panel/reply.c tools/panel/scenario*.c tools/panel/world.c daemon/bus/plan.c COLLECTOR */
/* Real series, served by the simulated panel and collected in quickened time,
 * with gaps cut into them by a seeded knife. Every total is exact to the
 * register unit; the shape in the gaps is held against the data, beside plain
 * interpolation, and must be better from 6 h on.
 *
 * METERBOOK_REAL_SEED=N: another knife. METERBOOK_REAL_RUNS=N: so many runs of each series,
 * and all homes. METERBOOK_REAL_SERIES=TEXT: only those it names ("site A, household near Paris"). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>

#include "disk.h"
#include "log.h"
#include "panel_site.h"
#include "record.h"

static struct panel_site site;
static struct cut cuts[KNIFE_MOST];

static struct record_total total_of(struct record *record, int meter, int counter)
{
    return (struct record_total){
        .first = record_ask(record, "SELECT first FROM run WHERE meter = ?1 AND counter = ?2 ORDER BY id",
                            meter, counter),
        .last =
            record_ask(record,
                       "SELECT base + (SELECT sum(iif(?2, export, import)) FROM interval WHERE meter = ?1) "
                       "FROM run WHERE meter = ?1 AND counter = ?2 AND ended IS NULL",
                       meter, counter),
        .runs =
            record_ask(record, "SELECT count(*) FROM run WHERE meter = ?1 AND counter = ?2", meter, counter),
    };
}

static bool check_totals(struct record *record, const struct dataset *series, bool print)
{
    bool good = true;
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++) {
            if (!series->value[m][c])
                continue;
            struct record_total total = total_of(record, m, c);
            good = record_check(series, m, c, &total, print) && good;
        }
    return good;
}

/* Once, with the seed's cuts. */
static bool run_once(const struct dataset *series, uint64_t seed, bool print, struct scores *scores)
{
    /* Registers of a coarse series stand still between its stamps, which no meter's does: cut there. */
    int64_t grid_s = series->info.step_s > series->info.poll_s ? series->info.step_s : series->info.poll_s;
    int count = knife_cut(series, seed, grid_s, cuts);
    struct record record;
    disk_install(seed);
    disk_format();
    if (!panel_site_start(&site, series, "record.db", series->at_s[0]))
        fail_msg("%s: neither panel nor collector starts", series->name);
    for (int i = 0; i < count; i++) {
        panel_site_run(&site, cuts[i].from_s);
        site.silent = true;
        panel_site_run(&site, cuts[i].to_s - 1);
        site.silent = false;
    }
    panel_site_run(&site, series->at_s[series->count - 1] + 2 * series->info.interval_s + 60);
    panel_site_stop(&site);
    record_open(&record, "record.db");
    bool good = check_totals(&record, series, print);
    record_score(&record, series, cuts, count, scores);
    record_close(&record);
    return good;
}

/* Short series are cut several times, each time elsewhere. */
static bool run(const struct dataset *series, struct scores *scores)
{
    int64_t days = (series->at_s[series->count - 1] - series->at_s[0]) / 86400;
    int64_t runs = environment("METERBOOK_REAL_RUNS", days > 300 ? 1 : days > 20 ? 16 : 2);
    uint64_t seed = (uint64_t)environment("METERBOOK_REAL_SEED", 1);
    bool good = true;
    for (int64_t r = 0; r < runs; r++)
        good = run_once(series, seed + (uint64_t)r, r == 0, scores) && good;
    return good;
}

static void test_panel_series(void **state)
{
    (void)state;
    int found;
    log_set_level(LOG_ERROR - 1);
    bool good = series_each(run, &found);
    if (found == 0)
        skip();
    assert_true(good);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_panel_series) };
    setvbuf(stdout, NULL, _IOLBF, 0);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
