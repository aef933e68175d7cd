/* links: tools/panel/world.c tools/panel/counting.c tools/panel/replay.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/scenario.c tools/panel/scenario_value.c tools/panel/scenario_world.c tools/panel/scenario_meter.c tools/panel/scenario_fault.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/quantity.c */
/* Scenario files: every shipped one is good, bad ones are refused with line and reason; replayed meters. */
#include <dirent.h>
#include <inttypes.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "counting.h"
#include "panel_scenario.h"

static void load_shipped(const char *path)
{
    struct heard heard = { 0 };
    struct problems problems = { .say = hear, .self = &heard };
    struct scenario *scenario = scenario_load(path, &problems);
    if (scenario == NULL)
        print_message("%s\n", heard.lines[0]);
    assert_non_null(scenario);
    assert_true(scenario->meter_count > 0);
    scenario_free(scenario);
}

static void test_shipped(void **state)
{
    DIR *directory = opendir("tests/data/panel");
    int count = 0;
    (void)state;
    assert_non_null(directory);
    for (struct dirent *entry; (entry = readdir(directory)) != NULL;) {
        char path[400];
        size_t length = strlen(entry->d_name);
        if (length < 5 || strcmp(entry->d_name + length - 5, ".conf") != 0 ||
            strcmp(entry->d_name, "home.conf") == 0)
            continue;
        snprintf(path, sizeof path, "tests/data/panel/%s", entry->d_name);
        load_shipped(path);
        count++;
    }
    closedir(directory);
    assert_true(count > 20);
    load_shipped("config/demo-panel.conf");
}

#define METERS                                                                                               \
    "buses = ( { kind = \"tcp\"; name = \"b\"; } );\nmeters = ( { name = \"m\"; bus = \"b\"; unit_id = 1; "

/* A piece of each first complaint. */
static void test_refused(void **state)
{
    static const struct {
        const char *text, *complaint;
    } table[] = {
        { "", "'site' is missing" },
        { PANEL_SITE, "'buses' is missing" },
        { PANEL_SITE "buses = 3;\nmeters = ();", ":4: 'buses' is 3, allowed: a list of groups" },
        { PANEL_SITE METERS "measures = \"grid\"; sunspec = \"203\"; colour = 1; } );",
          ":5: unknown key 'colour'" },
        { PANEL_SITE METERS "measures = \"moon\"; sunspec = \"203\"; } );",
          ":5: 'measures' is \"moon\", allowed" },
        { PANEL_SITE METERS "measures = \"grid\"; } );", "either a 'map' or 'sunspec'" },
        { PANEL_SITE METERS "measures = \"grid\"; map = \"x\"; sunspec = \"203\"; } );",
          "either a 'map' or 'sunspec'" },
        { PANEL_SITE METERS "measures = \"grid\"; sunspec = \"203, x\"; } );",
          "'sunspec' is \"203, x\", allowed" },
        { PANEL_SITE METERS "measures = \"grid\"; sunspec = \"701, 701, 701, 701, 701, 701\"; } );",
          "do not fit" },
        { PANEL_SITE METERS "measures = \"part\"; of = \"north\"; sunspec = \"101\"; } );",
          "name of a part" },
        { PANEL_SITE METERS "measures = \"branch\"; of = \"attic\"; sunspec = \"203\"; } );",
          "name of a branch" },
        { PANEL_SITE METERS "measures = \"grid\"; of = \"south\"; sunspec = \"203\"; } );",
          "'of' does not belong here" },
        { PANEL_SITE METERS "measures = \"grid\"; sunspec = \"203\"; unit_id = 2; } );",
          "duplicate setting name" },
        { PANEL_SITE METERS
          "measures = \"grid\"; sunspec = \"203\"; }, { name = \"n\"; bus = \"b\"; unit_id = 1; "
          "measures = \"grid\"; sunspec = \"203\"; } );",
          "'unit_id' is 1, which \"m\" has" },
        { PANEL_SITE METERS
          "measures = \"grid\"; sunspec = \"203\"; faults = ( { kind = \"bad_crc\"; } ); } );",
          "'kind' of this fault is missing or wrong, allowed here: \"silent\"" },
        { PANEL_SITE METERS
          "measures = \"grid\"; sunspec = \"203\"; faults = ( { kind = \"unplug\"; } ); } );",
          "'kind' of this fault" },
        { PANEL_SITE METERS
          "measures = \"grid\"; sunspec = \"203\"; faults = ( { kind = \"late\"; code = 1; } ); } );",
          "unknown key 'code' in a fault, allowed: kind, from, to, every, for, nth, times, ms" },
        { PANEL_SITE METERS
          "measures = \"grid\"; sunspec = \"203\"; faults = ( { kind = \"late\"; every = 2; } ); } );",
          "'every' and 'for' belong together" },
        { PANEL_SITE METERS "measures = \"replay\"; sunspec = \"203\"; } );", "'replay' is missing" },
        { PANEL_SITE METERS "measures = \"replay\"; sunspec = \"203\"; replay = \"/nowhere.csv\"; } );",
          "cannot open '/nowhere.csv'" },
        { PANEL_SITE "buses = ( { kind = \"tcp\"; name = \"b\"; link = \"/x\"; } ); meters = ();",
          "'link' does not belong" },
        { PANEL_SITE
          "buses = ( { kind = \"tcp\"; name = \"b\"; }, { kind = \"rtu\"; name = \"b\"; } ); meters = ();",
          "as of another bus" },
        { "site: { name = \"x\"; latitude = 1; longitude = 2; phases = 2; };",
          "'phases' is 2, allowed: 1 or 3" },
        { "site: { name = \"x\"; latitude = 1; longitude = 2; start = \"soon\"; };",
          "'start' is \"soon\", allowed" },
        { "site: { name = \"x\"; latitude = 1; longitude = 2; };\nloads = ( { kind = \"cycle\"; name = "
          "\"l\"; w = 3; } );",
          ":2: 'period_s' is missing" },
        { "site: { name = \"x\"; latitude = 1; longitude = 2; };\nloads = ( { kind = \"constant\"; name = "
          "\"l\"; } );",
          ":2: a load has either 'w'" },
        { "site: { name = \"x\"; latitude = 1; longitude = 2; };\nloads = ( { kind = \"events\"; name = "
          "\"l\"; w = 1; "
          "per_day = 1; from = \"9\"; } );",
          "allowed: \"HH:MM\"" },
        { "site = {", "syntax error" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct heard heard;
        struct scenario *scenario = scenario_of(table[i].text, &heard);
        bool said = false;
        for (int k = 0; k < heard.count && k < 8; k++)
            said = said || strstr(heard.lines[k], table[i].complaint) != NULL;
        if (scenario != NULL || !said)
            print_message("wanted \"%s\", heard \"%s\"\n", table[i].complaint, heard.lines[0]);
        assert_null(scenario);
        assert_true(said);
    }
}

static void test_instants(void **state)
{
    struct scenario scenario = { .start_ms = 1782000000000 }; /* 2026-06-21T00:00Z */
    static const struct {
        const char *text;
        int64_t at_ms;
    } table[] = {
        { "2026-06-21T00:00:00Z", 1782000000000 },
        { "2026-06-21T04:30Z", 1782000000000 + 16200000 },
        { "00:30", 1782000000000 - 5400000 }, /* two hours ahead of UTC, the same civil day */
        { "12:00", 1782000000000 + 36000000 },
    };
    int64_t at_ms;
    (void)state;
    scenario.world.utc_offset = 2;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        assert_true(scenario_instant(&scenario, table[i].text, &at_ms));
        assert_true(at_ms == table[i].at_ms);
    }
    static const char *const wrong[] = {
        "", "noon", "25:00", "12:60", "12:00x", "2026-06-21", "2026-13-01T00:00Z"
    };
    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++)
        assert_false(scenario_instant(&scenario, wrong[i], &at_ms));
}

/* A file for the replay, removed when the test ends. */
static char replay_path[] = "/tmp/panel-replay-XXXXXX";

static void write_replay(const char *text)
{
    snprintf(replay_path, sizeof replay_path, "/tmp/panel-replay-XXXXXX");
    int fd = mkstemp(replay_path);
    assert_true(fd >= 0);
    assert_true(write(fd, text, strlen(text)) == (ssize_t)strlen(text));
    close(fd);
}

static void test_replay(void **state)
{
    static struct counting counting;
    struct heard heard;
    struct shown shown;
    char text[2000];
    (void)state;
    write_replay(
        "time_s,note,import_wh,export_wh,power_w\n100,a,5000,70,1200\n160,b,5020.5,,-300\n220,c,,71,\n");
    snprintf(text, sizeof text,
             PANEL_SITE METERS "measures = \"replay\"; replay = \"%s\"; sunspec = \"203\"; } );",
             replay_path);
    struct scenario *scenario = scenario_of(text, &heard);
    unlink(replay_path);
    assert_non_null(scenario);
    counting_init(&counting, scenario, 1);
    static const struct {
        int64_t at_ms, import_mwh, export_mwh, power_mw;
    } table[] = { { 0, 5000000, 70000, 1200000 },
                  { 59999, 5000000, 70000, 1200000 },
                  { 60000, 5020500, 70000, -300000 },
                  { 120000, 5020500, 71000, -300000 },
                  { 999000, 5020500, 71000, -300000 } };
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        counting_advance(&counting, table[i].at_ms);
        counting_show(&counting, 0, &shown);
        assert_true(shown.value[Q_ACTIVE_IMPORT] == table[i].import_mwh);
        assert_true(shown.value[Q_ACTIVE_EXPORT] == table[i].export_mwh);
        assert_true(shown.value[Q_POWER] == table[i].power_mw);
        assert_true(counting_energy(&counting, 0, Q_ACTIVE_IMPORT) == table[i].import_mwh - 5000000);
    }
    scenario_free(scenario);
}

static void test_bad_replays(void **state)
{
    static const struct {
        const char *text, *why;
    } table[] = { { "", "no rows" },
                  { "a,b\n1,2\n", ":1: no column time_s" },
                  { "time_s,import_wh\n1,2\n1,3\n", ":3: time_s does not rise" },
                  { "time_s,import_wh\n1,two\n", ":2: not a number" } };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct replay replay;
        char why[200];
        write_replay(table[i].text);
        assert_false(replay_load(&replay, replay_path, why, sizeof why));
        unlink(replay_path);
        assert_non_null(strstr(why, table[i].why));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shipped), cmocka_unit_test(test_refused),     cmocka_unit_test(test_instants),
        cmocka_unit_test(test_replay),  cmocka_unit_test(test_bad_replays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
