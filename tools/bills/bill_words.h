/* A line of a bill in words and figures, as it is printed. */
#ifndef METERBOOK_BILL_WORDS_H
#define METERBOOK_BILL_WORDS_H

#include "bill.h"
#include "civil.h"

enum { BILL_RULE_SIZE = 120 };

struct bill_words {
    const char *name;       /* the item's, or what else the line is */
    int64_t quantity, rate; /* millionths; UNKNOWN: it has none */
    int32_t quantity_decimals, rate_decimals;
    const char *unit;          /* of the quantity; "" none */
    char rule[BILL_RULE_SIZE]; /* that applied; "" nothing to say */
};

void bill_line_words(struct bill_words *words, const struct bill_line *line, const struct tariff *tariff,
                     const struct civil *civil);

/* Decimals of a quantity or a rate that are not zero, at least so many. */
int32_t bill_decimals(int64_t value, int32_t least);

#endif
