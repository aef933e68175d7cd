#include "enter_header.h"

#include <stdlib.h>
#include <string.h>

#include "nearest.h"

enum { MAX_NAMES = 256 };

/* METER.register[unit] taken apart. */
struct heading {
    char meter[CONFIG_NAME_SIZE], quantity[32], unit[16];
    bool interval;
};

static bool copy(char *place, size_t size, const char *from, size_t length)
{
    if (length == 0 || length >= size)
        return false;
    memcpy(place, from, length);
    place[length] = '\0';
    return true;
}

static bool take_apart(const char *text, struct heading *heading)
{
    static const char per[] = "/interval";
    size_t length = strlen(text);
    const char *bracket = strrchr(text, '[');
    if (!bracket || length == 0 || text[length - 1] != ']')
        return false;
    const char *dot = bracket;
    while (dot > text && *dot != '.')
        dot--;
    size_t unit = (size_t)(text + length - 1 - (bracket + 1)), tail = sizeof(per) - 1;
    heading->interval = unit > tail && memcmp(bracket + 1 + unit - tail, per, tail) == 0;
    return dot > text && copy(heading->meter, sizeof(heading->meter), text, (size_t)(dot - text)) &&
           copy(heading->quantity, sizeof(heading->quantity), dot + 1, (size_t)(bracket - dot - 1)) &&
           copy(heading->unit, sizeof(heading->unit), bracket + 1, heading->interval ? unit - tail : unit);
}

/* The counter that a column's name says; COUNTER_COUNT for another quantity, -1 for none. */
static int counter_of(const char *name)
{
    if (strcmp(name, "import") == 0)
        return Q_ACTIVE_IMPORT;
    if (strcmp(name, "export") == 0)
        return Q_ACTIVE_EXPORT;
    enum quantity quantity = quantity_by_name(name);
    if (quantity == QUANTITY_COUNT)
        return -1;
    return (int)quantity < COUNTER_COUNT ? (int)quantity : COUNTER_COUNT;
}

/* mWh in a unit of this counter, 0 for a unit that it has not. */
static int64_t scale_of(const char *unit, int counter)
{
    static const struct {
        const char *prefix;
        int64_t scale;
    } prefixes[] = { { "", 1000 }, { "k", 1000000 }, { "M", 1000000000 } };
    const char *base = quantity_info((enum quantity)counter)->unit + 1; /* without its k */
    for (size_t i = 0; i < sizeof(prefixes) / sizeof(prefixes[0]); i++) {
        size_t length = strlen(prefixes[i].prefix);
        if (strncmp(unit, prefixes[i].prefix, length) == 0 && strcmp(unit + length, base) == 0)
            return prefixes[i].scale;
    }
    return 0;
}

/* The meters' names, for "did you mean". */
struct names {
    int32_t count;
    char text[MAX_NAMES][CONFIG_NAME_SIZE];
};

static void keep_name(void *self, const char *name)
{
    struct names *names = self;
    if (names->count < MAX_NAMES)
        snprintf(names->text[names->count++], CONFIG_NAME_SIZE, "%s", name);
}

static int unknown_meter(struct csv *csv, struct store_enter *enter, const char *name)
{
    struct names *names = calloc(1, sizeof(*names));
    const char *list[MAX_NAMES + 1] = { NULL }, *near = NULL;
    if (names && store_enter_names(enter, keep_name, names) == STORE_OK) {
        for (int32_t i = 0; i < names->count; i++)
            list[i] = names->text[i];
        near = nearest(name, list);
    }
    if (near)
        csv_refuse(csv, "the record knows no meter '%s', did you mean '%s'?", name, near);
    else
        csv_refuse(
            csv,
            "the record knows no meter '%s': a meter's name or number is allowed; readings of sealed meters "
            "belong to the logbook",
            name);
    free(names);
    return -1;
}

/* By name; what is all digits may be a number. */
static int find_meter(struct csv *csv, struct store_enter *enter, const char *name, struct enter_meter *meter)
{
    int found = store_enter_meter(enter, name, 0, meter);
    if (found == 0 && name[strspn(name, "0123456789")] == '\0' && strlen(name) <= 4)
        found = store_enter_meter(enter, NULL, (int32_t)strtol(name, NULL, 10), meter);
    if (found < 0)
        return csv_refuse(csv, "the meters of the record cannot be read");
    if (found == 0)
        return unknown_meter(csv, enter, name);
    if (meter->number == METER_DERIVED)
        return csv_refuse(csv, "'%s' is derived from other meters: enter theirs", name);
    return 0;
}

/* The series of a column: one for each meter and table. */
static int find_group(struct enter_file *file, const struct enter_meter *meter, int counter, bool energies)
{
    bool other = counter > Q_ACTIVE_EXPORT;
    for (int32_t i = 0; i < file->group_count; i++) {
        struct enter_group *group = &file->groups[i];
        if (group->meter.number != meter->number || group->other != other)
            continue;
        if (group->energies != energies)
            return csv_refuse(&file->csv,
                              "'%s' has a counter and interval energies: enter them from two files",
                              meter->name);
        if (group->mask & 1U << counter)
            return csv_refuse(&file->csv, "'%s' has two columns of the same register", meter->name);
        return i;
    }
    if (file->group_count == ENTER_MAX_SERIES)
        return csv_refuse(&file->csv, "too many meters, up to %d are allowed", ENTER_MAX_SERIES);
    file->groups[file->group_count] =
        (struct enter_group){ .meter = *meter, .other = other, .energies = energies };
    return file->group_count++;
}

static int read_column(struct enter_file *file, struct store_enter *enter, int32_t field, const char *text)
{
    struct csv *csv = &file->csv;
    struct heading heading;
    struct enter_meter meter;
    if (!take_apart(text, &heading))
        return csv_refuse(
            csv,
            "column %d '%.60s': allowed are METER.import[kWh] for a counter, METER.import[kWh/interval] "
            "for energies, and an empty name for what is not entered",
            (int)field + 1, text);
    int counter = counter_of(heading.quantity);
    if (counter < 0)
        return csv_refuse(
            csv,
            "column %d: there is no '%s': allowed are import, export, reactive_import, reactive_export, "
            "apparent_import, apparent_export",
            (int)field + 1, heading.quantity);
    if (counter == COUNTER_COUNT)
        return csv_refuse(csv, "column %d: '%s' cannot be entered, only energies can", (int)field + 1,
                          heading.quantity);
    int64_t scale = scale_of(heading.unit, counter);
    const char *unit = quantity_info((enum quantity)counter)->unit;
    if (scale == 0)
        return csv_refuse(
            csv, "column %d: '%s' is no unit of '%s': allowed are %s, %s, M%s, each also with /interval",
            (int)field + 1, heading.unit, heading.quantity, unit + 1, unit, unit + 1);
    if (find_meter(csv, enter, heading.meter, &meter) != 0)
        return -1;
    if (file->column_count == ENTER_MAX_COLUMNS)
        return csv_refuse(csv, "too many columns, up to %d are allowed", ENTER_MAX_COLUMNS);
    int group = find_group(file, &meter, counter, heading.interval);
    if (group < 0)
        return -1;
    file->groups[group].mask |= 1U << counter;
    file->values[file->column_count] = -1;
    file->columns[file->column_count++] = (struct enter_column){
        .field = field, .series = group, .counter = (uint8_t)counter, .scale = scale, .step = scale
    };
    return 0;
}

int enter_header_read(struct enter_file *file, struct store_enter *enter)
{
    struct csv *csv = &file->csv;
    file->field_count = csv->count;
    if (strcmp(csv->fields[0], "time") != 0)
        return csv_refuse(
            csv,
            "the first column is '%.60s', it must be 'time' (--separator declares what parts the "
            "columns)",
            csv->fields[0]);
    for (int32_t i = 1; i < csv->count; i++)
        if (csv->fields[i][0] && read_column(file, enter, i, csv->fields[i]) != 0)
            return -1;
    return file->column_count > 0 ? 0 : csv_refuse(csv, "no column to enter beside 'time'");
}
