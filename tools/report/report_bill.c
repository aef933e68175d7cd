/* The latest bill of the span, line by line. */
#include "bill_words.h"
#include "html.h"
#include "report_money.h"

static void write_number(const struct report *report, int64_t value, int32_t decimals, const char *unit)
{
    char number[NUMBER_SIZE], text[NUMBER_SIZE + TARIFF_NAME_SIZE];
    if (value == UNKNOWN) {
        html_cell(report->out, "");
        return;
    }
    snprintf(text, sizeof(text), "%s%s%s", number_print(number, value, 6, decimals, ','), *unit ? " " : "",
             unit);
    html_cell(report->out, text);
}

static void write_row(const struct report *report, const struct bill_words *words, int64_t amount)
{
    char number[NUMBER_SIZE];
    html_row_open(report->out);
    html_row_head(report->out, words->name);
    html_cell(report->out, report_amount_cell(report, number, amount)); /* first: on a telephone it is seen */
    write_number(report, words->quantity, words->quantity_decimals, words->unit);
    write_number(report, words->rate, words->rate_decimals, "");
    html_words(report->out, words->rule);
    html_row_close(report->out);
}

static void write_lines(const struct report *report, const struct bill *bill)
{
    struct bill_words words;
    for (int32_t i = 0; i < bill->line_count; i++) {
        bill_line_words(&words, &bill->lines[i], report->money->bills.tariff, report->inquiry->session.civil);
        write_row(report, &words, bill->lines[i].amount);
    }
    words = (struct bill_words){ .name = "total", .quantity = UNKNOWN, .rate = UNKNOWN, .unit = "" };
    write_row(report, &words, bill->total);
    if (!bill->settled)
        return;
    words = (struct bill_words){
        .name = "settlement of the year, apart",
        .quantity = bill->credit.settled,
        .quantity_decimals = bill_decimals(bill->credit.settled, 0),
        .unit = "kWh",
        .rate = bill->settlement_rate,
        .rate_decimals = bill_decimals(bill->settlement_rate, 2),
    };
    write_row(report, &words, -bill->settlement);
}

bool section_bill(struct report *report)
{
    const struct report_money *money = report->money;
    if (!money || !money->has_latest)
        return true;
    const struct bill *bill = &money->latest;
    const struct tariff *tariff = money->bills.tariff;
    char from[WORDS_SIZE], to[WORDS_SIZE], amount[WORDS_SIZE];
    report_open(report);
    report_sentence(report, "The bill from %s to %s is %s by the tariff \"%s\": an estimate of ours.",
                    words_day(from, bill->from_day), words_day(to, bill->to_day),
                    report_amount(report, amount, bill->total), tariff->name);
    if (bill->cut)
        report_sentence(report, "It has more lines than are kept: its total is not whole.");
    fputs("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"The latest bill\"><table>\n",
          report->out);
    html_row_open(report->out);
    html_column(report->out, "item", "");
    html_column(report->out, "amount", tariff->currency);
    html_column(report->out, "quantity", "");
    html_column(report->out, "rate", tariff->currency);
    html_column(report->out, "rule", NULL);
    html_row_close(report->out);
    write_lines(report, bill);
    fputs("</table></div>\n", report->out);
    return true;
}
