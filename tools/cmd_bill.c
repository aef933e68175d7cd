/* What the utility should have billed, line by line. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bill_paper.h"
#include "bill_words.h"
#include "reckoning.h"
#include "stamp.h"

static const struct sheet_column columns[] = {
    { "from", { "", "bill from" }, "", SHEET_DATE, 0, false },
    { "to", { "", "to" }, "", SHEET_DATE, 0, false },
    { "item", { "", "item" }, "", SHEET_TEXT, 0, false },
    { "quantity", { "", "quantity" }, "", SHEET_NUMBER, 6, false },
    { "paper_quantity", { "", "on paper" }, "", SHEET_NUMBER, 6, false },
    { "unit", { "", "" }, "", SHEET_TEXT, 0, false },
    { "rate", { "", "rate" }, "", SHEET_NUMBER, 6, false },
    { "amount", { "", "amount" }, "", SHEET_NUMBER, 6, false },
    { "paper_amount", { "", "on paper" }, "", SHEET_NUMBER, 6, false },
    { "difference", { "ours less", "theirs" }, "", SHEET_NUMBER, 6, false },
    { "difference_of", { "which is", "a matter of" }, "", SHEET_TEXT, 0, false },
    { "rule", { "", "rule" }, "", SHEET_TEXT, 0, false },
};
enum {
    FROM,
    TO,
    ITEM,
    QUANTITY,
    PAPER_QUANTITY,
    UNIT,
    RATE,
    AMOUNT,
    PAPER_AMOUNT,
    DIFFERENCE,
    DIFFERENCE_OF,
    RULE,
    COLUMN_COUNT
};
_Static_assert(COLUMN_COUNT == sizeof(columns) / sizeof(columns[0]), "a name per column");

/* Texts that the sheet's cells point to. */
struct words {
    struct words *next;
    struct bill_words of;
    char name[2 * TARIFF_NAME_SIZE], difference[PAPER_WORDS_SIZE]; /* of a reading on paper */
};

struct work {
    struct reckoning money;
    struct words *words;
    struct bill_pair *pair;
    struct bill_paper *paper;
    struct sheet_column columns[COLUMN_COUNT];
    int32_t shown;
    char title[CONFIG_NAME_SIZE + 2 * TARIFF_NAME_SIZE + 20];
};

static struct words *new_words(struct work *work)
{
    struct words *words = calloc(1, sizeof(*words));
    if (!words) {
        work->money.sheet.failed = true;
        return NULL;
    }
    words->next = work->words;
    work->words = words;
    return words;
}

/* ---- rows ---- */

static struct sheet_cell *begin_row(struct work *work)
{
    const struct civil *civil = work->money.inquiry.session.civil;
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    if (!row)
        return NULL;
    row[FROM].value = civil_day_start(civil, work->pair->period.from_day);
    row[TO].value = civil_day_start(civil, work->pair->period.to_day);
    return row;
}

static void add_line(struct work *work, const struct bill_line *line)
{
    struct words *words = new_words(work);
    struct sheet_cell *row = words ? begin_row(work) : NULL;
    if (!row)
        return;
    struct bill_words *of = &words->of;
    bill_line_words(of, line, work->money.bills.tariff, work->money.inquiry.session.civil);
    row[AMOUNT] = bills_money(&work->money.bills, line->amount);
    row[ITEM].text = of->name;
    if (!line->item)
        return;
    row[QUANTITY] = (struct sheet_cell){ of->name, of->quantity, of->quantity_decimals, true };
    row[UNIT].text = of->unit;
    row[RATE] = (struct sheet_cell){ .value = of->rate, .decimals = of->rate_decimals, .thousands = true };
    row[RULE].text = of->rule;
}

/* Beside the last line of an item stands what the paper has for all of its lines. */
static void compare_item(struct work *work, int32_t line)
{
    const struct bill *bill = &work->pair->with;
    const struct item *item = bill->lines[line].item;
    const struct paper_item *paper = item ? bill_paper_item(work->pair->paper, item->name) : NULL;
    for (int32_t later = line + 1; paper && later < bill->line_count; later++)
        if (bill->lines[later].item && strcmp(bill->lines[later].item->name, item->name) == 0)
            return;
    if (!paper || work->money.sheet.failed)
        return;
    struct sheet_cell *row = work->money.sheet.rows[work->money.sheet.row_count - 1];
    row[PAPER_AMOUNT] = bills_money(&work->money.bills, paper->amount);
    row[DIFFERENCE] = bills_money(&work->money.bills, bill_item_amount(bill, item->name) - paper->amount);
    row[DIFFERENCE_OF].text = bill_paper_reason(work->paper, item->name);
}

/* What stands on paper alone. */
static void add_theirs(struct work *work)
{
    const struct bill *bill = &work->pair->with;
    const struct paper_bill *paper = work->pair->paper;
    for (int32_t i = 0; paper && i < paper->item_count; i++) {
        bool ours = false;
        for (int32_t l = 0; l < bill->line_count; l++)
            ours |= bill->lines[l].item && strcmp(bill->lines[l].item->name, paper->items[i].name) == 0;
        struct sheet_cell *row = ours ? NULL : begin_row(work);
        if (!row)
            continue;
        row[ITEM].text = paper->items[i].name;
        row[PAPER_AMOUNT] = bills_money(&work->money.bills, paper->items[i].amount);
        row[DIFFERENCE] = bills_money(&work->money.bills, -paper->items[i].amount);
        row[DIFFERENCE_OF].text = "no item of the tariff";
    }
}

/* What the paper prints of registers, beside ours. */
static void add_readings(struct work *work)
{
    const struct paper_bill *paper = work->pair->paper;
    for (int32_t i = 0; paper && i < paper->reading_count; i++) {
        const struct paper_reading *reading = &paper->readings[i];
        struct words *words = new_words(work);
        struct sheet_cell *row = words ? begin_row(work) : NULL;
        if (!row)
            return;
        int64_t ours = bill_paper_reading(work->paper, reading, words->difference);
        snprintf(words->name, sizeof(words->name), "%s%s%s", measure_name(reading->of),
                 reading->block[0] ? ", " : "", reading->block);
        row[ITEM].text = words->name;
        row[QUANTITY] = (struct sheet_cell){ NULL, ours, bill_decimals(ours, 0), true };
        row[PAPER_QUANTITY] =
            (struct sheet_cell){ NULL, reading->energy, bill_decimals(reading->energy, 0), true };
        row[UNIT].text = "kWh";
        row[DIFFERENCE_OF].text = words->difference;
    }
}

static bool has_readings(const struct contract_file *contract)
{
    for (int32_t i = 0; i < contract->paper_count; i++)
        if (contract->papers[i].reading_count > 0)
            return true;
    return false;
}

static void add_total(struct work *work)
{
    const struct bill *bill = &work->pair->with;
    struct sheet_cell *row = begin_row(work);
    if (!row)
        return;
    row[ITEM].text = "total";
    row[UNIT].text = work->money.bills.tariff->currency;
    row[AMOUNT] = bills_money(&work->money.bills, bill->total);
    if (work->pair->paper) {
        row[PAPER_AMOUNT] = bills_money(&work->money.bills, work->pair->paper->total);
        row[DIFFERENCE] = bills_money(&work->money.bills, bill->total - work->pair->paper->total);
        row[DIFFERENCE_OF].text = bill_paper_reason(work->paper, NULL);
    }
    if (!bill->settled || !(row = begin_row(work)))
        return;
    row[ITEM].text = "settlement of the year, apart";
    row[AMOUNT] = bills_money(&work->money.bills, -bill->settlement);
    if (bill->credit.settled == 0)
        return; /* of money there is no quantity */
    row[QUANTITY] =
        (struct sheet_cell){ NULL, bill->credit.settled, bill_decimals(bill->credit.settled, 0), true };
    row[UNIT].text = "kWh";
    row[RATE] = (struct sheet_cell){ .value = bill->settlement_rate,
                                     .decimals = bill_decimals(bill->settlement_rate, 2) };
}

static void note_credit(struct work *work)
{
    const struct credit_use *use = &work->pair->with.credit;
    char in[NUMBER_SIZE], used[NUMBER_SIZE], out[NUMBER_SIZE], lost[NUMBER_SIZE], from[STAMP_SIZE];
    const struct civil *civil = work->money.inquiry.session.civil;
    int64_t gone = use->expired + use->not_kept + use->lost;
    stamp_date(from, civil, civil_day_start(civil, work->pair->period.from_day));
    if (use->above > 0)
        sheet_note(&work->money.sheet,
                   "bill from %s: %s kWh were exported above the cap of what may be taken off: %s", from,
                   number_print(in, use->above, 6, 1, ','),
                   use->paid > 0             ? "its items pay for them"
                   : use->lost >= use->above ? "lost"
                                             : "they are credit as any surplus");
    if (work->pair->with.money_in + work->pair->with.money_out > 0)
        sheet_note(&work->money.sheet, "bill from %s: credit carried in %s %s, carried out %s", from,
                   number_print(in, work->pair->with.money_in, 6, work->money.bills.tariff->decimals, ','),
                   work->money.bills.tariff->currency,
                   number_print(out, work->pair->with.money_out, 6, work->money.bills.tariff->decimals, ','));
    if (use->in + use->used + use->out + gone > 0)
        sheet_note(&work->money.sheet,
                   "bill from %s: credit carried in %s kWh, used %s, carried out %s%s%s%s", from,
                   number_print(in, use->in, 6, 1, ','), number_print(used, use->used, 6, 1, ','),
                   number_print(out, use->out, 6, 1, ','), gone ? ", lost " : "",
                   gone ? number_print(lost, gone, 6, 1, ',') : "", gone ? " kWh" : "");
}

static void add_bill(struct work *work)
{
    const struct bill *bill = &work->pair->with;
    work->shown++;
    bills_notes(&work->money.bills, work->pair, &work->money.sheet);
    if (!work->pair->has_with)
        return;
    note_credit(work);
    bill_paper_make(work->paper, &work->money.bills, work->pair);
    bill_paper_notes(work->paper, &work->money.sheet);
    if (bill->cut)
        sheet_note(&work->money.sheet, "a bill has more than %d lines: its total is not whole",
                   (int)BILL_LINES);
    for (int32_t i = 0; i < bill->line_count; i++) {
        add_line(work, &bill->lines[i]);
        compare_item(work, i);
    }
    add_theirs(work);
    add_readings(work);
    add_total(work);
}

static enum exit_code answer(void *self)
{
    struct work *work = self;
    struct sheet *sheet = &work->money.sheet;
    work->pair = calloc(1, sizeof(*work->pair));
    work->paper = calloc(1, sizeof(*work->paper));
    if (!work->pair || !work->paper)
        return EXIT_RECORD;
    memcpy(work->columns, columns, sizeof(columns));
    for (int32_t c = RATE; c <= DIFFERENCE; c++)
        work->columns[c].unit = work->money.bills.tariff->currency;
    for (int32_t c = PAPER_AMOUNT; c <= DIFFERENCE_OF; c++)
        work->columns[c].data_only = work->money.bills.contract->paper_count == 0;
    work->columns[PAPER_QUANTITY].data_only = !has_readings(work->money.bills.contract);
    sheet_init(sheet, "bill", work->money.inquiry.session.civil, work->columns, COLUMN_COUNT);
    snprintf(work->title, sizeof(work->title), "%s, bill by the tariff \"%s\"",
             work->money.inquiry.head.site.name, work->money.bills.tariff->name);
    sheet->title = work->title;
    sheet_note(sheet, "%s", bills_estimate);
    inquiry_head(&work->money.inquiry, sheet);
    work->money.bills.with_alone = true;
    while (bills_next(&work->money.bills, work->pair))
        if (bills_asked(&work->money.bills, work->pair))
            add_bill(work);
    if (work->money.bills.failed)
        return EXIT_RECORD;
    bill_paper_unmatched(&work->money.bills, sheet);
    if (work->shown == 0) {
        fputs("meterbook: no bill reaches into that span\n", stderr);
        return EXIT_NO_DATA;
    }
    return reckoning_print(&work->money);
}

static void release(void *self)
{
    struct work *work = self;
    while (work->words) {
        struct words *words = work->words;
        work->words = words->next;
        free(words);
    }
    free(work->pair);
    free(work->paper);
}

enum exit_code cmd_bill(const struct options *options, const char *const *arguments)
{
    static const struct reckoning_command command = {
        .size = sizeof(struct work), .needs_bills = true, .answer = answer, .release = release
    };
    return reckoning_run(&command, options, arguments);
}
