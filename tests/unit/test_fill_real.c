/* links: daemon/record/fill.c daemon/record/fill_reference.c daemon/record/fill_grid.c daemon/record/sun.c daemon/record/muldiv.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Gaps cut into real series by a seeded knife, filled, and compared with what
 * was cut out: mean absolute error of an interval's energy, as a share of the
 * mean, beside the energy spread evenly between both ends of the gap. Reads
 * METERBOOK_SHARED/data (default ../shared); left out where that is absent.
 * The sources of the series stand in the README beside them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <inttypes.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "fill.h"
#include "fill_grid.h"

enum { MOST = 40000, CUTS = 200, GAP_MOST = 864 };
enum series_name { PRODUCTION, EXPORT, IMPORT, CONSUMPTION, SERIES };
static const char *const names[SERIES] = { "production", "export", "import", "consumption" };
static const int32_t gap_hours[] = { 1, 6, 24, 72 };

/* A site's rows; -1: not known. */
struct site {
    int64_t start_s, length_s;
    int32_t count;
    int64_t rows[SERIES][MOST];
    struct civil *civil;
};

static struct site site;
static uint64_t random_state;

static int32_t random_below(int32_t bound)
{
    random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (int32_t)((random_state >> 33) % (uint64_t)bound);
}

/* The remaining data of one series. */
struct remaining {
    enum series_name series;
    int32_t cut, count;
};

static int64_t remaining_row(void *self, int64_t start_s)
{
    const struct remaining *remaining = self;
    int64_t i = (start_s - site.start_s) / site.length_s;
    if (start_s < site.start_s || i >= site.count || (start_s - site.start_s) % site.length_s != 0 ||
        (i >= remaining->cut && i < remaining->cut + remaining->count))
        return -1;
    return site.rows[remaining->series][i];
}

static void fill_cut(struct remaining *remaining, enum fill_method method, int64_t filled[])
{
    int64_t from_s = site.start_s + remaining->cut * site.length_s, energy = 0, last = 0;
    struct fill fill = { .from_ms = from_s * 1000,
                         .to_ms = (from_s + remaining->count * site.length_s) * 1000,
                         .length_ms = site.length_s * 1000,
                         .method = method,
                         .civil = site.civil,
                         .rows = { remaining_row, remaining },
                         .place = { 47.4, 8.1 }, /* Aargau */
                         .plane = { 180, 20 } }; /* not published: a guess, and good enough for a shape */
    for (int32_t i = 0; i < remaining->count; i++)
        energy += site.rows[remaining->series][remaining->cut + i];
    fill.energy = energy;
    fill_begin(&fill);
    assert_true(fill_fits(&fill, energy));
    for (int32_t i = 0; fill_next(&fill); i++) {
        int64_t account = fill_account(&fill, 0, energy);
        filled[i] = account - last;
        last = account;
    }
    assert_true(last == energy);
}

/* Import and export as they follow from production and consumption, to the register. */
static void fill_grid_cut(const struct remaining *cut, int64_t filled[SERIES][GAP_MOST])
{
    struct fill_grid grid;
    int64_t import = 0, export = 0;
    fill_grid_init(&grid);
    for (int32_t i = 0; i < cut->count; i++) {
        fill_grid_add(&grid, filled[PRODUCTION][i], filled[CONSUMPTION][i]);
        import += site.rows[IMPORT][cut->cut + i];
        export += site.rows[EXPORT][cut->cut + i];
    }
    fill_grid_fit(&grid, import, export);
    for (int32_t i = 0; i < cut->count; i++) {
        fill_grid_take(&grid, filled[PRODUCTION][i], filled[CONSUMPTION][i], &filled[IMPORT][i],
                       &filled[EXPORT][i]);
        import -= filled[IMPORT][i];
        export -= filled[EXPORT][i];
    }
    assert_true(import == 0 && export == 0);
}

struct score {
    double energy, even, ours;
};

static double error_of(const struct remaining *cut, const int64_t filled[])
{
    double sum = 0;
    for (int32_t i = 0; i < cut->count; i++)
        sum += (double)llabs(filled[i] - site.rows[cut->series][cut->cut + i]);
    return sum;
}

static int complete(enum series_name series, int32_t cut, int32_t count)
{
    for (int32_t i = 0; i < count; i++)
        if (site.rows[series][cut + i] < 0)
            return 0;
    return 1;
}

/* One cut of the series `from` .. CONSUMPTION. */
static void cut_once(enum series_name from, int32_t count, struct score scores[SERIES])
{
    static int64_t even[GAP_MOST], ours[SERIES][GAP_MOST];
    struct remaining cut = { .cut = random_below(site.count - count), .count = count };
    if (!complete(CONSUMPTION, cut.cut, count))
        return;
    for (int series = from; series < SERIES; series++) {
        cut.series = (enum series_name)series;
        fill_cut(&cut, FILL_TIME, even);
        scores[series].even += error_of(&cut, even);
        if (series == PRODUCTION || series == CONSUMPTION) /* the others follow */
            fill_cut(&cut, series == PRODUCTION ? FILL_SUN : FILL_REFERENCE, ours[series]);
        for (int32_t i = 0; i < count; i++)
            scores[series].energy += (double)site.rows[series][cut.cut + i];
    }
    if (from == PRODUCTION)
        fill_grid_cut(&cut, ours);
    for (int series = from; series < SERIES; series++) {
        cut.series = (enum series_name)series;
        scores[series].ours += error_of(&cut, ours[series]);
    }
}

static void cut_and_fill(const char *title, enum series_name from)
{
    random_state = 20190101;
    print_message("%s, %d cuts each, seed %" PRIu64 "; mean absolute error per interval in %% of the mean\n",
                  title, CUTS, random_state);
    print_message("   gap  series       evenly  filled\n");
    for (size_t g = 0; g < sizeof gap_hours / sizeof *gap_hours; g++) {
        struct score scores[SERIES] = { 0 };
        for (int i = 0; i < CUTS; i++)
            cut_once(from, (int32_t)(gap_hours[g] * 3600 / site.length_s), scores);
        for (int series = from; series < SERIES; series++) {
            const struct score *score = &scores[series];
            print_message("  %2d h  %-11s  %6.1f  %6.1f\n", gap_hours[g], names[series],
                          100 * score->even / score->energy, 100 * score->ours / score->energy);
            assert_true(score->energy > 0);
            if (gap_hours[g] >= 6)
                assert_true(score->ours < score->even);
        }
    }
}

/* Opens a gzip file of the shared data after its header; NULL, with a message, where there is none. */
static FILE *open_data(const char *name)
{
    const char *shared = getenv("METERBOOK_SHARED");
    char path[512], command[600], header[200];
    snprintf(path, sizeof path, "%s/data/%s", shared != NULL ? shared : "../shared", name);
    if (access(path, R_OK) != 0) {
        print_message("no '%s': comparison left out\n", path);
        return NULL;
    }
    snprintf(command, sizeof command, "zcat '%s'", path);
    FILE *lines = popen(command, "r"); // NOLINT(bugprone-command-processor,cert-env33-c)
    if (lines != NULL && fgets(header, sizeof header, lines) == NULL) {
        pclose(lines);
        return NULL;
    }
    return lines;
}

/* kW held for `seconds`, in mWh. */
static int64_t energy(double kw, int64_t seconds)
{
    return (int64_t)(kw * 1e6 * (double)seconds / 3600 + 0.5);
}

/* Minutes of a household's local time, added up to five minutes. */
static void household(void **state)
{
    (void)state;
    FILE *lines = open_data("household_fr_2006-12_1min.csv.gz");
    if (lines == NULL)
        skip();
    char line[200];
    int64_t sum = 0;
    site = (struct site){ .length_s = 300, .civil = civil_open("Europe/Paris") };
    assert_non_null(site.civil);
    site.start_s = civil_day_number(2006, 12, 16) * 86400 + 16 * 3600 + 25 * 60; /* 17:25 of winter */
    for (int32_t minute = -1; fgets(line, sizeof line, lines) != NULL && site.count < MOST; minute++) {
        const char *power = strchr(line, ',');
        assert_non_null(power);
        if (minute < 0) /* 17:24 */
            continue;
        sum = power[1] == ',' || sum < 0 ? -1 : sum + energy(strtod(power + 1, NULL), 60);
        if (minute % 5 == 4) {
            site.rows[CONSUMPTION][site.count++] = sum;
            sum = 0;
        }
    }
    assert_int_equal(pclose(lines), 0);
    assert_int_equal(site.count, 47959 / 5);
    cut_and_fill("a household, 5 min", CONSUMPTION);
    civil_close(site.civil);
}

static void production_site(void **state)
{
    (void)state;
    FILE *lines = open_data("site_a_2019_15min.csv.gz");
    if (lines == NULL)
        skip();
    char line[200];
    site = (struct site){ .length_s = 900, .civil = civil_open("Europe/Zurich") };
    assert_non_null(site.civil);
    site.start_s = civil_day_number(2018, 12, 31) * 86400 + 23 * 3600;
    for (int32_t i; fgets(line, sizeof line, lines) != NULL && site.count < MOST; site.count++) {
        i = site.count;
        char *at = strchr(strchr(line, ',') + 1, ',');
        for (int series = PRODUCTION; series <= IMPORT; series++)
            site.rows[series][i] = energy(strtod(at + 1, &at), 900);
        site.rows[CONSUMPTION][i] = site.rows[PRODUCTION][i] + site.rows[IMPORT][i] - site.rows[EXPORT][i];
        if (site.rows[CONSUMPTION][i] < 0) { /* the series' own rounding */
            site.rows[PRODUCTION][i] -= site.rows[CONSUMPTION][i];
            site.rows[CONSUMPTION][i] = 0;
        }
    }
    assert_int_equal(pclose(lines), 0);
    assert_int_equal(site.count, 35040);
    cut_and_fill("a site with production, 15 min", PRODUCTION);
    civil_close(site.civil);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(household),
        cmocka_unit_test(production_site),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
