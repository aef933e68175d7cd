/* The configuration of the invented plant, its maps, and its logbook. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "invent.h"

static const char config_text[] =
    "# An INVENTED plant, written by tests/bench/invent.c: nothing in it was measured,\n"
    "# and no place, person or device stands behind it.\n"
    "site = {\n"
    "    name = \"Invented plant for tests\";\n"
    "    time_zone = \"Europe/Prague\";\n"
    "    latitude = 49.8;\n"
    "    longitude = 15.5;\n"
    "    interval = %d;\n"
    "    clock_trust = \"network\";\n"
    "};\n"
    "record = { database = \"record.db\"; runtime = \"run\"; logbook = \"logbook\"; };\n"
    "buses = (\n"
    "    { name = \"panel\"; kind = \"tcp\"; host = \"127.0.0.1\"; port = 15020; },\n"
    "    { name = \"roof\"; kind = \"tcp\"; host = \"127.0.0.1\"; port = 15021; }\n"
    ");\n"
    "meters = (\n"
    "    { number = 1; name = \"grid meter\"; role = \"grid\"; bus = \"panel\"; unit_id = 1;\n"
    "      map = \"meter.map\"; phases = 3; phase_method = \"netted\"; accuracy_class = \"1\";\n"
    "      ct_ratio = \"100/5\"; rated_power = 20000; },\n"
    "    { number = 2; name = \"production meter\"; role = \"production\"; bus = \"panel\"; unit_id = 2;\n"
    "      map = \"meter.map\"; phases = 3; delivers = \"export\"; accuracy_class = \"1\";\n"
    "      rated_power = 10000; peak_power = 10000; azimuth = 180; tilt = 30;\n"
    "      ac_rating = 9600; temperature_coefficient = -0.4; },\n"
    "    { number = 11; name = \"inverter 1\"; role = \"part\"; bus = \"roof\"; unit_id = 1; map = "
    "\"inverter.map\";\n"
    "      delivers = \"export\"; rated_power = 2500; peak_power = 2500; azimuth = 180; tilt = 30; },\n"
    "    { number = 12; name = \"inverter 2\"; role = \"part\"; bus = \"roof\"; unit_id = 2; map = "
    "\"inverter.map\";\n"
    "      delivers = \"export\"; rated_power = 2500; peak_power = 2500; azimuth = 180; tilt = 30; },\n"
    "    { number = 13; name = \"inverter 3\"; role = \"part\"; bus = \"roof\"; unit_id = 3; map = "
    "\"inverter.map\";\n"
    "      delivers = \"export\"; rated_power = 2000; peak_power = 2000; azimuth = 180; tilt = 30; },\n"
    "    { number = 14; name = \"inverter 4\"; role = \"part\"; bus = \"roof\"; unit_id = 4; map = "
    "\"inverter.map\";\n"
    "      delivers = \"export\"; rated_power = 2600; peak_power = 3000; azimuth = 180; tilt = 30; },\n"
    "    { number = 21; name = \"heat pump\"; role = \"branch\"; bus = \"panel\"; unit_id = 21; map = "
    "\"branch.map\";\n"
    "      rated_power = 4000; },\n"
    "    { number = 22; name = \"workshop\"; role = \"branch\"; bus = \"panel\"; unit_id = 22; map = "
    "\"branch.map\";\n"
    "      rated_power = 4000; },\n"
    "    { number = 31; name = \"weather station\"; role = \"weather\"; bus = \"roof\"; unit_id = 31;\n"
    "      map = \"weather.map\"; azimuth = 180; tilt = 30; }\n"
    ");\n"
    "sealed_meters = (\n"
    "    { name = \"utility meter\"; role = \"grid\"; serial_number = \"0001-invented\"; registers = "
    "\"import export\";\n"
    "      digits = 6; decimals = 0; phase_method = \"netted\"; accuracy_class = \"1\"; whole_units = true; "
    "},\n"
    "    { name = \"sealed production meter\"; role = \"production\"; serial_number = \"0002-invented\";\n"
    "      registers = \"export\"; delivers = \"export\"; digits = 6; decimals = 1; accuracy_class = \"1\"; "
    "}\n"
    ");\n"
    "expected = {\n"
    "    kwh_per_kwp = ( 38, 60, 104, 136, 152, 148, 152, 136, 112, 80, 46, 32 );\n"
    "    uncertainty_percent = 8;\n"
    "};\n";

static const struct {
    const char *name, *text;
} maps[] = {
    { "meter.map",
      "# Register map of an INVENTED meter.\n"
      "name = \"three-phase (invented, for tests)\";\nfunction = 4;\norder = \"ABCD\";\npoints = (\n"
      "    { quantity = \"active_import\"; address = 0; type = \"uint32\"; exponent = 0; },\n"
      "    { quantity = \"active_export\"; address = 2; type = \"uint32\"; exponent = 0; },\n"
      "    { quantity = \"power\"; address = 4; type = \"int32\"; },\n"
      "    { quantity = \"power_l1\"; address = 6; type = \"int32\"; },\n"
      "    { quantity = \"power_l2\"; address = 8; type = \"int32\"; },\n"
      "    { quantity = \"power_l3\"; address = 10; type = \"int32\"; },\n"
      "    { quantity = \"voltage_l1\"; address = 12; type = \"uint16\"; exponent = -2; },\n"
      "    { quantity = \"voltage_l2\"; address = 13; type = \"uint16\"; exponent = -2; },\n"
      "    { quantity = \"voltage_l3\"; address = 14; type = \"uint16\"; exponent = -2; },\n"
      "    { quantity = \"frequency\"; address = 15; type = \"uint16\"; exponent = -3; }\n);\n" },
    { "inverter.map",
      "# Register map of an INVENTED inverter, which counts in steps of 0.1 kWh.\n"
      "name = \"inverter (invented, for tests)\";\nfunction = 3;\norder = \"ABCD\";\npoints = (\n"
      "    { quantity = \"active_export\"; address = 0; type = \"uint32\"; exponent = 2; },\n"
      "    { quantity = \"power\"; address = 2; type = \"int32\"; },\n"
      "    { quantity = \"voltage_l1\"; address = 4; type = \"uint16\"; exponent = -2; }\n);\n" },
    { "branch.map",
      "# Register map of an INVENTED meter of a branch.\n"
      "name = \"single-phase (invented, for tests)\";\nfunction = 4;\norder = \"ABCD\";\npoints = (\n"
      "    { quantity = \"active_import\"; address = 0; type = \"uint32\"; exponent = 0; },\n"
      "    { quantity = \"power\"; address = 2; type = \"int32\"; },\n"
      "    { quantity = \"voltage_l1\"; address = 4; type = \"uint16\"; exponent = -2; }\n);\n" },
    { "weather.map",
      "# Register map of an INVENTED weather station.\n"
      "name = \"weather station (invented, for tests)\";\nfunction = 4;\norder = \"ABCD\";\npoints = (\n"
      "    { quantity = \"irradiance\"; address = 0; type = \"int32\"; exponent = -3; },\n"
      "    { quantity = \"module_temperature\"; address = 2; type = \"int32\"; exponent = -3; },\n"
      "    { quantity = \"ambient_temperature\"; address = 4; type = \"int32\"; exponent = -3; }\n);\n" },
};

static FILE *create(const char *name)
{
    FILE *file = fopen(name, "w");
    if (!file)
        perror(name);
    return file;
}

static bool finish(FILE *file)
{
    bool failed = ferror(file) != 0;
    return fclose(file) == 0 && !failed;
}

bool invent_config(const struct invent *invent)
{
    FILE *file = create("meterbook.conf");
    bool good = file != NULL;
    if (good) {
        fprintf(file, config_text, (int)invent->interval_s);
        good = finish(file);
    }
    for (size_t i = 0; i < sizeof maps / sizeof maps[0] && good; i++) {
        file = create(maps[i].name);
        good = file && fputs(maps[i].text, file) >= 0;
        good = file && finish(file) && good;
    }
    return good;
}

/* ---- the logbook ---- */

enum {
    BY_READING = 100, /* chance of the day and minute of a reading */
    MONTHS = 12,
    IMPORT,
    EXPORT,
    PRODUCTION,
    DIALS,
};

struct invent_logbook {
    const struct invent *invent;
    FILE *file;
    int64_t dial[DIALS]; /* what the sealed meters show, mWh */
    int64_t next;        /* reading */
    int64_t next_s;
    int64_t ahead_from_s, ahead_to_s; /* readings between which the utility's meter sees more */
};

/* The local date and time as the logbook writes it. */
static void write_date(FILE *file, const struct invent *invent, int64_t at_s)
{
    int32_t year, month, day;
    int64_t local_s = at_s + civil_offset(invent->civil, at_s), minute = local_s % 86400 / 60;
    civil_date(local_s / 86400, &year, &month, &day);
    fprintf(file, "%04d-%02d-%02dT%02d:%02d", (int)year, (int)month, (int)day, (int)(minute / 60),
            (int)(minute % 60));
}

/* The first is on the plant's first day; then on some day of each month, now early, now in its middle. */
static int64_t reading_at(const struct invent *invent, int64_t which)
{
    int32_t year, month, day;
    civil_date(civil_day_of(invent->civil, invent->before_s), &year, &month, &day);
    if (which == 0)
        return invent->before_s + 12 * 3600;
    double early = invent_chance(invent, BY_READING, which);
    int64_t months = month - 1 + which;
    int64_t first = civil_day_number(year + months / MONTHS, (int32_t)(months % MONTHS) + 1, 1);
    int64_t at = first + (int64_t)(early * (early < 0.8 ? 7 : 18));
    int64_t minute = 450 + (int64_t)(700 * invent_chance(invent, BY_READING + 1, which)); /* 07:30 to 19:10 */
    return civil_day_start(invent->civil, at) + minute * 60;
}

static const char *const defect_words[DEFECT_COUNT] = {
    [DEFECT_SOILED] = "inverter 2 soiled more and more, up to 14 %, then cleaned",
    [DEFECT_SHADED] = "inverter 3 shaded by a tree from 15:00 to 17:00, for good",
    [DEFECT_FAILED] = "inverter 4 makes nothing",
    [DEFECT_GAP] = "the computer was off: all meters estimated",
    [DEFECT_OUTAGE] = "outage of the grid",
    [DEFECT_VOLTAGE] = "voltage above 253 V from 11:30 to 15:00 of clear days, inverters throttled to 75 %",
    [DEFECT_AHEAD] = "the utility meter shows 1.8 % more import: a load ahead of our transformers",
};

static void write_header(const struct invent_logbook *logbook)
{
    const struct invent *invent = logbook->invent;
    fputs("# Logbook of an INVENTED plant, written by tests/bench/invent.c. Nothing in it was measured.\n"
          "#\n"
          "# What was planned to be wrong (local times):\n",
          logbook->file);
    for (int i = 0; i < DEFECT_COUNT; i++) {
        const struct defect_span *span = &invent->defects[i];
        int64_t from_s = i == DEFECT_AHEAD ? logbook->ahead_from_s : span->from_s;
        int64_t to_s = i == DEFECT_AHEAD ? logbook->ahead_to_s : span->to_s;
        fputs("#   ", logbook->file);
        write_date(logbook->file, invent, from_s);
        fputs(" to ", logbook->file);
        write_date(logbook->file, invent, to_s < invent->end_s ? to_s : invent->end_s);
        fprintf(logbook->file, "  %s%s\n", defect_words[i],
                from_s >= invent->end_s ? " (after the end)" : "");
    }
    fputs("# All the time: the counter of inverter 1 runs 2 % high; inverter 4 clips at 2.6 kW; the modules "
          "lose\n"
          "# 0.6 % a year. The sealed meters were read for ten months before the record begins.\n\n",
          logbook->file);
}

struct invent_logbook *invent_logbook_open(const struct invent *invent)
{
    struct invent_logbook *logbook = calloc(1, sizeof *logbook);
    if (!logbook)
        return NULL;
    logbook->invent = invent;
    logbook->file = create("logbook");
    logbook->dial[IMPORT] = INT64_C(14210300000);
    logbook->next_s = reading_at(invent, 0);
    for (int64_t i = 0; logbook->ahead_to_s <= invent->defects[DEFECT_AHEAD].from_s; i++) {
        logbook->ahead_from_s = reading_at(invent, i);
        logbook->ahead_to_s = reading_at(invent, i + 1);
    }
    if (logbook->file)
        write_header(logbook);
    return logbook;
}

static void write_reading(const struct invent_logbook *logbook, const int64_t dial[DIALS])
{
    write_date(logbook->file, logbook->invent, logbook->next_s);
    fprintf(logbook->file, " reading \"utility meter\" import=%lld export=%lld\n",
            (long long)(dial[IMPORT] / 1000000), (long long)(dial[EXPORT] / 1000000));
    write_date(logbook->file, logbook->invent, logbook->next_s);
    fprintf(logbook->file, " reading \"sealed production meter\" export=%lld.%lld\n",
            (long long)(dial[PRODUCTION] / 1000000), (long long)(dial[PRODUCTION] / 100000 % 10));
}

/* Per cent of a thousandth: what sealed meters count of our 100 000. */
void invent_logbook_take(struct invent_logbook *logbook, const struct flow *flow)
{
    int64_t end_s = flow->start_s + flow->length_s;
    bool ahead = flow->start_s >= logbook->ahead_from_s && flow->start_s < logbook->ahead_to_s;
    const int64_t counted[DIALS] = { [IMPORT] = flow->import * (ahead ? 101900 : 100100) / 100000,
                                     [EXPORT] = flow->export * 99800 / 100000,
                                     [PRODUCTION] = flow->production * 100400 / 100000 };
    while (logbook->next_s >= flow->start_s && logbook->next_s < end_s && end_s <= logbook->invent->end_s) {
        int64_t dial[DIALS];
        for (int i = 0; i < DIALS; i++)
            dial[i] = logbook->dial[i] + counted[i] * (logbook->next_s - flow->start_s) / flow->length_s;
        write_reading(logbook, dial);
        logbook->next_s = reading_at(logbook->invent, ++logbook->next);
    }
    for (int i = 0; i < DIALS; i++)
        logbook->dial[i] += counted[i];
}

bool invent_logbook_close(struct invent_logbook *logbook)
{
    const struct invent *invent = logbook->invent;
    const struct {
        int64_t at_s;
        const char *text;
    } lines[] = {
        { invent->before_s, "note \"the plant was built; invented, as all of this\"" },
        { invent->defects[DEFECT_SOILED].to_s, "cleaning \"inverter 2\" \"its modules were washed\"" },
        { invent->defects[DEFECT_FAILED].to_s, "repair \"inverter 4\" \"a fuse was changed\"" },
    };
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        if (lines[i].at_s >= invent->end_s)
            continue;
        write_date(logbook->file, invent, lines[i].at_s);
        fprintf(logbook->file, " %s\n", lines[i].text);
    }
    bool good = finish(logbook->file);
    free(logbook);
    return good;
}
