/* links: tools/supply/supply.c tools/supply/supply_export.c tools/output/number.c daemon/record/muldiv.c */
/* Measured voltages of the open datasets in METERBOOK_SHARED/data (default ../shared), whose README has
 * their lowest, highest and mean; left out where that is absent. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "supply.h"

enum { MINUTE_S = 60, MINUTES = 10 };

struct series {
    const char *file;
    int voltage_field, frequency_field; /* from 0; -1 none */
    int64_t first_s;                    /* of the first row, as UTC */
    struct config_supply config;
    double lowest, highest, mean; /* V, of the README */
};

/* What the file says, beside the module: plainly, in double precision. */
struct plain {
    double lowest, highest, sum;
    int64_t minutes;
    double squares;
    int32_t known; /* minutes of the ten that go on */
    int32_t valid;
    double least, most; /* of ten minutes */
};

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

/* A field in thousandths; UNKNOWN where it is empty. */
static int64_t field(const char *line, int index)
{
    for (; index > 0; index--) {
        line = strchr(line, ',');
        assert_non_null(line);
        line++;
    }
    return *line == ',' ? UNKNOWN : llround(strtod(line, NULL) * 1000);
}

static void end_ten(struct plain *plain)
{
    double mean = sqrt(plain->squares / MINUTES);
    if (plain->known == MINUTES) {
        plain->least = plain->valid == 0 || mean < plain->least ? mean : plain->least;
        plain->most = plain->valid == 0 || mean > plain->most ? mean : plain->most;
        plain->valid++;
    }
    plain->known = 0;
    plain->squares = 0;
}

static void add(struct plain *plain, int64_t start_s, int64_t mv)
{
    double volts = (double)mv / 1000;
    if (start_s % SUPPLY_BLOCK_S == 0)
        end_ten(plain);
    if (mv == UNKNOWN)
        return;
    plain->lowest = plain->minutes == 0 || volts < plain->lowest ? volts : plain->lowest;
    plain->highest = plain->minutes == 0 || volts > plain->highest ? volts : plain->highest;
    plain->sum += volts;
    plain->minutes++;
    plain->squares += volts * volts;
    plain->known++;
}

static void check(const struct series *series)
{
    FILE *lines = open_data(series->file);
    if (lines == NULL)
        skip();
    char line[300];
    struct plain plain = { 0 };
    struct supply *supply = malloc(sizeof *supply);
    struct supply_limits limits = supply_limits_of(&series->config, "");
    int64_t at_s = series->first_s;
    assert_non_null(supply);
    supply_init(supply, &limits, at_s, at_s + 1);
    for (; fgets(line, sizeof line, lines) != NULL; at_s += MINUTE_S) {
        int64_t mv = field(line, series->voltage_field);
        struct supply_interval interval = {
            .start_s = at_s,
            .length_s = MINUTE_S,
            .voltage = { mv, UNKNOWN, UNKNOWN },
            .frequency = series->frequency_field < 0 ? UNKNOWN : field(line, series->frequency_field),
            .import = UNKNOWN,
            .export = UNKNOWN,
        };
        supply_take(supply, &interval);
        add(&plain, at_s, mv);
    }
    pclose(lines);
    supply_end(supply);
    end_ten(&plain);
    const struct supply_phase *phase = &supply->total.phases[0];
    print_message("  %s: %d of 10 minutes, %.1f to %.1f V\n", series->file, (int)phase->valid,
                  (double)phase->least / 1000, (double)phase->most / 1000);
    assert_true(fabs(plain.lowest - series->lowest) < 0.001);
    assert_true(fabs(plain.highest - series->highest) < 0.001);
    assert_true(fabs(plain.sum / (double)plain.minutes - series->mean) < 0.0001);
    assert_int_equal(phase->valid, plain.valid);
    assert_true(fabs((double)phase->least / 1000 - plain.least) <= 0.001);
    assert_true(fabs((double)phase->most / 1000 - plain.most) <= 0.001);
    assert_int_equal(phase->outside, 0); /* the highest minute of both is within +-10 % */
    int64_t counted = 0;
    for (int32_t i = 0; i < SUPPLY_VOLTS; i++)
        counted += supply->histogram[0][i];
    assert_int_equal(counted, plain.valid);
    if (series->frequency_field >= 0)
        assert_int_equal(supply_frequency_share(&supply->total.frequency), SHARE_ONE);
    free(supply);
}

/* 1393263000..1396335540, every step 60 s; V 115.0..124.3 mean 119.8346 */
static void test_circuit(void **state)
{
    (void)state;
    check(&(struct series){
        .file = "submeter_b1e_1min.csv.gz",
        .voltage_field = 1,
        .frequency_field = 3,
        .first_s = 1393263000,
        .config = { .nominal_voltage = 12000, .nominal_frequency = 60000, .valid_percent = 90 },
        .lowest = 115.0,
        .highest = 124.3,
        .mean = 119.8346 });
}

/* From 2006-12-16T17:24 of winter; five rows are empty; V 226.32..251.70 mean 241.0656 */
static void test_household(void **state)
{
    (void)state;
    check(&(struct series){
        .file = "household_fr_2006-12_1min.csv.gz",
        .voltage_field = 3,
        .frequency_field = -1,
        .first_s = 1166286240,
        .config = { .nominal_voltage = 23000, .nominal_frequency = 50000, .valid_percent = 90 },
        .lowest = 226.32,
        .highest = 251.70,
        .mean = 241.0656 });
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_circuit), cmocka_unit_test(test_household) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
