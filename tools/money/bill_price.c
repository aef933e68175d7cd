/* Items at their prices. */
#include "bill.h"
#include "calendar.h"
#include "muldiv.h"

static void add_line(struct bill *bill, const struct bill_line *line)
{
    if (bill->line_count == BILL_LINES)
        bill->cut = true;
    else
        bill->lines[bill->line_count++] = *line;
}

/* ---- quantities ---- */

static bool is_demand(enum measure measure)
{
    return measure == MEASURE_DEMAND || measure == MEASURE_DEMAND_APPARENT;
}

static int64_t highest(const int64_t demand[TARIFF_BLOCKS], int32_t block)
{
    int64_t most = 0;
    for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
        if ((block < 0 || b == block) && demand[b] > most)
            most = demand[b];
    return most;
}

/* A demand in kW is never below a share of that in kVA, where the item says so. */
static int64_t billing_demand(const struct item *item, int64_t demand, int64_t apparent)
{
    if (item->of == MEASURE_DEMAND_APPARENT)
        return apparent;
    int64_t share = multiply_round(apparent, item->apparent_percent, 1000000);
    return share > demand ? share : demand;
}

/* Never below a share of what was contracted, or of the highest of the bills before. */
static int64_t demand_of(const struct evaluation *evaluation, const struct item *item)
{
    const struct credit *credit = evaluation->credit;
    int64_t demand = billing_demand(item, highest(evaluation->use.demand, item->block),
                                    highest(evaluation->use.apparent_demand, item->block));
    int64_t contracted = multiply_round(evaluation->contract->contracted, item->contracted_percent, 1000000);
    demand = contracted > demand ? contracted : demand;
    int32_t first = credit->demand_count - item->ratchet_bills;
    for (int32_t i = first > 0 ? first : 0; i < credit->demand_count; i++) {
        const struct demand_before *before = &credit->demands[i];
        if (item->ratchet_months && !(item->ratchet_months & UINT32_C(1) << (before->month - 1)))
            continue;
        int32_t block =
            item->block < 0
                ? -1
                : schedule_block_named(before->schedule, evaluation->schedule->blocks[item->block].name);
        int64_t held = multiply_round(
            billing_demand(item, highest(before->demand, block), highest(before->apparent_demand, block)),
            item->ratchet_percent, 100);
        demand = held > demand ? held : demand;
    }
    return demand;
}

/* Real over apparent energy of what was imported; 1 where nothing apparent was. */
static int64_t power_factor_of(const struct evaluation *evaluation)
{
    int64_t real = 0, apparent = 0;
    for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
        real += evaluation->use.energy[MEASURE_IMPORT][b];
        apparent += evaluation->use.energy[MEASURE_APPARENT][b];
    }
    return apparent > 0 ? multiply_round(real, QUANTITY_ONE, apparent) : QUANTITY_ONE;
}

static int64_t measure_of(const struct evaluation *evaluation, enum measure measure, const struct item *item)
{
    int64_t sum = 0;
    switch (measure) {
    case MEASURE_DEMAND:
    case MEASURE_DEMAND_APPARENT:
        return demand_of(evaluation, item);
    case MEASURE_CONTRACTED:
        return multiply_round(evaluation->contract->contracted, evaluation->months, QUANTITY_ONE);
    case MEASURE_DAYS:
        return evaluation->days * QUANTITY_ONE;
    case MEASURE_MONTHS:
        return evaluation->months;
    case MEASURE_BILLS:
        return evaluation->bills;
    case MEASURE_PHASES:
        return multiply_round((int64_t)evaluation->contract->phases * QUANTITY_ONE, evaluation->months,
                              QUANTITY_ONE);
    case MEASURE_POWER_FACTOR:
        return power_factor_of(evaluation);
    case MEASURE_ITEMS:
        return 0;
    default:
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
            if (item->block < 0 || item->block == b)
                sum += evaluation->use.energy[measure][b];
        return sum;
    }
}

/* Energies are rounded as the tariff has it, also where they only decide. */
static int64_t rounded(const struct evaluation *evaluation, const struct rounding *own, enum measure measure,
                       int64_t quantity)
{
    const struct rounding *rounding =
        own->unit || measure >= MEASURE_ENERGIES ? own : &evaluation->tariff->quantity;
    return rounding->unit ? round_to(quantity, rounding->unit, rounding->how) : quantity;
}

static int64_t quantity_of(const struct evaluation *evaluation, const struct item *item)
{
    int64_t quantity = rounded(evaluation, &item->quantity, item->of, measure_of(evaluation, item->of, item));
    /* the bill has one demand: over a revision each schedule charges its days' share of it */
    return is_demand(item->of) ? multiply_round(quantity, evaluation->bills, QUANTITY_ONE) : quantity;
}

/* ---- amounts ---- */

static int64_t finish(const struct evaluation *evaluation, const struct item *item, int64_t amount)
{
    const struct rounding *rounding = item->amount.unit ? &item->amount : &evaluation->tariff->line;
    amount = multiply_round(amount, evaluation->weight_days, evaluation->whole_days);
    if (item->pays)
        amount = -amount;
    return rounding->unit ? round_to(amount, rounding->unit, rounding->how) : amount;
}

static struct bill_line begin(const struct evaluation *evaluation, const struct item *item,
                              enum line_kind kind)
{
    return (struct bill_line){ .kind = kind,
                               .schedule = evaluation->schedule,
                               .item = item,
                               .share =
                                   multiply_round(1000000, evaluation->weight_days, evaluation->whole_days),
                               .slab_to = INT64_MAX };
}

static int64_t put(struct bill *bill, const struct evaluation *evaluation, struct bill_line *line,
                   int64_t amount)
{
    line->amount = finish(evaluation, line->item, amount);
    add_line(bill, line);
    return line->amount;
}

/* A limit of a measure scales as the measure does: what is charged by months with them, energies with the
 * days where the tariff says so, and with the share of a part that is billed apart. */
static int64_t limit_of(const struct evaluation *evaluation, const struct item *item, enum measure measure,
                        int64_t limit)
{
    if (limit == INT64_MAX || measure == MEASURE_POWER_FACTOR)
        return limit;
    if (measure == MEASURE_CONTRACTED || measure == MEASURE_PHASES)
        return multiply_round(limit, evaluation->months, QUANTITY_ONE);
    if (is_demand(measure))
        return multiply_round(limit, evaluation->bills, QUANTITY_ONE);
    if (item->scale_days > 0)
        return multiply_round(limit, evaluation->slab_days, item->scale_days);
    return multiply_round(limit, evaluation->slab_days, evaluation->whole_days);
}

/* The first table or slab whose limit the deciding quantity does not pass. */
static int32_t chosen_table(const struct evaluation *evaluation, const struct item *item, int64_t decides)
{
    int32_t t = 0;
    while (t + 1 < item->table_count &&
           decides > limit_of(evaluation, item, item->chosen_by, item->tables[t].to))
        t++;
    return t;
}

static int64_t price_slabs(struct bill *bill, const struct evaluation *evaluation, const struct item *item,
                           const struct slab_table *table, int64_t quantity)
{
    int64_t from = 0, sum = 0;
    for (int32_t s = 0; s < table->slab_count && (quantity > from || s == 0); s++) {
        struct bill_line line = begin(evaluation, item, LINE_SLAB);
        line.slab_from = from;
        line.slab_to = limit_of(evaluation, item, item->of, table->slabs[s].to);
        line.quantity = (quantity < line.slab_to ? quantity : line.slab_to) - from;
        line.rate = table->slabs[s].rate;
        sum += put(bill, evaluation, &line, money_of(line.quantity, line.rate));
        from = line.slab_to;
    }
    return sum;
}

/* All of it at the rate of the slab that the deciding quantity reaches. */
static int64_t price_whole(struct bill *bill, const struct evaluation *evaluation, const struct item *item,
                           int64_t quantity, int64_t decides)
{
    const struct slab_table *table = &item->tables[0];
    struct bill_line line = begin(evaluation, item, LINE_SLAB);
    int32_t s = 0;
    while (s + 1 < table->slab_count &&
           decides > limit_of(evaluation, item, item->chosen_by, table->slabs[s].to))
        line.slab_from = limit_of(evaluation, item, item->chosen_by, table->slabs[s++].to);
    line.slab_to = limit_of(evaluation, item, item->chosen_by, table->slabs[s].to);
    line.quantity = quantity;
    line.rate = table->slabs[s].rate;
    return put(bill, evaluation, &line, money_of(quantity, line.rate));
}

/* Whole years from a day on which a part was commissioned. */
static int32_t years_between(int64_t from_day, int64_t day)
{
    int32_t from[3], to[3];
    civil_date(from_day, &from[0], &from[1], &from[2]);
    civil_date(day, &to[0], &to[1], &to[2]);
    return to[0] - from[0] - (to[1] < from[1] || (to[1] == from[1] && to[2] < from[2]));
}

static const struct age_rate *age_of(const struct evaluation *evaluation, const struct item *item,
                                     const struct plant_part *part)
{
    int32_t years = years_between(part->commissioned, evaluation->use.from_day);
    for (int32_t a = 0; a < item->age_count; a++)
        if (part->commissioned >= item->ages[a].from_day && part->commissioned < item->ages[a].to_day &&
            years < item->ages[a].to_years)
            return &item->ages[a];
    return NULL;
}

/* The plant's parts share what it made by their size; each has the rate of its date and age. */
static int64_t price_ages(struct bill *bill, const struct evaluation *evaluation, const struct item *item,
                          int64_t quantity)
{
    const struct contract *contract = evaluation->contract;
    int64_t kilowatts = 0, before = 0, sum = 0;
    for (int32_t p = 0; p < contract->part_count; p++)
        if (contract->parts[p].commissioned < evaluation->use.to_day)
            kilowatts += contract->parts[p].kilowatts;
    int64_t reached = 0;
    for (int32_t p = 0; p < contract->part_count && kilowatts > 0; p++) {
        const struct plant_part *part = &contract->parts[p];
        const struct age_rate *age = age_of(evaluation, item, part);
        if (part->commissioned >= evaluation->use.to_day)
            continue;
        struct bill_line line = begin(evaluation, item, LINE_AGE);
        reached += part->kilowatts;
        int64_t to = mul_div(quantity, reached, kilowatts);
        line.quantity = to - before;
        line.rate = age ? age->rate : 0;
        before = to;
        sum += put(bill, evaluation, &line, money_of(line.quantity, line.rate));
    }
    return sum;
}

static int64_t sum_of(const struct evaluation *evaluation, uint32_t items)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < evaluation->schedule->item_count; i++)
        if (items & UINT32_C(1) << i)
            sum += evaluation->amounts[i];
    return sum;
}

/* Amounts of other items are weighted already. */
static int64_t price_items(struct bill *bill, const struct evaluation *evaluation, const struct item *item)
{
    struct bill_line line = begin(evaluation, item, LINE_ITEM);
    const struct rounding *rounding = item->amount.unit ? &item->amount : &evaluation->tariff->line;
    line.quantity = sum_of(evaluation, item->items);
    line.rate = item->rate;
    if (item->price == PRICE_PERCENT) {
        line.amount = multiply_round(line.quantity, item->rate, 1000000);
    } else {
        int64_t least = multiply_round(multiply_round(item->rate, evaluation->bills, QUANTITY_ONE),
                                       evaluation->weight_days, evaluation->whole_days);
        line.amount = least > line.quantity ? least - line.quantity : 0;
    }
    if (item->pays)
        line.amount = -line.amount;
    if (rounding->unit)
        line.amount = round_to(line.amount, rounding->unit, rounding->how);
    add_line(bill, &line);
    return line.amount;
}

static int64_t price_item(struct bill *bill, const struct evaluation *evaluation, const struct item *item)
{
    int64_t quantity = quantity_of(evaluation, item), decides = quantity;
    struct bill_line line = begin(evaluation, item, LINE_ITEM);
    if (item->chosen_by != item->of) {
        struct item whole = *item;
        whole.block = -1;
        decides = rounded(evaluation, &(struct rounding){ 0 }, item->chosen_by,
                          measure_of(evaluation, item->chosen_by, &whole));
    }
    switch (item->price) {
    case PRICE_TELESCOPIC:
        return price_slabs(bill, evaluation, item, &item->tables[0], quantity);
    case PRICE_WHOLE:
        return price_whole(bill, evaluation, item, quantity, decides);
    case PRICE_CHOSEN:
        return price_slabs(bill, evaluation, item, &item->tables[chosen_table(evaluation, item, decides)],
                           quantity);
    case PRICE_PERCENT:
    case PRICE_LEAST:
        return price_items(bill, evaluation, item);
    default:
        if (item->age_count > 0)
            return price_ages(bill, evaluation, item, quantity);
        line.quantity = quantity;
        line.rate = item->rate;
        return put(bill, evaluation, &line, money_of(quantity, item->rate));
    }
}

static bool applies(const struct evaluation *evaluation, const struct item *item)
{
    return item->party == PARTY_ALWAYS ||
           (item->party == PARTY_WITH_PLANT) == evaluation->contract->with_plant;
}

void bill_price(struct bill *bill, struct evaluation *evaluation)
{
    for (int32_t i = 0; i < evaluation->schedule->item_count; i++) {
        const struct item *item = &evaluation->schedule->items[i];
        evaluation->amounts[i] = applies(evaluation, item) ? price_item(bill, evaluation, item) : 0;
    }
}
