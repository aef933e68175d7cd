/* What was promised beside what was made. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "expected.h"
#include "stamp.h"

enum { NAME, MADE, EXPECTED, DIFFERENCE, SHARE, KNOWN, COLUMNS };

static const struct sheet_column columns[COLUMNS] = {
    [NAME] = { "period", { "", "period" }, "", SHEET_TEXT, 0, false },
    [MADE] = { "production_kwh", { "", "made" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    [EXPECTED] = { "expected_kwh", { "", "promised" }, "kWh", SHEET_NUMBER, 3, false },
    [DIFFERENCE] = { "difference_kwh", { "", "difference" }, "kWh", SHEET_NUMBER, 3, false },
    [SHARE] = { "difference_share", { "difference", "of promised" }, "%", SHEET_SHARE, 0, false },
    [KNOWN] = { "known_share", { "of the", "months known" }, "%", SHEET_SHARE, 0, false },
};

struct work {
    struct inquiry inquiry;
    struct yield yield;
    struct expected expected;
    struct sheet sheet;
    enum row_unit unit;
    char (*names)[STAMP_SIZE]; /* heap */
};

static struct sheet_cell energy(double kwh)
{
    return (struct sheet_cell){ .value = isnan(kwh) ? UNKNOWN : llround(kwh * 1000), .thousands = true };
}

static void add_row(struct work *work, const struct expected_row *row, const char *name)
{
    struct sheet_cell *cells = sheet_row(&work->sheet);
    if (!cells)
        return;
    double made = row->made == UNKNOWN ? NAN : (double)row->made / 1e6, off = made - row->expected;
    int32_t decimals = number_decimals_of_step(work->inquiry.head.production_step, 1);
    cells[NAME].text = name;
    cells[MADE] = (struct sheet_cell){ .value = row->made, .decimals = decimals, .thousands = true };
    if (row->known > 0) {
        cells[EXPECTED] = energy(row->expected);
        cells[DIFFERENCE] = energy(off);
        if (!isnan(off) && row->expected > 0)
            cells[SHARE] =
                (struct sheet_cell){ .value = llround(off / row->expected * SHARE_ONE), .decimals = 1 };
    }
    cells[KNOWN] = (struct sheet_cell){ .value = llround(fmin(row->known, 1) * SHARE_ONE), .decimals = 1 };
}

static void note_verdict(struct sheet *sheet, const struct expected *expected)
{
    static const char *const words[] = {
        [EXPECTED_BELOW] = "below what was promised by more than",
        [EXPECTED_WITHIN] = "within",
        [EXPECTED_ABOVE] = "above what was promised by more than",
    };
    double percent = expected->uncertainty * 100;
    if (expected->verdict != EXPECTED_NO_VERDICT)
        sheet_note(sheet, "the span is %s the promise's own uncertainty of %.3g %% of a year",
                   words[expected->verdict], percent);
    else if (expected->uncertainty > 0)
        sheet_note(sheet, "the promise's uncertainty, %.3g %%, is of a year: no verdict on less", percent);
    else
        sheet_note(sheet, "the promise states no uncertainty: no verdict");
    sheet_note(sheet,
               "weather alone moves a year's sum by about 4 %%, and a month's by more (common practice, no "
               "source)");
}

static void add_notes(struct work *work)
{
    const struct expected *expected = &work->expected;
    struct sheet *sheet = &work->sheet;
    bool partly = false, by_time = false, per_kwp = false;
    for (int32_t i = 0; i < expected->row_count; i++)
        partly |= expected->rows[i].known < 0.9995;
    for (int32_t i = 0; i < work->yield.day_count; i++) {
        by_time |= !work->yield.days[i].plant->has_place;
        per_kwp |= work->yield.days[i].plant->expected.kwh_per_kwp[5] > 0;
    }
    inquiry_head(&work->inquiry, sheet);
    if (isnan(expected->total.expected))
        sheet_note(sheet,
                   per_kwp ? "'peak_power' of the production meter is not stated: no promise per kWp counts"
                           : "nothing was promised: see 'expected' in meterbook.conf(5)");
    else
        note_verdict(sheet, expected);
    if (partly)
        sheet_note(sheet, "of months that are known in part, the promise is scaled to the days that are: %s",
                   by_time ? "evenly by time, since the site's place is not known"
                           : "by the light of a clear sky on the plant's planes");
}

static bool print(struct work *work, const struct options *options)
{
    char title[CONFIG_NAME_SIZE + 2 * STAMP_SIZE + 60], from[STAMP_SIZE], to[STAMP_SIZE];
    const struct inquiry *inquiry = &work->inquiry;
    const struct expected *expected = &work->expected;
    sheet_init(&work->sheet, "expected", inquiry->session.civil, columns, COLUMNS);
    snprintf(title, sizeof title, "%s, promised and made from %s to %s", inquiry->head.site.name,
             stamp_date(from, inquiry->session.civil, inquiry->from_s),
             stamp_date(to, inquiry->session.civil, inquiry->to_s - 1));
    work->sheet.title = title;
    work->names = calloc((size_t)expected->row_count + 1, sizeof *work->names);
    work->sheet.failed = !work->names;
    for (int32_t i = 0; work->names && i < expected->row_count; i++) {
        stamp_month(work->names[i], inquiry->session.civil, expected->rows[i].from_s);
        if (work->unit == ROW_YEAR)
            work->names[i][4] = '\0';
        add_row(work, &expected->rows[i], work->names[i]);
    }
    if (expected->row_count > 1)
        add_row(work, &expected->total, "total");
    add_notes(work);
    bool good = sheet_print(&work->sheet, options);
    sheet_free(&work->sheet);
    free(work->names);
    return good;
}

static enum exit_code answer(struct work *work, const struct options *options)
{
    if (!yield_read(&work->yield, &work->inquiry))
        return EXIT_RECORD;
    if (!expected_find(&work->expected, &work->yield, work->inquiry.session.civil, work->unit)) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    if (work->expected.total.made == UNKNOWN) {
        fputs("meterbook: nothing is known of what was made in that span\n", stderr);
        return EXIT_NO_DATA;
    }
    return print(work, options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_expected(const struct options *options, const char *const *arguments)
{
    struct work work = { .unit = options->by == BY_YEAR ? ROW_YEAR : ROW_MONTH };
    if (options->by != BY_DEFAULT && options->by != BY_MONTH && options->by != BY_YEAR) {
        fputs("meterbook: '--by' of expected: allowed are default, month, year\n", stderr);
        return EXIT_USAGE;
    }
    enum exit_code code = inquiry_open(&work.inquiry, options, arguments[0], "all");
    if (code == EXIT_ANSWERED)
        code = answer(&work, options);
    expected_free(&work.expected);
    yield_free(&work.yield);
    inquiry_close(&work.inquiry);
    return code;
}
