#include "table.h"

#include <string.h>

#include "stamp.h"
#include "text.h"

static const char *value_or_dash(char buffer[NUMBER_SIZE], int64_t value, int32_t scale, int32_t decimals)
{
    return value == UNKNOWN ? "-" : number_print(buffer, value, scale, decimals, ',');
}

/* "3 s ago", or when it was. */
static const char *print_age(char buffer[STAMP_SIZE], const struct present *present, int64_t at_ms)
{
    if (at_ms == UNKNOWN)
        return "never";
    int64_t age_s = (present->now_ms - at_ms) / 1000;
    if (age_s < 0 || age_s >= 3600)
        return stamp_minute(buffer, present->civil, at_ms / 1000);
    snprintf(buffer, STAMP_SIZE, "%d %s ago", (int)(age_s < 120 ? age_s : age_s / 60),
             age_s < 120 ? "s" : "min");
    return buffer;
}

static void print_flow(FILE *out, const struct present *present)
{
    static const char *const names[] = { "production", "grid", "consumption" };
    const int64_t values[] = { present->production, present->grid, present->consumption };
    char number[NUMBER_SIZE];
    fputs("\n", out);
    for (int32_t i = 0; i < 3; i++) {
        if (values[i] == UNKNOWN)
            continue;
        bool exports = i == 1 && values[i] < 0;
        fprintf(out, "%-12s%10s W%s\n", names[i],
                number_print(number, exports ? -values[i] : values[i], 3, 0, ','),
                i != 1    ? ""
                : exports ? " export"
                          : " import");
    }
}

void table_present(FILE *out, const struct present *present, const struct options *options)
{
    char stamp[STAMP_SIZE], power[NUMBER_SIZE], voltage[NUMBER_SIZE], import[NUMBER_SIZE],
        export[NUMBER_SIZE];
    int32_t width = (int32_t)strlen("meter");
    (void)options;
    for (int32_t i = 0; i < present->meter_count; i++)
        width = text_columns(present->meters[i].name) > width ? text_columns(present->meters[i].name) : width;
    text_plain(out, present->site.name, 0);
    fprintf(out, ", %s, %s\n", stamp_minute(stamp, present->civil, present->at_ms / 1000),
            present->site.zone);
    table_notes(out, present->note_count, present->notes);
    fprintf(out, "\n%-*s  %-11s  %-8s  %16s  %10s  %8s  %12s  %12s\n", width, "meter", "role", "state",
            "read", "power", "voltage", "import today", "export today");
    fprintf(out, "%-*s  %-11s  %-8s  %16s  %10s  %8s  %12s  %12s\n", width, "", "", "", "", "W", "V", "kWh",
            "kWh");
    for (int32_t i = 0; i < present->meter_count; i++) {
        const struct present_meter *meter = &present->meters[i];
        text_plain(out, meter->name, width);
        fprintf(out, "  %-11s  %-8s  %16s  %10s  %8s  %12s  %12s\n", meter->role,
                present_state_name(meter->state), print_age(stamp, present, meter->at_ms),
                value_or_dash(power, meter->power, 3, 0), value_or_dash(voltage, meter->voltage, 3, 1),
                value_or_dash(import, meter->today_import, ENERGY_SCALE, meter->decimals),
                value_or_dash(export, meter->today_export, ENERGY_SCALE, meter->decimals));
    }
    for (int32_t i = 0; i < present->bus_count; i++) {
        if (strcmp(present->buses[i].state, "up") == 0)
            continue;
        fputs("bus '", out);
        text_plain(out, present->buses[i].name, 0);
        fprintf(out, "' is %s\n",
                strcmp(present->buses[i].state, "foreign") == 0 ? "left alone: another master talks on it"
                                                                : "down");
    }
    if (present->running)
        print_flow(out, present);
}
