/* What the plant saved: the bill without it, with it, by billing period and in all. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "savings.h"
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

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct bills bills;
    struct sheet sheet;
    struct savings savings;
    struct sheet_column columns[COLUMN_COUNT];
    char title[CONFIG_NAME_SIZE + 2 * TARIFF_NAME_SIZE + 40];
};

static void put_row(struct work *work, const struct saving *saving)
{
    const struct civil *civil = work->inquiry.session.civil;
    const int64_t energies[] = { saving->consumption, saving->import, saving->export };
    const int64_t amounts[] = { saving->without, saving->with,         saving->settled,
                                saving->saved,   saving->saved_so_far, saving->saved - saving->fixed };
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    row[0].value = civil_day_start(civil, saving->from_day);
    row[1].value = civil_day_start(civil, saving->to_day);
    for (int32_t i = 0; i < FIRST_MONEY - 2; i++)
        row[2 + i] = (struct sheet_cell){ .value = energies[i], .decimals = 1, .thousands = true };
    for (int32_t i = 0; i < COLUMN_COUNT - FIRST_MONEY; i++)
        row[FIRST_MONEY + i] = (struct sheet_cell){ .value = amounts[i],
                                                    .decimals = work->bills.tariff->decimals,
                                                    .thousands = true };
}

static void take_pair(void *self, const struct bill_pair *pair, const struct saving *saving)
{
    struct work *work = self;
    if (!bills_asked(&work->bills, pair))
        return;
    bills_notes(&work->bills, pair, &work->sheet);
    if (!saving && pair->has_with)
        sheet_note(&work->sheet, "a period is left out: the bill without the plant cannot be made, since the "
                                 "consumption, or what its tariff asks for, is not known");
    if (saving)
        put_row(work, saving);
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
    if (!savings_read(&work->savings, &work->bills, take_pair, work))
        return EXIT_RECORD;
    if (work->savings.asked_count == 0) {
        fputs("meterbook: no bill of that span can be made both ways\n", stderr);
        return EXIT_NO_DATA;
    }
    if (work->options->format == FORMAT_TABLE)
        put_row(work, &work->savings.total);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_savings(const struct options *options, const char *const *arguments)
{
    struct work *work = calloc(1, sizeof(*work));
    enum exit_code code = EXIT_RECORD;
    if (work) {
        work->options = options;
        code = inquiry_open(&work->inquiry, options, arguments[0], "all");
        if (code == EXIT_ANSWERED)
            code = answer(work);
        savings_free(&work->savings);
        bills_close(&work->bills);
        sheet_free(&work->sheet);
        inquiry_close(&work->inquiry);
    }
    free(work);
    return code;
}
