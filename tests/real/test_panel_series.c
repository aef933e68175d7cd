/* links: tests/real/series.c tests/real/panel_site.c tests/fake/disk.c tools/panel/adu.c tools/panel/counting.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/replay.c tools/panel/reply.c tools/panel/scenario*.c tools/panel/world.c daemon/bus/plan.c COLLECTOR */
/* Real series, served by the simulated panel and collected in quickened time,
 * with gaps cut into them by a seeded knife. Every total is exact to the
 * register unit; the shape in the gaps is held against the data, beside plain
 * interpolation, and must be better from 6 h on.
 *
 * METERBOOK_REAL_SEED=N: another knife. METERBOOK_REAL_RUNS=N: so many runs of each series,
 * and all homes. METERBOOK_REAL_SERIES=TEXT: only what it names ("site A, home 03"). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "disk.h"
#include "log.h"
#include "panel_site.h"

enum { SAMPLE_HOMES = 3 };

static struct panel_site site;
static struct score scores[SERIES_METERS][2][KNIFE_LENGTHS], homes_scores[SERIES_METERS][2][KNIFE_LENGTHS];
static struct cut cuts[KNIFE_MOST];
static const char *const counter_names[2] = { "import", "export" };

static int64_t environment(const char *name, int64_t otherwise)
{
    const char *text = getenv(name);
    return text ? strtoll(text, NULL, 10) : otherwise;
}

/* ---- the record ---- */

static sqlite3 *record;
static sqlite3_stmt *one_row;

static void open_record(void)
{
    assert_int_equal(sqlite3_open_v2("record.db", &record, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(record,
                                        "SELECT import, export FROM interval WHERE id = ?1 * 1024 + ?2", -1,
                                        &one_row, NULL),
                     SQLITE_OK);
}

static void close_record(void)
{
    sqlite3_finalize(one_row);
    sqlite3_close(record);
}

static int64_t ask_record(const char *sql, int meter, int counter)
{
    sqlite3_stmt *s;
    if (sqlite3_prepare_v2(record, sql, -1, &s, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(record));
    sqlite3_bind_int(s, 1, meter + 1);
    sqlite3_bind_int(s, 2, counter);
    assert_int_equal(sqlite3_step(s), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return value;
}

static int64_t stored_row(void *self, int meter, int counter, int64_t start_s)
{
    (void)self;
    sqlite3_reset(one_row);
    sqlite3_bind_int64(one_row, 1, start_s);
    sqlite3_bind_int(one_row, 2, meter + 1);
    if (sqlite3_step(one_row) != SQLITE_ROW)
        fail_msg("meter %d has no row at %lld", meter + 1, (long long)start_s);
    return sqlite3_column_int64(one_row, counter);
}

/* One run that began with the data's first register and stands at their last, to the unit. */
static bool check_total(const struct dataset *series, int meter, int counter, bool print)
{
    int64_t unit = series->info.unit_mwh;
    int64_t first =
        ask_record("SELECT first FROM run WHERE meter = ?1 AND counter = ?2 ORDER BY id", meter, counter);
    int64_t total =
        ask_record("SELECT base + (SELECT sum(iif(?2, export, import)) FROM interval WHERE meter = ?1) "
                   "FROM run WHERE meter = ?1 AND counter = ?2 AND ended IS NULL",
                   meter, counter);
    int64_t runs = ask_record("SELECT count(*) FROM run WHERE meter = ?1 AND counter = ?2", meter, counter);
    int32_t last = series->count - 1;
    int64_t begins = series->value[meter][counter][0] / unit,
            ends = series->value[meter][counter][last] / unit;
    bool good = runs == 1 && first / unit == begins && total / unit == ends;
    if (print || !good)
        printf("%-22s %s.%s: data %lld to %lld (%g Wh), record %lld to %lld%s\n", series->name,
               series->info.meters[meter].name, counter_names[counter], (long long)begins, (long long)ends,
               (double)unit / 1000, (long long)(first / unit), (long long)(total / unit),
               good ? "" : ": OFF");
    return good;
}

static bool check_totals(const struct dataset *series, bool print)
{
    bool good = true;
    open_record();
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++)
            if (series->value[m][c])
                good = check_total(series, m, c, print) && good;
    return good;
}

/* Runs a series once, with the seed's cuts. */
static bool run(const struct dataset *series, uint64_t seed, bool print)
{
    /* Registers of a coarse series stand still between its stamps, which no meter's does: cut there. */
    int64_t grid_s = series->info.step_s > series->info.poll_s ? series->info.step_s : series->info.poll_s;
    int count = knife_cut(series, seed, grid_s, cuts);
    disk_install(seed);
    disk_format();
    if (!panel_site_start(&site, series))
        fail_msg("%s: neither panel nor collector starts", series->name);
    for (int i = 0; i < count; i++) {
        panel_site_run(&site, cuts[i].from_s);
        site.silent = true;
        panel_site_run(&site, cuts[i].to_s - 1);
        site.silent = false;
    }
    panel_site_run(&site, series->at_s[series->count - 1] + 2 * series->info.interval_s + 60);
    panel_site_stop(&site);
    bool good = check_totals(series, print);
    for (int i = 0; i < count; i++)
        for (int m = 0; m < SERIES_METERS; m++)
            for (int c = 0; c < 2; c++)
                if (series->value[m][c])
                    score_cut(&scores[m][c][cuts[i].length], series, m, c, &cuts[i], stored_row, NULL);
    close_record();
    return good;
}

static bool print_scores(const struct dataset *series)
{
    char name[64];
    bool good = true;
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++) {
            if (!series->value[m][c])
                continue;
            snprintf(name, sizeof name, "%s.%s", series->info.meters[m].name, counter_names[c]);
            good = score_print(series->name, name, scores[m][c], series_judged_h(series)) && good;
        }
    return good;
}

/* Short series are cut several times, each time elsewhere. */
static int64_t runs_of(const struct dataset *series)
{
    int64_t days = (series->at_s[series->count - 1] - series->at_s[0]) / 86400;
    return environment("METERBOOK_REAL_RUNS", days > 300 ? 1 : days > 20 ? 8 : 4);
}

static bool run_series(const struct series_info *info, int home, bool *absent)
{
    struct dataset series;
    bool good = true;
    if (!series_open(&series, info, home)) {
        *absent = true;
        return true;
    }
    uint64_t seed = (uint64_t)environment("METERBOOK_REAL_SEED", 1);
    memset(scores, 0, sizeof scores);
    for (int64_t r = 0; r < runs_of(&series); r++)
        good = run(&series, seed + (uint64_t)r, r == 0) && good;
    good = print_scores(&series) && good;
    for (int i = 0; home && i < SERIES_METERS * 2 * KNIFE_LENGTHS; i++) {
        struct score *sum = &homes_scores[0][0][0] + i, *score = &scores[0][0][0] + i;
        sum->cuts += score->cuts;
        sum->energy += score->energy;
        sum->ours += score->ours;
        sum->plain += score->plain;
    }
    series_close(&series);
    return good;
}

static void test_panel_series(void **state)
{
    (void)state;
    const char *only = getenv("METERBOOK_REAL_SERIES");
    bool good = true, absent = false;
    int found = 0;
    log_set_level(LOG_ERROR - 1);
    printf("seed %lld; mean absolute error of an interval's energy in %% of the mean, ours / plain (cuts)\n",
           (long long)environment("METERBOOK_REAL_SEED", 1));
    for (const struct series_info *info = series_list; info->title; info++) {
        bool homes = strcmp(info->title, "home") == 0;
        int count = !homes ? 1 : getenv("METERBOOK_REAL_RUNS") ? SERIES_HOMES : SAMPLE_HOMES;
        if (only && !strstr(only, info->title))
            continue;
        for (int i = 1; i <= count && !absent; i++) {
            char number[4];
            snprintf(number, sizeof number, "%02d", i);
            if (homes && only && !strstr(only, number))
                continue;
            good = run_series(info, homes ? i : 0, &absent) && good;
            found += !absent;
        }
        if (homes && !absent)
            good = score_print("homes together", "roof.export", homes_scores[0][1], 6) &
                       score_print("homes together", "house.import", homes_scores[1][0], 6) &&
                   good;
        if (!absent)
            printf("  %s: %s; intervals of %d s\n", info->file, info->from, (int)info->interval_s);
        absent = false;
    }
    for (int i = 0; series_left_out[i]; i++)
        printf("left out: %s\n", series_left_out[i]);
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
