/* links: tools/panel/world.c tools/panel/counting.c tools/panel/replay.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/scenario.c tools/panel/scenario_value.c tools/panel/scenario_world.c tools/panel/scenario_meter.c tools/panel/scenario_fault.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/quantity.c */
/* The simulated panel's world: the same for the same seed, and nothing lost in it. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "counting.h"
#include "panel_scenario.h"

static const char meters[] = PANEL_SITE
    "battery: { power_w = 1500; capacity_wh = 10.0; charged = 0.4; };\n"
    "buses = ( { kind = \"tcp\"; name = \"b\"; } );\n"
    "meters = ( { name = \"grid\"; bus = \"b\"; unit_id = 1; measures = \"grid\"; sunspec = \"203\"; },\n"
    " { name = \"production\"; bus = \"b\"; unit_id = 2; measures = \"production\"; sunspec = \"203\"; },\n"
    " { name = \"consumption\"; bus = \"b\"; unit_id = 3; measures = \"consumption\"; sunspec = \"203\"; },\n"
    " { name = \"south\"; bus = \"b\"; unit_id = 4; measures = \"part\"; of = \"south\"; sunspec = \"101\"; "
    "},\n"
    " { name = \"west\"; bus = \"b\"; unit_id = 5; measures = \"part\"; of = \"west\"; sunspec = \"101\"; "
    "},\n"
    " { name = \"battery\"; bus = \"b\"; unit_id = 6; measures = \"battery\"; sunspec = \"203\"; },\n"
    " { name = \"kitchen\"; bus = \"b\"; unit_id = 7; measures = \"branch\"; of = \"kitchen\"; sunspec = "
    "\"203\"; },\n"
    " { name = \"apart\"; bus = \"b\"; unit_id = 8; measures = \"grid\"; phases_apart = true; sunspec = "
    "\"203\"; },\n"
    " { name = \"behind\"; bus = \"b\"; unit_id = 9; measures = \"grid\"; reversed = true; ct_ratio = 40;"
    "   step_wh = 10.0; import_wh = 700.0; export_wh = 900.0; sunspec = \"203\"; } );\n";

enum { GRID, PRODUCTION, CONSUMPTION, SOUTH, WEST, BATTERY, KITCHEN, APART, BEHIND };

struct fixture {
    struct scenario *scenario;
    struct counting a, b;
};

static int setup(void **state)
{
    struct heard heard;
    struct fixture *fixture = calloc(1, sizeof *fixture);
    fixture->scenario = scenario_of(meters, &heard);
    if (fixture->scenario == NULL)
        fprintf(stderr, "%s\n", heard.lines[0]);
    *state = fixture;
    return fixture->scenario != NULL ? 0 : -1;
}

static int teardown(void **state)
{
    struct fixture *fixture = *state;
    scenario_free(fixture->scenario);
    free(fixture);
    return 0;
}

static int64_t net(const struct counting *counting, int meter)
{
    return counting->meters[meter].work[Q_ACTIVE_IMPORT] - counting->meters[meter].work[Q_ACTIVE_EXPORT];
}

static int64_t sum(const int64_t by_phase[WORLD_PHASES])
{
    return by_phase[0] + by_phase[1] + by_phase[2];
}

/* A whole day, at instants that fit no step. */
static void test_energy_is_conserved(void **state)
{
    struct fixture *fixture = *state;
    struct counting *counting = &fixture->a;
    int64_t at_ms = 0, seen_import = 0, seen_export = 0;
    counting_init(counting, fixture->scenario, 60); /* a day of the scene in 24 min */
    for (int i = 0; i < 1440; i++) {
        counting_advance(counting, at_ms += 1007);
        for (int p = 0; p < WORLD_PHASES; p++)
            assert_true(counting->meters[GRID].mw[p] == counting->meters[CONSUMPTION].mw[p] +
                                                            counting->meters[PRODUCTION].mw[p] +
                                                            counting->meters[BATTERY].mw[p]);
        assert_true(net(counting, GRID) ==
                    net(counting, CONSUMPTION) + net(counting, PRODUCTION) + net(counting, BATTERY));
        assert_true(net(counting, PRODUCTION) == net(counting, SOUTH) + net(counting, WEST));
        assert_true(net(counting, APART) == net(counting, GRID));
        seen_import += sum(counting->meters[GRID].mw) > 0;
        seen_export += sum(counting->meters[GRID].mw) < 0;
        assert_in_range(counting->scene.frequency_mhz, 49900, 50100);
    }
    /* the day has both directions, and counting phases apart finds more of each */
    assert_true(seen_import > 100 && seen_export > 100);
    assert_true(counting->meters[APART].work[Q_ACTIVE_IMPORT] > counting->meters[GRID].work[Q_ACTIVE_IMPORT]);
    assert_true(counting->meters[KITCHEN].work[Q_ACTIVE_IMPORT] > 0);
    assert_true(counting->meters[BATTERY].work[Q_ACTIVE_EXPORT] > 0);
}

static void test_truth_does_not_depend_on_who_looks(void **state)
{
    struct fixture *fixture = *state;
    uint64_t seed = 20260621;
    print_message("seed %d\n", (int)seed);
    counting_init(&fixture->a, fixture->scenario, 60);
    counting_init(&fixture->b, fixture->scenario, 60);
    for (int64_t i = 0, at_ms = 0; at_ms < 600000; i++) {
        at_ms += 1 + (int64_t)(700 * world_chance(seed, 1, i));
        counting_advance(&fixture->a, at_ms < 600000 ? at_ms : 600000);
    }
    counting_advance(&fixture->b, 600000);
    counting_advance(&fixture->b, 5); /* earlier: ignored */
    assert_int_equal(fixture->a.at_ms, fixture->b.at_ms);
    for (int i = 0; i < fixture->scenario->meter_count; i++)
        assert_memory_equal(fixture->a.meters[i].work, fixture->b.meters[i].work,
                            sizeof fixture->a.meters[i].work);
}

static void test_another_seed_is_another_day(void **state)
{
    struct fixture *fixture = *state;
    counting_init(&fixture->a, fixture->scenario, 60);
    counting_advance(&fixture->a, 300000);
    fixture->scenario->world.seed++;
    counting_init(&fixture->b, fixture->scenario, 60);
    counting_advance(&fixture->b, 300000);
    fixture->scenario->world.seed--;
    assert_true(net(&fixture->a, GRID) != net(&fixture->b, GRID));
}

static void test_wiring_ratio_and_resolution(void **state)
{
    struct fixture *fixture = *state;
    struct shown shown;
    counting_init(&fixture->a, fixture->scenario, 60);
    counting_advance(&fixture->a, 1440000);
    counting_show(&fixture->a, BEHIND, &shown);
    /* exchanged directions, a fortieth, whole 10 Wh, on top of what stood there */
    int64_t import_mwh = 700000 + counting_energy(&fixture->a, BEHIND, Q_ACTIVE_EXPORT) / 40;
    int64_t export_mwh = 900000 + counting_energy(&fixture->a, BEHIND, Q_ACTIVE_IMPORT) / 40;
    assert_int_equal(shown.value[Q_ACTIVE_IMPORT], import_mwh - import_mwh % 10000);
    assert_int_equal(shown.value[Q_ACTIVE_EXPORT], export_mwh - export_mwh % 10000);
    assert_int_equal(shown.value[Q_POWER], llround(-(double)sum(fixture->a.meters[BEHIND].mw) / 40));
}

static void test_restart(void **state)
{
    struct fixture *fixture = *state;
    struct shown shown;
    counting_init(&fixture->a, fixture->scenario, 1);
    counting_advance(&fixture->a, 60000);
    counting_restart(&fixture->a, SOUTH, 3, 5000, "NEW");
    counting_show(&fixture->a, SOUTH, &shown);
    assert_int_equal(shown.value[Q_ACTIVE_EXPORT], 5000000);
    assert_string_equal(shown.serial, "NEW");
    int64_t before = counting_energy(&fixture->a, SOUTH, Q_ACTIVE_EXPORT);
    counting_advance(&fixture->a, 120000);
    counting_show(&fixture->a, SOUTH, &shown);
    int64_t flowed = counting_energy(&fixture->a, SOUTH, Q_ACTIVE_EXPORT) - before;
    assert_true(flowed > 0);
    assert_in_range(shown.value[Q_ACTIVE_EXPORT] - 5000000, flowed - 1, flowed + 1);
}

/* Sunrise 06:12:43 and sunset 17:20:19 (UTC-7) of 17 Oct 2003 at 39.742476, -105.1786: NREL/TP-560-34302, the
 * example of the solar position algorithm. Its sun stands at -0.83 degrees then. */
static void test_sun(void **state)
{
    struct world world = { .latitude = 39.742476, .longitude = -105.1786 };
    int64_t day_ms = 1066348800000; /* 2003-10-17T00:00Z */
    (void)state;
    double rise = world_sun_height(&world, day_ms + ((13 * 60 + 12) * 60 + 43) * 1000L);
    double set = world_sun_height(&world, day_ms + ((24 * 60 + 20) * 60 + 19) * 1000L);
    /* the same example at 12:30:30: zenith 50.1116 */
    double noon = world_sun_height(&world, day_ms + ((19 * 60 + 30) * 60 + 30) * 1000L);
    assert_true(fabs(rise + 0.83) < 0.4);
    assert_true(fabs(set + 0.83) < 0.4);
    assert_true(fabs(noon - (90 - 50.1116)) < 0.3);
}

static void test_night_and_clipping(void **state)
{
    struct fixture *fixture = *state;
    struct world world = fixture->scenario->world;
    struct scene scene;
    int64_t midnight_ms = 1782079200000; /* 2026-06-21T22:00Z */
    world_at(&world, midnight_ms, &scene);
    assert_int_equal(scene.part_mw[0], -3000); /* its standby power */
    assert_int_equal(scene.irradiance_mw, 0);
    world.parts[0].rated_w = 1000;
    world.cloudiness = 0;
    world_at(&world, midnight_ms + 13 * 3600000, &scene);
    assert_int_equal(scene.part_mw[0], 1000000);
}

static void test_voltage_rises_with_export(void **state)
{
    struct fixture *fixture = *state;
    struct shown before, after;
    counting_init(&fixture->a, fixture->scenario, 1);
    counting_show(&fixture->a, GRID, &before);
    fixture->a.grid_mw[0] -= 2300000; /* 10 A more go out over 0.3 ohm */
    counting_show(&fixture->a, GRID, &after);
    assert_in_range(after.value[Q_VOLTAGE_L1] - before.value[Q_VOLTAGE_L1], 2999, 3001);
}

static void test_kettle_is_switched_on_as_often_as_said(void **state)
{
    struct fixture *fixture = *state;
    const struct world *world = &fixture->scenario->world;
    int64_t on = 0, midnight_ms = 1781992800000; /* local midnight of 2026-06-21 */
    for (int64_t s = 0; s < 86400; s++) {
        struct scene scene;
        world_at(world, midnight_ms + s * 1000, &scene);
        on += scene.load_mw[2] / 2000000;
    }
    assert_in_range(on, 6 * 180 - 1, 6 * 180 + 1);
}

static void test_spread(void **state)
{
    struct world three = { .phases = 3 }, one = { .phases = 1 };
    (void)state;
    for (int64_t mw = -1000; mw <= 1000; mw++) {
        int64_t by_phase[WORLD_PHASES] = { 0 };
        world_spread(&three, 0, mw, by_phase);
        world_spread(&three, 2, mw, by_phase);
        assert_true(sum(by_phase) == 2 * mw);
    }
    int64_t by_phase[WORLD_PHASES] = { 0 };
    world_spread(&one, 3, 7, by_phase);
    assert_int_equal(by_phase[0], 7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_energy_is_conserved),
        cmocka_unit_test(test_truth_does_not_depend_on_who_looks),
        cmocka_unit_test(test_another_seed_is_another_day),
        cmocka_unit_test(test_wiring_ratio_and_resolution),
        cmocka_unit_test(test_restart),
        cmocka_unit_test(test_sun),
        cmocka_unit_test(test_night_and_clipping),
        cmocka_unit_test(test_voltage_rises_with_export),
        cmocka_unit_test(test_kettle_is_switched_on_as_often_as_said),
        cmocka_unit_test(test_spread),
    };
    return cmocka_run_group_tests(tests, setup, teardown);
}
