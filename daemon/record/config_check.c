#include <stdio.h>
#include <string.h>

#include "civil.h"
#include "config_file.h"

static const int32_t bauds[] = { 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200, 230400 };
#define BAUD_LIST "1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200 or 230400"

enum { NAMES_SIZE = 1200 };

/* Joins the names of the buses, for "allowed: ...". */
static void bus_names(const struct config_file *file, char *out, size_t size)
{
    const char *names[CONFIG_MAX_BUSES + 1] = { NULL };
    for (int32_t i = 0, n = 0; i < file->bus_count; i++)
        if (file->buses[i].bus.name[0])
            names[n++] = file->buses[i].bus.name;
    words_join(names, out, size);
}

static void warn_of_interval(struct source *source, const struct config_file *file)
{
    const char *prevented[INTERVAL_ANSWERS];
    char list[160] = "";
    size_t length = 0;
    int32_t count = interval_prevents(file->site.interval_s, prevented);
    for (int32_t i = 0; i < count && length < sizeof list; i++)
        length +=
            (size_t)snprintf(list + length, sizeof list - length, "%s%s", i > 0 ? ", " : "", prevented[i]);
    if (300 % file->site.interval_s != 0)
        setting_complain(source, file->site_place, "interval", false,
                         "an interval of %d s does not divide 300 s, it makes impossible: %s",
                         (int)file->site.interval_s, list);
}

static void check_interval(struct source *source, const struct config_file *file)
{
    const struct config_site *site = &file->site;
    int32_t year, month, day_of_month;
    int64_t day;
    if (site->interval_s < 10)
        return; /* complained of already */
    if (civil_grid_fits(file->civil, site->interval_s, &day)) {
        warn_of_interval(source, file);
        return;
    }
    civil_date(day, &year, &month, &day_of_month);
    setting_complain(
        source, file->site_place, "interval", true,
        "an interval of %d s does not meet midnight of %04d-%02d-%02d in \"%s\", allowed: one that divides "
        "every local midnight, such as 300",
        (int)site->interval_s, (int)year, (int)month, (int)day_of_month, site->time_zone);
}

static void check_site(struct source *source, struct config_file *file)
{
    struct config_site *site = &file->site;
    if (!file->site_place)
        return;
    if (site->voltage_min >= site->voltage_max)
        setting_complain(source, file->site_place, "voltage_min", true,
                         "'voltage_min' is not below 'voltage_max', allowed: less than %g",
                         site->voltage_max);
    if (site->frequency_min >= site->frequency_max)
        setting_complain(source, file->site_place, "frequency_min", true,
                         "'frequency_min' is not below 'frequency_max', allowed: less than %g",
                         site->frequency_max);
    if (!site->time_zone[0])
        return;
    file->civil = civil_open(site->time_zone);
    if (file->civil)
        check_interval(source, file);
    else
        setting_complain(
            source, file->site_place, "time_zone", true,
            "the time zone \"%s\" is not in the zone data, allowed: a name below /usr/share/zoneinfo such "
            "as \"Asia/Kathmandu\"",
            site->time_zone);
}

static void check_baud(struct source *source, const struct bus_entry *entry)
{
    for (size_t i = 0; i < sizeof bauds / sizeof bauds[0]; i++)
        if (entry->bus.baud == bauds[i])
            return;
    setting_complain(source, entry->place, "baud", true, "'baud' is %d, allowed: " BAUD_LIST,
                     (int)entry->bus.baud);
}

static void check_serial(struct source *source, struct bus_entry *entry)
{
    struct config_bus *bus = &entry->bus;
    /* Serial Line V1.02, 2.5.1: 19200 bit/s, even parity; a second stop bit
     * stands for the missing parity bit. */
    if (bus->baud == 0)
        bus->baud = 19200;
    if (bus->stop_bits == 0)
        bus->stop_bits = bus->parity == PARITY_NONE ? 2 : 1;
    if (bus->device[0] && bus->device[0] != '/')
        setting_complain(
            source, entry->place, "device", true,
            "'device' is \"%s\", allowed: a path from the root such as \"/dev/serial/by-id/...\"",
            bus->device);
    if (strncmp(bus->device, "/dev/ttyUSB", 11) == 0 || strncmp(bus->device, "/dev/ttyACM", 11) == 0)
        setting_complain(
            source, entry->place, "device", false,
            "\"%s\" may be another adapter after the next start, better: the same one's name below "
            "/dev/serial/by-id or /dev/serial/by-path",
            bus->device);
}

static void check_net(struct bus_entry *entry)
{
    struct config_bus *bus = &entry->bus;
    memcpy(bus->device, entry->host, sizeof bus->device);
    if (bus->port == 0)
        bus->port = 502; /* registered for Modbus */
    bus->listen_ms = 0;
}

static void check_bus_pair(struct source *source, const struct bus_entry *a, const struct bus_entry *b)
{
    if (b->bus.name[0] && strcmp(a->bus.name, b->bus.name) == 0)
        setting_complain(source, b->place, "name", true,
                         "two buses are named \"%s\", allowed: each name once", b->bus.name);
    bool same_kind = (a->bus.kind == BUS_RTU) == (b->bus.kind == BUS_RTU);
    if (b->bus.device[0] && same_kind && strcmp(a->bus.device, b->bus.device) == 0 &&
        a->bus.port == b->bus.port)
        setting_complain(source, b->place, b->bus.kind == BUS_RTU ? "device" : "host", true,
                         "\"%s\" is a bus already, allowed: one bus for one port or one connection",
                         b->bus.device);
}

static void check_buses(struct source *source, struct config_file *file)
{
    for (int32_t i = 0; i < file->bus_count; i++) {
        struct bus_entry *entry = &file->buses[i];
        if (entry->bus.kind == BUS_RTU)
            check_serial(source, entry);
        else
            check_net(entry);
        if (entry->bus.baud != 0)
            check_baud(source, entry);
        for (int32_t j = 0; j < i; j++)
            check_bus_pair(source, &file->buses[j], entry);
    }
}

static void find_bus(struct source *source, const struct config_file *file, struct meter_entry *entry)
{
    char allowed[NAMES_SIZE];
    entry->meter.bus = -1;
    for (int32_t i = 0; i < file->bus_count; i++)
        if (strcmp(file->buses[i].bus.name, entry->bus) == 0)
            entry->meter.bus = i;
    if (entry->meter.bus >= 0 || !entry->bus[0] || file->bus_count == 0)
        return;
    bus_names(file, allowed, sizeof allowed);
    setting_complain(source, entry->place, "bus", true, "there is no bus \"%s\", allowed: %s", entry->bus,
                     allowed);
}

static void check_meter(struct source *source, const struct config_file *file, struct meter_entry *entry)
{
    struct config_meter *meter = &entry->meter;
    bool walked = strcmp(entry->map, map_sunspec) == 0;
    if (meter->bus >= 0 && file->buses[meter->bus].bus.kind != BUS_TCP &&
        (meter->unit_id == 0 || meter->unit_id > 247))
        setting_complain(source, entry->place, "unit_id", true,
                         "'unit_id' is %d, allowed on this bus: a whole number from 1 to 247",
                         (int)meter->unit_id);
    if (meter->phases == 2)
        setting_complain(source, entry->place, "phases", true, "'phases' is 2, allowed: 1 or 3");
    static const char *const walk_only[] = { "sunspec_base", "positive_power" };
    for (size_t i = 0; !walked && i < 2; i++)
        if (config_setting_get_member(entry->place, walk_only[i]))
            setting_complain(source, entry->place, walk_only[i], true,
                             "'%s' does not belong here, it is for 'map' \"%s\"", walk_only[i], map_sunspec);
}

static void check_meter_pair(struct source *source, const struct meter_entry *a, const struct meter_entry *b)
{
    if (b->meter.number > 0 && a->meter.number == b->meter.number)
        setting_complain(source, b->place, "number", true,
                         "two meters have number %d, allowed: each number once", (int)b->meter.number);
    if (b->meter.name[0] && strcmp(a->meter.name, b->meter.name) == 0)
        setting_complain(source, b->place, "name", true,
                         "two meters are named \"%s\", allowed: each name once", b->meter.name);
    if (b->meter.bus >= 0 && a->meter.bus == b->meter.bus && b->meter.unit_id >= 0 &&
        a->meter.unit_id == b->meter.unit_id)
        setting_complain(source, b->place, "unit_id", true,
                         "unit id %d is in use on bus \"%s\" already, allowed: each unit id once on a bus",
                         (int)b->meter.unit_id, b->bus);
}

void config_file_check(struct source *source, struct config_file *file)
{
    check_site(source, file);
    check_buses(source, file);
    for (int32_t i = 0; i < file->meter_count; i++) {
        struct meter_entry *entry = &file->meters[i];
        find_bus(source, file, entry);
        check_meter(source, file, entry);
        for (int32_t j = 0; j < i; j++)
            check_meter_pair(source, &file->meters[j], entry);
    }
    sealed_check(source, file);
    checks_check(source, file);
    supply_check(source, file);
    expected_check(source, file);
}
