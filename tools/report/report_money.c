#include "report_money.h"

#include <stdlib.h>

#include "money.h"

enum {
    SMALL = 1000,   /* of the currency's unit: below it, its decimals are of interest */
    LARGE = 100000, /* from here on an axis is in thousands */
    THOUSAND = 1000
};

static void take(void *self, const struct bill_pair *pair, const struct saving *saving)
{
    struct report_money *money = self;
    (void)saving;
    if (!bills_asked(&money->bills, pair))
        return;
    bills_notes(&money->bills, pair, &money->notes);
    if (!pair->has_with)
        return;
    money->latest = pair->with;
    money->has_latest = true;
}

static bool read_bills(struct report *report)
{
    struct report_money *money = report->money;
    struct inquiry *inquiry = report->inquiry;
    sheet_init(&money->notes, "", inquiry->session.civil, NULL, 0);
    enum exit_code code = bills_open(&money->bills, inquiry, report->options);
    if (code == EXIT_ANSWERED)
        return savings_read(&money->savings, &money->bills, take, money);
    report_free_money(report);
    report_omit(report, "Savings",
                code == EXIT_NO_DATA ? "there is no billing period: bills by readings need two readings of "
                                       "the sealed meter"
                                     : "the contract or its tariff cannot be used");
    return true;
}

bool report_read_money(struct report *report)
{
    const struct config *config = report->inquiry->session.config;
    const struct period *period = &report->inquiry->period;
    if (period->to_day - period->from_day < REPORT_MONTH_DAYS)
        return true;
    if (!report->options->contract && (!config || !config->contract[0])) {
        report_omit(report, "Savings", "the configuration names no contract, see meterbook-tariff(5)");
        return true;
    }
    report->money = calloc(1, sizeof(*report->money));
    return report->money ? read_bills(report) : report_out_of_memory();
}

void report_free_money(struct report *report)
{
    struct report_money *money = report->money;
    if (!money)
        return;
    savings_free(&money->savings);
    bills_close(&money->bills);
    sheet_free(&money->notes);
    free(money);
    report->money = NULL;
}

const char *report_amount(const struct report *report, char buffer[WORDS_SIZE], int64_t amount)
{
    const struct tariff *tariff = report->money->bills.tariff;
    char number[NUMBER_SIZE];
    bool small = amount > -SMALL * MONEY_ONE && amount < SMALL * MONEY_ONE;
    if (amount == UNKNOWN)
        snprintf(buffer, WORDS_SIZE, "not known");
    else
        snprintf(buffer, WORDS_SIZE, "%s %s",
                 number_print(number, amount, 6, small && amount != 0 ? tariff->decimals : 0, ','),
                 tariff->currency);
    return buffer;
}

const char *report_amount_cell(const struct report *report, char buffer[NUMBER_SIZE], int64_t amount)
{
    const struct tariff *tariff = report->money->bills.tariff;
    return amount == UNKNOWN ? NULL : number_print(buffer, amount, 6, tariff->decimals, ',');
}

struct report_money_axis report_money_axis(const struct report *report, int64_t low, int64_t high,
                                           int32_t most)
{
    bool large = high - low >= LARGE * MONEY_ONE;
    struct report_money_axis axis = { .divisor = large ? THOUSAND : 1 };
    axis.scale = svg_scale_of(low / axis.divisor, high / axis.divisor, most);
    snprintf(axis.unit, sizeof(axis.unit), "%s%s", large ? "k" : "", report->money->bills.tariff->currency);
    return axis;
}

const char *report_money_unit(const struct report *report, const struct report_money_axis *axis,
                              char buffer[WORDS_SIZE])
{
    buffer[0] = '\0';
    if (axis->divisor > 1)
        snprintf(buffer, WORDS_SIZE, " %s are thousands of %s.", axis->unit,
                 report->money->bills.tariff->currency);
    return buffer;
}
