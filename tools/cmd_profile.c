/* The average day of a span, by class of weekday or by month. */
#include <stdio.h>
#include <stdlib.h>

#include "flow.h"
#include "profile.h"

#define POWER(key, first, second)                                                                            \
    {                                                                                                        \
        key, { first, second }, "kW", SHEET_NUMBER, ENERGY_SCALE, false                                      \
    }
#define HOURS(key)                                                                                           \
    {                                                                                                        \
        key, { "", "" }, "h", SHEET_NUMBER, 3, true                                                          \
    }

enum { FIXED_COLUMNS = 2, HOUR_SIZE = 8, HOUR = 3600, NOTED_MONTHS = 4 };

static const struct sheet_column fixed[FIXED_COLUMNS] = {
    { "flow", { "", "" }, "", SHEET_TEXT, 0, true },
    { "hour", { "", "hour" }, "", SHEET_TEXT, 0, false },
};

/* A column, and what of the profile it has. */
static const struct column {
    struct sheet_column column;
    int32_t month, class;
} by_class[] = {
    { POWER("monday_to_friday_kw", "Monday to", "Friday"), PROFILE_ALL, PROFILE_WORKDAY },
    { POWER("saturday_kw", "", "Saturday"), PROFILE_ALL, PROFILE_SATURDAY },
    { POWER("sunday_kw", "", "Sunday"), PROFILE_ALL, PROFILE_SUNDAY },
    { POWER("all_kw", "all", "days"), PROFILE_ALL, PROFILE_ALL },
    { HOURS("monday_to_friday_observed_hours"), PROFILE_ALL, PROFILE_WORKDAY },
    { HOURS("saturday_observed_hours"), PROFILE_ALL, PROFILE_SATURDAY },
    { HOURS("sunday_observed_hours"), PROFILE_ALL, PROFILE_SUNDAY },
};

static const struct column by_month[] = {
    { POWER("january_kw", "", "Jan"), 0, PROFILE_ALL },
    { POWER("february_kw", "", "Feb"), 1, PROFILE_ALL },
    { POWER("march_kw", "", "Mar"), 2, PROFILE_ALL },
    { POWER("april_kw", "", "Apr"), 3, PROFILE_ALL },
    { POWER("may_kw", "", "May"), 4, PROFILE_ALL },
    { POWER("june_kw", "", "Jun"), 5, PROFILE_ALL },
    { POWER("july_kw", "", "Jul"), 6, PROFILE_ALL },
    { POWER("august_kw", "", "Aug"), 7, PROFILE_ALL },
    { POWER("september_kw", "", "Sep"), 8, PROFILE_ALL },
    { POWER("october_kw", "", "Oct"), 9, PROFILE_ALL },
    { POWER("november_kw", "", "Nov"), 10, PROFILE_ALL },
    { POWER("december_kw", "", "Dec"), 11, PROFILE_ALL },
};

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct flow flow;
    struct profile profile;
    const struct column *columns[PROFILE_MONTHS];
    int32_t column_count;
    struct sheet_column heads[SHEET_COLUMNS];
    char hours[PROFILE_HOURS][HOUR_SIZE];
    int64_t observed_s, span_s;
    struct sheet sheet;
    char title[FLOW_TITLE_SIZE];
};

static bool feed(struct work *work)
{
    struct flow_piece piece;
    profile_init(&work->profile, work->inquiry.session.civil);
    while (flow_next(&work->flow, &piece)) {
        work->span_s += piece.to_s - piece.from_s;
        if (piece.state != FLOW_OBSERVED)
            continue;
        profile_add(&work->profile, piece.from_s, piece.to_s, piece.energy);
        work->observed_s += piece.to_s - piece.from_s;
    }
    return flow_end(&work->flow);
}

/* Months without a day have no column. */
static void choose_columns(struct work *work)
{
    bool months = work->options->by == BY_MONTH;
    const struct column *from = months ? by_month : by_class;
    size_t count = months ? sizeof(by_month) / sizeof(by_month[0]) : sizeof(by_class) / sizeof(by_class[0]);
    for (int32_t i = 0; i < FIXED_COLUMNS; i++)
        work->heads[i] = fixed[i];
    for (size_t i = 0; i < count; i++) {
        if (months && profile_days(&work->profile, from[i].month, from[i].class) == 0)
            continue;
        work->heads[FIXED_COLUMNS + work->column_count] = from[i].column;
        work->columns[work->column_count++] = &from[i];
    }
    sheet_init(&work->sheet, "profile", work->inquiry.session.civil, work->heads,
               FIXED_COLUMNS + work->column_count);
}

static void add_rows(struct work *work)
{
    /* twelve months side by side are to fit on a screen */
    int32_t most = work->options->by == BY_MONTH ? 2 : 3, decimals = flow_decimals(&work->flow, HOUR);
    for (int32_t hour = 0; hour < PROFILE_HOURS; hour++) {
        struct sheet_cell *row = sheet_row(&work->sheet);
        if (!row)
            return;
        snprintf(work->hours[hour], HOUR_SIZE, "%02d:00", (int)hour % 24);
        row[0].text = work->flow.name;
        row[1].text = work->hours[hour];
        for (int32_t i = 0; i < work->column_count; i++) {
            const struct column *column = work->columns[i];
            struct profile_cell cell = profile_hour(&work->profile, column->month, column->class, hour);
            row[FIXED_COLUMNS + i] = (struct sheet_cell){
                .value = column->column.data_only ? cell.seconds * 1000 / HOUR : profile_power(&cell),
                .decimals = decimals < most ? decimals : most,
                .thousands = true,
            };
        }
    }
}

static const char *energy_text(const struct work *work, int32_t month, int32_t class,
                               char buffer[NUMBER_SIZE])
{
    int64_t energy = profile_energy(&work->profile, month, class);
    return energy == UNKNOWN ? "-" : number_print(buffer, energy, ENERGY_SCALE, 1, ',');
}

static void note_classes(struct work *work)
{
    static const char *const names[PROFILE_CLASSES] = { "Monday to Friday", "Saturday", "Sunday" };
    char energies[PROFILE_CLASSES][NUMBER_SIZE];
    const char *texts[PROFILE_CLASSES];
    int32_t days[PROFILE_CLASSES];
    for (int32_t c = 0; c < PROFILE_CLASSES; c++) {
        texts[c] = energy_text(work, PROFILE_ALL, c, energies[c]);
        days[c] = profile_days(&work->profile, PROFILE_ALL, c);
    }
    sheet_note(&work->sheet, "a day: %s %s kWh (days: %d), %s %s kWh (days: %d), %s %s kWh (days: %d)",
               names[0], texts[0], (int)days[0], names[1], texts[1], (int)days[1], names[2], texts[2],
               (int)days[2]);
    sheet_note(&work->sheet, "holidays are not known: they are in the class of their weekday");
}

static void note_months(struct work *work)
{
    char line[NOTE_SIZE], energy[NUMBER_SIZE];
    size_t at = 0;
    for (int32_t i = 0; i < work->column_count; i++) {
        const struct column *column = work->columns[i];
        int32_t days = profile_days(&work->profile, column->month, PROFILE_ALL);
        if (at < sizeof(line))
            at += (size_t)snprintf(line + at, sizeof(line) - at, "%s %s %s kWh (days: %d)",
                                   at ? "," : "a day:", column->column.head[1],
                                   energy_text(work, column->month, PROFILE_ALL, energy), (int)days);
        if (i % NOTED_MONTHS < NOTED_MONTHS - 1 && i + 1 < work->column_count)
            continue;
        sheet_note(&work->sheet, "%s", line);
        at = 0;
    }
}

static void add_notes(struct work *work)
{
    char share[NUMBER_SIZE];
    sheet_note(
        &work->sheet,
        "mean power by the hour of the site's clock, of observed intervals alone: %s %% of the time the "
        "record has of it",
        number_print(share, number_share_down(work->observed_s, work->span_s) / 1000, 1, 1, 0));
    if (work->options->by == BY_MONTH)
        note_months(work);
    else
        note_classes(work);
}

static enum exit_code answer(struct work *work)
{
    if (!feed(work))
        return EXIT_RECORD;
    if (work->observed_s == 0)
        return flow_missing(&work->flow);
    choose_columns(work);
    inquiry_head(&work->inquiry, &work->sheet);
    add_notes(work);
    add_rows(work);
    work->sheet.title = flow_title(&work->flow, "average day", work->title);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_profile(const struct options *options, const char *const *arguments)
{
    if (options->by != BY_DEFAULT && options->by != BY_MONTH) {
        fputs("meterbook: '--by' of profile: allowed are default, month\n", stderr);
        return EXIT_USAGE;
    }
    struct work *work = calloc(1, sizeof(*work));
    if (!work) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    work->options = options;
    enum exit_code code = flow_open(&work->inquiry, options, arguments[0]);
    if (code == EXIT_ANSWERED)
        code = flow_choose(&work->flow, &work->inquiry, FLOW_CONSUMPTION, false, options) ? answer(work)
                                                                                          : EXIT_USAGE;
    sheet_free(&work->sheet);
    inquiry_close(&work->inquiry);
    free(work);
    return code;
}
