/* links: tools/plant/performance.c */
/* Sources: pvanalytics/tests/test_metrics.py (weather-corrected ratio of M. Dierauf et al.,
 * NREL/TP-5200-57991); pvlib tests/test_temperature.py (module and cell); a support article "Performance
 * Ratio Calculation" (85.06 %); PVDAQ system 1283, see pv_rsf2 in the README of the shared data. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "performance.h"

static void near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.9g, expected %.9g +- %g", value, expected, within);
}

static void year_of_a_plant(void **state)
{
    (void)state;
    struct performance sum = { 0 };
    performance_add(&sum, 365 * 86400, 158917, 100 * 1868.23, 1868.23, NAN);
    near(performance_ratio(&sum) * 100, 85.06, 0.005);
    assert_true(isnan(performance_ratio_at(&sum, -0.004, 25)));
    assert_true(isnan(performance_warmth(&sum)));
    struct performance dark = { 0 };
    assert_true(isnan(performance_ratio(&dark)));
}

static const struct {
    double light, air, wind, power;
} samples[] = {
    { 921.75575, 28.89891667, 1.796333333, 39389.6625 },
    { 916.11225, 29.69258333, 2.496916667, 39425.3525 },
    { 914.8590833, 30.21441667, 2.413333333, 39460.9625 },
    { 914.86375, 30.5815, 2.023666667, 39125.315 },
    { 913.6426667, 31.14808333, 1.844416667, 38888.59 },
    { 889.6296667, 31.5445, 1.605583333, 37520.8925 },
    { 751.4611667, 31.63208333, 1.18625, 27303.8025 },
};

static void weather_corrected(void **state)
{
    (void)state;
    const struct mounting mounting = { -3.58, -0.113, 3 };
    struct performance sum = { 0 }, halves[2] = { { 0 }, { 0 } };
    for (size_t i = 0; i < sizeof samples / sizeof *samples; i++) {
        double cell =
            performance_cell_temperature(&mounting, samples[i].light, samples[i].air, samples[i].wind);
        double reference = 61.056 * samples[i].light / 1000;
        performance_add(&sum, 3600, samples[i].power / 1000, reference, samples[i].light / 1000, cell);
        performance_add(&halves[i % 2], 3600, samples[i].power / 1000, reference, samples[i].light / 1000,
                        cell);
    }
    near(performance_ratio(&sum), 0.687306, 5e-7);
    near(performance_warmth(&sum), 53.15894, 5e-6);
    near(performance_ratio_at(&sum, -0.0028, performance_warmth(&sum)), 0.6873059, 1e-7);
    near(performance_ratio_at(&sum, -0.0028, 25), 0.746135, 5e-7);
    performance_join(&halves[0], &halves[1]);
    near(performance_ratio_at(&halves[0], -0.0028, 25), 0.746135, 5e-7);
    assert_int_equal(halves[0].seconds, 7 * 3600);
    near(halves[0].light, sum.light, 1e-12);
}

static void cell_temperatures(void **state)
{
    (void)state;
    /* open rack, glass on both sides: module, then cell */
    near(performance_cell_temperature(&(struct mounting){ -3.47, -0.0594, 0 }, 900, 20, 5), 40.809, 5e-4);
    near(performance_cell_temperature(&(struct mounting){ -3.47, -0.0594, 3 }, 900, 20, 5), 43.509, 5e-4);
}

static void capacity_factors(void **state)
{
    (void)state;
    /* 3 kWp that make 360 kWh in a month of 30 days: 360 / (3 x 720), computed */
    near(performance_capacity_factor(360, 3, 720) * 100, 16.67, 0.005);
    assert_true(isnan(performance_capacity_factor(360, 0, 720)));
    assert_true(isnan(performance_capacity_factor(360, 3, 0)));
}

/* An interval without module temperature is in the plain ratio only. */
static void without_temperature(void **state)
{
    (void)state;
    struct performance sum = { 0 };
    performance_add(&sum, 900, 8, 10, 1, 45);
    performance_add(&sum, 900, 1, 10, 1, NAN);
    near(performance_ratio(&sum), 0.45, 1e-12);
    near(performance_ratio_at(&sum, -0.005, 25), 8 / 9.0, 1e-12);
}

static void five_days_of_an_inverter(void **state)
{
    (void)state;
    const char *shared = getenv("METERBOOK_SHARED");
    const double published[] = { 0.556698, 0.573764, 0.745706, 0.775916, 0 };
    struct performance whole = { 0 }, days[5] = { { 0 } };
    char path[512], line[300];
    int day;
    double power, light, module;
    snprintf(path, sizeof path, "%s/data/pv_rsf2_2022-01-02_15min.csv", shared ? shared : "../shared");
    FILE *file = fopen(path, "r");
    if (!file) {
        print_message("no '%s': comparison left out\n", path);
        skip();
    }
    while (fgets(line, sizeof line, file)) {
        if (sscanf(line, "2022-01-%dT%*d:%*d:%*d,%lf,%*f,%lf,%*f,%lf", &day, &power, &light, &module) != 4)
            continue;
        assert_in_range(day, 2, 6);
        performance_add(&days[day - 2], 900, power / 4000, 204.12 * light / 4000, light / 4000, module);
    }
    fclose(file);
    for (int i = 0; i < 5; i++) {
        near(performance_ratio(&days[i]), published[i], 5e-7);
        performance_join(&whole, &days[i]);
    }
    near(performance_ratio(&whole), 0.585196, 5e-7);
    near(whole.made, 1455.887, 5e-4);
    near(whole.light, 12.188234, 5e-7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(year_of_a_plant),     cmocka_unit_test(weather_corrected),
        cmocka_unit_test(cell_temperatures),   cmocka_unit_test(capacity_factors),
        cmocka_unit_test(without_temperature), cmocka_unit_test(five_days_of_an_inverter),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
