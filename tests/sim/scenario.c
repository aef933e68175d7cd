#include "scenario.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "setting.h"

static const char *const roles[] = { "production", "grid",      "consumption", "branch", "part",
                                     "storage",    "generator", "weather",     NULL };
static const char *const kinds[] = { "rtu", "tcp", "rtu_tcp", NULL };
static const char *const forms[] = { "uint64", "uint32", "float32", NULL };
static const char *const trusts[] = { "network", "battery", NULL };
static const char *const counters[] = { "import", "export", NULL };
static const char *const eaches[] = { "none", "cut", "write", "full", "fsync", NULL };
static const char *names[33]; /* of the happenings */

#define WHOLE(owner, member, key_, least_, most_, usual)                                                     \
    {                                                                                                        \
        .key = key_, .type = SETTING_WHOLE, SETTING_AT(owner, member), .least = least_, .most = most_,       \
        .otherwise = usual                                                                                   \
    }
#define WORD(owner, member, key_, words_, usual)                                                             \
    {                                                                                                        \
        .key = key_, .type = SETTING_WORD, SETTING_AT(owner, member), .words = words_, .otherwise = usual    \
    }
#define TABLE(variable, what, rules)                                                                         \
    static const struct setting_table variable = { what, rules, sizeof(rules) / sizeof *(rules) }

static const struct setting_rule root_rules[] = {
    { .key = "checks", .type = SETTING_TEXT, SETTING_AT(struct scenario, checks), .required = true },
    { .key = "start",
      .type = SETTING_TEXT,
      SETTING_AT(struct scenario, start),
      .text = "2026-09-21T12:00:00Z" },
    WHOLE(struct scenario, seconds, "seconds", 1, 400 * 86400, 7200),
    WORD(struct scenario, each, "each", eaches, EACH_NONE),
    WHOLE(struct scenario, each_from_s, "each_from", 0, 400 * 86400, 0),
    WHOLE(struct scenario, each_calls, "each_calls", 1, 100, 1),
    WHOLE(struct scenario, cut_off_s, "cut_off", 0, 86400, 30),
    { .key = "site", .type = SETTING_GROUP },
    { .key = "buses", .type = SETTING_LIST },
    { .key = "meters", .type = SETTING_LIST, .required = true },
    { .key = "events", .type = SETTING_LIST },
    { .key = "expect", .type = SETTING_LIST },
};
TABLE(root_table, "the scenario", root_rules);

static const struct setting_rule site_rules[] = {
    { .key = "zone", .type = SETTING_TEXT, SETTING_AT(struct scenario, site.zone), .text = "Europe/Paris" },
    WHOLE(struct scenario, site.interval_s, "interval", 10, 3600, 300),
    WHOLE(struct scenario, site.poll_ms, "poll_ms", 200, 60000, 1000),
    WHOLE(struct scenario, site.commit_s, "commit", 0, 3600, 0),
    WORD(struct scenario, site.trust, "trust", trusts, TRUST_NETWORK),
    { .key = "synchronised",
      .type = SETTING_BOOL,
      SETTING_AT(struct scenario, site.synchronised),
      .otherwise = 1 },
    WHOLE(struct scenario, site.clock_error_s, "clock_error", -2000000000, 2000000000, 0),
};
TABLE(site_table, "the site", site_rules);

static const struct setting_rule bus_rules[] = {
    WORD(struct scenario_bus, kind, "kind", kinds, BUS_TCP),
    WHOLE(struct scenario_bus, baud, "baud", 1200, 115200, 9600),
    WHOLE(struct scenario_bus, listen_ms, "listen_ms", 0, 60000, 0),
    { .key = "close_after_cycle", .type = SETTING_BOOL, SETTING_AT(struct scenario_bus, close_after_cycle) },
};
TABLE(bus_table, "the bus", bus_rules);

static const struct setting_rule meter_rules[] = {
    WORD(struct scenario_meter, role, "role", roles, ROLE_BRANCH),
    WHOLE(struct scenario_meter, bus, "bus", 1, SIM_BUSES, 1),
    WORD(struct scenario_meter, form, "form", forms, FORM_UINT64),
    WHOLE(struct scenario_meter, step, "step_mwh", 1, 10000000, 1000),
    WHOLE(struct scenario_meter, watts, "watts", -20000, 20000, 20001),
    WHOLE(struct scenario_meter, error_ppm, "error_ppm", -50000, 50000, 0),
    WHOLE(struct scenario_meter, modulus_kwh, "modulus_kwh", 1, 1000000000, 0),
    WORD(struct scenario_meter, delivers, "delivers", counters, 0),
    { .key = "import_kwh",
      .type = SETTING_REAL,
      SETTING_AT(struct scenario_meter, import_kwh),
      .least = 0,
      .most = 1e9,
      .otherwise = 1000 },
    { .key = "export_kwh",
      .type = SETTING_REAL,
      SETTING_AT(struct scenario_meter, export_kwh),
      .least = 0,
      .most = 1e9,
      .otherwise = 1000 },
};
TABLE(meter_table, "the meter", meter_rules);

static const struct setting_rule expectation_rules[] = {
    { .key = "says", .type = SETTING_TEXT, SETTING_AT(struct scenario_expectation, says), .required = true },
    { .key = "sql", .type = SETTING_TEXT, SETTING_AT(struct scenario_expectation, sql), .required = true },
    { .key = "least",
      .type = SETTING_REAL,
      SETTING_AT(struct scenario_expectation, least),
      .least = -1e18,
      .most = 1e18,
      .otherwise = -1e18 },
    { .key = "most",
      .type = SETTING_REAL,
      SETTING_AT(struct scenario_expectation, most),
      .least = -1e18,
      .most = 1e18,
      .otherwise = 1e18 },
};
TABLE(expectation_table, "the expectation", expectation_rules);

/* ---- events: their rules follow from the table of happenings ---- */

enum { EVENT_FIXED = 4 };

static const struct setting_rule event_rules[EVENT_FIXED] = {
    { .key = "do",
      .type = SETTING_WORD,
      SETTING_AT(struct scenario_event, what),
      .required = true,
      .words = names },
    WHOLE(struct scenario_event, at_s, "at", 0, 400 * 86400, 0),
    WHOLE(struct scenario_event, every_s, "every", 1, 400 * 86400, 0),
    WHOLE(struct scenario_event, times, "times", 1, 100000, 1),
};

static uint32_t kinds_that_take(int argument)
{
    uint32_t only = 0;
    for (int i = 0; happenings[i].name; i++)
        if ((happenings[i].needs | happenings[i].takes) & 1U << argument)
            only |= 1U << i;
    return only;
}

static void read_event(struct source *source, const config_setting_t *group, struct scenario_event *event)
{
    struct setting_rule rules[EVENT_FIXED + ARG_COUNT];
    struct setting_table table = { "the event", rules, EVENT_FIXED + ARG_COUNT };
    memcpy(rules, event_rules, sizeof event_rules);
    for (int i = 0; i < ARG_COUNT; i++) {
        struct setting_rule *rule = &rules[EVENT_FIXED + i];
        *rule = (struct setting_rule){ .key = happening_arguments[i],
                                       .type = SETTING_WHOLE,
                                       .offset = offsetof(struct scenario_event, argument.number) +
                                                 sizeof(int32_t) * (size_t)i,
                                       .size = sizeof(int32_t),
                                       .least = -2147483647,
                                       .most = 2147483647,
                                       .only = kinds_that_take(i) };
        if (i == ARG_ON)
            *rule = (struct setting_rule){ .key = "on",
                                           .type = SETTING_BOOL,
                                           SETTING_AT(struct scenario_event, argument.on),
                                           .only = rule->only };
        if (i == ARG_COUNTER)
            *rule = (struct setting_rule){ .key = "counter",
                                           .type = SETTING_WORD,
                                           .offset = rule->offset,
                                           .size = rule->size,
                                           .words = counters,
                                           .only = rule->only };
    }
    setting_read(source, group, &table, event);
    if (event->what < 0 || !config_setting_get_member(group, "do"))
        return;
    for (int i = 0; i < ARG_COUNT; i++)
        if (happenings[event->what].needs & 1U << i &&
            !config_setting_get_member(group, happening_arguments[i]))
            setting_complain(source, group, "do", true, "'%s' is missing, required where 'do' is \"%s\"",
                             happening_arguments[i], happenings[event->what].name);
    event->argument.number[ARG_ON] = event->argument.on;
}

/* Meters and buses are counted from 1 in the file. */
static void place_event(struct source *source, const config_setting_t *group, const struct scenario *scenario,
                        struct scenario_event *event)
{
    const int32_t most[ARG_COUNT] = { [ARG_METER] = scenario->meter_count, [ARG_BUS] = scenario->bus_count };
    for (int i = ARG_METER; i <= ARG_BUS; i++) {
        if (!config_setting_get_member(group, happening_arguments[i]))
            continue;
        int32_t number = event->argument.number[i]--;
        if (number < 1 || number > most[i])
            setting_complain(source, group, happening_arguments[i], true, "'%s' is %d, allowed: 1 to %d",
                             happening_arguments[i], (int)number, (int)most[i]);
    }
}

/* ---- the file ---- */

static int32_t list_length(struct source *source, const config_setting_t *root, const char *key, int32_t most)
{
    const config_setting_t *list = config_setting_get_member(root, key);
    int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
    if (count <= most)
        return count;
    setting_complain(source, root, key, true, "'%s' has %d, allowed: at most %d", key, (int)count, (int)most);
    return 0;
}

static config_setting_t *item(const config_setting_t *root, const char *key, int32_t i)
{
    return config_setting_get_elem(config_setting_get_member(root, key), (unsigned)i);
}

static int by_instant(const void *a, const void *b)
{
    const struct scenario_event *first = a, *second = b;
    return (first->at_s > second->at_s) - (first->at_s < second->at_s);
}

static void read_lists(struct source *source, const config_setting_t *root, struct scenario *scenario)
{
    scenario->bus_count = list_length(source, root, "buses", SIM_BUSES);
    for (int32_t i = 0; i < scenario->bus_count; i++)
        setting_read(source, item(root, "buses", i), &bus_table, &scenario->buses[i]);
    if (scenario->bus_count == 0)
        setting_read(source, NULL, &bus_table, &scenario->buses[scenario->bus_count++]);
    scenario->meter_count = list_length(source, root, "meters", SIM_METERS);
    for (int32_t i = 0; i < scenario->meter_count; i++) {
        struct scenario_meter *meter = &scenario->meters[i];
        setting_read(source, item(root, "meters", i), &meter_table, meter);
        if (meter->bus-- > scenario->bus_count)
            setting_complain(source, item(root, "meters", i), "bus", true, "'bus' is %d, allowed: 1 to %d",
                             (int)meter->bus + 1, (int)scenario->bus_count);
    }
    scenario->event_count = list_length(source, root, "events", SCENARIO_EVENTS);
    for (int32_t i = 0; i < scenario->event_count; i++) {
        read_event(source, item(root, "events", i), &scenario->events[i]);
        place_event(source, item(root, "events", i), scenario, &scenario->events[i]);
    }
    scenario->expectation_count = list_length(source, root, "expect", SCENARIO_EXPECTATIONS);
    for (int32_t i = 0; i < scenario->expectation_count; i++)
        setting_read(source, item(root, "expect", i), &expectation_table, &scenario->expectations[i]);
}

static void read_root(struct source *source, const config_setting_t *root, struct scenario *scenario)
{
    struct tm parts = { 0 };
    setting_read(source, root, &root_table, scenario);
    setting_read(source, config_setting_get_member(root, "site"), &site_table, scenario);
    const char *rest = strptime(scenario->start, "%Y-%m-%dT%H:%M:%SZ", &parts);
    if (!rest || *rest)
        setting_complain(source, root, "start", true, "'start' is \"%s\", allowed: \"2026-09-21T12:00:00Z\"",
                         scenario->start);
    scenario->start_ms = 1000 * (int64_t)timegm(&parts);
    read_lists(source, root, scenario);
}

bool scenario_read(struct scenario *scenario, const char *path, struct problems *problems)
{
    struct source source;
    config_t parsed;
    memset(scenario, 0, sizeof *scenario);
    for (int i = 0; happenings[i].name; i++)
        names[i] = happenings[i].name;
    config_init(&parsed);
    source_read(&source, path);
    if (!source_has_error(&source) && setting_parse(&source, &parsed))
        read_root(&source, config_root_setting(&parsed), scenario);
    bool good = source_say(&source, problems);
    source_close(&source);
    config_destroy(&parsed);
    qsort(scenario->events, (size_t)scenario->event_count, sizeof scenario->events[0], by_instant);
    return good;
}
