/* What the plant loses from year to year, and how sure that is. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "decline.h"
#include "stamp.h"

enum { FROM_WHAT, FROM, TO, VALUES, YEARS, RATE, REACH, VERDICT, MIDDLE, PAIRS, SCATTER, COLUMNS };

static const struct sheet_column columns[COLUMNS] = {
    [FROM_WHAT] = { "from_what", { "", "from" }, "", SHEET_TEXT, 0, false },
    [FROM] = { "first_day", { "", "first" }, "", SHEET_DATE, 0, false },
    [TO] = { "last_day", { "", "last" }, "", SHEET_DATE, 0, false },
    [VALUES] = { "values", { "", "values" }, "", SHEET_NUMBER, 0, false },
    [YEARS] = { "years", { "", "years" }, "", SHEET_NUMBER, 3, false },
    [RATE] = { "change_per_year_share", { "change", "a year" }, "%", SHEET_SHARE, 0, false },
    [REACH] = { "change_interval_95_share", { "", "+- (95 %)" }, "%", SHEET_SHARE, 0, false },
    [VERDICT] = { "verdict", { "", "" }, "", SHEET_TEXT, 0, false },
    [MIDDLE] = { "year_on_year_share", { "middle of", "pairs" }, "%", SHEET_SHARE, 0, false },
    [PAIRS] = { "year_on_year_pairs", { "", "pairs" }, "", SHEET_NUMBER, 0, false },
    [SCATTER] = { "scatter_share", { "", "" }, "%", SHEET_SHARE, 0, true },
};

static const char *const ways[DECLINE_WAYS] = {
    [DECLINE_LIGHT] = "weekly performance ratio at 25 degC",
    [DECLINE_CLEAR] = "clear days",
    [DECLINE_MONTHS] = "monthly yields",
};

struct work {
    struct inquiry inquiry;
    struct yield yield;
    struct decline decline;
    struct sheet sheet;
};

static const char *name_of(const struct decline *decline, enum decline_way way)
{
    return way == DECLINE_LIGHT && !decline->corrected ? "weekly power at one light and warmth" : ways[way];
}

static struct sheet_cell share(double value)
{
    return (struct sheet_cell){ .value = isfinite(value) ? llround(value * SHARE_ONE) : UNKNOWN,
                                .decimals = 2 };
}

static const char *verdict_of(const struct degradation *found)
{
    static const char *const words[] = {
        [DEGRADATION_TOO_SHORT] = "not yet determinable: less than two full years",
        [DEGRADATION_UNCERTAIN] = "not yet determinable: the interval holds zero",
        [DEGRADATION_DETERMINED] = "determined",
    };
    return words[found->verdict];
}

/* A rate that is not determinable is not given out in any form. */
static void add_row(struct work *work, enum decline_way way)
{
    const struct decline_trend *trend = &work->decline.trends[way];
    const struct degradation *found = &trend->found;
    const struct civil *civil = work->inquiry.session.civil;
    struct sheet_cell *cells = trend->present ? sheet_row(&work->sheet) : NULL;
    if (!cells)
        return;
    cells[FROM_WHAT].text = name_of(&work->decline, way);
    cells[FROM].value = trend->from_s;
    cells[TO].value = civil_day_start(civil, civil_day_of(civil, trend->to_s - 1));
    cells[VALUES].value = found->count;
    cells[YEARS] = (struct sheet_cell){ .value = llround(found->years * 1000), .decimals = 1 };
    cells[VERDICT].text = verdict_of(found);
    if (found->verdict == DEGRADATION_TOO_SHORT)
        return;
    if (found->verdict == DEGRADATION_DETERMINED)
        cells[RATE] = share(found->rate);
    cells[REACH] = share(found->reach);
    cells[SCATTER] = share(found->scatter);
    if (way == DECLINE_CLEAR || trend->pairs.pairs == 0)
        return;
    if (found->verdict == DEGRADATION_DETERMINED)
        cells[MIDDLE] = share(trend->pairs.rate);
    cells[PAIRS].value = trend->pairs.pairs;
}

static void note_answer(struct work *work)
{
    enum decline_way best = DECLINE_WAYS;
    for (int32_t way = DECLINE_WAYS - 1; way >= 0; way--)
        if (work->decline.trends[way].present &&
            work->decline.trends[way].found.verdict == DEGRADATION_DETERMINED)
            best = (enum decline_way)way;
    if (best == DECLINE_WAYS) {
        sheet_note(&work->sheet, "degradation is not yet determinable");
        return;
    }
    const struct degradation *found = &work->decline.trends[best].found;
    char rate[NUMBER_SIZE], reach[NUMBER_SIZE];
    int64_t by = llround(fabs(found->rate) * SHARE_ONE), reaches = llround(found->reach * SHARE_ONE);
    sheet_note(&work->sheet, "the plant %s %s +- %s %% a year (95 %%), by %s",
               found->rate < 0 ? "loses" : "gains", number_print(rate, by, SHARE_SCALE - 2, 2, 0),
               number_print(reach, reaches, SHARE_SCALE - 2, 2, 0), name_of(&work->decline, best));
}

static void add_notes(struct work *work)
{
    const struct decline *decline = &work->decline;
    struct sheet *sheet = &work->sheet;
    inquiry_head(&work->inquiry, sheet);
    note_answer(work);
    sheet_note(sheet,
               "each value beside those of the same month of other years; never before two full years, "
               "and not while the interval of 95 %% holds zero");
    if (decline->trends[DECLINE_LIGHT].present)
        sheet_note(sheet,
                   "weeks are without outages and throttled time; a drift of the sensor or its dirt counts "
                   "as the plant's");
    if (decline->trends[DECLINE_LIGHT].present && !decline->corrected)
        sheet_note(sheet,
                   "'temperature_coefficient' is not stated: weeks are carried to %.0f W/m2 and %.0f degC",
                   decline->irradiance, decline->temperature);
    if (decline->trends[DECLINE_CLEAR].present || decline->trends[DECLINE_MONTHS].present)
        sheet_note(sheet, "clear days and months have dirt, shade and what stood still in them");
    sheet_note(sheet,
               "weather moves a year's yield by about 4 %% (common practice, no source): from yields alone "
               "+- 2.5, 0.9 and 0.3 %% a year after 5, 10 and 20 years");
}

static bool print(struct work *work, const struct options *options)
{
    char title[CONFIG_NAME_SIZE + 40];
    sheet_init(&work->sheet, "degradation", work->inquiry.session.civil, columns, COLUMNS);
    snprintf(title, sizeof title, "%s, degradation", work->inquiry.head.site.name);
    work->sheet.title = title;
    for (int32_t way = 0; way < DECLINE_WAYS; way++)
        add_row(work, (enum decline_way)way);
    add_notes(work);
    bool good = sheet_print(&work->sheet, options);
    sheet_free(&work->sheet);
    return good;
}

enum exit_code cmd_degradation(const struct options *options, const char *const *arguments)
{
    struct work work = { 0 };
    enum exit_code code = inquiry_open(&work.inquiry, options, arguments[0], "all");
    if (code == EXIT_ANSWERED) {
        bool good = yield_read(&work.yield, &work.inquiry) &&
                    decline_read(&work.decline, &work.yield, &work.inquiry) && print(&work, options);
        code = good ? EXIT_ANSWERED : EXIT_RECORD;
    }
    yield_free(&work.yield);
    inquiry_close(&work.inquiry);
    return code;
}
