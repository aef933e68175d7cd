/* The return on what the plant cost, beside a deposit's. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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
    const struct options *options;
    struct inquiry inquiry;
    struct bills bills;
    struct sheet sheet;
    struct savings savings;
    struct returns *returns;
    struct sheet_column columns[SHEET_COLUMNS];
    char title[CONFIG_NAME_SIZE + TARIFF_NAME_SIZE + 40];
};

static struct sheet_cell money(const struct work *work, int64_t amount)
{
    return (
        struct sheet_cell){ .value = amount, .decimals = work->bills.tariff->decimals, .thousands = true };
}

static int64_t millionths(double value)
{
    return isfinite(value) && fabs(value) < 9e12 ? (int64_t)llround(value * 1e6) : UNKNOWN;
}

/* ---- figures ---- */

static struct sheet_cell *figure(struct work *work, const char *known, const char *name)
{
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (row) {
        row[0].text = known;
        row[1].text = name;
    }
    return row;
}

static void put_money(struct work *work, const char *known, const char *name, int64_t amount)
{
    struct sheet_cell *row = figure(work, known, name);
    if (row)
        row[2] = money(work, amount);
}

static void put_share(struct work *work, const char *known, const char *name, int64_t share)
{
    struct sheet_cell *row = figure(work, known, name);
    if (row)
        row[3] = (struct sheet_cell){ .value = share, .decimals = 2 };
}

static void put_years(struct work *work, const char *known, const char *name, int64_t days, int64_t day)
{
    struct sheet_cell *row = figure(work, known, name);
    if (!row)
        return;
    row[4] = (struct sheet_cell){ .value = days == UNKNOWN ? UNKNOWN : multiply_round(days, 100, 365),
                                  .decimals = 1 };
    row[5].value = day == UNKNOWN ? UNKNOWN : civil_day_start(work->inquiry.session.civil, day);
}

static void put_realised(struct work *work)
{
    const struct returns *returns = work->returns;
    put_money(work, realised, "paid for the plant, less subsidies", returns->paid);
    put_money(work, realised, "saved", returns->saved);
    put_share(work, realised, "of what was paid", number_share(returns->saved, returns->paid));
    put_money(work, realised, "saved in a year, by the last bills", returns->year_saving);
    put_share(work, realised, "simple return a year on what was paid", returns->simple_return);
    if (returns->payback_day != UNKNOWN && !returns->payback_projected)
        put_years(work, realised, "paid back", returns->payback_day - returns->first_day,
                  returns->payback_day);
}

static void put_rates(struct work *work)
{
    const struct returns *returns = work->returns;
    if (returns->rate_count == 0)
        sheet_note(&work->sheet,
                   "internal rate of return: no solution, all payments go one way or never meet");
    if (returns->rate_count > 1)
        sheet_note(&work->sheet,
                   "internal rate of return: several solutions, since payments change their sign more than "
                   "once; no one of them is the return: compare end wealth");
    for (int32_t i = 0; i < returns->rate_count && i < RETURNS_RATES; i++)
        put_share(work, projected,
                  returns->rate_count > 1 ? "internal rate, one of several" : "internal rate of return",
                  millionths(returns->rates[i]));
}

static void put_projected(struct work *work)
{
    const struct returns *returns = work->returns;
    const struct contract_projection *projection = &work->bills.contract->projection;
    bool later = returns->payback_day == UNKNOWN || returns->payback_projected;
    if (later)
        put_years(work, projected,
                  returns->payback_day == UNKNOWN ? "paid back: never within the life" : "paid back",
                  returns->payback_day == UNKNOWN ? UNKNOWN : returns->payback_day - returns->first_day,
                  returns->payback_day);
    put_money(work, projected, "net present value at the discount rate", millionths(returns->present_value));
    put_rates(work);
    put_share(work, projected, "interest of the deposit beside it", projection->deposit);
    put_money(work, projected, "wealth at the life's end, savings deposited",
              millionths(returns->plant_wealth));
    put_money(work, projected, "wealth at the life's end, cost deposited instead",
              millionths(returns->deposit_wealth));
    put_money(work, projected, "levelised cost of a kWh", millionths(returns->levelised));
    put_years(work, projected, "end of the plant's life", returns->end_day - returns->first_day,
              returns->end_day);
}

/* ---- flows by year ---- */

static int32_t year_of(int64_t day)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return year;
}

static void put_flows(struct work *work)
{
    const struct returns *returns = work->returns;
    int64_t sum = 0;
    for (int32_t i = 0; i < returns->flow_count;) {
        int32_t year = year_of(returns->flows[i].day);
        struct returns_flow whole = { 0 };
        int32_t projected_count = 0, first = i;
        for (; i < returns->flow_count && year_of(returns->flows[i].day) == year; i++) {
            whole.cost += returns->flows[i].cost;
            whole.saving += returns->flows[i].saving;
            whole.operating += returns->flows[i].operating;
            projected_count += returns->flows[i].projected;
        }
        struct sheet_cell *row = sheet_row(&work->sheet);
        if (!row)
            return;
        sum += whole.cost + whole.saving + whole.operating;
        row[0].value = year;
        row[1].text = projected_count == 0 ? realised : projected_count == i - first ? projected : "both";
        row[2] = money(work, whole.cost);
        row[3] = money(work, whole.saving);
        row[4] = money(work, whole.operating);
        row[5] = money(work, sum);
    }
}

/* ---- the answer ---- */

static void write_notes(struct work *work)
{
    const struct returns *returns = work->returns;
    const struct contract_projection *projection = &work->bills.contract->projection;
    char day[STAMP_SIZE], a[NUMBER_SIZE], b[NUMBER_SIZE], c[NUMBER_SIZE];
    const struct civil *civil = work->inquiry.session.civil;
    sheet_note(&work->sheet, "%s; no tax advice and no offer", bills_estimate);
    if (work->savings.left_out > 0)
        sheet_note(&work->sheet, "%d bills are left out: they cannot be made both ways",
                   (int)work->savings.left_out);
    if (returns->paid <= 0)
        sheet_note(&work->sheet, "the contract names no cost: there is no return on nothing");
    if (returns->year_days < 330)
        sheet_note(&work->sheet,
                   "less than a year of bills is known: a year made of %d days leaves seasons out",
                   (int)returns->year_days);
    stamp_date(day, civil, civil_day_start(civil, returns->last_day));
    if (!returns->has_projection)
        sheet_note(&work->sheet, "nothing is projected: the contract has no group 'projection'");
    else
        sheet_note(
            &work->sheet,
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
        work->columns[c].unit = work->bills.tariff->currency;
    sheet_init(&work->sheet, "returns", work->inquiry.session.civil, work->columns, count);
    snprintf(work->title, sizeof(work->title), "%s, return on the plant's cost",
             work->inquiry.head.site.name);
    work->sheet.title = work->title;
}

static enum exit_code answer(struct work *work)
{
    static const char *const views[] = { "figures", "flows", NULL };
    int32_t view = options_view(work->options, views);
    if (view < 0)
        return EXIT_USAGE;
    enum exit_code code = bills_open(&work->bills, &work->inquiry, work->options);
    if (code != EXIT_ANSWERED)
        return code;
    if (!savings_read(&work->savings, &work->bills, NULL, NULL))
        return EXIT_RECORD;
    if (work->savings.count == 0) {
        fputs("meterbook: no bill of that span can be made both ways\n", stderr);
        return EXIT_NO_DATA;
    }
    if (!savings_returns(&work->savings, work->bills.contract, work->returns))
        return EXIT_RECORD;
    begin_sheet(work, view == 1);
    write_notes(work);
    inquiry_head(&work->inquiry, &work->sheet);
    if (view == 1) {
        put_flows(work);
    } else {
        put_realised(work);
        if (work->returns->has_projection)
            put_projected(work);
    }
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_returns(const struct options *options, const char *const *arguments)
{
    struct work *work = calloc(1, sizeof(*work));
    enum exit_code code = EXIT_RECORD;
    if (work)
        work->returns = calloc(1, sizeof(*work->returns));
    if (work && work->returns) {
        work->options = options;
        code = inquiry_open(&work->inquiry, options, arguments[0], "all");
        if (code == EXIT_ANSWERED)
            code = answer(work);
        savings_free(&work->savings);
        bills_close(&work->bills);
        sheet_free(&work->sheet);
        inquiry_close(&work->inquiry);
    }
    if (work)
        free(work->returns);
    free(work);
    return code;
}
