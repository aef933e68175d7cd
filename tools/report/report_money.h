/* What the sections on money share: the bills of a page's span, read once. */
#ifndef METERBOOK_REPORT_MONEY_H
#define METERBOOK_REPORT_MONEY_H

#include "report.h"
#include "savings.h"
#include "svg.h"

/* Large: for the heap. */
struct report_money {
    struct bills bills;
    struct savings savings; /* all bills up to the span's end */
    struct bill latest;     /* of those that reach into the span */
    bool has_latest;
    struct sheet notes; /* what must be said of those bills; no rows */
};

enum { REPORT_MONTH_DAYS = 28, REPORT_YEAR_DAYS = 365 };

/* Reads the bills where the options or the configuration name a contract and the span has a month or more;
 * what cannot be billed is left out of the page, which says why. False where the record cannot be read. */
bool report_read_money(struct report *report);
void report_free_money(struct report *report);

/* "1,234 XTS", with decimals where the amount is small; "not known". */
const char *report_amount(const struct report *report, char buffer[WORDS_SIZE], int64_t amount);

/* A cell of an amount with the currency's decimals; NULL where it is not known. */
const char *report_amount_cell(const struct report *report, char buffer[NUMBER_SIZE], int64_t amount);

/* An axis of amounts: large ones stand in thousands, so that its labels are as short as energies'. */
struct report_money_axis {
    struct svg_scale scale;
    int64_t divisor; /* by which amounts are divided before they are drawn */
    char unit[16];
};
struct report_money_axis report_money_axis(const struct report *report, int64_t low, int64_t high,
                                           int32_t most);
/* " kXTS are thousands of XTS.", "" where the axis has no such unit. */
const char *report_money_unit(const struct report *report, const struct report_money_axis *axis,
                              char buffer[WORDS_SIZE]);

report_section section_savings;
report_section section_cash;
report_section section_sweep;
report_section section_bill;

#endif
