#include "scenario.h"

#include <libgen.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "layout_file.h"

#define ROW_WHOLE(type, name, least, most) { #name, SETTING_WHOLE, offsetof(type, name), 0, false, least, most, NULL }
#define ROW_NUMBER(type, name, least, most) { #name, SETTING_NUMBER, offsetof(type, name), 0, false, least, most, NULL }
#define ROW_YES_NO(type, name) { #name, SETTING_YES_NO, offsetof(type, name), 0, false, 0, 0, NULL }
#define ROW_TEXT(type, name, key, needed)                                                                            \
    { key, SETTING_TEXT, offsetof(type, name), sizeof(((type *)0)->name), needed, 0, 0, NULL }
#define ROW_CHOICE(type, name, key, needed, words) { key, SETTING_CHOICE, offsetof(type, name), 0, needed, 0, 0, words }
#define ROW_OTHER(key, needed) { key, SETTING_OTHER, 0, 0, needed, 0, 0, NULL }
#define COUNT(table) (sizeof(table) / sizeof *(table))

enum { MAX_WATTS = 100000000 };

static const struct setting file_rows[] = {
    ROW_OTHER("site", true), ROW_OTHER("parts", false),   ROW_OTHER("loads", false),
    ROW_OTHER("battery", false), ROW_OTHER("buses", true), ROW_OTHER("meters", true),
};
static const struct setting site_rows[] = {
    ROW_TEXT(struct scenario, name, "name", true),
    ROW_TEXT(struct scenario, start, "start", false),
    ROW_WHOLE(struct scenario, step_ms, 10, 60000),
    { "seed", SETTING_WHOLE, offsetof(struct scenario, world.seed), 0, false, 0, 2147483647, NULL },
    { "latitude", SETTING_NUMBER, offsetof(struct scenario, world.latitude), 0, true, -90, 90, NULL },
    { "longitude", SETTING_NUMBER, offsetof(struct scenario, world.longitude), 0, true, -180, 180, NULL },
    { "utc_offset", SETTING_NUMBER, offsetof(struct scenario, world.utc_offset), 0, false, -14, 14, NULL },
    { "cloudiness", SETTING_NUMBER, offsetof(struct scenario, world.cloudiness), 0, false, 0, 1, NULL },
    { "voltage", SETTING_NUMBER, offsetof(struct scenario, world.voltage), 0, false, 50, 1000, NULL },
    { "frequency", SETTING_NUMBER, offsetof(struct scenario, world.frequency), 0, false, 40, 70, NULL },
    { "resistance", SETTING_NUMBER, offsetof(struct scenario, world.resistance), 0, false, 0, 5, NULL },
    { "temperature", SETTING_NUMBER, offsetof(struct scenario, world.temperature), 0, false, -50, 60, NULL },
    { "phases", SETTING_WHOLE, offsetof(struct scenario, world.phases), 0, false, 1, 3, NULL },
};
static const struct setting part_rows[] = {
    ROW_TEXT(struct world_part, name, "name", true),   ROW_WHOLE(struct world_part, peak_w, 1, MAX_WATTS),
    ROW_WHOLE(struct world_part, rated_w, 1, MAX_WATTS), ROW_WHOLE(struct world_part, standby_w, 0, 1000),
    ROW_WHOLE(struct world_part, phase, 0, 3),         ROW_NUMBER(struct world_part, azimuth, 0, 360),
    ROW_NUMBER(struct world_part, tilt, 0, 90),        ROW_NUMBER(struct world_part, losses, 0, 1),
};
/* How a load is written in the file. */
struct load_text {
    struct world_load load;
    char from[8], to[8];
    int64_t w;
    double on_s;
};
static const struct setting load_rows[] = {
    ROW_TEXT(struct load_text, load.name, "name", true),
    ROW_TEXT(struct load_text, load.branch, "branch", false),
    ROW_CHOICE(struct load_text, load.kind, "kind", true, "constant cycle events"),
    { "phase", SETTING_WHOLE, offsetof(struct load_text, load.phase), 0, false, 0, 3, NULL },
    { "reactive", SETTING_NUMBER, offsetof(struct load_text, load.reactive), 0, false, -5, 5, NULL },
    { "period_s", SETTING_NUMBER, offsetof(struct load_text, load.period_s), 0, false, 1, 604800, NULL },
    { "per_day", SETTING_WHOLE, offsetof(struct load_text, load.per_day), 0, false, 1, 48, NULL },
    ROW_TEXT(struct load_text, from, "from", false),
    ROW_TEXT(struct load_text, to, "to", false),
    ROW_WHOLE(struct load_text, w, 0, MAX_WATTS),
    ROW_NUMBER(struct load_text, on_s, 1, 86400),
    ROW_OTHER("profile", false),
};
static const struct setting battery_rows[] = {
    ROW_WHOLE(struct scenario_battery, power_w, 1, MAX_WATTS),
    ROW_NUMBER(struct scenario_battery, capacity_wh, 1, 1e9),
    ROW_NUMBER(struct scenario_battery, charged, 0, 1),
    ROW_NUMBER(struct scenario_battery, loss, 0, 0.9),
    ROW_WHOLE(struct scenario_battery, phase, 0, 3),
};
static const struct setting bus_rows[] = {
    ROW_TEXT(struct scenario_bus, name, "name", true),
    ROW_CHOICE(struct scenario_bus, transport, "kind", true, "tcp rtu rtu_tcp"),
    ROW_TEXT(struct scenario_bus, address, "address", false),
    ROW_WHOLE(struct scenario_bus, port, 0, 65535),
    ROW_TEXT(struct scenario_bus, link, "link", false),
    ROW_WHOLE(struct scenario_bus, clients, 1, 16),
    ROW_NUMBER(struct scenario_bus, idle_close, 0, 86400),
    ROW_WHOLE(struct scenario_bus, unknown_unit, 0, 255),
    ROW_WHOLE(struct scenario_bus, baud, 0, 4000000),
    ROW_OTHER("faults", false),
};
static const struct setting meter_rows[] = {
    ROW_TEXT(struct scenario_meter, name, "name", true),
    ROW_TEXT(struct scenario_meter, bus_name, "bus", true),
    { "unit_id", SETTING_WHOLE, offsetof(struct scenario_meter, unit_id), 0, true, 0, 255, NULL },
    ROW_CHOICE(struct scenario_meter, measures, "measures", true,
               "grid production consumption part branch battery weather replay"),
    ROW_TEXT(struct scenario_meter, of, "of", false),
    ROW_YES_NO(struct scenario_meter, phases_apart),
    ROW_YES_NO(struct scenario_meter, reversed),
    ROW_WHOLE(struct scenario_meter, ct_ratio, 1, 10000),
    ROW_TEXT(struct scenario_meter, serial, "serial", false),
    ROW_NUMBER(struct scenario_meter, import_wh, 0, 9e12),
    ROW_NUMBER(struct scenario_meter, export_wh, 0, 9e12),
    ROW_NUMBER(struct scenario_meter, step_wh, 0, 1e6),
    ROW_WHOLE(struct scenario_meter, modulus, 0, 9e15),
    ROW_WHOLE(struct scenario_meter, max_registers, 1, 125),
    ROW_YES_NO(struct scenario_meter, refuse_cut),
    ROW_WHOLE(struct scenario_meter, delay_ms, 0, 60000),
    ROW_CHOICE(struct scenario_meter, night, "night", false, "answers silent absent"),
    ROW_NUMBER(struct scenario_meter, power_gain, 0, 10),
    ROW_TEXT(struct scenario_meter, map, "map", false),
    ROW_OTHER("sunspec", false),
    { "sunspec_base", SETTING_WHOLE, offsetof(struct scenario_meter, models.base), 0, false, 0, 65000, NULL },
    { "sunspec_common", SETTING_WHOLE, offsetof(struct scenario_meter, models.common_length), 0, false, 65, 66, NULL },
    { "sunspec_scale", SETTING_WHOLE, offsetof(struct scenario_meter, models.power_exponent), 0, false, 0, 6, NULL },
    { "positive_is_export", SETTING_YES_NO, offsetof(struct scenario_meter, models.positive_is_export), 0, false, 0, 0,
      NULL },
    ROW_TEXT(struct scenario_meter, replay_path, "replay", false),
    ROW_OTHER("faults", false),
};

static bool fault_allowed(const struct fault_info *info, const struct scenario_bus *bus, bool on_bus)
{
    if ((info->where & (on_bus ? FAULT_ON_BUS : FAULT_ON_METER)) == 0)
        return false;
    bool mbap = bus->transport == TRANSPORT_TCP;
    return !((info->where & FAULT_RTU_ONLY) != 0 && mbap) && !((info->where & FAULT_MBAP_ONLY) != 0 && !mbap);
}

static void fault_names(const struct scenario_bus *bus, bool on_bus, char *names, size_t size)
{
    names[0] = '\0';
    for (int kind = 0; kind < FAULT_KIND_COUNT; kind++) {
        size_t used = strlen(names);
        if (fault_allowed(&fault_infos[kind], bus, on_bus))
            snprintf(names + used, size - used, "%s%s", used > 0 ? " " : "", fault_infos[kind].name);
    }
}

static void read_fault(struct complaints *complaints, const config_setting_t *group, const struct scenario_bus *bus,
                       bool on_bus, struct fault *fault)
{
    char kinds[400];
    const char *kind_name = NULL;
    *fault = (struct fault){ .to = -1 };
    fault_names(bus, on_bus, kinds, sizeof kinds);
    int kind = 0;
    if (config_setting_is_group(group) && config_setting_lookup_string(group, "kind", &kind_name))
        while (kind < FAULT_KIND_COUNT && (strcmp(fault_infos[kind].name, kind_name) != 0 ||
                                           !fault_allowed(&fault_infos[kind], bus, on_bus)))
            kind++;
    if (kind_name == NULL || kind == FAULT_KIND_COUNT) {
        complain(complaints, group, "kind of fault is \"%s\", allowed here is one of: %s",
                 kind_name != NULL ? kind_name : "", kinds);
        return;
    }
    const struct fault_info *info = &fault_infos[kind];
    fault->kind = kind;
    fault->number = info->default_value;
    /* the rows differ from kind to kind: its number has its own name, a new meter has registers */
    struct setting rows[12] = {
        ROW_OTHER("kind", true),
        ROW_NUMBER(struct fault, from, 0, 1e9),
        ROW_NUMBER(struct fault, to, 0, 1e9),
        ROW_NUMBER(struct fault, every, 0.001, 1e9),
        { "for", SETTING_NUMBER, offsetof(struct fault, lasting), 0, false, 0.001, 1e9, NULL },
        ROW_WHOLE(struct fault, nth, 1, 1000000),
        ROW_WHOLE(struct fault, times, 1, 1000000),
    };
    size_t count = 7;
    if (info->number[0] != '\0')
        rows[count++] = (struct setting){ info->number, SETTING_WHOLE, offsetof(struct fault, number), 0, false,
                                          (double)info->min, (double)info->max, NULL };
    if (kind == FAULT_EXCHANGE) {
        rows[count++] = (struct setting)ROW_TEXT(struct fault, serial, "serial", true);
        rows[count++] = (struct setting)ROW_NUMBER(struct fault, import_wh, 0, 9e12);
        rows[count++] = (struct setting)ROW_NUMBER(struct fault, export_wh, 0, 9e12);
    }
    settings_read(complaints, group, rows, count, fault);
    if ((fault->every > 0) != (fault->lasting > 0))
        complain(complaints, group, "every and for belong together: every 60 s, for 5 s");
}

static int read_faults(struct complaints *complaints, const config_setting_t *group, const struct scenario_bus *bus,
                       bool on_bus, struct fault *faults)
{
    config_setting_t *list = settings_list(complaints, group, "faults", FAULT_MAX);
    int count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < count; i++)
        read_fault(complaints, config_setting_get_elem(list, (unsigned)i), bus, on_bus, &faults[i]);
    return count;
}

static void read_parts(struct complaints *complaints, const config_setting_t *root, struct world *world)
{
    config_setting_t *list = settings_list(complaints, root, "parts", WORLD_MAX_PARTS);
    int count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < count; i++) {
        struct world_part *part = &world->parts[i];
        *part = (struct world_part){ .azimuth = 180, .tilt = 30, .losses = 0.12 };
        settings_read(complaints, config_setting_get_elem(list, (unsigned)i), part_rows, COUNT(part_rows), part);
        if (part->rated_w == 0)
            part->rated_w = part->peak_w;
    }
    world->part_count = count;
}

static void read_profile(struct complaints *complaints, const config_setting_t *group, struct world_load *load)
{
    config_setting_t *list = settings_list(complaints, group, "profile", WORLD_MAX_PROFILE);
    load->profile_count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < load->profile_count; i++) {
        config_setting_t *pair = config_setting_get_elem(list, (unsigned)i);
        bool good = (config_setting_is_list(pair) || config_setting_is_array(pair)) && config_setting_length(pair) == 2;
        load->profile_s[i] = good ? config_setting_get_int_elem(pair, 0) : 0;
        load->profile_w[i] = good ? config_setting_get_int_elem(pair, 1) : -1;
        if (load->profile_s[i] < 1 || load->profile_s[i] > 86400 || load->profile_w[i] < 0)
            complain(complaints, list, "profile has a wrong entry, allowed is ( ( seconds, watts ), ... )");
    }
}

static void read_loads(struct complaints *complaints, const config_setting_t *root, struct world *world)
{
    config_setting_t *list = settings_list(complaints, root, "loads", WORLD_MAX_LOADS);
    int count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < count; i++) {
        config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        struct load_text text = { .from = "00:00", .to = "24:00", .w = -1, .on_s = 86400 };
        text.load.per_day = 1;
        settings_read(complaints, group, load_rows, COUNT(load_rows), &text);
        struct world_load *load = &world->loads[i];
        *load = text.load;
        if (config_setting_is_group(group))
            read_profile(complaints, group, load);
        if ((load->profile_count > 0) == (text.w >= 0))
            complain(complaints, group, "a load has either w (and on_s) or a profile");
        if (text.w >= 0) {
            load->profile_count = 1;
            load->profile_s[0] = text.on_s;
            load->profile_w[0] = text.w;
        }
        if (load->kind == LOAD_CYCLE && load->period_s <= 0)
            complain(complaints, group, "period_s is missing");
        load->from_hour = settings_hour(text.from);
        load->to_hour = settings_hour(text.to);
        if (load->from_hour < 0 || load->to_hour <= load->from_hour)
            complain(complaints, group, "from and to are not \"HH:MM\" within one day, from before to");
    }
    world->load_count = count;
}

static void read_buses(struct complaints *complaints, const config_setting_t *root, struct scenario *scenario)
{
    config_setting_t *list = settings_list(complaints, root, "buses", SCENARIO_MAX_BUSES);
    int count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < count; i++) {
        config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        struct scenario_bus *bus = &scenario->buses[i];
        *bus = (struct scenario_bus){ .address = "127.0.0.1", .clients = 16, .unknown_unit = -1 };
        settings_read(complaints, group, bus_rows, COUNT(bus_rows), bus);
        if (bus->unknown_unit < 0) /* a gateway says so, a serial line is just silent */
            bus->unknown_unit = bus->transport == TRANSPORT_TCP ? 0x0B : 0;
        if (config_setting_is_group(group))
            bus->fault_count = read_faults(complaints, group, bus, true, bus->faults);
    }
    scenario->bus_count = count;
}

static void read_models(struct complaints *complaints, const config_setting_t *group, struct models_choice *choice)
{
    config_setting_t *list = settings_list(complaints, group, "sunspec", MODELS_MAX);
    choice->count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < choice->count; i++) {
        choice->id[i] = config_setting_get_int_elem(list, i);
        if (choice->id[i] < 1 || choice->id[i] > 65534)
            complain(complaints, list, "sunspec has a wrong model number, allowed are 1 to 65534");
    }
}

/* "of": the part or the branch that the meter measures. */
static void find_measured(struct complaints *complaints, const config_setting_t *group, const struct world *world,
                          struct scenario_meter *meter)
{
    bool found = false;
    for (int i = 0; meter->measures == MEASURES_BRANCH && i < world->load_count; i++)
        found = found || strcmp(world->loads[i].branch, meter->of) == 0;
    bool may_be_part = meter->measures == MEASURES_PART || (meter->measures == MEASURES_WEATHER && meter->of[0] != '\0');
    for (int i = 0; may_be_part && i < world->part_count; i++)
        if (strcmp(world->parts[i].name, meter->of) == 0) {
            meter->part = i;
            found = true;
        }
    if ((may_be_part || meter->measures == MEASURES_BRANCH) && !found)
        complain(complaints, group, "of is \"%s\", allowed is the name of a %s above", meter->of,
                 may_be_part ? "part" : "branch of loads");
}

static void find_layout(struct complaints *complaints, const config_setting_t *group, const struct scenario *scenario,
                        struct scenario_meter *meter)
{
    if ((meter->map[0] != '\0') == (meter->models.count > 0)) {
        complain(complaints, group, "a meter has either a map or a list of sunspec models");
    } else if (meter->map[0] != '\0') {
        layout_file_read(complaints, group, scenario->path, meter->map, &meter->layout);
    } else {
        meter->models.unit_id = meter->unit_id;
        if (!models_layout(&meter->layout, &meter->models))
            complain(complaints, group, "the sunspec models do not fit, fewer are allowed");
    }
    if (meter->modulus > 0)
        meter->layout.counter_modulus = meter->modulus;
}

static void read_meter(struct complaints *complaints, const config_setting_t *group, struct scenario *scenario,
                       struct scenario_meter *meter)
{
    *meter = (struct scenario_meter){ .bus = -1, .part = -1, .ct_ratio = 1, .max_registers = MAP_MAX_REGISTERS,
                                      .power_gain = 1, .models = { .base = 40000, .common_length = 66 } };
    settings_read(complaints, group, meter_rows, COUNT(meter_rows), meter);
    if (!config_setting_is_group(group))
        return;
    for (int i = 0; i < scenario->bus_count; i++)
        if (strcmp(scenario->buses[i].name, meter->bus_name) == 0)
            meter->bus = i;
    if (meter->bus < 0) {
        complain(complaints, group, "bus is \"%s\", allowed is the name of a bus above", meter->bus_name);
        return;
    }
    for (const struct scenario_meter *other = scenario->meters; other < meter; other++)
        if (other->bus == meter->bus && other->unit_id == meter->unit_id)
            complain(complaints, group, "unit_id %d is taken by \"%s\"", (int)meter->unit_id, other->name);
    read_models(complaints, group, &meter->models);
    find_layout(complaints, group, scenario, meter);
    find_measured(complaints, group, &scenario->world, meter);
    meter->fault_count = read_faults(complaints, group, &scenario->buses[meter->bus], false, meter->faults);
    if ((meter->replay_path[0] != '\0') != (meter->measures == MEASURES_REPLAY)) {
        complain(complaints, group, "replay belongs to measures = \"replay\" and nothing else");
    } else if (meter->replay_path[0] != '\0') {
        char path[2 * SCENARIO_PATH_SIZE], why[300];
        layout_file_beside(scenario->path, meter->replay_path, path, sizeof path);
        if (!replay_load(&meter->replay, path, why, sizeof why))
            complain(complaints, group, "%s", why);
    }
}

static void read_meters(struct complaints *complaints, const config_setting_t *root, struct scenario *scenario)
{
    config_setting_t *list = settings_list(complaints, root, "meters", SCENARIO_MAX_METERS);
    int count = list != NULL ? config_setting_length(list) : 0;
    for (int i = 0; i < count; i++) {
        read_meter(complaints, config_setting_get_elem(list, (unsigned)i), scenario, &scenario->meters[i]);
        scenario->meter_count = i + 1;
    }
}

static void read_site(struct complaints *complaints, const config_setting_t *root, struct scenario *scenario)
{
    config_setting_t *site = config_setting_get_member(root, "site");
    struct world *world = &scenario->world;
    world->voltage = 230;
    world->frequency = 50;
    world->resistance = 0.3;
    world->temperature = 14;
    world->cloudiness = 0.35;
    world->phases = 3;
    scenario->step_ms = 100;
    snprintf(scenario->start, sizeof scenario->start, "now");
    if (site == NULL)
        return;
    settings_read(complaints, site, site_rows, COUNT(site_rows), scenario);
    if (world->phases == 2)
        complain(complaints, site, "phases is 2, allowed is 1 or 3");
    if (!scenario_instant(scenario, scenario->start, &scenario->start_ms))
        complain(complaints, site, "start is \"%s\", allowed is \"now\", \"HH:MM\" or \"2026-06-21T04:00:00Z\"",
                 scenario->start);
}

static void read_file(struct complaints *complaints, const config_setting_t *root, struct scenario *scenario)
{
    settings_read(complaints, root, file_rows, COUNT(file_rows), scenario);
    read_site(complaints, root, scenario);
    read_parts(complaints, root, &scenario->world);
    read_loads(complaints, root, &scenario->world);
    config_setting_t *battery = config_setting_get_member(root, "battery");
    scenario->battery.charged = 0.5;
    scenario->battery.loss = 0.1;
    if (battery != NULL)
        settings_read(complaints, battery, battery_rows, COUNT(battery_rows), &scenario->battery);
    read_buses(complaints, root, scenario);
    read_meters(complaints, root, scenario);
}

struct scenario *scenario_load(const char *path, struct complaints *complaints)
{
    struct scenario *scenario = calloc(1, sizeof *scenario);
    config_t config;

    complaints->path = path;
    if (scenario == NULL) {
        complain(complaints, NULL, "out of memory");
        return NULL;
    }
    snprintf(scenario->path, sizeof scenario->path, "%s", path);
    config_init(&config);
    if (config_read_file(&config, path))
        read_file(complaints, config_root_setting(&config), scenario);
    else if (config_error_type(&config) == CONFIG_ERR_FILE_IO)
        complain(complaints, NULL, "cannot be read");
    else
        complain(complaints, NULL, "line %d: %s", config_error_line(&config), config_error_text(&config));
    config_destroy(&config);
    if (complaints->errors > 0) {
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
    double hour = settings_hour(text);
    if (hour >= 0) {
        int64_t offset_ms = llround(scenario->world.utc_offset * 3600000);
        int64_t local_ms = (scenario->start_ms > 0 ? scenario->start_ms : (int64_t)time(NULL) * 1000) + offset_ms;
        *at_ms = local_ms - local_ms % 86400000 + llround(hour * 3600000) - offset_ms;
        return true;
    }
    const char *end = strptime(text, "%Y-%m-%dT%H:%M:%SZ", &when);
    if (end == NULL || *end != '\0')
        end = strptime(text, "%Y-%m-%dT%H:%MZ", &when);
    if (end == NULL || *end != '\0')
        return false;
    *at_ms = (int64_t)timegm(&when) * 1000;
    return true;
}
