#include "bill_words.h"

#include <stdio.h>

#include "number.h"
#include "stamp.h"

static void write_slab(const struct bill_line *line, char out[BILL_RULE_SIZE])
{
    char from[NUMBER_SIZE], to[NUMBER_SIZE];
    number_print(from, line->slab_from, 6, line->slab_from % 1000000 ? 2 : 0, ',');
    if (line->slab_to == INT64_MAX)
        snprintf(out, BILL_RULE_SIZE, "above %s", from);
    else
        snprintf(out, BILL_RULE_SIZE, "%s to %s", from,
                 number_print(to, line->slab_to, 6, line->slab_to % 1000000 ? 2 : 0, ','));
}

static void write_rule(const struct bill_line *line, const struct tariff *tariff, const struct civil *civil,
                       char out[BILL_RULE_SIZE])
{
    static const char *const prices[PRICE_COUNT] = {
        [PRICE_FLAT] = "",
        [PRICE_TELESCOPIC] = "slab ",
        [PRICE_WHOLE] = "whole use, slab ",
        [PRICE_CHOSEN] = "table by use, slab ",
        [PRICE_PERCENT] = "of other items",
        [PRICE_LEAST] = "least amount",
    };
    char slab[BILL_RULE_SIZE] = "", share[NUMBER_SIZE], from[STAMP_SIZE];
    const char *block = line->item->block >= 0 ? line->schedule->blocks[line->item->block].name : "";
    if (line->kind == LINE_SLAB)
        write_slab(line, slab);
    int length =
        snprintf(out, BILL_RULE_SIZE, "%s%s%s%s", block, block[0] && prices[line->item->price][0] ? ", " : "",
                 prices[line->item->price], slab);
    if (line->share != 1000000 && length < BILL_RULE_SIZE)
        length += snprintf(out + length, (size_t)(BILL_RULE_SIZE - length), "%s%s %% of the days",
                           length ? ", " : "", number_print(share, line->share, 4, 1, 0));
    if (tariff->schedule_count > 1 && length < BILL_RULE_SIZE)
        snprintf(out + length, (size_t)(BILL_RULE_SIZE - length), "%sschedule of %s", length ? ", " : "",
                 stamp_date(from, civil, civil_day_start(civil, line->schedule->from_day)));
}

int32_t bill_decimals(int64_t value, int32_t least)
{
    int32_t decimals = 6;
    while (decimals > least && value % 10 == 0) {
        value /= 10;
        decimals--;
    }
    return decimals;
}

void bill_line_words(struct bill_words *words, const struct bill_line *line, const struct tariff *tariff,
                     const struct civil *civil)
{
    static const char *const others[] = { [LINE_CREDIT_USED] = "credit used",
                                          [LINE_CREDIT_CARRIED] = "carried to the next bill",
                                          [LINE_ROUNDING] = "rounding" };
    *words = (struct bill_words){ .quantity = UNKNOWN, .rate = UNKNOWN, .unit = "" };
    if (!line->item) {
        words->name = others[line->kind];
        return;
    }
    bool of_items = line->item->of == MEASURE_ITEMS, percent = line->item->price == PRICE_PERCENT;
    words->name = line->item->name;
    words->quantity = line->quantity;
    words->quantity_decimals = of_items ? tariff->decimals : bill_decimals(line->quantity, 0);
    words->unit = percent ? "x %" : of_items ? tariff->currency : measure_unit(line->item->of);
    words->rate = percent ? line->rate * 100 : line->rate;
    words->rate_decimals = bill_decimals(words->rate, percent ? 0 : 2);
    write_rule(line, tariff, civil, words->rule);
}
