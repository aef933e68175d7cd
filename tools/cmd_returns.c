/* The return on what the plant cost, beside a deposit's. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "reckoning.h"
#include "returns_views.h"
#include "savings.h"
#include "stamp.h"

static const struct sheet_column figure_columns[] = {
    { "known", { "", "" }, "", SHEET_TEXT, 0, false },
    { "figure", { "", "" }, "", SHEET_TEXT, 0, false },
    { "amount", { "", "amount" }, "", SHEET_NUMBER, 6, false },
    { "share", { "", "share" }, "%", SHEET_SHARE, 0, false },
    { "years", { "", "years" }, "", SHEET_NUMBER, 2, false },
    { "date", { "", "date" }, "", SHEET_DATE, 0, false },
};
static const struct sheet_column flow_columns[] = {
    { "year", { "", "year" }, "", SHEET_NUMBER, 0, false },
    { "known", { "", "" }, "", SHEET_TEXT, 0, false },
    { "cost", { "", "cost" }, "", SHEET_NUMBER, 6, false },
    { "saving", { "", "saving" }, "", SHEET_NUMBER, 6, false },
    { "operating", { "", "operating" }, "", SHEET_NUMBER, 6, false },
    { "sum", { "sum", "so far" }, "", SHEET_NUMBER, 6, false },
};
enum {
    FIGURE_COLUMNS = sizeof(figure_columns) / sizeof(figure_columns[0]),
    FLOW_COLUMNS = sizeof(flow_columns) / sizeof(flow_columns[0]),
};

static const char realised[] = "so far", projected[] = "projected";

struct work {
    struct reckoning money;
    struct savings savings;
    struct returns *returns;
    struct sheet_column columns[SHEET_COLUMNS];
    char title[CONFIG_NAME_SIZE + TARIFF_NAME_SIZE + 40];
};

static void put_figure(struct work *work, const struct returns_figure *figure)
{
    const struct civil *civil = work->money.inquiry.session.civil;
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    if (!row)
        return;
    row[0].text = figure->projected ? projected : realised;
    row[1].text = figure->name;
    row[2] = bills_money(&work->money.bills, figure->amount);
    row[3] = (struct sheet_cell){ .value = figure->share, .decimals = 2 };
    row[4] = (struct sheet_cell){ .value = figure->days == UNKNOWN ? UNKNOWN
                                                                   : multiply_round(figure->days, 100, 365),
                                  .decimals = 1 };
    row[5].value = figure->day == UNKNOWN ? UNKNOWN : civil_day_start(civil, figure->day);
}

static void put_figures(struct work *work)
{
    struct returns_figure figures[RETURNS_FIGURES];
    const char *words = returns_rate_words(work->returns);
    int32_t count = returns_figures(work->returns, &work->money.bills.contract->projection, figures);
    for (int32_t i = 0; i < count; i++)
        put_figure(work, &figures[i]);
    if (words)
        sheet_note(&work->money.sheet, "%s", words);
}

static void put_flows(struct work *work)
{
    struct returns_year year;
    for (int32_t at = 0; returns_next_year(work->returns, &at, &year);) {
        struct sheet_cell *row = sheet_row(&work->money.sheet);
        if (!row)
            return;
        row[0].value = year.year;
        row[1].text = !year.projected ? realised : !year.realised ? projected : "both";
        row[2] = bills_money(&work->money.bills, year.cost);
        row[3] = bills_money(&work->money.bills, year.saving);
        row[4] = bills_money(&work->money.bills, year.operating);
        row[5] = bills_money(&work->money.bills, year.sum);
    }
}

/* ---- the answer ---- */

/* Whether a year of bills has one settlement, two or none is chance. */
static void note_settlements(struct work *work)
{
    const struct returns *returns = work->returns;
    const struct tariff *tariff = work->money.bills.tariff;
    char day[STAMP_SIZE];
    const struct civil *civil = work->money.inquiry.session.civil;
    bool pays = false;
    for (int32_t s = 0; s < tariff->schedule_count; s++)
        pays |= tariff->schedules[s].netting.settle_count > 0 &&
                tariff->schedules[s].netting.at_settlement == SETTLE_PAY;
    if (!pays)
        return;
    if (returns->settled_until == UNKNOWN) {
        sheet_note(&work->money.sheet, "no settlement was due in these bills: their year has none in it");
        return;
    }
    stamp_date(day, civil, civil_day_start(civil, returns->settled_until));
    sheet_note(&work->money.sheet, "settlements in the year of the last bills: those for %d days up to %s%s",
               (int)returns->settled_days, day,
               returns->settled_days < 350    ? ", less than a year's"
               : returns->settled_days != 365 ? ", taken as 365"
                                              : "");
}

static void write_notes(struct work *work)
{
    const struct returns *returns = work->returns;
    const struct contract_projection *projection = &work->money.bills.contract->projection;
    char day[STAMP_SIZE], a[NUMBER_SIZE], b[NUMBER_SIZE], c[NUMBER_SIZE];
    const struct civil *civil = work->money.inquiry.session.civil;
    sheet_note(&work->money.sheet, "%s; no tax advice and no offer", bills_estimate);
    if (work->savings.left_out > 0)
        sheet_note(&work->money.sheet, "%d bills are left out: they cannot be made both ways",
                   (int)work->savings.left_out);
    if (returns->paid <= 0)
        sheet_note(&work->money.sheet, "the contract names no cost: there is no return on nothing");
    if (returns->year_days < 330)
        sheet_note(&work->money.sheet,
                   "less than a year of bills is known: a year made of %d days leaves seasons out",
                   (int)returns->year_days);
    note_settlements(work);
    stamp_date(day, civil, civil_day_start(civil, returns->last_day));
    if (!returns->has_projection)
        sheet_note(&work->money.sheet, "nothing is projected: the contract has no group 'projection'");
    else
        sheet_note(
            &work->money.sheet,
            "so far: up to %s, from bills; projected: the last year of them, changed by %s %% a year for "
            "ageing and by %s %% for the tariff, discounted at %s %%",
            day, number_print(a, -projection->degradation, 4, 2, 0),
            number_print(b, projection->escalation, 4, 2, 0), number_print(c, projection->discount, 4, 2, 0));
}

static void begin_sheet(struct work *work, bool flows)
{
    const struct sheet_column *columns = flows ? flow_columns : figure_columns;
    int32_t count = flows ? FLOW_COLUMNS : FIGURE_COLUMNS;
    memcpy(work->columns, columns, (size_t)count * sizeof(*columns));
    for (int32_t c = 2; c < (flows ? FLOW_COLUMNS : 3); c++)
        work->columns[c].unit = work->money.bills.tariff->currency;
    sheet_init(&work->money.sheet, "returns", work->money.inquiry.session.civil, work->columns, count);
    snprintf(work->title, sizeof(work->title), "%s, return on the plant's cost",
             work->money.inquiry.head.site.name);
    work->money.sheet.title = work->title;
}

static enum exit_code answer(void *self)
{
    struct work *work = self;
    work->returns = calloc(1, sizeof(*work->returns));
    if (!work->returns)
        return EXIT_RECORD;
    if (!savings_read(&work->savings, &work->money.bills, NULL, NULL))
        return EXIT_RECORD;
    if (work->savings.count == 0) {
        fputs("meterbook: no bill of that span can be made both ways\n", stderr);
        return EXIT_NO_DATA;
    }
    if (!savings_returns(&work->savings, work->money.bills.contract, work->returns))
        return EXIT_RECORD;
    begin_sheet(work, work->money.view == 1);
    write_notes(work);
    inquiry_head(&work->money.inquiry, &work->money.sheet);
    if (work->money.view == 1)
        put_flows(work);
    else
        put_figures(work);
    return reckoning_print(&work->money);
}

static void release(void *self)
{
    struct work *work = self;
    savings_free(&work->savings);
    free(work->returns);
}

enum exit_code cmd_returns(const struct options *options, const char *const *arguments)
{
    static const char *const views[] = { "figures", "flows", NULL };
    static const struct reckoning_command command = {
        .size = sizeof(struct work), .views = views, .needs_bills = true, .answer = answer, .release = release
    };
    return reckoning_run(&command, options, arguments);
}
