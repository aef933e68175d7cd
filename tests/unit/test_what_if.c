/* links: tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c tools/money/trace.c tools/money/nonactive.c tools/money/what_if.c tools/money/sweep.c tools/money/finance.c tools/money/contract_file.c tools/money/contract_cases.c tools/money/contract_entry.c tools/money/contract_paper.c */
/* Cases over a made trace: what changes nothing gives what was recorded, and energy is conserved whatever is
 * tried. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "calendar.h"
#include "nonactive.h"
#include "number.h"
#include "sweep.h"
#include "tariff_text.h"
#include "what_if.h"

enum { MILLION = 1000000, INTERVAL_S = 300, DAYS = 400, PER_DAY = 86400 / INTERVAL_S };

static uint64_t draw(uint64_t *seed)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *seed >> 33;
}

/* A sun by day and clouds by chance, a use with peaks; now and then the meter counts both ways in an
 * interval. */
static struct trace make_trace(uint64_t seed)
{
    struct trace trace = { .from_day = civil_day_number(2024, 1, 1), .interval_s = INTERVAL_S };
    trace.to_day = trace.from_day + DAYS;
    for (int32_t i = 0; i < DAYS * PER_DAY; i++) {
        int32_t hour = i % PER_DAY * INTERVAL_S / 3600;
        int64_t sun = hour > 6 && hour < 18 ? (int64_t)(6 - abs(hour - 12)) * 60000 : 0;
        int64_t production = sun * (int64_t)(draw(&seed) % 100) / 100;
        int64_t consumption = 20000 + (int64_t)(draw(&seed) % (hour == 19 ? 300000 : 60000));
        int64_t net = consumption - production,
                both = draw(&seed) % 7 == 0 ? (int64_t)(draw(&seed) % 500) : 0;
        both = both < production ? both : production;
        assert_true(trace_add(&trace, trace.from_day + i / PER_DAY, i % PER_DAY * INTERVAL_S, production,
                              consumption, (net > 0 ? net : 0) + both, (net < 0 ? -net : 0) + both));
    }
    return trace;
}

static struct tariff *make_tariff(void)
{
    return tariff_of_items(
        "settlement = \"net_billed\";",
        "blocks = ( { name = \"peak\"; from = \"18:00\"; to = \"21:00\"; } );",
        "{ name = \"peak\"; of = \"import\"; block = \"peak\"; rate = 9; }, { name = \"energy\"; of = "
        "\"import\"; block = "
        "\"other\"; rate = 5; }, { name = \"surplus\"; of = \"export\"; rate = 2; pays = true; }");
}

static struct what_if_result run(const struct what_if *what_if, const struct trace *trace,
                                 const struct tariff *tariff)
{
    const struct contract contract = { .with_plant = true, .phases = 1 };
    struct trace_bins bins;
    struct what_if_result result;
    trace_bins_make(&bins, trace, tariff);
    assert_false(bins.memory_out);
    assert_true(what_if_run(what_if, trace, &bins, &bins, &contract, &result));
    trace_bins_free(&bins);
    return result;
}

static void test_recorded(void **state)
{
    struct trace trace = make_trace(1);
    struct tariff *tariff = make_tariff();
    struct what_if_result result = run(&what_if_recorded, &trace, tariff);
    (void)state;
    assert_int_equal(result.production, trace.energy_production);
    assert_int_equal(result.consumption, trace.energy_consumption);
    assert_int_equal(result.import, trace.energy_import);
    assert_int_equal(result.export, trace.energy_export);
    assert_int_equal(result.period_count, 14); /* months of 400 days */
    tariff_free(tariff);
    trace_free(&trace);
}

/* Whatever is tried: what is used comes from the roof, the grid or the battery, and nothing else. */
static void test_conserved(void **state)
{
    struct trace trace = make_trace(2);
    struct tariff *tariff = make_tariff();
    uint64_t seed = 3;
    (void)state;
    for (int32_t i = 0; i < 40; i++) {
        struct what_if what_if = what_if_recorded;
        what_if.production_factor = (int64_t)(draw(&seed) % (3 * MILLION));
        what_if.consumption_factor = (int64_t)(draw(&seed) % (3 * MILLION));
        what_if.most_power = draw(&seed) % 2 ? (int64_t)(draw(&seed) % 4000000) + 1 : 0;
        const int64_t limits[] = { UNKNOWN, 0, (int64_t)(draw(&seed) % 3000000) };
        what_if.export_limit = limits[draw(&seed) % 3];
        if (draw(&seed) % 2)
            what_if.battery =
                (struct battery){ (int64_t)(draw(&seed) % 20000000) + 1, (int64_t)(draw(&seed) % 5000000) + 1,
                                  500000 + (int32_t)(draw(&seed) % 500001), (enum dispatch)(draw(&seed) % 2),
                                  "peak" };
        const int32_t nettings[] = { 0, 420, 1800 }; /* the second cuts intervals */
        what_if.netting_s = nettings[draw(&seed) % 3];
        struct what_if_result result = run(&what_if, &trace, tariff);
        int64_t into = result.production + result.import - result.export - result.consumption;
        /* what went into the battery and is not out again is lost or still in it */
        assert_true(into >= -1000);
        assert_true(into == 0 || what_if.battery.capacity > 0);
        if (what_if.battery.capacity > 0) {
            int64_t lost_or_left =
                result.through_battery * (MILLION - what_if.battery.efficiency) / what_if.battery.efficiency +
                what_if.battery.capacity;
            assert_true(into <= lost_or_left + 2 * MILLION + what_if.battery.capacity);
        }
        assert_true(what_if.export_limit != 0 || result.export == 0);
        assert_true(result.import >= 0 && result.export >= 0 && result.clipped >= 0 && result.limited >= 0);
    }
    tariff_free(tariff);
    trace_free(&trace);
}

/* Of two schedules; the second may have its blocks in another order, or another name for one of them. */
static struct what_if_result dispatched(const struct trace *trace, const char *blocks)
{
    char text[1024];
    struct what_if what_if = what_if_recorded;
    what_if.battery = (struct battery){ 5000000, 3000000, 900000, DISPATCH_TIME_OF_USE, "peak" };
    snprintf(text, sizeof(text),
             "tariff = { name = \"of a test\"; currency = \"XTS\"; settlement = \"net_billed\"; revision = "
             "\"closing\"; };\n"
             "schedules = ( { from = \"2000-01-01\"; blocks = ( { name = \"peak\"; from = \"18:00\"; to = "
             "\"21:00\"; }, { name = \"night\"; from = \"22:00\"; to = \"05:00\"; } ); items = ( { name = "
             "\"energy\"; of = \"import\"; rate = 5; } ); },\n"
             "{ from = \"2024-07-01\"; blocks = ( %s ); items = ( { name = \"energy\"; of = \"import\"; rate "
             "= 5; } ); } );\n",
             blocks);
    struct tariff *tariff = tariff_of(text, NULL, 0);
    assert_non_null(tariff);
    struct what_if_result result = run(&what_if, trace, tariff);
    tariff_free(tariff);
    return result;
}

static void test_dispatch_by_name(void **state)
{
    static const char peak[] = "{ name = \"peak\"; from = \"18:00\"; to = \"21:00\"; }",
                      night[] = "{ name = \"night\"; from = \"22:00\"; to = \"05:00\"; }";
    char same[256], other[256];
    struct trace trace = make_trace(9);
    (void)state;
    snprintf(same, sizeof(same), "%s, %s", peak, night);
    snprintf(other, sizeof(other), "%s, %s", night, peak);
    struct what_if_result first = dispatched(&trace, same), second = dispatched(&trace, other),
                          none = dispatched(&trace, night);
    assert_int_equal(second.through_battery, first.through_battery);
    assert_int_equal(second.import, first.import);
    assert_true(none.through_battery > first.through_battery); /* at any hour, from July on */
    trace_free(&trace);
}

/* Over however long energies are netted, demand is of power; without a plant there is nothing to net. */
static void test_netting_keeps_demand(void **state)
{
    struct trace trace = make_trace(7);
    struct tariff *tariff = tariff_of_items("settlement = \"net_billed\";", "",
                                            "{ name = \"demand\"; of = \"demand\"; rate = 10; }");
    struct what_if netting = what_if_recorded;
    struct what_if_result before = run(&what_if_recorded, &trace, tariff);
    (void)state;
    netting.netting_s = 3600;
    struct what_if_result result = run(&netting, &trace, tariff);
    assert_int_equal(result.with, before.with);
    assert_int_equal(result.without, before.without);
    tariff_free(tariff);
    trace_free(&trace);
}

/* A battery never makes more import, a longer netting never more of either, a larger plant never less export.
 */
static void test_monotone(void **state)
{
    struct trace trace = make_trace(4);
    struct tariff *tariff = make_tariff();
    struct what_if_result before = run(&what_if_recorded, &trace, tariff);
    (void)state;
    for (int32_t step = 1; step <= 4; step++) {
        struct what_if battery = what_if_recorded, netting = what_if_recorded, plant = what_if_recorded;
        battery.battery =
            (struct battery){ step * 4000000, 3000000, 900000, DISPATCH_SELF_CONSUMPTION, NULL };
        netting.netting_s = 900 * step;
        plant.production_factor = MILLION + step * 250000;
        struct what_if_result with_battery = run(&battery, &trace, tariff);
        assert_true(with_battery.import < before.import && with_battery.export < before.export);
        assert_true(run(&netting, &trace, tariff).import <= before.import);
        struct what_if_result larger = run(&plant, &trace, tariff);
        assert_true(larger.export > before.export && larger.import < before.import);
        assert_true(larger.with < before.with);
    }
    tariff_free(tariff);
    trace_free(&trace);
}

/* Another tilt: a share of what was made by month and hour; 100 % throughout changes nothing. */
static void test_shape(void **state)
{
    struct trace trace = make_trace(6);
    struct tariff *tariff = make_tariff();
    struct what_if shape = what_if_recorded;
    struct what_if_result before = run(&what_if_recorded, &trace, tariff);
    (void)state;
    shape.has_shape = true;
    for (int32_t month = 0; month < CASE_MONTHS; month++)
        for (int32_t hour = 0; hour < CASE_HOURS; hour++)
            shape.shape[month][hour] = MILLION;
    struct what_if_result same = run(&shape, &trace, tariff);
    assert_int_equal(same.production, before.production);
    assert_int_equal(same.import, before.import);
    for (int32_t hour = 0; hour < CASE_HOURS; hour++)
        shape.shape[0][hour] = 0;
    int64_t january = 0;
    for (int32_t i = 0; i < trace.count; i++)
        january += trace.day[i] < 31 || (trace.day[i] >= 366 && trace.day[i] < 397) ? trace.production[i] : 0;
    assert_int_equal(run(&shape, &trace, tariff).production, before.production - january);
    tariff_free(tariff);
    trace_free(&trace);
}

/* 48 more in 146 days are 120 a year, of two: 240 less the cost; what the plant costs to run is no part of
 * it. */
static void test_value_of_change(void **state)
{
    struct contract_file contract = { .has_projection = true };
    struct trace half = { .from_day = 0, .to_day = 146 };
    (void)state;
    contract.projection.life_years = 2;
    contract.projection.operating = contract.projection.replacement = 1000 * INT64_C(1000000);
    contract.projection.replacement_year = 1;
    double value = value_of_change(&contract, &half, 200 * INT64_C(1000000), 48 * INT64_C(1000000));
    assert_true(value > 39.999999 && value < 40.000001);
}

/* Of a life of 20 years half a year is left after the span, later none. Without interest and change of it the
 * value is 120 a year, less the cost of 50. */
static void test_remaining_life(void **state)
{
    struct contract_file contract = { .has_projection = true, .part_count = 1 };
    struct trace year = { .from_day = civil_day_number(2023, 7, 3), .to_day = civil_day_number(2024, 7, 2) };
    (void)state;
    contract.projection.life_years = 20;
    contract.parts[0].commissioned = civil_day_number(2005, 1, 1);
    double value = value_of_change(&contract, &year, 50 * INT64_C(1000000), 120 * INT64_C(1000000));
    assert_true(value > 10 - 0.2 && value < 10 + 0.2); /* 183 days */
    contract.parts[0].commissioned = civil_day_number(2009, 7, 2);
    value = value_of_change(&contract, &year, 50 * INT64_C(1000000), 120 * INT64_C(1000000));
    assert_true(value > 549.9 && value < 550.1);
    contract.parts[0].commissioned = civil_day_number(2004, 1, 1);
    value = value_of_change(&contract, &year, 50 * INT64_C(1000000), 120 * INT64_C(1000000));
    assert_true(value > -50.000001 && value < -49.999999);
}

/* Monthly sums make all of a month's production self-consumption, which no meter does. */
static void test_monthly_sums(void **state)
{
    const struct contract contract = { .with_plant = true, .phases = 1 };
    struct trace trace = make_trace(5);
    struct tariff *tariff = make_tariff();
    struct trace_bins bins;
    struct what_if_result monthly, real = run(&what_if_recorded, &trace, tariff);
    (void)state;
    trace_bins_make(&bins, &trace, tariff);
    assert_true(what_if_monthly(&what_if_recorded, &trace, &bins, &contract, &monthly));
    assert_true(monthly.import < real.import);
    assert_true(monthly.with < real.with); /* it flatters */
    assert_int_equal(monthly.import - monthly.export, real.import - real.export);
    trace_bins_free(&bins);
    tariff_free(tariff);
    trace_free(&trace);
}

/* 10 kW at power factor 0.90 carry 4.843 kvar; with 8 kW of sun beside them the grid sees 2.0 kW, 5.24 kVA, a
 * power factor of 0.382 (computed, trade facts). */
static void test_nonactive(void **state)
{
    (void)state;
    assert_int_equal(nonactive_of(11111111, UNKNOWN, 10000000, 0), 4843221);
    assert_int_equal(nonactive_of(UNKNOWN, 4843221, 10000000, 0), 4843221);
    assert_int_equal(nonactive_of(UNKNOWN, -4843221, 10000000, 0), 4843221); /* capacitive */
    assert_int_equal(apparent_of(2000000, 4843221), 5239923);
    assert_int_equal(apparent_of(10000000, 4843221), 11111111);
    assert_int_equal(nonactive_of(0, UNKNOWN, 0, 5000000),
                     UNKNOWN); /* while it exports the register stands */
    assert_int_equal(nonactive_of(0, 300000, 0, 5000000), 300000);
    assert_int_equal(nonactive_of(0, UNKNOWN, 0, 0), 0);
    assert_int_equal(nonactive_of(999999, UNKNOWN, 1000000, 0), 0); /* a last digit too few */
    assert_int_equal(apparent_of(INT32_MAX, INT32_MAX), 3037000499);
    uint64_t seed = 6;
    for (int32_t i = 0; i < 20000; i++) { /* nearest: never more than half away */
        int64_t import = (int64_t)(draw(&seed) % INT32_MAX), rest = (int64_t)(draw(&seed) % INT32_MAX),
                apparent = apparent_of(import, rest);
        uint64_t square = (uint64_t)(import * import) + (uint64_t)(rest * rest), root = (uint64_t)apparent;
        assert_true(root * root <= square + root && (root + 1) * (root + 1) > square + root);
        assert_true(apparent >= import && apparent <= import + rest);
    }
}

/* A case that changes nothing gives the recorded kVAh and kvarh; more sun saves less of kVAh than of kWh. */
static void test_apparent(void **state)
{
    const struct contract contract = { .with_plant = true, .phases = 1 };
    struct trace trace = make_trace(7);
    struct tariff *tariff = tariff_of_items("settlement = \"net_billed\";", "",
                                            "{ name = \"kVAh\"; of = \"apparent\"; rate = 5; }, { name = "
                                            "\"kVA\"; of = \"apparent_demand\"; rate = 100; "
                                            "}, { name = \"kvarh\"; of = \"reactive\"; rate = 1; }");
    struct trace_bins bins;
    struct what_if_result result, larger;
    struct what_if plant = what_if_recorded;
    uint64_t seed = 8;
    int64_t apparent = 0, reactive = 0, real = 0, sum = 0, kvarh = 0;
    (void)state;
    plant.production_factor = 2 * MILLION;
    trace_bins_make(&bins, &trace, tariff);
    assert_true(bins.wants_apparent && bins.wants_reactive && bins.wants_demand);
    assert_true(what_if_run(&what_if_recorded, &trace, &bins, &bins, &contract, &result));
    assert_int_equal(result.with, UNKNOWN); /* nobody told */
    assert_int_equal(result.without, UNKNOWN);
    assert_true(trace_want_apparent(&trace));
    for (int32_t i = 0; i < trace.count; i++) {
        int64_t net = trace.consumption[i] - trace.production[i],
                rest = 20000 + (int64_t)(draw(&seed) % 30000);
        int64_t import = (net > 0 ? net : 0) + trace.overlap[i];
        int64_t kvah = import > 0 ? apparent_of(import, rest) : 0;
        trace_take_apparent(&trace, i, kvah, rest, 0);
        apparent += kvah;
        reactive += rest;
        real += import;
    }
    struct usage *usages = calloc((size_t)bins.usage_count, sizeof(*usages));
    memcpy(usages, bins.usages, (size_t)bins.usage_count * sizeof(*usages));
    what_if_flow(&what_if_recorded, &trace, &bins, usages, &result);
    for (int32_t u = 0; u < bins.usage_count; u++) {
        sum += usages[u].energy[MEASURE_APPARENT][0];
        kvarh += usages[u].energy[MEASURE_REACTIVE][0];
        assert_true(usages[u].apparent_demand[0] > 0);
    }
    free(usages);
    assert_int_equal(kvarh, reactive);
    assert_true(llabs(sum - apparent) <= trace.count); /* to a mVAh in each interval */
    assert_true(sum > real);
    assert_true(what_if_run(&what_if_recorded, &trace, &bins, &bins, &contract, &result));
    assert_true(what_if_run(&plant, &trace, &bins, &bins, &contract, &larger));
    assert_int_equal(result.unknown, 0);
    assert_true(larger.with < result.with && result.with < result.without);
    trace.nonactive[0] = -1; /* midnight: imported in every case */
    assert_true(what_if_run(&plant, &trace, &bins, &bins, &contract, &larger));
    assert_int_equal(larger.unknown, 1);
    assert_int_equal(larger.with, UNKNOWN);
    trace_bins_free(&bins);
    tariff_free(tariff);
    trace_free(&trace);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_recorded),        cmocka_unit_test(test_conserved),
        cmocka_unit_test(test_value_of_change), cmocka_unit_test(test_netting_keeps_demand),
        cmocka_unit_test(test_monotone),        cmocka_unit_test(test_shape),
        cmocka_unit_test(test_monthly_sums),    cmocka_unit_test(test_nonactive),
        cmocka_unit_test(test_apparent),        cmocka_unit_test(test_dispatch_by_name),
        cmocka_unit_test(test_remaining_life),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
