/* How well the plant does: yield, capacity factors, and either a performance ratio or its clear days. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "stamp.h"
#include "yield.h"

enum {
    MOST_DAYS = 62,
    MOST_MONTHS_DAYS = 5 * 366,
    NAME = 0,
    MADE,
    PER_KWP,
    CAPACITY_PEAK,
    CAPACITY_AC,
    KNOWN,
    OBSERVED,
    FIRST
};
enum { RATIO = FIRST, RATIO_25, UNDISTURBED, UNDISTURBED_25, LIGHT, WARMTH, LIT, OUTAGE, THROTTLED };
enum { CLEAR_DAYS = FIRST, INDEX, SPREAD, ERROR, REFERENCES };

#define COMMON_COLUMNS                                                                                       \
    { "period", { "", "period" }, "", SHEET_TEXT, 0, false },                                                \
        { "production_kwh", { "", "production" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },                \
        { "final_yield_kwh_per_kwp", { "final", "yield" }, "kWh/kWp", SHEET_NUMBER, 3, false },              \
        { "capacity_factor_of_kwp_share", { "capacity", "of kWp" }, "%", SHEET_SHARE, 0, false },            \
        { "capacity_factor_of_ac_rating_share", { "factor", "of AC" }, "%", SHEET_SHARE, 0, false },         \
        { "known_share", { "energy", "known" }, "%", SHEET_SHARE, 0, false },                                \
    {                                                                                                        \
        "observed_share", { "", "observed" }, "%", SHEET_SHARE, 0, false                                     \
    }

static const struct sheet_column light_columns[] = {
    COMMON_COLUMNS,
    { "performance_ratio_share", { "performance", "ratio" }, "%", SHEET_SHARE, 0, false },
    { "performance_ratio_25_share", { "the same", "at 25 degC" }, "%", SHEET_SHARE, 0, false },
    { "undisturbed_performance_ratio_share", { "undis-", "turbed" }, "%", SHEET_SHARE, 0, false },
    { "undisturbed_performance_ratio_25_share", { "the same", "at 25 degC" }, "%", SHEET_SHARE, 0, false },
    { "irradiation_kwh_per_m2", { "", "irradiation" }, "kWh/m2", SHEET_NUMBER, 3, false },
    { "module_temperature_degc", { "", "" }, "degC", SHEET_NUMBER, 3, true },
    { "light_and_energy_share", { "", "" }, "%", SHEET_SHARE, 0, true },
    { "outage_hours", { "", "" }, "h", SHEET_NUMBER, 3, true },
    { "throttled_hours", { "", "" }, "h", SHEET_NUMBER, 3, true },
};

static const struct sheet_column clear_columns[] = {
    COMMON_COLUMNS,
    { "clear_days", { "clear", "days" }, "", SHEET_NUMBER, 0, false },
    { "clear_day_index_share", { "beside clear", "days elsewhere" }, "%", SHEET_SHARE, 0, false },
    { "clear_day_spread_share", { "", "spread" }, "%", SHEET_SHARE, 0, false },
    { "clear_day_error_share", { "", "+-" }, "%", SHEET_SHARE, 0, false },
    { "reference_days", { "refer-", "ences" }, "", SHEET_NUMBER, 0, false },
};

#define COUNT(columns) ((int32_t)(sizeof(columns) / sizeof((columns)[0])))

struct work {
    struct inquiry inquiry;
    struct yield yield;
    struct sheet sheet;
    enum row_unit unit;
    char (*names)[STAMP_SIZE]; /* heap: of the rows and the total */
};

static struct sheet_cell share(double value, int32_t decimals)
{
    return (struct sheet_cell){ .value = isnan(value) ? UNKNOWN : llround(value * SHARE_ONE),
                                .decimals = decimals };
}

static struct sheet_cell number(double value, int32_t decimals)
{
    return (struct sheet_cell){ .value = isnan(value) ? UNKNOWN : llround(value * 1000),
                                .decimals = decimals,
                                .thousands = true };
}

static struct sheet_cell count_of(int64_t value)
{
    return (struct sheet_cell){ .value = value };
}

static void set_light(struct sheet_cell *cells, const struct yield_row *row)
{
    double warmth = performance_warmth(&row->light);
    cells[RATIO] = share(row->ratio, 1);
    cells[RATIO_25] = share(row->ratio_25, 1);
    cells[UNDISTURBED] = share(row->undisturbed_ratio, 1);
    cells[UNDISTURBED_25] = share(row->undisturbed_25, 1);
    if (row->light.seconds == 0)
        return;
    cells[LIGHT] = number(row->light.light, 1);
    cells[WARMTH] = number(warmth, 1);
    cells[LIT] = (struct sheet_cell){ .value = number_share_down(row->light.seconds, row->length_s) };
    cells[OUTAGE] = number((double)row->outage_s / 3600, 2);
    cells[THROTTLED] = number((double)row->throttled_s / 3600, 2);
}

static void set_clear(struct sheet_cell *cells, const struct clear_index *clear)
{
    cells[CLEAR_DAYS] = count_of(clear->days);
    cells[INDEX] = share(clear->index, 1);
    cells[SPREAD] = share(clear->spread, 1);
    cells[ERROR] = share(clear->error, 1);
    cells[REFERENCES] = count_of(clear->references);
}

static void add_row(struct work *work, const struct yield_row *row, const char *name)
{
    struct sheet_cell *cells = sheet_row(&work->sheet);
    if (!cells)
        return;
    int32_t decimals = number_decimals_of_step(work->inquiry.head.production_step, 3);
    cells[NAME].text = name;
    cells[MADE] = (struct sheet_cell){ .value = row->made, .decimals = decimals, .thousands = true };
    cells[PER_KWP] = number(row->per_kwp, work->unit == ROW_DAY ? 2 : 1);
    cells[CAPACITY_PEAK] = share(row->capacity_peak, 2);
    cells[CAPACITY_AC] = share(row->capacity_ac, 2);
    cells[KNOWN] =
        (struct sheet_cell){ .value = number_share_down(row->known_s, row->length_s), .decimals = 1 };
    if (!row->sealed)
        cells[OBSERVED] =
            (struct sheet_cell){ .value = number_share_down(row->observed_s, row->length_s), .decimals = 1 };
    if (work->yield.has_light)
        set_light(cells, row);
    else if (work->yield.days[0].plant->has_place)
        set_clear(cells, &row->clear);
}

static const char *name_row(const struct work *work, const struct yield_row *row, char name[STAMP_SIZE])
{
    const struct civil *civil = work->inquiry.session.civil;
    if (work->unit == ROW_DAY)
        return stamp_date(name, civil, row->from_s);
    stamp_month(name, civil, row->from_s);
    if (work->unit == ROW_YEAR)
        name[4] = '\0';
    return name;
}

/* Where light is measured: by what, and what the ratios mean. */
static void note_light(struct work *work)
{
    const struct yield_row *total = &work->yield.total;
    const struct plant *plant = work->yield.days[work->yield.day_count - 1].plant;
    struct sheet *sheet = &work->sheet;
    for (int32_t i = 0; i < plant->plane_count && plant->in_plane; i++)
        sheet_note(sheet, "irradiance of the plane %d/%d (degrees from north, tilt; %.2f kWp) from '%s'",
                   (int)plant->planes[i].azimuth, (int)plant->planes[i].tilt, plant->planes[i].peak_kw,
                   plant->weather[plant->planes[i].sensor].name);
    sheet_note(sheet,
               "performance ratio (IEC 61724-1): an interval without irradiance or without measured "
               "energy is in neither sum; %.1f %% of the span so far are in them",
               total->length_s > 0 ? 100.0 * (double)total->light.seconds / (double)total->length_s : 0.0);
    sheet_note(sheet,
               "undisturbed: without %.1f h of outages and %.1f h in which the inverters were "
               "throttled: at their stated output, or less than usual at high voltage",
               (double)total->outage_s / 3600, (double)total->throttled_s / 3600);
    if (isnan(total->ratio_25))
        sheet_note(sheet, "not known at 25 degC: it needs a measured module or ambient temperature and "
                          "'temperature_coefficient' of the production meter");
    else if (total->warmth_computed)
        sheet_note(sheet,
                   "module temperatures are computed from the air's, for an open rack and a wind of 1 m/s");
}

/* Where it is not: why, and what stands in its place. */
static void note_clear(struct work *work)
{
    const struct plant *plant = work->yield.days[work->yield.day_count - 1].plant;
    struct sheet *sheet = &work->sheet;
    if (plant->weather_count > 0 && plant->plane_count == 0)
        sheet_note(sheet, "no performance ratio: azimuth, tilt and peak power of the plant are not stated");
    else if (plant->weather_count > 0 && !plant->in_plane)
        sheet_note(sheet, "no performance ratio: no weather meter looks into the plane of the modules");
    else
        sheet_note(sheet, "no performance ratio: irradiance in the plane of the modules was not measured");
    if (!plant->has_place)
        sheet_note(sheet, "no clear days: the record does not say where the site lies");
    else
        sheet_note(sheet,
                   "clear days are chosen by the plant's own curve; beside them stand its clear days within "
                   "%d days of the season outside the row, at least %d of them",
                   CLEAR_DAYS_AROUND, CLEAR_DAYS_REFERENCES);
}

static void add_notes(struct work *work)
{
    const struct yield *yield = &work->yield;
    bool peak = true, ac = true;
    for (int32_t i = 0; i < yield->day_count; i++) {
        peak = peak && yield->days[i].plant->peak_kw > 0;
        ac = ac && yield->days[i].plant->ac_kw > 0;
    }
    inquiry_head(&work->inquiry, &work->sheet);
    if (yield->day_count == 0)
        return;
    const struct plant *newest = yield->days[yield->day_count - 1].plant;
    if (peak)
        sheet_note(&work->sheet, "final yield and capacity factor of kWp: per %.3g kWp of modules%s",
                   newest->peak_kw, yield->plants.count > 1 ? " (the newest; each day by its own)" : "");
    else
        sheet_note(&work->sheet, "'peak_power' of the production meter is not stated: no yield per kWp");
    if (ac)
        sheet_note(&work->sheet, "capacity factor of AC: of %.3g kW output of the inverters", newest->ac_kw);
    else
        sheet_note(&work->sheet,
                   "'ac_rating' of the production meter is not stated: no capacity factor of AC");
    sheet_note(&work->sheet, "capacity factors divide by the time that the energy is known for");
    if (yield->has_light)
        note_light(work);
    else
        note_clear(work);
}

static bool print(struct work *work, const struct options *options)
{
    char title[CONFIG_NAME_SIZE + 2 * STAMP_SIZE + 60], from[STAMP_SIZE], to[STAMP_SIZE];
    const struct inquiry *inquiry = &work->inquiry;
    const struct yield *yield = &work->yield;
    if (yield->has_light)
        sheet_init(&work->sheet, "yield", inquiry->session.civil, light_columns, COUNT(light_columns));
    else
        sheet_init(&work->sheet, "yield", inquiry->session.civil, clear_columns, COUNT(clear_columns));
    snprintf(title, sizeof title, "%s, yield from %s to %s", inquiry->head.site.name,
             stamp_date(from, inquiry->session.civil, inquiry->from_s),
             stamp_date(to, inquiry->session.civil, inquiry->to_s - 1));
    work->sheet.title = title;
    work->names = calloc((size_t)yield->row_count + 1, sizeof *work->names);
    work->sheet.failed = !work->names;
    for (int32_t i = 0; work->names && i < yield->row_count; i++)
        add_row(work, &yield->rows[i], name_row(work, &yield->rows[i], work->names[i]));
    if (yield->row_count > 1)
        add_row(work, &yield->total, "total");
    add_notes(work);
    bool good = sheet_print(&work->sheet, options);
    sheet_free(&work->sheet);
    free(work->names);
    return good;
}

static bool choose_unit(struct work *work, const struct options *options)
{
    int64_t days = work->inquiry.period.to_day - work->inquiry.period.from_day;
    switch (options->by) {
    case BY_DEFAULT:
        work->unit = days <= MOST_DAYS ? ROW_DAY : days <= MOST_MONTHS_DAYS ? ROW_MONTH : ROW_YEAR;
        return true;
    case BY_DAY:
        work->unit = ROW_DAY;
        return true;
    case BY_MONTH:
        work->unit = ROW_MONTH;
        return true;
    case BY_YEAR:
        work->unit = ROW_YEAR;
        return true;
    default:
        fputs("meterbook: '--by' of yield: allowed are default, day, month, year\n", stderr);
        return false;
    }
}

enum exit_code cmd_yield(const struct options *options, const char *const *arguments)
{
    struct work work = { 0 };
    enum exit_code code = EXIT_USAGE;
    if (choose_unit(&work, options))
        code = inquiry_open(&work.inquiry, options, arguments[0], "all");
    if (code == EXIT_ANSWERED && work.inquiry.head.total.balance.production == UNKNOWN) {
        fputs("meterbook: nothing is known of what was made in that span\n", stderr);
        code = EXIT_NO_DATA;
    }
    if (code == EXIT_ANSWERED) {
        choose_unit(&work, options);
        bool good = yield_read(&work.yield, &work.inquiry) && yield_read_light(&work.yield, &work.inquiry) &&
                    yield_add_up(&work.yield, &work.inquiry, work.unit) && print(&work, options);
        code = good ? EXIT_ANSWERED : EXIT_RECORD;
    }
    yield_free(&work.yield);
    inquiry_close(&work.inquiry);
    return code;
}
