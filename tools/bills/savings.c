#include "savings.h"

#include <stdio.h>
#include <stdlib.h>

static bool no_memory(void)
{
    fputs("meterbook: out of memory\n", stderr);
    return false;
}

static bool is_fixed(enum measure measure)
{
    return measure == MEASURE_DAYS || measure == MEASURE_MONTHS || measure == MEASURE_BILLS ||
           measure == MEASURE_PHASES || measure == MEASURE_CONTRACTED;
}

static int64_t fixed_of(const struct bill *bill)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < bill->line_count; i++)
        if (bill->lines[i].item && is_fixed(bill->lines[i].item->of))
            sum += bill->lines[i].amount;
    return sum;
}

/* Export at the rate that the tariff has for it. Where it is taken from import that is the settlement's; a
 * plant that sells all it makes has none of its own. */
static int64_t export_value(const struct tariff *tariff, const struct bill *bill)
{
    const struct schedule *schedule = tariff_at(tariff, bill->to_day - 1);
    int64_t sum = 0;
    if (tariff->settlement == SETTLEMENT_GROSS || !schedule)
        return UNKNOWN;
    for (int32_t i = 0; i < bill->line_count; i++)
        if (bill->lines[i].item && bill->lines[i].item->of == MEASURE_EXPORT)
            sum -= bill->lines[i].amount;
    if (tariff->settlement == SETTLEMENT_NET_BILLED)
        return sum;
    const struct netting *netting = &schedule->netting;
    if (netting->carry == CARRY_NOTHING ||
        (netting->settle_count > 0 && netting->at_settlement == SETTLE_LOSE))
        return 0;
    return netting->carry == CARRY_ENERGY && netting->settle_count > 0 && netting->at_settlement == SETTLE_PAY
               ? money_of(bill->energy[MEASURE_EXPORT], netting->settle_rate)
               : UNKNOWN;
}

static struct saving saving_of(const struct bills *bills, const struct bill_pair *pair)
{
    const struct bill *with = &pair->with;
    const struct inquiry *inquiry = &bills->inquiry;
    /* a reading counts for its day's begin: what speaks after it tells */
    int64_t after_s = civil_day_start(inquiry->session.civil, pair->period.from_day + 1);
    return (struct saving){
        .from_day = pair->period.from_day,
        .to_day = pair->period.to_day,
        .consumption = with->energy[MEASURE_CONSUMPTION],
        .import = with->energy[MEASURE_IMPORT],
        .export = with->energy[MEASURE_EXPORT],
        .production = with->energy[MEASURE_PRODUCTION],
        .without = pair->without.total,
        .with = with->total,
        .settled = with->settlement,
        .saved = pair->without.total - with->total + with->settlement,
        .fixed = fixed_of(with),
        .export_value = export_value(bills->tariff, with),
        .estimated = with->estimated,
        .settles = with->settled,
        .asked = bills_asked(bills, pair),
        .sealed = inquiry->sources && sources_sealed(inquiry->sources, after_s) != 0,
        .doubtful = pair->period.guessed || pair->period.missing_days > 0,
    };
}

static void add_up(struct savings *savings, const struct saving *saving)
{
    struct saving *total = &savings->total;
    total->saved_so_far = saving->saved_so_far;
    if (!saving->asked)
        return;
    if (savings->asked_count++ == 0)
        total->from_day = saving->from_day;
    total->to_day = saving->to_day;
    total->consumption += saving->consumption;
    total->import += saving->import;
    total->export += saving->export;
    total->production += saving->production;
    total->without += saving->without;
    total->with += saving->with;
    total->settled += saving->settled;
    total->saved += saving->saved;
    total->fixed += saving->fixed;
    total->estimated += saving->estimated;
}

static const struct saving *add(struct savings *savings, const struct saving *saving)
{
    if (savings->count == savings->room) {
        int32_t room = savings->room ? 2 * savings->room : 64;
        struct saving *rows = realloc(savings->rows, (size_t)room * sizeof(*rows));
        if (!rows)
            return NULL;
        savings->rows = rows;
        savings->room = room;
    }
    struct saving *row = &savings->rows[savings->count++];
    *row = *saving;
    row->saved_so_far = savings->total.saved_so_far + row->saved;
    add_up(savings, row);
    return row;
}

static bool read_pairs(struct savings *savings, struct bills *bills, struct bill_pair *pair,
                       savings_each *each, void *self)
{
    while (bills_next(bills, pair)) {
        const struct saving *row = NULL;
        if (pair->has_with && pair->has_without) {
            struct saving saving = saving_of(bills, pair);
            row = add(savings, &saving);
            if (!row)
                return no_memory();
        } else {
            savings->left_out++;
            savings->asked_left_out += bills_asked(bills, pair);
        }
        if (each)
            each(self, pair, row);
    }
    return !bills->failed;
}

bool savings_read(struct savings *savings, struct bills *bills, savings_each *each, void *self)
{
    struct bill_pair *pair = calloc(1, sizeof(*pair));
    *savings = (struct savings){ 0 };
    if (!pair)
        return no_memory();
    bool good = read_pairs(savings, bills, pair, each, self);
    free(pair);
    return good;
}

void savings_free(struct savings *savings)
{
    free(savings->rows);
    *savings = (struct savings){ 0 };
}

bool savings_returns(const struct savings *savings, const struct contract_file *contract,
                     struct returns *returns)
{
    struct saved *saved = calloc((size_t)savings->count, sizeof(*saved));
    if (!saved)
        return no_memory();
    for (int32_t i = 0; i < savings->count; i++) {
        const struct saving *row = &savings->rows[i];
        saved[i] = (struct saved){ .from_day = row->from_day,
                                   .to_day = row->to_day,
                                   .saving = row->saved,
                                   .production = row->production,
                                   .settled = row->settled,
                                   .settles = row->settles };
    }
    returns_make(returns, contract, saved, savings->count);
    free(saved);
    return true;
}
