/* What a kWh is worth under the tariff: of using less, of shifting, of making more, by month and hour. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "reckoning.h"
#include "stamp.h"
#include "trace_read.h"
#include "worth.h"

static const struct sheet_column columns[] = {
    { "month", { "", "month" }, "", SHEET_NUMBER, 0, false },
    { "hour", { "", "hour" }, "", SHEET_NUMBER, 0, false },
    { "use_less_per_kwh", { "using", "less" }, "", SHEET_NUMBER, 6, false },
    { "make_more_per_kwh", { "making", "more" }, "", SHEET_NUMBER, 6, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]) };

struct work {
    struct reckoning money;
    struct sheet_column columns[COLUMN_COUNT];
    struct trace trace;
    struct trace_bins bins;
    struct tariff *unrounded;
    struct worth worth;
    char title[CONFIG_NAME_SIZE + TARIFF_NAME_SIZE + 40];
};

static struct sheet_cell rate(int64_t value)
{
    return (struct sheet_cell){ .value = value, .decimals = 2, .thousands = true };
}

static void note_worth(struct work *work, const char *what, int64_t value)
{
    char amount[NUMBER_SIZE];
    if (value != UNKNOWN)
        sheet_note(&work->money.sheet, "%s: %s %s a kWh", what, number_print(amount, value, 6, 2, ','),
                   work->money.bills.tariff->currency);
}

/* A table has all months together, the data each of them too. */
static void put_rows(struct work *work)
{
    bool table = work->money.options->format == FORMAT_TABLE && work->money.options->by != BY_MONTH;
    for (int32_t month = 0; month < (table ? 1 : WORTH_MONTHS); month++)
        for (int32_t hour = 0; hour < WORTH_HOURS; hour++) {
            struct sheet_cell *row = sheet_row(&work->money.sheet);
            if (!row)
                return;
            row[0].value = month == 0 ? UNKNOWN : month;
            row[1].value = hour;
            row[2] = rate(work->worth.use_less_at[month][hour]);
            row[3] = rate(work->worth.make_more_at[month][hour]);
        }
}

static void say(struct work *work)
{
    const struct worth *worth = &work->worth;
    sheet_note(&work->money.sheet,
               "%s; by a kWh more or less over the whole span, bills by calendar month, nothing rounded",
               bills_estimate);
    if (work->money.bills.tariff->settlement == SETTLEMENT_NET_METERED)
        sheet_note(
            &work->money.sheet,
            "credit that is left at the span's end counts nothing here: let it end with the settlement year");
    note_worth(work, "using less, at any time", worth->use_less);
    note_worth(work, "making more, as the plant makes", worth->make_more);
    note_worth(work, "shifting a use within the day, from hours without production into those with a surplus",
               worth->shift_to_production);
    note_worth(work, "exporting instead of using, while there is a surplus", worth->export_instead);
    if (worth->shift_to_production != UNKNOWN && worth->use_less != UNKNOWN)
        sheet_note(
            &work->money.sheet, "%s",
            worth->shift_to_production <= 0
                ? "under this netting a use that is shifted to the production hours earns nothing"
                : "matching the use to the production earns more than exporting, by what shifting is worth");
    inquiry_head(&work->money.inquiry, &work->money.sheet);
}

static enum exit_code answer(void *self)
{
    struct work *work = self;
    if (!trace_read(&work->trace, &work->money.inquiry, tariff_asks_apparent(work->money.bills.tariff)))
        return EXIT_RECORD;
    if (work->trace.count == 0) {
        fputs("meterbook: there is no interval in that span of which production and consumption are known\n",
              stderr);
        return EXIT_NO_DATA;
    }
    const struct contract contract = contract_at(work->money.bills.contract, work->trace.to_day - 1, true);
    work->unrounded = tariff_unrounded(work->money.bills.tariff);
    if (work->unrounded)
        trace_bins_make(&work->bins, &work->trace, work->unrounded);
    if (!work->unrounded || work->bins.memory_out ||
        !worth_find(&work->worth, &work->trace, &work->bins, &contract)) {
        fputs("meterbook: out of memory, or a bill of that span cannot be made\n", stderr);
        return EXIT_RECORD;
    }
    if (work->worth.unknown > 0) {
        fprintf(stderr,
                "meterbook: the tariff asks for kVAh, kVA or kvarh, and in %d of %d intervals the grid "
                "meter's record "
                "does not tell them\n",
                (int)work->worth.unknown, (int)work->trace.count);
        return EXIT_NO_DATA;
    }
    memcpy(work->columns, columns, sizeof(columns));
    work->columns[2].unit = work->columns[3].unit = work->money.bills.tariff->currency;
    sheet_init(&work->money.sheet, "worth", work->money.inquiry.session.civil, work->columns, COLUMN_COUNT);
    snprintf(work->title, sizeof(work->title), "%s, worth of a kWh under \"%s\"",
             work->money.inquiry.head.site.name, work->money.bills.tariff->name);
    work->money.sheet.title = work->title;
    say(work);
    put_rows(work);
    return reckoning_print(&work->money);
}

static void release(void *self)
{
    struct work *work = self;
    trace_bins_free(&work->bins);
    tariff_free(work->unrounded);
    trace_free(&work->trace);
}

enum exit_code cmd_worth(const struct options *options, const char *const *arguments)
{
    static const struct reckoning_command command = {
        .size = sizeof(struct work), .needs_bills = true, .answer = answer, .release = release
    };
    return reckoning_run(&command, options, arguments);
}
