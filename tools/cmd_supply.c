/* The supply over a span: voltages by week against EN 50160, frequency, voltage against export. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "inquiry.h"
#include "meters.h"
#include "stamp.h"
#include "supply_notes.h"

enum { MILLI = 3, HOURS_SCALE = 2, NAME_SIZE = 16, TITLE_SIZE = CONFIG_NAME_SIZE + 80, NO_COLUMN = -1 };

enum view { VIEW_WEEKS, VIEW_FREQUENCY, VIEW_EXPORT, VIEW_HISTOGRAM, VIEW_LOST };
static const char *const views[] = { "voltage", "frequency", "export", "histogram", "lost", NULL };
static const char *const phase_names[SUPPLY_PHASES] = { "L1", "L2", "L3" };

enum { COLUMN_BANDED = 12 };
static const struct sheet_column voltage_columns[] = {
    { "period", { "", "" }, "", SHEET_TEXT, 0, false },
    { "from", { "", "from" }, "", SHEET_DATE, 0, false },
    { "phase", { "", "phase" }, "", SHEET_TEXT, 0, false },
    { "expected", { "", "" }, "", SHEET_NUMBER, 0, true },
    { "valid", { "valid", "N" }, "", SHEET_NUMBER, 0, false },
    { "flagged", { "", "flagged" }, "", SHEET_NUMBER, 0, false },
    { "invalid", { "", "invalid" }, "", SHEET_NUMBER, 0, false },
    { "outside", { "outside", "N1" }, "", SHEET_NUMBER, 0, false },
    { "outside_share", { "", "N1/N" }, "%", SHEET_SHARE, 0, false },
    { "beyond", { "beyond", "N2" }, "", SHEET_NUMBER, 0, false },
    { "lowest_v", { "", "lowest" }, "V", SHEET_NUMBER, MILLI, false },
    { "highest_v", { "", "highest" }, "V", SHEET_NUMBER, MILLI, false },
    { "outside_band", { "outside", "band" }, "", SHEET_NUMBER, 0, false },
    { "throttle_hours", { "over", "level" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "mean_v", { "", "" }, "V", SHEET_NUMBER, MILLI, true },
    { "verdict", { "EN 50160,", "indicative" }, "", SHEET_TEXT, 0, false },
};
static const struct sheet_column frequency_columns[] = {
    { "period", { "", "" }, "", SHEET_TEXT, 0, false },
    { "from", { "", "from" }, "", SHEET_DATE, 0, false },
    { "known_hours", { "", "known" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "within_share", { "within", "+-1 %" }, "%", SHEET_SHARE, 0, false },
    { "beyond_s", { "beyond", "+4/-6 %" }, "s", SHEET_NUMBER, 0, false },
    { "lowest_hz", { "", "lowest" }, "Hz", SHEET_NUMBER, MILLI, false },
    { "highest_hz", { "", "highest" }, "Hz", SHEET_NUMBER, MILLI, false },
};
static const struct sheet_column export_columns[] = {
    { "from_kw", { "export", "from" }, "kW", SHEET_NUMBER, MILLI, false },
    { "to_kw", { "", "to" }, "kW", SHEET_NUMBER, MILLI, false },
    { "hours", { "", "hours" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "median_v", { "voltage,", "median" }, "V", SHEET_NUMBER, MILLI, false },
    { "mean_v", { "", "mean" }, "V", SHEET_NUMBER, MILLI, false },
};
static const struct sheet_column histogram_columns[] = {
    { "from_v", { "voltage", "from" }, "V", SHEET_NUMBER, 0, false },
    { "l1", { "10 minutes", "L1" }, "", SHEET_NUMBER, 0, false },
    { "l2", { "", "L2" }, "", SHEET_NUMBER, 0, false },
    { "l3", { "", "L3" }, "", SHEET_NUMBER, 0, false },
};
static const struct sheet_column lost_columns[] = {
    { "what", { "", "" }, "", SHEET_TEXT, 0, false },
    { "against", { "", "against" }, "", SHEET_TEXT, 0, false },
    { "falls_at_level", { "falls", "at level" }, "", SHEET_NUMBER, 0, false },
    { "falls_others", { "", "others" }, "", SHEET_NUMBER, 0, false },
    { "share_at_level", { "of the time", "at level" }, "%", SHEET_SHARE, 0, false },
    { "share_others", { "", "others" }, "%", SHEET_SHARE, 0, false },
    { "days", { "", "days" }, "", SHEET_NUMBER, 0, false },
    { "not_made_kwh", { "not", "made" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "evidence", { "", "" }, "", SHEET_TEXT, 0, false },
};
#define COUNT(columns) ((int32_t)(sizeof(columns) / sizeof((columns)[0])))

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct supply_answer *answer; /* heap */
    struct sheet sheet;
    struct sheet_column columns[COUNT(voltage_columns)]; /* of the voltages: a band may be there or not */
    char (*names)[NAME_SIZE];                            /* heap: of weeks or months */
    char (*verdicts)[NAME_SIZE + 40];                    /* heap: of months and phases */
    char title[TITLE_SIZE];
};

static struct sheet_cell number(int64_t value, int32_t decimals)
{
    return (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static struct sheet_cell share(int64_t part, int64_t whole)
{
    return (struct sheet_cell){ .value = number_share(part, whole), .decimals = 1 };
}

/* Ten minutes to hundredths of an hour. */
static struct sheet_cell block_hours(int64_t blocks)
{
    return number((blocks * 100 + 3) / 6, 1);
}

static struct sheet_cell hours(int64_t seconds)
{
    return number((seconds + 18) / 36, 1);
}

static bool by_month(const struct work *work)
{
    return work->options->by == BY_MONTH;
}

static const struct supply_row *rows_of(const struct work *work, int32_t *count)
{
    *count = by_month(work) ? work->answer->month_count : work->answer->week_count;
    return by_month(work) ? work->answer->months : work->answer->weeks;
}

static void write_name(const struct work *work, const struct supply_row *row, char name[NAME_SIZE])
{
    char stamp[STAMP_SIZE];
    const struct civil *civil = work->inquiry.session.civil;
    int32_t year, week;
    period_week(civil_day_of(civil, row->from_s), &year, &week);
    if (by_month(work))
        snprintf(name, NAME_SIZE, "%.7s", stamp_month(stamp, civil, row->from_s));
    else
        snprintf(name, NAME_SIZE, "%04d-W%02d", (int)(year % 10000), (int)(week % 100));
}

/* Of the weeks that begin in a month. */
static void write_months_verdict(const struct work *work, const struct supply_row *month, int32_t phase,
                                 char out[NAME_SIZE + 40])
{
    int32_t told = 0, complied = 0;
    for (int32_t i = 0; i < work->answer->week_count; i++) {
        const struct supply_row *week = &work->answer->weeks[i];
        if (week->from_s < month->from_s || week->from_s >= month->to_s)
            continue;
        enum supply_verdict verdict = supply_verdict(&work->answer->supply.limits, week, phase);
        told += verdict < SUPPLY_TOO_FEW;
        complied += verdict == SUPPLY_COMPLIES || verdict == SUPPLY_COMPLIES_NEARLY;
    }
    if (told > 0)
        snprintf(out, NAME_SIZE + 40, "%d of %d weeks comply", (int)complied, (int)told);
    else
        snprintf(out, NAME_SIZE + 40, "no verdict of any week");
}

static void add_phase(struct work *work, const struct supply_row *row, const char *name, int32_t phase,
                      char verdict[NAME_SIZE + 40])
{
    const struct supply_phase *counted = &row->phases[phase];
    struct sheet_cell *cells = sheet_row(&work->sheet);
    if (!cells)
        return;
    cells[0].text = name;
    cells[1].value = row->from_s;
    cells[2].text = phase_names[phase];
    cells[3] = number(row->expected, 0);
    cells[4] = number(counted->valid, 0);
    cells[5] = number(counted->flagged, 0);
    cells[6] = number(supply_invalid(row, phase), 0);
    cells[7] = number(counted->outside, 0);
    cells[8] = (struct sheet_cell){ .value = number_share(counted->outside, counted->valid), .decimals = 2 };
    cells[9] = number(counted->beyond, 0);
    cells[10] = number(counted->least, 1);
    cells[11] = number(counted->most, 1);
    cells[12] = number(counted->banded, 0);
    cells[13] = block_hours(counted->throttled);
    cells[14] = number(counted->valid > 0 ? counted->sum / counted->valid : UNKNOWN, 1);
    if (by_month(work))
        write_months_verdict(work, row, phase, verdict);
    cells[15].text = by_month(work)
                         ? verdict
                         : supply_verdict_words[supply_verdict(&work->answer->supply.limits, row, phase)];
}

static void add_voltages(struct work *work)
{
    const struct supply_limits *limits = &work->answer->supply.limits;
    int32_t count;
    const struct supply_row *rows = rows_of(work, &count);
    memcpy(work->columns, voltage_columns, sizeof(work->columns));
    work->columns[COLUMN_BANDED].data_only = limits->band_low == UNKNOWN && limits->band_high == UNKNOWN;
    work->sheet.columns = work->columns;
    for (int32_t i = 0; i < count; i++)
        for (int32_t p = 0; p < SUPPLY_PHASES; p++)
            if (work->answer->supply.phases & 1U << p)
                add_phase(work, &rows[i], work->names[i], p, work->verdicts[i * SUPPLY_PHASES + p]);
    supply_note_limits(&work->sheet, work->answer);
    supply_note_throttle(&work->sheet, work->answer);
    supply_note_lost(&work->sheet, work->answer);
    supply_note_export(&work->sheet, work->answer);
    supply_note_unbalance(&work->sheet, work->answer);
    supply_note_frequency(&work->sheet, work->answer, work->inquiry.head.site.interval_s);
}

static void add_frequencies(struct work *work)
{
    int32_t count;
    const struct supply_row *rows = rows_of(work, &count);
    supply_note_frequency(&work->sheet, work->answer, work->inquiry.head.site.interval_s);
    for (int32_t i = 0; i < count; i++) {
        const struct supply_frequency *frequency = &rows[i].frequency;
        struct sheet_cell *cells = frequency->known_s > 0 ? sheet_row(&work->sheet) : NULL;
        if (!cells)
            continue;
        cells[0].text = work->names[i];
        cells[1].value = rows[i].from_s;
        cells[2] = hours(frequency->known_s);
        cells[3] = (struct sheet_cell){ .value = supply_frequency_share(frequency), .decimals = 2 };
        cells[4] = number(frequency->beyond_s, 0);
        cells[5] = number(frequency->least, 2);
        cells[6] = number(frequency->most, 2);
    }
}

static void add_export(struct work *work)
{
    const struct supply_export *export = &work->answer->supply.export;
    supply_note_export(&work->sheet, work->answer);
    sheet_note(&work->sheet,
               "export less import of 10 minutes; the row without a beginning is import; voltage is "
               "the mean of the phases");
    for (int32_t i = 0; i <= EXPORT_BINS; i++) {
        struct sheet_cell *cells = export->bins[i].count > 0 ? sheet_row(&work->sheet) : NULL;
        if (!cells)
            continue;
        cells[0] = number(i > 0 ? (i - 1) * export->width : UNKNOWN, 1);
        cells[1] = number(i * export->width, 1);
        cells[2] = block_hours(export->bins[i].count);
        cells[3] = number(export_bin_median(&export->bins[i]), 1);
        cells[4] = number(export_bin_mean(&export->bins[i]), 1);
    }
}

static void add_histogram(struct work *work)
{
    const struct supply *supply = &work->answer->supply;
    for (int32_t v = 0; v < SUPPLY_VOLTS; v++) {
        bool any = false;
        for (int32_t p = 0; p < SUPPLY_PHASES; p++)
            any = any || supply->histogram[p][v] > 0;
        struct sheet_cell *cells = any ? sheet_row(&work->sheet) : NULL;
        if (!cells)
            continue;
        cells[0] = number(v, 0);
        for (int32_t p = 0; p < SUPPLY_PHASES; p++)
            if (supply->phases & 1U << p)
                cells[1 + p] = number(supply->histogram[p][v], 0);
    }
}

static void add_lost(struct work *work)
{
    supply_note_throttle(&work->sheet, work->answer);
    supply_note_lost(&work->sheet, work->answer);
    sheet_note(&work->sheet,
               "production: falls from a steady half hour below the line to the next one, which a clear day "
               "does not do; not made, at least: up to that line");
    sheet_note(&work->sheet, "parts: falls to less than half of the peers per Wp for an hour at most; not "
                             "made: up to the peers");
    sheet_note(&work->sheet,
               "evidence: three falls at the level on two days, and three times the share of time "
               "that falls have below it, where they are clouds (own choice)");
    for (int32_t i = 0; i < work->answer->source_count; i++) {
        const struct supply_source *source = &work->answer->sources[i];
        struct sheet_cell *cells = sheet_row(&work->sheet);
        if (!cells)
            continue;
        cells[0].text = source->name;
        cells[1].text = source->by_peers ? "peers" : "its own clear day";
        cells[2] = number(source->lost.at_level, 0);
        cells[3] = number(source->lost.others, 0);
        cells[4] = share(source->lost.at_level_fallen, source->lost.at_level_blocks);
        cells[5] = share(source->lost.other_fallen, source->lost.other_blocks);
        cells[6] = number(source->lost.days, 0);
        cells[7] = number(source->lost.energy, 1);
        cells[8].text = lost_is_evident(&source->lost) ? "evidence" : "no evidence";
    }
}

static const struct {
    const struct sheet_column *columns;
    int32_t count;
    void (*add)(struct work *work);
    const char *what;
} sheets[] = {
    [VIEW_WEEKS] = { voltage_columns, COUNT(voltage_columns), add_voltages, "voltage of the supply" },
    [VIEW_FREQUENCY] = { frequency_columns, COUNT(frequency_columns), add_frequencies,
                         "frequency of the supply" },
    [VIEW_EXPORT] = { export_columns, COUNT(export_columns), add_export, "voltage against export" },
    [VIEW_HISTOGRAM] = { histogram_columns, COUNT(histogram_columns), add_histogram,
                         "voltages of 10 minutes" },
    [VIEW_LOST] = { lost_columns, COUNT(lost_columns), add_lost, "production lost to high voltage" },
};

static bool make_names(struct work *work)
{
    int32_t count;
    const struct supply_row *rows = rows_of(work, &count);
    work->names = calloc((size_t)count + 1, sizeof(*work->names));
    work->verdicts = calloc((size_t)count * SUPPLY_PHASES + 1, sizeof(*work->verdicts));
    for (int32_t i = 0; work->names && i < count; i++)
        write_name(work, &rows[i], work->names[i]);
    return work->names && work->verdicts;
}

static enum exit_code print(struct work *work, enum view view)
{
    const struct inquiry *inquiry = &work->inquiry;
    char from[STAMP_SIZE], to[STAMP_SIZE];
    sheet_init(&work->sheet, "supply", inquiry->session.civil, sheets[view].columns, sheets[view].count);
    snprintf(work->title, sizeof(work->title), "%s, %s, %s to %s", inquiry->head.site.name, sheets[view].what,
             stamp_date(from, inquiry->session.civil, inquiry->from_s),
             stamp_date(to, inquiry->session.civil, inquiry->to_s - 1));
    work->sheet.title = work->title;
    supply_note_source(&work->sheet, work->answer, inquiry->head.site.interval_s);
    if (make_names(work))
        sheets[view].add(work);
    else
        work->sheet.failed = true;
    inquiry_head(inquiry, &work->sheet);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

static enum exit_code answer(struct work *work, enum view view)
{
    int32_t meter = 0;
    enum exit_code code = work->options->meter
                              ? meters_find(&work->inquiry.session, work->options->meter, &meter)
                              : EXIT_ANSWERED;
    if (code != EXIT_ANSWERED)
        return code;
    switch (supply_read(work->answer, &work->inquiry, meter)) {
    case SUPPLY_READY:
        return print(work, view);
    case SUPPLY_NO_VOLTAGE:
        fputs("meterbook: no voltage was measured in that span\n", stderr);
        return EXIT_NO_DATA;
    case SUPPLY_TOO_COARSE:
        fprintf(stderr,
                "meterbook: intervals of %d s cannot tell voltages of 10 minutes: 'interval' must "
                "divide 600 s\n",
                (int)work->answer->coarse_s);
        return EXIT_NO_DATA;
    case SUPPLY_FAILED:
        break;
    }
    if (!query_error(work->inquiry.session.query)) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    return session_failed(&work->inquiry.session);
}

enum exit_code cmd_supply(const struct options *options, const char *const *arguments)
{
    struct work work = { .options = options };
    int32_t view = options_view(options, views);
    if (view < 0)
        return EXIT_USAGE;
    if (options->by != BY_DEFAULT && options->by != BY_WEEK && options->by != BY_MONTH) {
        fputs("meterbook: '--by' of supply: allowed are week (default), month\n", stderr);
        return EXIT_USAGE;
    }
    work.answer = calloc(1, sizeof(*work.answer));
    if (!work.answer) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    enum exit_code code = inquiry_open_of(&work.inquiry, options, arguments[0], "all",
                                          (struct answer_what){ .fine = true, .single = true });
    if (code == EXIT_ANSWERED)
        code = answer(&work, (enum view)view);
    supply_answer_free(work.answer);
    sheet_free(&work.sheet);
    free(work.answer);
    free(work.names);
    free(work.verdicts);
    inquiry_close(&work.inquiry);
    return code;
}
