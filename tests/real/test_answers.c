/* links: tests/real/series.c tests/real/series_list.c tests/real/enter_files.c tests/real/entered.c tests/real/panel_site.c tools/panel/adu.c tools/panel/counting.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/replay.c tools/panel/reply.c tools/panel/scenario*.c tools/panel/world.c daemon/bus/plan.c COLLECTOR */
/* Two open series, entered by the real program, and what its commands then print of them, against the figures
 * that the shared folder's data/README.md states (computed there from the files, by local month and day).
 *
 * The registers that are entered count whole Wh, and every quarter of an hour of both sites is a whole number
 * of Wh: nothing is cut, and the figures must be the README's to its last digit (0.001 kWh). A register of
 * coarser steps could not say that. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "enter_files.h"
#include "entered.h"

enum { MOST_ROWS = 40000, LINE_SIZE = 2048 };

/* A row of a CSV; NOTHING: not known. */
#define NOTHING INT64_MIN
struct row {
    char from[32];
    int64_t production, import, export, consumption, self_consumption; /* mWh */
};

static struct row rows[MOST_ROWS];
static int32_t row_count;

/* "12.345678" to millionths. */
static int64_t number_of(const char *text)
{
    char *end;
    if (!*text)
        return NOTHING;
    int64_t whole = strtoll(text, &end, 10), part = 0, unit = 100000;
    bool negative = text[0] == '-';
    for (end += *end == '.'; *end >= '0' && *end <= '9'; end++, unit /= 10)
        part += (*end - '0') * unit;
    return whole * 1000000 + (negative ? -part : part);
}

static int split(char *line, char *fields[SERIES_FIELDS])
{
    int count = 0;
    line[strcspn(line, "\r\n")] = '\0';
    for (char *at = line; at && count < SERIES_FIELDS; at = strchr(at, ',')) {
        if (count > 0)
            *at++ = '\0';
        fields[count++] = at;
    }
    return count;
}

static int field_of(char *const heads[], int count, const char *name)
{
    for (int i = 0; i < count; i++)
        if (strcmp(heads[i], name) == 0)
            return i;
    fail_msg("the answer has no column '%s'", name);
    return -1;
}

/* Runs `meterbook --format csv ARGUMENTS` and returns its output, to be closed by pclose(). */
static FILE *ask(const char *arguments)
{
    const char *build = getenv("BUILD");
    char command[400];
    snprintf(command, sizeof command,
             "'%s/meterbook' -c %s --now 2020-01-02T00:00:00Z --format csv %s 2>/dev/null",
             build ? build : "build", entered_path("meterbook.conf"), arguments);
    FILE *out = popen(command, "r"); // NOLINT(cert-env33-c)
    assert_non_null(out);
    return out;
}

static void close_answer(FILE *out, const char *arguments)
{
    int status = pclose(out);
    if (status != 0)
        fail_msg("meterbook %s: status %d", arguments, status);
}

/* Reads the rows of a balance. */
static void read_rows(const char *arguments)
{
    char line[LINE_SIZE], first[LINE_SIZE], *fields[SERIES_FIELDS], *heads[SERIES_FIELDS];
    FILE *out = ask(arguments);
    row_count = 0;
    assert_non_null(fgets(first, sizeof first, out));
    int count = split(first, heads);
    const int columns[5] = { field_of(heads, count, "production_kwh"), field_of(heads, count, "import_kwh"),
                             field_of(heads, count, "export_kwh"), field_of(heads, count, "consumption_kwh"),
                             field_of(heads, count, "self_consumption_kwh") };
    while (fgets(line, sizeof line, out) && row_count < MOST_ROWS) {
        struct row *row = &rows[row_count++];
        int64_t *const values[5] = { &row->production, &row->import, &row->export, &row->consumption,
                                     &row->self_consumption };
        assert_int_equal(split(line, fields), count);
        snprintf(row->from, sizeof row->from, "%s", fields[0]);
        for (int i = 0; i < 5; i++)
            *values[i] = number_of(fields[columns[i]]);
    }
    close_answer(out, arguments);
}

/* kWh as the README prints them, three decimals. */
static void assert_kwh(const char *what, int64_t mwh, double kwh)
{
    double stated = kwh * 1000000;
    int64_t off = mwh - (int64_t)(stated + (stated < 0 ? -0.5 : 0.5));
    if (mwh == NOTHING || off > 500 || off < -500)
        fail_msg("%s: %lld mWh, the README says %.3f kWh", what, (long long)mwh, kwh);
}

static bool open_site(struct dataset *series, const char *title)
{
    const struct series_info *info = series_list;
    while (strcmp(info->title, title) != 0)
        info++;
    if (!series_open(series, info, 0))
        return false;
    entered_make_record(series);
    write_counters(entered_path("data.csv"), series, NULL, 0);
    entered_file("");
    return true;
}

struct month {
    double production, export, import, consumption;
};

/* data/README.md, "kWh by local month", and the line "year" */
static const struct month site_a[13] = {
    { 1243.284, 551.732, 3055.654, 3747.206 },      { 3161.512, 2302.684, 1707.535, 2566.363 },
    { 5500.287, 4065.842, 1958.841, 3393.286 },     { 6223.270, 4708.506, 1594.140, 3108.904 },
    { 7806.214, 6025.031, 1285.896, 3067.079 },     { 9541.098, 8059.374, 827.672, 2309.396 },
    { 9751.052, 8334.864, 815.678, 2231.866 },      { 7651.879, 6065.364, 1330.959, 2917.474 },
    { 5833.756, 4279.982, 1684.105, 3237.879 },     { 3145.491, 2163.275, 1805.626, 2787.842 },
    { 1488.567, 647.997, 2209.472, 3050.042 },      { 1091.108, 362.900, 2231.644, 2959.852 },
    { 62437.518, 47567.551, 20507.222, 35377.189 },
};
static const struct month site_c[13] = {
    { 0, 66.000, 2474.100, 0 },     { 0, 519.700, 1745.100, 0 }, { 0, 1367.000, 1451.100, 0 },
    { 0, 1787.550, 920.850, 0 },    { 0, 2201.400, 778.600, 0 }, { 0, 3238.900, 512.726, 0 },
    { 0, 3489.850, 303.300, 0 },    { 0, 2487.200, 820.100, 0 }, { 0, 1620.600, 1000.450, 0 },
    { 0, 669.300, 1460.100, 0 },    { 0, 67.650, 2345.150, 0 },  { 0, 22.800, 1970.250, 0 },
    { 0, 17537.950, 15781.826, 0 },
};

static void assert_month(const struct row *row, const struct month *month)
{
    assert_kwh(row->from, row->import, month->import);
    assert_kwh(row->from, row->export, month->export);
    if (month->production > 0) {
        assert_kwh(row->from, row->production, month->production);
        assert_kwh(row->from, row->consumption, month->consumption);
    } else {
        assert_true(row->production == NOTHING && row->consumption == NOTHING);
    }
}

/* Rows of a month say the same as the year's row of it, whichever command answers. */
static void assert_months(const struct month months[13])
{
    read_rows("year 2019");
    assert_int_equal(row_count, 12);
    for (int i = 0; i < 12; i++)
        assert_month(&rows[i], &months[i]);
    read_rows("--by month totals 2019");
    assert_int_equal(row_count, 12);
    for (int i = 0; i < 12; i++)
        assert_month(&rows[i], &months[i]);
    read_rows("--by year totals 2019");
    assert_int_equal(row_count, 1);
    assert_month(&rows[0], &months[12]);
}

static void sum_rows(struct row *sum)
{
    *sum = (struct row){ .from = "sum" };
    for (int32_t i = 0; i < row_count; i++) {
        sum->production += rows[i].production;
        sum->import += rows[i].import;
        sum->export += rows[i].export;
        sum->consumption += rows[i].consumption;
    }
}

/* Days and intervals of a month, those of the clock changes among them, add up to it. */
static void assert_parts(const char *arguments, int32_t count, const struct month *month)
{
    struct row sum;
    read_rows(arguments);
    if (row_count != count)
        fail_msg("%s: %d rows, not %d", arguments, (int)row_count, (int)count);
    sum_rows(&sum);
    if (month->production <= 0)
        sum.production = sum.consumption = NOTHING;
    assert_month(&sum, month);
}

enum flow { IMPORT, EXPORT, PRODUCTION };

static int64_t flow_of(const struct row *row, enum flow flow)
{
    return flow == IMPORT ? row->import : flow == EXPORT ? row->export : row->production;
}

/* The interval with the most, of those last read. kW of a quarter of an hour. */
static void assert_peak(enum flow flow, const char *from, double kilowatts)
{
    int32_t most = 0;
    for (int32_t i = 1; i < row_count; i++)
        if (flow_of(&rows[i], flow) > flow_of(&rows[most], flow))
            most = i;
    assert_string_equal(rows[most].from, from);
    assert_kwh(from, flow_of(&rows[most], flow), kilowatts / 4);
}

static int32_t count_both(void)
{
    int32_t both = 0;
    for (int32_t i = 0; i < row_count; i++)
        both += rows[i].import > 0 && rows[i].export > 0;
    return both;
}

/* Monday to Friday, 07:00 to 20:00 of the site's clock, from hours. */
static void assert_import_split(double working, double rest)
{
    int64_t sums[2] = { 0 };
    read_rows("--by hour totals 2019");
    for (int32_t i = 0; i < row_count; i++) {
        int32_t year = (int32_t)strtol(rows[i].from, NULL, 10),
                month = (int32_t)strtol(rows[i].from + 5, NULL, 10);
        int32_t date = (int32_t)strtol(rows[i].from + 8, NULL, 10),
                hour = (int32_t)strtol(rows[i].from + 11, NULL, 10);
        int64_t weekday =
            (civil_day_number(year, month, date) + 3) % 7; /* 0: Monday; 1970-01-01 was a Thursday */
        sums[!(weekday < 5 && hour >= 7 && hour < 20)] += rows[i].import;
    }
    assert_kwh("working hours", sums[0], working);
    assert_kwh("the rest", sums[1], rest);
}

static void test_site_a(void **state)
{
    struct dataset series;
    (void)state;
    if (!open_site(&series, "site A"))
        skip();
    assert_months(site_a);
    assert_parts("month 2019-03", 31, &site_a[2]);
    assert_parts("--by interval totals 2019-03", 2972, &site_a[2]);
    assert_parts("--by interval totals 2019-10", 2980, &site_a[9]);
    assert_parts("--by hour totals 2019-06", 720, &site_a[5]);
    assert_parts("--by day totals 2019", 365, &site_a[12]);
    assert_parts("--by week totals 2019", 53, &site_a[12]);

    read_rows("--by day totals 2019-03-31");
    assert_kwh("2019-03-31", rows[0].production, 283.198);
    assert_kwh("2019-03-31", rows[0].import, 47.518);
    read_rows("--by interval totals 2019-03-31");
    assert_int_equal(row_count, 92);
    read_rows("--by day totals 2019-10-27");
    assert_kwh("2019-10-27", rows[0].production, 130.823);
    assert_kwh("2019-10-27", rows[0].import, 35.370);
    read_rows("--by interval totals 2019-10-27");
    assert_int_equal(row_count, 100);

    read_rows("--by interval totals 2019");
    assert_int_equal(row_count, 35040);
    assert_peak(PRODUCTION, "2019-06-16T13:15:00+02:00", 51.88);
    assert_peak(EXPORT, "2019-06-16T13:15:00+02:00", 49.48);
    assert_peak(IMPORT, "2019-04-05T20:15:00+02:00", 12.032);
    assert_int_equal(count_both(), 0);
    assert_import_split(5680.838, 14826.384);

    read_rows("--by year totals 2019");
    assert_kwh("self-consumption", rows[0].self_consumption, 14869.967);
    series_close(&series);
}

/* Shares, and the best day. */
static void test_site_a_shares(void **state)
{
    struct dataset series;
    char line[LINE_SIZE], first[LINE_SIZE], *heads[SERIES_FIELDS], *fields[SERIES_FIELDS];
    (void)state;
    if (!open_site(&series, "site A"))
        skip();
    FILE *out = ask("--by year totals 2019");
    assert_non_null(fgets(first, sizeof first, out));
    assert_non_null(fgets(line, sizeof line, out));
    int count = split(first, heads);
    assert_int_equal(split(line, fields), count);
    /* 23.816 % of the production, 42.033 % of the consumption */
    assert_int_equal((number_of(fields[field_of(heads, count, "self_consumption_share")]) + 5) / 10, 23816);
    assert_int_equal((number_of(fields[field_of(heads, count, "self_sufficiency_share")]) + 5) / 10, 42033);
    close_answer(out, "totals");

    out = ask("--count 1 extremes 2019");
    assert_non_null(fgets(first, sizeof first, out));
    assert_non_null(fgets(line, sizeof line, out));
    count = split(first, heads);
    assert_int_equal(split(line, fields), count);
    assert_string_equal(fields[field_of(heads, count, "end")], "highest");
    assert_string_equal(fields[field_of(heads, count, "day")], "2019-05-23T00:00:00+02:00");
    assert_kwh("best day", number_of(fields[field_of(heads, count, "energy_kwh")]), 412.468);
    while (fgets(line, sizeof line, out))
        ;
    close_answer(out, "extremes");
    series_close(&series);
}

static void test_site_c(void **state)
{
    struct dataset series;
    (void)state;
    if (!open_site(&series, "site C"))
        skip();
    assert_months(site_c);
    assert_parts("--by interval totals 2019-03", 2972, &site_c[2]);
    assert_parts("--by interval totals 2019-10", 2980, &site_c[9]);
    read_rows("--by interval totals 2019");
    assert_peak(IMPORT, "2019-01-01T15:45:00+01:00", 21.8);
    assert_peak(EXPORT, "2019-05-12T15:00:00+02:00", 22.8);
    assert_int_equal(count_both(), 1081);
    series_close(&series);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_site_a, entered_set_up, entered_tear_down),
        cmocka_unit_test_setup_teardown(test_site_a_shares, entered_set_up, entered_tear_down),
        cmocka_unit_test_setup_teardown(test_site_c, entered_set_up, entered_tear_down),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
