/* Every interval of every meter with all that the record has of it: a line each. */
#include "extract_rows.h"
#include "extract_tables.h"
#include "figure.h"
#include "schema.h"

#define PLAIN(name, type, unit, description)                                                                 \
    {                                                                                                        \
        name, FIELD_##type, unit, QUANTITY_COUNT, description                                                \
    }
#define ENERGY(name, unit, quantity, of)                                                                     \
    {                                                                                                        \
        name, FIELD_NUMBER, unit, Q_##quantity, of " energy of the interval, from the counter"               \
    }
#define MEAN(name, unit, quantity, of)                                                                       \
    {                                                                                                        \
        name, FIELD_NUMBER, unit, Q_##quantity, of ", mean over the interval"                                \
    }
#define ROOT_MEAN_SQUARE(name, unit, quantity, of)                                                           \
    {                                                                                                        \
        name, FIELD_NUMBER, unit, Q_##quantity, of ", root mean square over the interval"                    \
    }

enum { FIXED_FIELDS = 11, THOUSANDTHS = 3, WORDS_SIZE = 120 }; /* fixed ones come first: write_row() */

const struct field interval_fields[] = {
    PLAIN("time", DATETIME, "", "start of the interval, local time with its offset from UTC"),
    PLAIN("duration_s", INTEGER, "s", "length of the interval"),
    PLAIN("meter", INTEGER, "", "number of the meter: it outlives its name"),
    PLAIN("name", TEXT, "", "name of the meter by the settings in force then"),
    PLAIN("role", TEXT, "", "what the meter stands for"),
    PLAIN("how", TEXT, "",
          "measured, interpolated, estimated, asleep (an inverter), entered (a counter from "
          "elsewhere) or entered_energy"),
    PLAIN("flags", TEXT, "", "what else must be known of the interval: words, parted by spaces"),
    PLAIN("estimated_kwh", NUMBER, "kWh", "of import and export together: placed here by filling"),
    PLAIN("unobserved_s", INTEGER, "s", "time in which the meter did not answer"),
    PLAIN("power_min_w", NUMBER, "W", "least of the readings"),
    PLAIN("power_max_w", NUMBER, "W", "greatest of the readings"),
    ENERGY("import_kwh", "kWh", ACTIVE_IMPORT, "active import"),
    ENERGY("export_kwh", "kWh", ACTIVE_EXPORT, "active export"),
    ENERGY("reactive_import_kvarh", "kvarh", REACTIVE_IMPORT, "reactive import"),
    ENERGY("reactive_export_kvarh", "kvarh", REACTIVE_EXPORT, "reactive export"),
    ENERGY("apparent_import_kvah", "kVAh", APPARENT_IMPORT, "apparent import"),
    ENERGY("apparent_export_kvah", "kVAh", APPARENT_EXPORT, "apparent export"),
    MEAN("power_w", "W", POWER, "active power, import positive"),
    MEAN("power_l1_w", "W", POWER_L1, "active power of phase 1"),
    MEAN("power_l2_w", "W", POWER_L2, "active power of phase 2"),
    MEAN("power_l3_w", "W", POWER_L3, "active power of phase 3"),
    MEAN("reactive_power_var", "var", REACTIVE_POWER, "reactive power"),
    MEAN("apparent_power_va", "VA", APPARENT_POWER, "apparent power"),
    ROOT_MEAN_SQUARE("voltage_l1_v", "V", VOLTAGE_L1, "voltage of phase 1"),
    ROOT_MEAN_SQUARE("voltage_l2_v", "V", VOLTAGE_L2, "voltage of phase 2"),
    ROOT_MEAN_SQUARE("voltage_l3_v", "V", VOLTAGE_L3, "voltage of phase 3"),
    MEAN("current_l1_a", "A", CURRENT_L1, "current of phase 1"),
    MEAN("current_l2_a", "A", CURRENT_L2, "current of phase 2"),
    MEAN("current_l3_a", "A", CURRENT_L3, "current of phase 3"),
    MEAN("frequency_hz", "Hz", FREQUENCY, "frequency"),
    MEAN("power_factor", "", POWER_FACTOR, "power factor"),
    MEAN("dc_power_w", "W", DC_POWER, "direct-current power"),
    MEAN("dc_voltage_v", "V", DC_VOLTAGE, "direct-current voltage"),
    MEAN("irradiance_w_per_m2", "W/m2", IRRADIANCE, "irradiance"),
    MEAN("temperature_degc", "degC", TEMPERATURE, "temperature of the device"),
    MEAN("module_temperature_degc", "degC", MODULE_TEMPERATURE, "temperature of the modules"),
    MEAN("ambient_temperature_degc", "degC", AMBIENT_TEMPERATURE, "temperature of the air"),
};
const int32_t interval_field_count = sizeof(interval_fields) / sizeof(interval_fields[0]);

static const char *method_name(int32_t how)
{
    static const char *const names[] = { "measured", "interpolated", "estimated",
                                         "asleep",   "entered",      "entered_energy" };
    int32_t method = how & HOW_METHOD_MASK;
    return method < (int32_t)(sizeof(names) / sizeof(names[0])) ? names[method] : NULL;
}

static const char *flag_words(char words[WORDS_SIZE], int32_t how)
{
    int32_t flag;
    size_t length = 0;
    words[0] = '\0';
    for (int32_t i = 0;; i++) {
        const char *name = flag_name(i, &flag);
        if (!name)
            return words;
        if (how & flag && length < WORDS_SIZE)
            length += (size_t)snprintf(words + length, WORDS_SIZE - length, "%s%s", length ? " " : "", name);
    }
}

static void write_row(struct line *line, struct extract_rows *rows, const struct extract_row *row)
{
    const struct wide_row *wide = &row->wide;
    const struct arranged_meter *meter = extract_rows_meter(rows, wide->meter, wide->start_s);
    char words[WORDS_SIZE];
    line_stamp(line, rows->civil, wide->start_s);
    line_number(line, row->end_s - wide->start_s, 0);
    line_number(line, wide->meter, 0);
    line_text(line, meter ? meter->name : NULL);
    line_text(line, meter ? role_name(meter->role) : NULL);
    line_text(line, method_name(wide->how));
    line_text(line, flag_words(words, wide->how & ~HOW_METHOD_MASK));
    line_number(line, wide->estimated, ENERGY_SCALE);
    line_number(line, wide->unobserved, 0);
    line_number(line, wide->power_min, THOUSANDTHS);
    line_number(line, wide->power_max, THOUSANDTHS);
    for (int32_t i = FIXED_FIELDS; i < interval_field_count; i++) {
        enum quantity quantity = interval_fields[i].quantity;
        line_number(line, wide->values[quantity],
                    (int32_t)quantity < COUNTER_COUNT ? ENERGY_SCALE : THOUSANDTHS);
    }
    line_end(line);
}

void extract_count(struct extract *extract, const struct wide_row *row)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    extract->rows++;
    extract->estimated += row->estimated > 0;
    extract->entered += method == HOW_ENTERED || method == HOW_ENTERED_ENERGY;
    extract->corrected += (row->how & HOW_CORRECTED) != 0;
}

bool extract_intervals(struct extract *extract, FILE *out)
{
    struct extract_rows rows = { .query = extract->query,
                                 .civil = extract->civil,
                                 .period = extract->period,
                                 .meter = extract->meter,
                                 .wide = true };
    struct line line = { out, 0 };
    bool good = extract_rows_begin(&rows);
    while (good && !ferror(out) && extract_rows_day(&rows)) {
        for (int32_t i = 0; i < rows.count; i++) {
            write_row(&line, &rows, &rows.rows[i]);
            extract_count(extract, &rows.rows[i].wide);
        }
        progress_show(&extract->progress, "extract", rows.day - extract->period.from_day,
                      extract->period.to_day - extract->period.from_day);
    }
    good = good && !rows.failed;
    extract_rows_free(&rows);
    return good;
}

bool extract_csv(struct extract *extract, FILE *out)
{
    field_heads(out, interval_fields, interval_field_count);
    return extract_intervals(extract, out);
}
