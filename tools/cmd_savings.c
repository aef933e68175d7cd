/* What the plant saved: the bill without it, with it, by billing period and in all. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bills.h"
#include "stamp.h"

static const struct sheet_column columns[] = {
    { "from", { "", "bill from" }, "", SHEET_DATE, 0, false },
    { "to", { "", "to" }, "", SHEET_DATE, 0, false },
    { "consumption_kwh", { "", "consumption" }, "kWh", SHEET_NUMBER, 6, false },
    { "import_kwh", { "", "import" }, "kWh", SHEET_NUMBER, 6, false },
    { "export_kwh", { "", "export" }, "kWh", SHEET_NUMBER, 6, false },
    { "without_plant", { "bill without", "the plant" }, "", SHEET_NUMBER, 6, false },
    { "with_plant", { "bill with", "the plant" }, "", SHEET_NUMBER, 6, false },
    { "settled", { "paid at", "settlement" }, "", SHEET_NUMBER, 6, false },
    { "saving", { "", "saving" }, "", SHEET_NUMBER, 6, false },
    { "saving_sum", { "saving", "so far" }, "", SHEET_NUMBER, 6, false },
    { "fixed_against_plant", { "if fixed charges", "were the plant's" }, "", SHEET_NUMBER, 6, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), FIRST_MONEY = 5 };

struct sums {
    int64_t energy[3], money[6]; /* in the order of the columns */
};

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct bills bills;
    struct sheet sheet;
    struct bill_pair *pair;
    struct sheet_column columns[COLUMN_COUNT];
    struct sums sums;
    int64_t saved; /* since the first bill */
    int32_t shown, left_out;
    char title[CONFIG_NAME_SIZE + 2 * TARIFF_NAME_SIZE + 40];
};

static bool is_fixed(enum measure measure)
{
    return measure == MEASURE_DAYS || measure == MEASURE_MONTHS || measure == MEASURE_BILLS ||
           measure == MEASURE_PHASES || measure == MEASURE_CONTRACTED;
}

/* Charges that are due whatever is used. */
static int64_t fixed_of(const struct bill *bill)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < bill->line_count; i++)
        if (bill->lines[i].item && is_fixed(bill->lines[i].item->of))
            sum += bill->lines[i].amount;
    return sum;
}

static void put_row(struct work *work, const struct sums *sums, int64_t from_day, int64_t to_day)
{
    const struct civil *civil = work->inquiry.session.civil;
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    row[0].value = civil_day_start(civil, from_day);
    row[1].value = civil_day_start(civil, to_day);
    for (int32_t i = 0; i < 3; i++)
        row[2 + i] = (struct sheet_cell){ .value = sums->energy[i], .decimals = 1, .thousands = true };
    for (int32_t i = 0; i < 6; i++)
        row[FIRST_MONEY + i] = (struct sheet_cell){ .value = sums->money[i],
                                                    .decimals = work->bills.tariff->decimals,
                                                    .thousands = true };
}

static void take_pair(struct work *work)
{
    const struct bill *with = &work->pair->with, *without = &work->pair->without;
    if (!work->pair->has_with || !work->pair->has_without) {
        if (bills_asked(&work->bills, work->pair)) {
            work->left_out++;
            bills_notes(&work->bills, work->pair, &work->sheet);
            if (work->pair->has_with)
                sheet_note(&work->sheet,
                           "a period is left out: the consumption is not known, so neither is the bill "
                           "without the plant");
        }
        return;
    }
    int64_t saving = without->total - with->total + with->settlement;
    work->saved += saving;
    if (!bills_asked(&work->bills, work->pair))
        return;
    work->shown++;
    bills_notes(&work->bills, work->pair, &work->sheet);
    struct sums sums = {
        { with->energy[MEASURE_CONSUMPTION], with->energy[MEASURE_IMPORT], with->energy[MEASURE_EXPORT] },
        { without->total, with->total, with->settlement, saving, work->saved, saving - fixed_of(with) }
    };
    for (int32_t i = 0; i < 3; i++)
        work->sums.energy[i] += sums.energy[i];
    for (int32_t i = 0; i < 6; i++)
        work->sums.money[i] += sums.money[i];
    put_row(work, &sums, work->pair->period.from_day, work->pair->period.to_day);
}

static void begin_sheet(struct work *work)
{
    struct sheet *sheet = &work->sheet;
    memcpy(work->columns, columns, sizeof(columns));
    for (int32_t c = FIRST_MONEY; c < COLUMN_COUNT; c++)
        work->columns[c].unit = work->bills.tariff->currency;
    sheet_init(sheet, "savings", work->inquiry.session.civil, work->columns, COLUMN_COUNT);
    snprintf(work->title, sizeof(work->title), "%s, savings by \"%s\" against \"%s\"",
             work->inquiry.head.site.name, work->bills.tariff->name, work->bills.without->name);
    sheet->title = work->title;
    sheet_note(sheet, "%s", bills_estimate);
    sheet_note(
        sheet,
        "saving is the bill without the plant less that with it, and what settlement paid; credit carried "
        "out is not counted before it is used");
    sheet_note(
        sheet,
        "charges that are due either way cancel in it; the last column books them against the plant, as "
        "sheets often do, which understates the saving");
    inquiry_head(&work->inquiry, sheet);
}

static enum exit_code answer(struct work *work)
{
    enum exit_code code = bills_open(&work->bills, &work->inquiry, work->options);
    if (code != EXIT_ANSWERED)
        return code;
    begin_sheet(work);
    int64_t from_day = INT64_MAX, to_day = INT64_MIN;
    while (bills_next(&work->bills, work->pair)) {
        int32_t shown = work->shown;
        take_pair(work);
        if (work->shown > shown) {
            from_day = work->pair->period.from_day < from_day ? work->pair->period.from_day : from_day;
            to_day = work->pair->period.to_day;
        }
    }
    if (work->bills.failed)
        return EXIT_RECORD;
    if (work->shown == 0) {
        fputs("meterbook: no bill of that span can be made both ways\n", stderr);
        return EXIT_NO_DATA;
    }
    work->sums.money[4] = work->saved;
    if (work->options->format == FORMAT_TABLE)
        put_row(work, &work->sums, from_day, to_day);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_savings(const struct options *options, const char *const *arguments)
{
    struct work *work = calloc(1, sizeof(*work));
    enum exit_code code = EXIT_RECORD;
    if (work)
        work->pair = calloc(1, sizeof(*work->pair));
    if (work && work->pair) {
        work->options = options;
        code = inquiry_open(&work->inquiry, options, arguments[0], "all");
        if (code == EXIT_ANSWERED)
            code = answer(work);
        bills_close(&work->bills);
        sheet_free(&work->sheet);
        inquiry_close(&work->inquiry);
        free(work->pair);
    }
    free(work);
    return code;
}
