/* What a tariff's file may hold, as tables. */
#include "tariff_file.h"

#define MOST_RATE  1000000 /* of the currency for a kWh, kW ...: more is a slip of the decimal sign */
#define MILLIONTHS .factor = 1000000, .exact = true
#define RATE(key, type, field)                                                                               \
    {                                                                                                        \
        key, SETTING_SCALED, SETTING_AT(type, field), .least = -MOST_RATE, .most = MOST_RATE, MILLIONTHS     \
    }

const char *const measure_words[MEASURE_COUNT + 1] = {
    [MEASURE_IMPORT] = "import",
    [MEASURE_EXPORT] = "export",
    [MEASURE_NET] = "net",
    [MEASURE_CONSUMPTION] = "consumption",
    [MEASURE_PRODUCTION] = "production",
    [MEASURE_SELF_CONSUMPTION] = "self_consumption",
    [MEASURE_APPARENT] = "apparent",
    [MEASURE_REACTIVE] = "reactive",
    [MEASURE_ABOVE_CAP] = "above_cap",
    [MEASURE_DEMAND] = "demand",
    [MEASURE_DEMAND_APPARENT] = "apparent_demand",
    [MEASURE_CONTRACTED] = "contracted",
    [MEASURE_DAYS] = "days",
    [MEASURE_MONTHS] = "months",
    [MEASURE_BILLS] = "bills",
    [MEASURE_PHASES] = "phases",
    [MEASURE_POWER_FACTOR] = "power_factor",
    [MEASURE_ITEMS] = "items",
};
static const char *const price_words[] = {
    "flat", "telescopic", "whole", "chosen", "percent", "least", NULL
};
static const char *const party_words[] = { "always", "with_plant", "without_plant", NULL };
static const char *const revision_words[] = { "weighted", "split_use", "split_days",
                                              "closing",  "opening",   NULL };
static const char *const settlement_words[] = { "net_metered", "net_billed", "gross", NULL };
static const char *const period_words[] = { "month", "readings", NULL };
static const char *const how_words[] = { "half_up", "half_even", "down", "up", NULL };
static const char *const carry_words[] = { "nothing", "energy", "money", NULL };
static const char *const above_words[] = { "surplus", "lose", "pay", NULL };
static const char *const settle_words[] = { "lose", "pay", "keep", NULL };

#define ROUNDING(key, unit_at, how_key, how_at)                                                              \
    { key, SETTING_SCALED, unit_at, .least = 0, .most = 1000, MILLIONTHS },                                  \
    {                                                                                                        \
        how_key, SETTING_WORD, how_at, .words = how_words                                                    \
    }

#define TARIFF(field) SETTING_AT(struct tariff_entry, field)
static const struct setting_rule tariff_rules[] = {
    { "name", SETTING_TEXT, TARIFF(tariff.name), .required = true },
    { "note", SETTING_TEXT, TARIFF(tariff.note) },
    { "currency", SETTING_TEXT, TARIFF(tariff.currency), .required = true },
    { "settlement", SETTING_WORD, TARIFF(tariff.settlement), .required = true, .words = settlement_words },
    { "revision", SETTING_WORD, TARIFF(tariff.revision), .required = true, .words = revision_words },
    { "periods", SETTING_WORD, TARIFF(tariff.by_readings), .words = period_words },
    { "demand_minutes", SETTING_SCALED, TARIFF(tariff.demand_s), .least = 1, .most = 60, .otherwise = 15,
      .factor = 60 },
    { "month_days", SETTING_WHOLE, TARIFF(tariff.month_days), .least = 28, .most = 31, .otherwise = 30 },
    ROUNDING("round_quantity", TARIFF(tariff.quantity.unit), "round_quantity_how",
             TARIFF(tariff.quantity.how)),
    ROUNDING("round_line", TARIFF(tariff.line.unit), "round_line_how", TARIFF(tariff.line.how)),
    ROUNDING("round_total", TARIFF(tariff.total.unit), "round_total_how", TARIFF(tariff.total.how)),
    { "until", SETTING_TEXT, TARIFF(until) },
};
const struct setting_table tariff_table = { "the tariff", tariff_rules,
                                            sizeof tariff_rules / sizeof tariff_rules[0] };

#define BLOCK(field) SETTING_AT(struct block_entry, field)
static const struct setting_rule block_rules[] = {
    { "name", SETTING_TEXT, BLOCK(block.name), .required = true },
    { "months", SETTING_TEXT, BLOCK(months), .text = "all" },
    { "days", SETTING_TEXT, BLOCK(weekdays), .text = "all" },
    { "from", SETTING_TEXT, BLOCK(from), .text = "00:00" },
    { "to", SETTING_TEXT, BLOCK(to), .text = "24:00" },
};
const struct setting_table block_table = { "a block", block_rules,
                                           sizeof block_rules / sizeof block_rules[0] };

#define NETTING(field) SETTING_AT(struct netting_entry, field)
static const struct setting_rule netting_rules[] = {
    { "by_block", SETTING_BOOL, NETTING(netting.by_block) },
    { "across", SETTING_BOOL, NETTING(netting.across) },
    { "cap_percent", SETTING_SCALED, NETTING(netting.cap_share), .least = 0.01, .most = 100, .factor = 10000,
      .exact = true },
    { "cap_kwh", SETTING_SCALED, NETTING(netting.cap_energy), .least = 0.001, .most = 1e9, MILLIONTHS },
    { "cap_days", SETTING_WHOLE, NETTING(netting.cap_days), .least = 1, .most = 366 },
    { "above_cap", SETTING_WORD, NETTING(netting.above_cap), .words = above_words },
    { "carry", SETTING_WORD, NETTING(netting.carry), .words = carry_words },
    { "kept_percent", SETTING_WHOLE, NETTING(netting.kept_percent), .least = 0, .most = 100,
      .otherwise = 100 },
    { "expiry_months", SETTING_WHOLE, NETTING(netting.expiry_months), .least = 0, .most = 240 },
    { "settle", SETTING_TEXT, NETTING(settle), .text = "never" },
    { "at_settlement", SETTING_WORD, NETTING(netting.at_settlement), .words = settle_words },
    RATE("settle_rate", struct netting_entry, netting.settle_rate),
    { "pays", SETTING_TEXT, NETTING(pays) },
};
const struct setting_table netting_table = { "netting", netting_rules,
                                             sizeof netting_rules / sizeof netting_rules[0] };

#define SCHEDULE(field) SETTING_AT(struct schedule_entry, field)
static const struct setting_rule schedule_rules[] = {
    { "from", SETTING_TEXT, SCHEDULE(from), .required = true },
    { "known", SETTING_TEXT, SCHEDULE(known) },
    { "source", SETTING_TEXT, SCHEDULE(source) },
    { "blocks", SETTING_LIST, .offset = 0, .size = 0 },
    { "netting", SETTING_GROUP, .offset = 0, .size = 0 },
    { "items", SETTING_LIST, .offset = 0, .size = 0, .required = true },
};
const struct setting_table schedule_table = { "a schedule", schedule_rules,
                                              sizeof schedule_rules / sizeof schedule_rules[0] };

enum { FLAT, TELESCOPIC, WHOLE, CHOSEN, PERCENT, LEAST };
#define IN(kind)    (UINT32_C(1) << (kind))
#define SLABBED     (IN(TELESCOPIC) | IN(WHOLE) | IN(CHOSEN))
#define MULTIPLYING (IN(FLAT) | SLABBED)

#define ITEM(field) SETTING_AT(struct item_entry, field)
static const struct setting_rule item_rules[] = {
    { "price", SETTING_WORD, ITEM(item.price), .words = price_words },
    { "name", SETTING_TEXT, ITEM(item.name), .required = true },
    { "of", SETTING_WORD, ITEM(item.of), .required = true, .words = measure_words },
    { "for", SETTING_WORD, ITEM(item.party), .words = party_words },
    { "block", SETTING_TEXT, ITEM(block), .only = MULTIPLYING },
    { "pays", SETTING_BOOL, ITEM(item.pays) },
    { "rate", SETTING_SCALED, ITEM(item.rate), .least = -MOST_RATE, .most = MOST_RATE, MILLIONTHS,
      .only = IN(FLAT) },
    { "ages", SETTING_LIST, .offset = 0, .size = 0, .only = IN(FLAT) },
    { "slabs", SETTING_LIST, .offset = 0, .size = 0, .required = true, .only = IN(TELESCOPIC) | IN(WHOLE) },
    { "tables", SETTING_LIST, .offset = 0, .size = 0, .required = true, .only = IN(CHOSEN) },
    { "chosen_by", SETTING_WORD, ITEM(chosen_by), .words = measure_words, .otherwise = -1,
      .only = IN(WHOLE) | IN(CHOSEN) },
    { "scale_days", SETTING_WHOLE, ITEM(item.scale_days), .least = 0, .most = 366, .only = SLABBED },
    { "percent", SETTING_SCALED, ITEM(percent), .required = true, .least = -100, .most = 1000,
      .factor = 10000, .exact = true, .only = IN(PERCENT) },
    { "least", SETTING_SCALED, ITEM(least), .required = true, .least = 0, .most = MOST_RATE, MILLIONTHS,
      .only = IN(LEAST) },
    { "items", SETTING_TEXT, ITEM(items), .required = true, .only = IN(PERCENT) | IN(LEAST) },
    { "ratchet_percent", SETTING_WHOLE, ITEM(item.ratchet_percent), .least = 0, .most = 100,
      .only = MULTIPLYING },
    { "ratchet_bills", SETTING_WHOLE, ITEM(item.ratchet_bills), .least = 0, .most = 36, .otherwise = 12,
      .only = MULTIPLYING },
    { "ratchet_months", SETTING_TEXT, ITEM(ratchet_months), .text = "all", .only = MULTIPLYING },
    { "apparent_percent", SETTING_SCALED, ITEM(item.apparent_percent), .least = 0, .most = 100,
      .factor = 10000, .exact = true, .only = MULTIPLYING },
    { "contracted_percent", SETTING_SCALED, ITEM(item.contracted_percent), .least = 0, .most = 100,
      .factor = 10000, .exact = true, .only = MULTIPLYING },
    ROUNDING("round_quantity", ITEM(item.quantity.unit), "round_quantity_how", ITEM(item.quantity.how)),
    ROUNDING("round", ITEM(item.amount.unit), "round_how", ITEM(item.amount.how)),
};
const struct setting_table item_table = { "an item", item_rules, sizeof item_rules / sizeof item_rules[0] };

static const struct setting_rule slab_rule[] = {
    { "to", SETTING_SCALED, SETTING_AT(struct slab, to), .least = 0, .most = 1e9, MILLIONTHS },
    { "rate", SETTING_SCALED, SETTING_AT(struct slab, rate), .required = true, .least = -MOST_RATE,
      .most = MOST_RATE, MILLIONTHS },
};
const struct setting_table slab_rules = { "a slab", slab_rule, sizeof slab_rule / sizeof slab_rule[0] };

static const struct setting_rule table_rule[] = {
    { "to", SETTING_SCALED, SETTING_AT(struct slab_table, to), .least = 0, .most = 1e9, MILLIONTHS },
    { "slabs", SETTING_LIST, .offset = 0, .size = 0, .required = true },
};
const struct setting_table table_rules = { "a table", table_rule, sizeof table_rule / sizeof table_rule[0] };

#define AGE(field) SETTING_AT(struct age_entry, field)
static const struct setting_rule age_rule[] = {
    { "below_years", SETTING_WHOLE, AGE(age.to_years), .least = 1, .most = 100, .otherwise = INT32_MAX },
    { "commissioned_from", SETTING_TEXT, AGE(from) },
    { "commissioned_before", SETTING_TEXT, AGE(to) },
    { "rate", SETTING_SCALED, AGE(age.rate), .required = true, .least = -MOST_RATE, .most = MOST_RATE,
      MILLIONTHS },
};
const struct setting_table age_rules = { "a rate by age", age_rule, sizeof age_rule / sizeof age_rule[0] };
