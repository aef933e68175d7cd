/* The smaller tables of a package: closed days, meters, configurations, events. */
#include "extract_tables.h"

#include "query_outages.h"

#define COUNT(fields) ((int32_t)(sizeof(fields) / sizeof((fields)[0])))
#define PLAIN(name, type, unit, description)                                                                 \
    {                                                                                                        \
        name, FIELD_##type, unit, QUANTITY_COUNT, description                                                \
    }

static const struct field day_fields[] = {
    PLAIN("from", DATETIME, "", "the site's midnight"),
    PLAIN("to", DATETIME, "", "the next midnight"),
    PLAIN("meter", INTEGER, "", "number of the meter"),
    { "import_kwh", FIELD_NUMBER, "kWh", Q_ACTIVE_IMPORT, "sum of the day's intervals" },
    { "export_kwh", FIELD_NUMBER, "kWh", Q_ACTIVE_EXPORT, "sum of the day's intervals" },
    PLAIN("estimated_kwh", NUMBER, "kWh", "of both together: placed here by filling"),
    PLAIN("unobserved_s", INTEGER, "s", "time in which the meter did not answer"),
    PLAIN("intervals", INTEGER, "", "that the record has of the day"),
    PLAIN("intervals_expected", INTEGER, "", "that the day has"),
};
static const int32_t day_field_count = COUNT(day_fields);

static bool write_days(struct extract *extract, FILE *out)
{
    struct line line = { out, 0 };
    struct day_row row;
    for (int64_t day = extract->period.from_day; day < extract->period.to_day && !ferror(out); day++) {
        query_begin(extract->query);
        query_day(extract->query, day);
        while (query_next_day(extract->query, &row)) {
            if (extract->meter && row.meter != extract->meter)
                continue;
            line_stamp(&line, extract->civil, row.from_s);
            line_stamp(&line, extract->civil, row.to_s);
            line_number(&line, row.meter, 0);
            line_number(&line, row.import, ENERGY_SCALE);
            line_number(&line, row.export, ENERGY_SCALE);
            line_number(&line, row.estimated, ENERGY_SCALE);
            line_number(&line, row.unobserved, 0);
            line_number(&line, row.rows, 0);
            line_number(&line, row.expected, 0);
            line_end(&line);
        }
        query_end(extract->query);
    }
    return !query_error(extract->query);
}

static const struct field meter_fields[] = {
    PLAIN("setting", INTEGER, "", "configuration under which it was this"),
    PLAIN("meter", INTEGER, "", "number of the meter"),
    PLAIN("name", TEXT, "", "its name"),
    PLAIN("role", TEXT, "", "production, grid, consumption, branch, part, storage, generator or weather"),
    PLAIN("delivers", TEXT, "", "the counter that is delivery to the site: import or export"),
    PLAIN("gross", INTEGER, "", "1: made and sold whole, not behind the house meter"),
    PLAIN("phases", INTEGER, "", "that it measures"),
    PLAIN("phase_method", TEXT, "", "netted: over the phases at each instant; apart: each phase by itself"),
    PLAIN("rated_power_w", INTEGER, "W", "highest power that can flow"),
    PLAIN("peak_power_w", INTEGER, "W", "of the modules behind it, at standard test conditions"),
    PLAIN("azimuth_deg", INTEGER, "deg", "of the modules, clockwise from north"),
    PLAIN("tilt_deg", INTEGER, "deg", "of the modules, from the horizontal"),
    PLAIN("accuracy_class", TEXT, "", "as stated in the configuration"),
};
static const int32_t meter_field_count = COUNT(meter_fields);

static int64_t known(int64_t value)
{
    return value > 0 ? value : UNKNOWN;
}

static bool write_meters(struct extract *extract, FILE *out)
{
    struct line line = { out, 0 };
    struct meter_row row;
    query_begin(extract->query);
    query_meter_rows(extract->query);
    while (query_next_meter_row(extract->query, &row)) {
        if (extract->meter && row.meter != extract->meter)
            continue;
        line_number(&line, row.setting, 0);
        line_number(&line, row.meter, 0);
        line_text(&line, row.name);
        line_text(&line, row.role);
        line_text(&line, row.delivers);
        line_number(&line, row.gross, 0);
        line_number(&line, row.phases, 0);
        line_text(&line, row.phase_method);
        line_number(&line, known(row.rated_w), 0);
        line_number(&line, known(row.peak_w), 0);
        line_number(&line, row.azimuth, 0);
        line_number(&line, row.tilt, 0);
        line_text(&line, row.accuracy_class);
        line_end(&line);
    }
    query_end(extract->query);
    return !query_error(extract->query);
}

static const struct field setting_fields[] = {
    PLAIN("setting", INTEGER, "", "its number"),
    PLAIN("from", DATETIME, "", "from when on it holds; empty: loaded while no clock was trusted"),
    PLAIN("interval_s", INTEGER, "s", "length of the record's intervals"),
    PLAIN("poll_ms", INTEGER, "ms", "time between two readings of a meter"),
    PLAIN("hash", TEXT, "", "of the configuration as it was loaded"),
    PLAIN("zone", TEXT, "", "time zone of the site"),
    PLAIN("zone_edition", TEXT, "", "edition of the zone data"),
    PLAIN("program", TEXT, "", "version of the collector"),
};
static const int32_t setting_field_count = COUNT(setting_fields);

static int64_t seconds(int64_t ms)
{
    return ms == UNKNOWN ? UNKNOWN : ms / 1000;
}

static bool write_settings(struct extract *extract, FILE *out)
{
    struct line line = { out, 0 };
    struct loaded_row row;
    query_begin(extract->query);
    query_loaded(extract->query);
    while (query_next_loaded(extract->query, &row)) {
        line_number(&line, row.id, 0);
        line_stamp(&line, extract->civil, seconds(row.from_ms));
        line_number(&line, row.interval_s, 0);
        line_number(&line, row.poll_ms, 0);
        line_text(&line, row.hash);
        line_text(&line, row.zone);
        line_text(&line, row.zone_edition);
        line_text(&line, row.program);
        line_end(&line);
    }
    query_end(extract->query);
    return !query_error(extract->query);
}

static const struct field event_fields[] = {
    PLAIN("time", DATETIME, "", "when it began; empty: no clock has dated it"),
    PLAIN("kind", TEXT, "", "what happened"),
    PLAIN("meter", INTEGER, "", "number of the meter that it is about"),
    PLAIN("bus", TEXT, "", "name of the bus that it is about"),
    PLAIN("text", TEXT, "", "the rest, in words"),
};
static const int32_t event_field_count = COUNT(event_fields);

static bool write_events(struct extract *extract, FILE *out)
{
    struct line line = { out, 0 };
    struct event_row row;
    query_begin(extract->query);
    query_events(extract->query);
    while (query_next_event(extract->query, &row)) {
        int64_t at_s = seconds(row.at_ms);
        if (at_s != UNKNOWN && (at_s < extract->from_s || at_s >= extract->to_s))
            continue;
        line_stamp(&line, extract->civil, at_s);
        line_text(&line, row.kind);
        line_number(&line, row.meter ? row.meter : UNKNOWN, 0);
        line_text(&line, row.bus);
        line_text(&line, row.text);
        line_end(&line);
    }
    query_end(extract->query);
    return !query_error(extract->query);
}

const struct extract_table extract_tables[] = {
    { "intervals",
      "Intervals",
      "the account of each meter and interval, with the means of what else it measures",
      interval_fields,
      &interval_field_count,
      { "time", "meter", NULL },
      extract_intervals },
    { "days",
      "Closed days",
      "sums of intervals over the civil days of the site",
      day_fields,
      &day_field_count,
      { "from", "meter", NULL },
      write_days },
    { "meters",
      "Meters",
      "what each meter stood for, by configuration",
      meter_fields,
      &meter_field_count,
      { "setting", "meter", NULL },
      write_meters },
    { "settings",
      "Configurations",
      "each configuration of the collector as it was loaded",
      setting_fields,
      &setting_field_count,
      { "setting", NULL, NULL },
      write_settings },
    { "events",
      "Events",
      "changes of state that the collector noted",
      event_fields,
      &event_field_count,
      { NULL, NULL, NULL },
      write_events },
};
const int32_t extract_table_count = COUNT(extract_tables);
