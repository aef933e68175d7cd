/* What the plant saved: the bill without it, with it, by billing period and in all. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conventions.h"
#include "reckoning.h"
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
static const struct sheet_column convention_columns[] = {
    { "from", { "", "bill from" }, "", SHEET_DATE, 0, false },
    { "to", { "", "to" }, "", SHEET_DATE, 0, false },
    { "saving", { "saving", "by bills" }, "", SHEET_NUMBER, 6, false },
    { "fixed_against_plant", { "fixed charges", "against the plant" }, "", SHEET_NUMBER, 6, false },
    { "fixed_against_plant_off", { "", "off by" }, "", SHEET_NUMBER, 6, false },
    { "production_at_average", { "production at", "average price" }, "", SHEET_NUMBER, 6, false },
    { "production_at_average_off", { "", "off by" }, "", SHEET_NUMBER, 6, false },
    { "self_use_and_export", { "self-use at that,", "export at its rate" }, "", SHEET_NUMBER, 6, false },
    { "self_use_and_export_off", { "", "off by" }, "", SHEET_NUMBER, 6, false },
};
enum {
    COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]),
    FIRST_MONEY = 5,
    CONVENTION_COLUMNS = sizeof(convention_columns) / sizeof(convention_columns[0]),
    CONVENTION_MONEY = 2,
};

struct work {
    struct reckoning money;
    struct savings savings;
    bool conventions;                          /* the other view */
    int64_t convention_sums[CONVENTION_COUNT]; /* UNKNOWN: one of them was */
    struct sheet_column columns[COLUMN_COUNT];
    char title[CONFIG_NAME_SIZE + 2 * TARIFF_NAME_SIZE + 40];
};

static void put_row(struct work *work, const struct saving *saving)
{
    const struct civil *civil = work->money.inquiry.session.civil;
    const int64_t energies[] = { saving->consumption, saving->import, saving->export };
    const int64_t amounts[] = { saving->without, saving->with,         saving->settled,
                                saving->saved,   saving->saved_so_far, saving->saved - saving->fixed };
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    if (!row)
        return;
    row[0].value = civil_day_start(civil, saving->from_day);
    row[1].value = civil_day_start(civil, saving->to_day);
    for (int32_t i = 0; i < FIRST_MONEY - 2; i++)
        row[2 + i] = (struct sheet_cell){ .value = energies[i], .decimals = 1, .thousands = true };
    for (int32_t i = 0; i < COLUMN_COUNT - FIRST_MONEY; i++)
        row[FIRST_MONEY + i] = (struct sheet_cell){ .value = amounts[i],
                                                    .decimals = work->money.bills.tariff->decimals,
                                                    .thousands = true };
}

static void put_conventions(struct work *work, const struct saving *saving,
                            const int64_t values[CONVENTION_COUNT])
{
    const struct civil *civil = work->money.inquiry.session.civil;
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    if (!row)
        return;
    row[0].value = civil_day_start(civil, saving->from_day);
    row[1].value = civil_day_start(civil, saving->to_day);
    row[2] = bills_money(&work->money.bills, saving->saved);
    for (int32_t c = 0; c < CONVENTION_COUNT; c++) {
        row[3 + 2 * c] = bills_money(&work->money.bills, values[c]);
        row[4 + 2 * c] =
            bills_money(&work->money.bills, values[c] == UNKNOWN ? UNKNOWN : values[c] - saving->saved);
    }
}

static void take_conventions(struct work *work, const struct saving *saving)
{
    int64_t values[CONVENTION_COUNT];
    for (int32_t c = 0; c < CONVENTION_COUNT; c++) {
        int64_t *sum = &work->convention_sums[c];
        values[c] = convention_saving((enum convention)c, saving);
        *sum = values[c] == UNKNOWN || *sum == UNKNOWN ? UNKNOWN : *sum + values[c];
    }
    put_conventions(work, saving, values);
}

static void take_pair(void *self, const struct bill_pair *pair, const struct saving *saving)
{
    struct work *work = self;
    if (!bills_asked(&work->money.bills, pair))
        return;
    bills_notes(&work->money.bills, pair, &work->money.sheet);
    if (!saving && pair->has_with) {
        const struct civil *civil = work->money.inquiry.session.civil;
        char from[STAMP_SIZE], to[STAMP_SIZE];
        sheet_note(&work->money.sheet,
                   "%s to %s: left out: the bill without the plant cannot be made, since the consumption, or "
                   "what its tariff asks for, is not known",
                   stamp_date(from, civil, civil_day_start(civil, pair->period.from_day)),
                   stamp_date(to, civil, civil_day_start(civil, pair->period.to_day)));
    }
    if (saving && work->conventions)
        take_conventions(work, saving);
    else if (saving)
        put_row(work, saving);
}

static void say_conventions(struct work *work)
{
    static const char *const sentences[] = {
        "the other columns are how sheets often reckon it, and how far they are off",
        "fixed charges against the plant: what is due either way is taken from the saving, which is too low "
        "by that",
        "production at the average price of the bill without the plant: as if all of it replaced purchases, "
        "and as if "
        "fixed charges went with them; too high where export earns less",
        "self-use at that price, export at its own rate: right where import has one rate and no fixed "
        "charge; slabs, "
        "times of day and what netting takes from import it misses",
    };
    for (size_t i = 0; i < sizeof(sentences) / sizeof(sentences[0]); i++)
        sheet_note(&work->money.sheet, "%s", sentences[i]);
    if (work->money.bills.tariff->settlement == SETTLEMENT_NET_METERED)
        sheet_note(&work->money.sheet,
                   "export has no rate of its own under net metering: that of the settlement is taken, "
                   "where it pays");
}

static void begin_sheet(struct work *work)
{
    struct sheet *sheet = &work->money.sheet;
    int32_t count = work->conventions ? CONVENTION_COLUMNS : COLUMN_COUNT;
    memcpy(work->columns, work->conventions ? convention_columns : columns,
           (size_t)count * sizeof(columns[0]));
    for (int32_t c = work->conventions ? CONVENTION_MONEY : FIRST_MONEY; c < count; c++)
        work->columns[c].unit = work->money.bills.tariff->currency;
    sheet_init(sheet, "savings", work->money.inquiry.session.civil, work->columns, count);
    snprintf(work->title, sizeof(work->title), "%s, savings by \"%s\" against \"%s\"",
             work->money.inquiry.head.site.name, work->money.bills.tariff->name,
             work->money.bills.without->name);
    sheet->title = work->title;
    sheet_note(sheet, "%s", bills_estimate);
    sheet_note(
        sheet,
        "saving is the bill without the plant less that with it, and what settlement paid; credit carried "
        "out is not counted before it is used");
    if (work->conventions)
        say_conventions(work);
    else
        sheet_note(
            sheet,
            "charges that are due either way cancel in it; the last column books them against the plant, as "
            "sheets often do, which understates the saving");
    inquiry_head(&work->money.inquiry, sheet);
}

static enum exit_code answer(void *self)
{
    struct work *work = self;
    work->conventions = work->money.view == 1;
    begin_sheet(work);
    if (!savings_read(&work->savings, &work->money.bills, take_pair, work))
        return EXIT_RECORD;
    if (work->savings.asked_count == 0) {
        fputs("meterbook: no bill of that span can be made both ways\n", stderr);
        return EXIT_NO_DATA;
    }
    if (work->money.options->format == FORMAT_TABLE && work->conventions)
        put_conventions(work, &work->savings.total, work->convention_sums);
    else if (work->money.options->format == FORMAT_TABLE)
        put_row(work, &work->savings.total);
    return reckoning_print(&work->money);
}

static void release(void *self)
{
    struct work *work = self;
    savings_free(&work->savings);
}

enum exit_code cmd_savings(const struct options *options, const char *const *arguments)
{
    static const char *const views[] = { "bills", "conventions", NULL };
    static const struct reckoning_command command = {
        .size = sizeof(struct work), .views = views, .needs_bills = true, .answer = answer, .release = release
    };
    return reckoning_run(&command, options, arguments);
}
