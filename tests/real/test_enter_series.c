/* links: tests/real/series.c tests/real/series_list.c tests/real/enter_files.c tests/real/panel_site.c tests/real/record.c tools/panel/adu.c tools/panel/counting.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/replay.c tools/panel/reply.c tools/panel/scenario*.c tools/panel/world.c daemon/bus/plan.c COLLECTOR */
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
#include <unistd.h>

#include "enter_files.h"
#include "log.h"
#include "panel_site.h"
#include "record.h"
#include "store.h"

static char directory[32];
static struct cut cuts[KNIFE_MOST];
static struct panel_site site;

static const char *path_of(const char *name)
{
    static char paths[4][64];
    static int next;
    char *path = paths[next++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", directory, name);
    return path;
}

static FILE *make_file(const char *name)
{
    FILE *file = fopen(path_of(name), "w");
    assert_non_null(file);
    return file;
}

static int set_up(void **state)
{
    (void)state;
    log_set_level(LOG_ERROR - 1);
    snprintf(directory, sizeof directory, "/tmp/real-enter-XXXXXX");
    return mkdtemp(directory) ? 0 : -1;
}

static void drop_record(void)
{
    static const char *const names[] = { "record.db", "record.db-wal", "record.db-shm" };
    for (int i = 0; i < 3; i++)
        unlink(path_of(names[i]));
}

static int tear_down(void **state)
{
    (void)state;
    static const char *const names[] = { "data.csv", "registers.map", "meterbook.conf", "out" };
    drop_record();
    for (int i = 0; i < 4; i++)
        unlink(path_of(names[i]));
    return rmdir(directory);
}

/* ---- files ---- */

static void write_config(const struct dataset *series)
{
    const struct series_info *info = &series->info;
    FILE *file = make_file("registers.map");
    fputs("name = \"entered\"; function = 4; max_registers = 60;\n"
          "points = ( { quantity = \"active_import\"; address = 0; type = \"uint64\"; },"
          " { quantity = \"active_export\"; address = 4; type = \"uint64\"; } );\n",
          file);
    fclose(file);
    file = make_file("meterbook.conf");
    fprintf(
        file,
        "site = { name = \"%s\"; time_zone = \"%s\"; latitude = %.1f; longitude = %.1f; interval = %d; };\n"
        "record = { database = \"%s/record.db\"; runtime = \"%s\"; };\n"
        "buses = ( { name = \"wire\"; kind = \"tcp\"; host = \"127.0.0.1\"; } );\nmeters = (",
        series->name, info->zone, info->latitude, info->longitude, (int)info->interval_s, directory,
        directory);
    for (int m = 0; m < SERIES_METERS && info->meters[m].name; m++) {
        fprintf(file,
                "%s { number = %d; name = \"%s\"; role = \"%s\"; bus = \"wire\"; unit_id = %d; "
                "map = \"registers.map\"; rated_power = %lld;",
                m ? "," : "", m + 1, info->meters[m].name, role_name(info->meters[m].role), m + 1,
                (long long)panel_site_rated_w(series, m));
        if (info->meters[m].role == ROLE_PRODUCTION)
            fputs(" delivers = \"export\";", file);
        if (info->azimuth >= 0 && info->meters[m].role == ROLE_PRODUCTION)
            fprintf(file, " azimuth = %d; tilt = %d;", (int)info->azimuth, (int)info->tilt);
        fputs(" }", file);
    }
    fputs(" );\n", file);
    fclose(file);
}

static void say(void *self, bool error, const char *line)
{
    (void)self;
    if (error)
        printf("%s\n", line);
}

/* A record whose collector takes over when the series is at its end. */
static void make_record(const struct dataset *series)
{
    struct problems problems = { .say = say };
    struct store *store;
    char why[256];
    int64_t setting;
    drop_record();
    write_config(series);
    struct config *config = config_load(path_of("meterbook.conf"), &problems);
    assert_non_null(config);
    assert_int_equal(store_open(&store, path_of("record.db"), why), STORE_OK);
    assert_int_equal(store_begin(store), STORE_OK);
    assert_int_equal(store_put_setting(store, config, "boot", 0,
                                       (series->at_s[series->count - 1] + 86400) * 1000, &setting),
                     STORE_OK);
    assert_int_equal(store_commit(store), STORE_OK);
    store_close(store);
    config_free(config);
}

/* ---- entering ---- */

static void enter(const char *options)
{
    const char *build = getenv("BUILD");
    char command[400];
    snprintf(command, sizeof command, "'%s/meterbook' -c %s enter %s %s >%s 2>&1", build ? build : "build",
             path_of("meterbook.conf"), options, path_of("data.csv"), path_of("out"));
    if (system(command) == 0) // NOLINT(cert-env33-c)
        return;
    char line[400];
    FILE *out = fopen(path_of("out"), "r");
    while (out && fgets(line, sizeof line, out))
        fputs(line, stdout);
    fail_msg("%s", command);
}

static const char fingerprint[] =
    "SELECT sum((coalesce(import, 7) * 3 + coalesce(export, 11) * 5 + estimated * 7 + how) % 1000003 * (id % "
    "1009)) FROM interval";

/* The same file again: nothing moves. */
static void enter_again(const char *options)
{
    struct record record;
    record_open(&record, path_of("record.db"));
    int64_t before = record_ask(&record, fingerprint, 0, 0);
    int64_t most = record_ask(&record, "SELECT count(*) FROM event WHERE kind = 'entered'", 0, 0);
    record_close(&record);
    enter(options);
    record_open(&record, path_of("record.db"));
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
    make_record(series);
    write_counters(path_of("data.csv"), series, cuts, count);
    enter("");
    enter_again("");
    record_open(&record, path_of("record.db"));
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
    make_record(series);
    write_energies(path_of("data.csv"), series, cuts, count, sums);
    snprintf(options, sizeof options, "--length %ds", (int)series->info.step_s);
    enter(options);
    enter_again(options);
    record_open(&record, path_of("record.db"));
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
    if (!panel_site_start(&site, series, path_of("record.db"), from_s))
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
    drop_record();
    write_config(&series);
    collect_behind(&series, from_s, &silent);
    record_open(&record, path_of("record.db"));
    int64_t before = record_ask(&record, measured, 0, 0);
    assert_true(record_ask(&record, "SELECT count(*) FROM interval WHERE how & 1024", 0, 0) > 280);
    record_close(&record);
    cuts[0] = (struct cut){ .from_s = from_s - 3 * 86400, .to_s = from_s - 2 * 86400 };
    write_counters(path_of("data.csv"), &series, cuts, 1);
    enter("--same-register"); /* up to the collector's first reading */
    enter_again("--same-register");
    enter(""); /* and what the collector missed */
    enter_again("");
    record_open(&record, path_of("record.db"));
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
        cmocka_unit_test_setup_teardown(test_enter_series, set_up, tear_down),
        cmocka_unit_test_setup_teardown(test_behind_a_collector, set_up, tear_down),
    };
    setvbuf(stdout, NULL, _IOLBF, 0);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
