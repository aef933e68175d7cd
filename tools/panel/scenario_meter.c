#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "map_file.h"
#include "scenario_read.h"

static const char *const transports[] = { "tcp", "rtu", "rtu-over-tcp", NULL };
enum { TCP = 1 << TRANSPORT_TCP, RTU = 1 << TRANSPORT_RTU, RTU_TCP = 1 << TRANSPORT_RTU_TCP };

#define BUS(field) SETTING_AT(struct scenario_bus, field)
static const struct setting_rule bus_rules[] = {
    { "kind", SETTING_WORD, BUS(transport), .required = true, .words = transports },
    { "name", SETTING_TEXT, BUS(name), .required = true },
    { "address", SETTING_TEXT, BUS(address), .text = "127.0.0.1", .only = TCP | RTU_TCP },
    { "port", SETTING_WHOLE, BUS(port), .most = 65535, .only = TCP | RTU_TCP },
    { "clients", SETTING_WHOLE, BUS(clients), false, 1, 16, 16, .only = TCP | RTU_TCP },
    { "idle_close", SETTING_REAL, BUS(idle_close), .most = 86400, .only = TCP | RTU_TCP },
    { "link", SETTING_TEXT, BUS(link), .only = RTU },
    { "baud", SETTING_WHOLE, BUS(baud), .most = 4000000, .only = RTU },
    { "unknown_unit", SETTING_WHOLE, BUS(unknown_unit), false, 0, 255, -1 },
    { .key = "faults", .type = SETTING_LIST },
};
RULE_TABLE(bus_table, "a bus", bus_rules);

static const char *const measurables[] = { "grid",    "production", "consumption", "part", "branch",
                                           "battery", "weather",    "replay",      NULL };
static const char *const nights[] = { "answers", "silent", "absent", NULL };
enum {
    PART = 1 << MEASURES_PART,
    BRANCH = 1 << MEASURES_BRANCH,
    WEATHER = 1 << MEASURES_WEATHER,
    REPLAY = 1 << MEASURES_REPLAY
};

/* How a meter is written in the file. */
struct meter_text {
    struct scenario_meter meter;
    char bus[SCENARIO_NAME_SIZE];
    char map[CONFIG_PATH_SIZE], replay[CONFIG_PATH_SIZE];
    char sunspec[SCENARIO_NAME_SIZE];
    struct setting_bits modulus;
};

#define METER(field) SETTING_AT(struct meter_text, meter.field)
#define TEXT(field)  SETTING_AT(struct meter_text, field)
static const struct setting_rule meter_rules[] = {
    { "measures", SETTING_WORD, METER(measures), .required = true, .words = measurables },
    { "name", SETTING_TEXT, METER(name), .required = true },
    { "bus", SETTING_TEXT, TEXT(bus), .required = true },
    { "unit_id", SETTING_WHOLE, METER(unit_id), .required = true, .most = 255 },
    { "of", SETTING_TEXT, METER(of), .only = PART | BRANCH | WEATHER },
    { "phases_apart", SETTING_BOOL, METER(phases_apart) },
    { "reversed", SETTING_BOOL, METER(reversed) },
    { "ct_ratio", SETTING_WHOLE, METER(ct_ratio), false, 1, 10000, 1 },
    { "serial", SETTING_TEXT, METER(serial) },
    { "import_wh", SETTING_REAL, METER(import_wh), .most = 9e12 },
    { "export_wh", SETTING_REAL, METER(export_wh), .most = 9e12 },
    { "step_wh", SETTING_REAL, METER(step_wh), .most = 1e6 },
    { "modulus", SETTING_BITS, TEXT(modulus) },
    { "max_registers", SETTING_WHOLE, METER(max_registers), false, 1, MAP_MAX_REGISTERS, MAP_MAX_REGISTERS },
    { "refuse_cut", SETTING_BOOL, METER(refuse_cut) },
    { "delay_ms", SETTING_WHOLE, METER(delay_ms), .most = 60000 },
    { "night", SETTING_WORD, METER(night), .words = nights },
    { "power_gain", SETTING_REAL, METER(power_gain), .most = 1e7, .otherwise = 1 },
    { "map", SETTING_TEXT, TEXT(map) },
    { "sunspec", SETTING_TEXT, TEXT(sunspec) },
    { "sunspec_base", SETTING_WHOLE, METER(models.base), .most = 65000, .otherwise = 40000 },
    { "sunspec_common", SETTING_WHOLE, METER(models.common_length), false, 65, 66, 66 },
    { "sunspec_scale", SETTING_WHOLE, METER(models.power_exponent), .most = 6 },
    { "positive_is_export", SETTING_BOOL, METER(models.positive_is_export) },
    { "replay", SETTING_TEXT, TEXT(replay), .required = true, .only = REPLAY },
    { .key = "faults", .type = SETTING_LIST },
};
RULE_TABLE(meter_table, "a meter", meter_rules);

void scenario_read_buses(struct source *source, const config_setting_t *root, struct scenario *scenario)
{
    const config_setting_t *list =
        scenario_list(source, root, "buses", SCENARIO_MAX_BUSES, &scenario->bus_count);
    for (int i = 0; i < scenario->bus_count; i++) {
        const config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        struct scenario_bus *bus = &scenario->buses[i];
        setting_read(source, group, &bus_table, bus);
        if (bus->unknown_unit < 0) /* a gateway says so, a serial line is just silent */
            bus->unknown_unit = bus->transport == TRANSPORT_TCP ? 0x0B : 0;
        bus->fault_count = scenario_read_faults(source, group, bus, true, bus->faults);
        for (int k = 0; k < i; k++)
            if (strcmp(scenario->buses[k].name, bus->name) == 0)
                setting_complain(source, group, "name", true, "'name' is \"%s\" as of another bus",
                                 bus->name);
    }
}

/* "1, 103, 302" */
static void read_models(struct source *source, const config_setting_t *group, const char *text,
                        struct models_choice *choice)
{
    const char *at = text;
    while (*at != '\0' && choice->count < MODELS_MAX) {
        char *end;
        long id = strtol(at, &end, 10);
        if (end == at || id < 1 || id > 65534)
            break;
        choice->id[choice->count++] = (int32_t)id;
        at = end + strspn(end, ", ");
    }
    if (*at != '\0')
        setting_complain(source, group, "sunspec", true,
                         "'sunspec' is \"%s\", allowed: up to %d model numbers, as \"103, 302\"", text,
                         MODELS_MAX);
}

/* "of": the part or the branch that the meter measures. */
static void find_measured(struct source *source, const config_setting_t *group, const struct world *world,
                          struct scenario_meter *meter)
{
    bool branch = meter->measures == MEASURES_BRANCH;
    bool part =
        meter->measures == MEASURES_PART || (meter->measures == MEASURES_WEATHER && meter->of[0] != '\0');
    bool found = false;
    meter->part = -1;
    for (int i = 0; branch && i < world->load_count; i++)
        found = found || strcmp(world->loads[i].branch, meter->of) == 0;
    for (int i = 0; part && i < world->part_count; i++)
        if (strcmp(world->parts[i].name, meter->of) == 0) {
            meter->part = i;
            found = true;
        }
    if ((part || branch) && !found)
        setting_complain(source, group, "of", true, "'of' is \"%s\", allowed: the name of a %s above",
                         meter->of, part ? "part" : "branch of loads");
}

static void read_map(struct source *source, const config_setting_t *group, const char *path,
                     struct layout *layout, struct problems *problems)
{
    static struct register_map map; /* large */
    struct source file;
    map_file_read(&map, &file, path);
    if (!source_say(&file, problems))
        setting_complain(source, group, "map", true, "'map' cannot be used: '%s'", path);
    else if (map.walk)
        setting_complain(source, group, "map", true, "'map' is walked, use 'sunspec' with its models");
    else if (!layout_from_map(layout, &map))
        setting_complain(source, group, "map", true, "'map' has too many registers, allowed: %d",
                         LAYOUT_MAX_REGISTERS);
    source_close(&file);
}

static void find_layout(struct source *source, const config_setting_t *group, const struct scenario *scenario,
                        struct meter_text *text, struct problems *problems)
{
    struct scenario_meter *meter = &text->meter;
    char path[CONFIG_PATH_SIZE];
    meter->models.unit_id = meter->unit_id;
    if ((text->map[0] != '\0') == (text->sunspec[0] != '\0'))
        setting_complain(source, group, "map", true, "a meter has either a 'map' or 'sunspec' models");
    else if (text->map[0] != '\0' && path_beside(scenario->path, text->map, path))
        read_map(source, group, path, &meter->layout, problems);
    else if (!models_layout(&meter->layout, &meter->models))
        setting_complain(source, group, "sunspec", true, "'sunspec' models do not fit, allowed: fewer");
    if (text->modulus.given)
        meter->layout.counter_modulus = (int64_t)text->modulus.value;
}

static void find_replay(struct source *source, const config_setting_t *group, const struct scenario *scenario,
                        struct meter_text *text)
{
    char path[CONFIG_PATH_SIZE], why[300];
    if (text->replay[0] != '\0' && path_beside(scenario->path, text->replay, path) &&
        !replay_load(&text->meter.replay, path, why, sizeof why))
        setting_complain(source, group, "replay", true, "'replay' cannot be used: %s", why);
}

static void find_bus(struct source *source, const config_setting_t *group, const struct scenario *scenario,
                     int index, struct meter_text *text)
{
    struct scenario_meter *meter = &text->meter;
    meter->bus = -1;
    for (int i = 0; i < scenario->bus_count; i++)
        if (strcmp(scenario->buses[i].name, text->bus) == 0)
            meter->bus = i;
    if (meter->bus < 0)
        setting_complain(source, group, "bus", true, "'bus' is \"%s\", allowed: the name of a bus above",
                         text->bus);
    for (int i = 0; i < index && meter->bus >= 0; i++)
        if (scenario->meters[i].bus == meter->bus && scenario->meters[i].unit_id == meter->unit_id)
            setting_complain(source, group, "unit_id", true, "'unit_id' is %d, which \"%s\" has",
                             (int)meter->unit_id, scenario->meters[i].name);
}

void scenario_read_meters(struct source *source, const config_setting_t *root, struct scenario *scenario,
                          struct problems *problems)
{
    static struct meter_text text; /* large */
    static const struct scenario_bus no_bus = { 0 };
    int count;
    const config_setting_t *list = scenario_list(source, root, "meters", SCENARIO_MAX_METERS, &count);
    for (int i = 0; i < count; i++) {
        const config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        memset(&text, 0, sizeof text);
        setting_read(source, group, &meter_table, &text);
        read_models(source, group, text.sunspec, &text.meter.models);
        find_bus(source, group, scenario, i, &text);
        find_layout(source, group, scenario, &text, problems);
        find_measured(source, group, &scenario->world, &text.meter);
        find_replay(source, group, scenario, &text);
        const struct scenario_bus *bus = text.meter.bus >= 0 ? &scenario->buses[text.meter.bus] : &no_bus;
        text.meter.fault_count = scenario_read_faults(source, group, bus, false, text.meter.faults);
        scenario->meters[i] = text.meter;
        scenario->meter_count = i + 1;
    }
}
