#include "scenario.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "scenario_read.h"

static const struct setting_rule file_rules[] = {
    { .key = "site", .type = SETTING_GROUP, .required = true },
    { .key = "parts", .type = SETTING_LIST },
    { .key = "loads", .type = SETTING_LIST },
    { .key = "battery", .type = SETTING_GROUP },
    { .key = "buses", .type = SETTING_LIST, .required = true },
    { .key = "meters", .type = SETTING_LIST, .required = true },
};
RULE_TABLE(file_table, "the scenario", file_rules);

/* How the site is written in the file. */
struct site_text {
    struct world world;
    char name[SCENARIO_NAME_SIZE], start[SCENARIO_NAME_SIZE];
    int32_t seed, step_ms;
};

#define WORLD(field) SETTING_AT(struct site_text, world.field)
static const struct setting_rule site_rules[] = {
    RULE_TEXT(struct site_text, name, true),
    { "start", SETTING_TEXT, SETTING_AT(struct site_text, start), .text = "now" },
    RULE_WHOLE(struct site_text, seed, 0, 2147483647, 1),
    RULE_WHOLE(struct site_text, step_ms, 10, 60000, 100),
    { "latitude", SETTING_REAL, WORLD(latitude), true, -90, 90, 0 },
    { "longitude", SETTING_REAL, WORLD(longitude), true, -180, 180, 0 },
    { "utc_offset", SETTING_REAL, WORLD(utc_offset), false, -14, 14, 0 },
    { "cloudiness", SETTING_REAL, WORLD(cloudiness), false, 0, 1, 0.35 },
    { "voltage", SETTING_REAL, WORLD(voltage), false, 50, 1000, 230 },
    { "frequency", SETTING_REAL, WORLD(frequency), false, 40, 70, 50 },
    { "resistance", SETTING_REAL, WORLD(resistance), false, 0, 5, 0.3 },
    { "temperature", SETTING_REAL, WORLD(temperature), false, -50, 60, 14 },
    { "phases", SETTING_WHOLE, WORLD(phases), false, 1, 3, 3 },
};
RULE_TABLE(site_table, "the site", site_rules);

static const struct setting_rule battery_rules[] = {
    { "power_w", SETTING_WHOLE, SETTING_AT(struct scenario_battery, power_w), true, 1, SCENARIO_MAX_WATTS,
      0 },
    { "capacity_wh", SETTING_REAL, SETTING_AT(struct scenario_battery, capacity_wh), true, 1, 1e9, 0 },
    RULE_REAL(struct scenario_battery, charged, 0, 1, 0.5),
    RULE_REAL(struct scenario_battery, loss, 0, 0.9, 0.1),
    RULE_WHOLE(struct scenario_battery, phase, 0, 3, 0),
};
RULE_TABLE(battery_table, "the battery", battery_rules);

static void read_site(struct source *source, const config_setting_t *root, struct scenario *scenario)
{
    const config_setting_t *group = config_setting_get_member(root, "site");
    struct site_text text = { 0 };
    setting_read(source, group, &site_table, &text);
    scenario->world = text.world;
    scenario->world.seed = (uint64_t)text.seed;
    scenario->step_ms = text.step_ms;
    memcpy(scenario->name, text.name, sizeof scenario->name);
    if (text.world.phases == 2)
        setting_complain(source, group, "phases", true, "'phases' is 2, allowed: 1 or 3");
    if (group != NULL && !scenario_instant(scenario, text.start, &scenario->start_ms))
        setting_complain(source, group, "start", true,
                         "'start' is \"%s\", allowed: \"now\", \"HH:MM\" or \"2026-06-21T04:00:00Z\"",
                         text.start);
}

static void read_root(struct source *source, const config_setting_t *root, struct scenario *scenario,
                      struct problems *problems)
{
    char nothing[1]; /* the top level holds groups and lists only */
    setting_read(source, root, &file_table, nothing);
    read_site(source, root, scenario);
    scenario_read_parts(source, root, &scenario->world);
    scenario_read_loads(source, root, &scenario->world);
    if (config_setting_get_member(root, "battery") != NULL)
        setting_read(source, config_setting_get_member(root, "battery"), &battery_table, &scenario->battery);
    scenario_read_buses(source, root, scenario);
    scenario_read_meters(source, root, scenario, problems);
}

struct scenario *scenario_load(const char *path, struct problems *problems)
{
    struct scenario *scenario = calloc(1, sizeof *scenario);
    struct source source;
    config_t parsed;

    if (scenario == NULL) {
        problems->errors++;
        problems->say(problems->self, true, "out of memory");
        return NULL;
    }
    snprintf(scenario->path, sizeof scenario->path, "%s", path);
    config_init(&parsed);
    source_read(&source, path);
    if (!source_has_error(&source) && setting_parse(&source, &parsed))
        read_root(&source, config_root_setting(&parsed), scenario, problems);
    bool good = source_say(&source, problems);
    source_close(&source);
    config_destroy(&parsed);
    if (!good) {
        scenario_free(scenario);
        return NULL;
    }
    return scenario;
}

void scenario_free(struct scenario *scenario)
{
    if (scenario == NULL)
        return;
    for (int i = 0; i < scenario->meter_count; i++)
        replay_free(&scenario->meters[i].replay);
    free(scenario);
}

bool scenario_instant(const struct scenario *scenario, const char *text, int64_t *at_ms)
{
    struct tm when = { 0 };
    if (strcmp(text, "now") == 0) {
        *at_ms = (int64_t)time(NULL) * 1000;
        return true;
    }
    double hour = scenario_hour(text);
    if (hour >= 0) {
        int64_t offset_ms = llround(scenario->world.utc_offset * 3600000);
        int64_t local_ms =
            (scenario->start_ms > 0 ? scenario->start_ms : (int64_t)time(NULL) * 1000) + offset_ms;
        *at_ms = local_ms - local_ms % 86400000 + llround(hour * 3600000) - offset_ms;
        return true;
    }
    const char *end = strptime(text, "%Y-%m-%dT%H:%M:%SZ", &when);
    if (end == NULL || *end != '\0') {
        when = (struct tm){ 0 };
        end = strptime(text, "%Y-%m-%dT%H:%MZ", &when);
    }
    if (end == NULL || *end != '\0')
        return false;
    *at_ms = (int64_t)timegm(&when) * 1000;
    return true;
}
