#include "config_file.h"

#define COUNT(rules) (sizeof(rules) / sizeof(rules)[0])
#define ROLE(name)   (UINT32_C(1) << ROLE_##name)
#define BUS(name)    (UINT32_C(1) << BUS_##name)

const char map_sunspec[] = "sunspec";

const char *const role_words[] = { "production", "grid",      "consumption", "branch", "part",
                                   "storage",    "generator", "weather",     NULL };
const char *const bus_kind_words[] = { "rtu", "tcp", "rtu-over-tcp", NULL };

_Static_assert(COUNT(role_words) == ROLE_COUNT + 1, "a word per role");
_Static_assert(COUNT(bus_kind_words) == BUS_KIND_COUNT + 1, "a word per kind");
/* Words go to enums and bools by their index. */
_Static_assert(sizeof(enum meter_role) == sizeof(int32_t) && sizeof(bool) == 1, "fields of a WORD");

static const char *const trust_words[] = { "network", "battery", NULL };
static const char *const parity_words[] = { "even", "odd", "none", NULL };
static const char *const direction_words[] = { "forward", "reversed", NULL };
static const char *const delivers_words[] = { "import", "export", NULL };
static const char *const connection_words[] = { "behind", "gross", NULL };
static const char *const phase_words[] = { "netted", "apart", NULL };

static const struct setting_rule root_rules[] = {
    { "site", SETTING_GROUP, .required = true },          { "record", SETTING_GROUP, .required = false },
    { "buses", SETTING_LIST, .required = true },          { "meters", SETTING_LIST, .required = true },
    { "sealed_meters", SETTING_LIST, .required = false }, { "checks", SETTING_GROUP, .required = false },
    { "supply", SETTING_GROUP, .required = false },       { "expected", SETTING_GROUP, .required = false },
};

#define SITE(field) SETTING_AT(struct config_site, field)
static const struct setting_rule site_rules[] = {
    { "name", SETTING_TEXT, SITE(name), .required = true },
    { "time_zone", SETTING_TEXT, SITE(time_zone), .required = true },
    { "latitude", SETTING_REAL, SITE(latitude), .required = true, .least = -90, .most = 90 },
    { "longitude", SETTING_REAL, SITE(longitude), .required = true, .least = -180, .most = 180 },
    { "interval", SETTING_WHOLE, SITE(interval_s), .least = 10, .most = 3600, .otherwise = 300 },
    { "poll_period", SETTING_SCALED, SITE(poll_period_ms), .least = 0.2, .most = 60, .otherwise = 1,
      .factor = 1000 },
    { "commit_every", SETTING_WHOLE, SITE(commit_s), .least = 0, .most = 3600, .otherwise = 300 },
    { "clock_trust", SETTING_WORD, SITE(clock_trust), .words = trust_words },
    { "voltage_min", SETTING_REAL, SITE(voltage_min), .least = 0, .most = 1e6, .otherwise = 80 },
    { "voltage_max", SETTING_REAL, SITE(voltage_max), .least = 0, .most = 1e6, .otherwise = 300 },
    { "frequency_min", SETTING_REAL, SITE(frequency_min), .least = 0, .most = 400, .otherwise = 45 },
    { "frequency_max", SETTING_REAL, SITE(frequency_max), .least = 0, .most = 400, .otherwise = 65 },
    { "outage_voltage", SETTING_REAL, SITE(outage_voltage), .least = 0, .most = 1e6, .otherwise = 23 },
};

#define RECORD(field) SETTING_AT(struct config_file, record.field)
static const struct setting_rule record_rules[] = {
    { "database", SETTING_TEXT, RECORD(database), .text = "/var/lib/meterbook/record.db" },
    { "runtime", SETTING_TEXT, RECORD(runtime), .text = "/run/meterbook" },
    { "logbook", SETTING_TEXT, RECORD(logbook) },
    { "contract", SETTING_TEXT, RECORD(contract) },
};

#define SERIAL      (BUS(RTU))
#define NET         (BUS(TCP) | BUS(RTU_TCP))
#define LINE(field) SETTING_AT(struct bus_entry, field)
static const struct setting_rule bus_rules[] = {
    { "kind", SETTING_WORD, LINE(bus.kind), .required = true, .words = bus_kind_words },
    { "name", SETTING_TEXT, LINE(bus.name), .required = true },
    { "device", SETTING_TEXT, LINE(bus.device), .required = true, .only = SERIAL },
    { "baud", SETTING_WHOLE, LINE(bus.baud), .least = 1200, .most = 230400, .only = SERIAL | BUS(RTU_TCP) },
    { "parity", SETTING_WORD, LINE(bus.parity), .words = parity_words, .only = SERIAL },
    { "stop_bits", SETTING_WHOLE, LINE(bus.stop_bits), .least = 1, .most = 2, .only = SERIAL },
    { "rs485", SETTING_BOOL, LINE(bus.rs485), .only = SERIAL },
    { "echo", SETTING_BOOL, LINE(bus.echo), .only = SERIAL },
    { "shared", SETTING_BOOL, LINE(bus.shared), .only = SERIAL },
    { "listen", SETTING_SCALED, LINE(bus.listen_ms), .most = 60, .otherwise = 3, .factor = 1000,
      .only = SERIAL },
    { "fifo_wait", SETTING_SCALED, LINE(bus.fifo_wait_us), .most = 50, .factor = 1000, .only = SERIAL },
    { "host", SETTING_TEXT, LINE(host), .required = true, .only = NET },
    { "port", SETTING_WHOLE, LINE(bus.port), .least = 1, .most = 65535, .only = NET },
    { "close_after_cycle", SETTING_BOOL, LINE(bus.close_after_cycle), .only = NET },
    { "gap", SETTING_SCALED, LINE(bus.gap_us), .most = 1000, .factor = 1000 },
    { "response_timeout", SETTING_SCALED, LINE(bus.response_timeout_ms), .least = 0.05, .most = 10,
      .otherwise = 1, .factor = 1000 },
};

#define DELIVERING   (ROLE(PRODUCTION) | ROLE(PART) | ROLE(STORAGE) | ROLE(GENERATOR))
#define SOLAR        (ROLE(PRODUCTION) | ROLE(PART))
#define METER(field) SETTING_AT(struct meter_entry, field)
static const struct setting_rule meter_rules[] = {
    { "role", SETTING_WORD, METER(meter.role), .required = true, .words = role_words },
    { "number", SETTING_WHOLE, METER(meter.number), .required = true, .least = 1, .most = METER_NUMBER_MAX },
    { "name", SETTING_TEXT, METER(meter.name), .required = true },
    { "bus", SETTING_TEXT, METER(bus), .required = true },
    { "unit_id", SETTING_WHOLE, METER(meter.unit_id), .required = true, .most = 255, .otherwise = -1 },
    { "map", SETTING_TEXT, METER(map), .required = true },
    { "delivers", SETTING_WORD, METER(meter.delivers_by_export), .required = true, .words = delivers_words,
      .only = DELIVERING },
    { "connection", SETTING_WORD, METER(meter.gross), .words = connection_words, .only = ROLE(PRODUCTION) },
    { "phases", SETTING_WHOLE, METER(meter.phases), .least = 1, .most = 3, .otherwise = 1 },
    { "phase_method", SETTING_WORD, METER(meter.phases_apart), .words = phase_words },
    { "direction", SETTING_WORD, METER(meter.reversed), .words = direction_words },
    { "rated_power", SETTING_WHOLE, METER(meter.rated_w), .least = 1, .most = 100e6, .required = true,
      .only = ~ROLE(WEATHER) },
    { "peak_power", SETTING_WHOLE, METER(meter.peak_w), .least = 1, .most = 100e6, .only = SOLAR },
    { "ac_rating", SETTING_WHOLE, METER(meter.ac_rating_w), .least = 1, .most = 100e6, .only = SOLAR },
    { "temperature_coefficient", SETTING_SCALED, METER(meter.temperature_ppm), .least = -1, .most = -0.01,
      .factor = 10000, .only = SOLAR },
    { "azimuth", SETTING_WHOLE, METER(meter.plane_azimuth), .most = 359, .otherwise = -1,
      .only = SOLAR | ROLE(WEATHER) },
    { "tilt", SETTING_WHOLE, METER(meter.tilt), .most = 90, .otherwise = -1, .only = SOLAR | ROLE(WEATHER) },
    { "accuracy_class", SETTING_TEXT, METER(meter.accuracy_class), .words = class_words },
    { "ct_class", SETTING_TEXT, METER(meter.ct_class), .words = ct_class_words },
    { "serial_number", SETTING_TEXT, METER(meter.serial) },
    { "ct_ratio", SETTING_RATIO, METER(meter.ct_primary) },
    { "vt_ratio", SETTING_RATIO, METER(meter.vt_primary) },
    { "gap", SETTING_SCALED, METER(meter.gap_us), .most = 1000, .factor = 1000 },
    { "response_timeout", SETTING_SCALED, METER(meter.response_timeout_ms), .least = 0.05, .most = 10,
      .factor = 1000 },
    { "max_registers", SETTING_WHOLE, METER(meter.max_registers), .least = 1, .most = MAP_MAX_REGISTERS },
    { "sunspec_base", SETTING_WHOLE, METER(meter.sunspec_base), .most = 65535, .otherwise = -1 },
    { "positive_power", SETTING_WORD, METER(meter.grid_sign_export), .words = delivers_words },
};
_Static_assert(offsetof(struct config_meter, ct_secondary) == offsetof(struct config_meter, ct_primary) + 4 &&
                   offsetof(struct config_meter, vt_secondary) ==
                       offsetof(struct config_meter, vt_primary) + 4,
               "a RATIO is two numbers beside each other");

static const struct setting_table root_table = { "the configuration", root_rules, COUNT(root_rules) };
static const struct setting_table site_table = { "site", site_rules, COUNT(site_rules) };
static const struct setting_table record_table = { "record", record_rules, COUNT(record_rules) };
static const struct setting_table bus_table = { "a bus", bus_rules, COUNT(bus_rules) };
static const struct setting_table meter_table = { "a meter", meter_rules, COUNT(meter_rules) };

static const config_setting_t *group_of(const config_setting_t *root, const char *key)
{
    const config_setting_t *group = config_setting_get_member(root, key);
    return group && config_setting_is_group(group) ? group : NULL;
}

/* Number of groups to read of a list; too long or empty is complained of. */
static int32_t list_length(struct source *source, const config_setting_t *root, const char *key, int32_t most,
                           const config_setting_t **list)
{
    *list = config_setting_get_member(root, key);
    if (!setting_is_list(*list))
        return 0;
    int32_t length = config_setting_length(*list);
    if (length < 1 || length > most)
        setting_complain(source, root, key, true, "'%s' has %d entries, allowed: 1 to %d", key, (int)length,
                         (int)most);
    return length < most ? length : most;
}

void config_file_read(struct source *source, const config_t *parsed, struct config_file *file)
{
    const config_setting_t *root = config_root_setting(parsed), *list;
    file->root = root;
    file->site_place = group_of(root, "site");
    setting_read(source, root, &root_table, file);
    setting_read(source, file->site_place, &site_table, &file->site);
    setting_read(source, group_of(root, "record"), &record_table, file);
    file->checks_place = group_of(root, "checks");
    setting_read(source, file->checks_place, &checks_table, &file->checks);
    file->supply_place = group_of(root, "supply");
    setting_read(source, file->supply_place, &supply_table, &file->supply);
    file->expected_place = group_of(root, "expected");
    setting_read(source, file->expected_place, &expected_table, &file->expected);
    file->bus_count = list_length(source, root, "buses", CONFIG_MAX_BUSES, &list);
    for (int32_t i = 0; i < file->bus_count; i++) {
        file->buses[i].place = config_setting_get_elem(list, (unsigned)i);
        setting_read(source, file->buses[i].place, &bus_table, &file->buses[i]);
    }
    file->meter_count = list_length(source, root, "meters", CONFIG_MAX_METERS, &list);
    for (int32_t i = 0; i < file->meter_count; i++) {
        file->meters[i].place = config_setting_get_elem(list, (unsigned)i);
        setting_read(source, file->meters[i].place, &meter_table, &file->meters[i]);
    }
    file->sealed_count = list_length(source, root, "sealed_meters", CONFIG_MAX_SEALED, &list);
    for (int32_t i = 0; i < file->sealed_count; i++) {
        file->sealed[i].place = config_setting_get_elem(list, (unsigned)i);
        setting_read(source, file->sealed[i].place, &sealed_table, &file->sealed[i]);
    }
}
