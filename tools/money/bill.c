#include "bill.h"

#include <string.h>

#include "calendar.h"
#include "muldiv.h"

enum { MILLION = 1000000 };

static int64_t days_of(const struct usage *use)
{
    return use->to_day - use->from_day;
}

/* ---- the period ---- */

/* Adds a stretch's energies to those of a sum, block by block of the same name: where the sum's schedule has
 * none it is all other time. */
void usage_add(struct usage *sum, const struct usage *use)
{
    sum->to_day = use->to_day;
    sum->demand_at_least |= use->demand_at_least;
    sum->estimated += use->estimated;
    for (int32_t b = 0; b < use->schedule->block_count; b++) {
        int32_t to = sum->schedule == use->schedule
                         ? b
                         : schedule_block_named(sum->schedule, use->schedule->blocks[b].name);
        if (use->schedule->blocks[b].same != b)
            continue;
        for (int32_t m = 0; m < MEASURE_ENERGIES; m++)
            sum->energy[m][to] += use->energy[m][b];
        if (use->demand[b] > sum->demand[to])
            sum->demand[to] = use->demand[b];
        if (use->apparent_demand[b] > sum->apparent_demand[to])
            sum->apparent_demand[to] = use->apparent_demand[b];
    }
}

/* All stretches together, in the blocks of the last one's schedule. */
static struct usage sum_of(const struct usage *uses, int32_t count)
{
    struct usage sum = { .from_day = uses[0].from_day, .schedule = uses[count - 1].schedule };
    for (int32_t i = 0; i < count; i++) {
        usage_add(&sum, &uses[i]);
    }
    return sum;
}

struct usage usage_in_blocks_of(const struct usage *use, const struct schedule *schedule)
{
    struct usage other = { .from_day = use->from_day, .schedule = schedule };
    usage_add(&other, use);
    return other;
}

/* Calendar months that a period has whole, else its days over those of a month; millionths. */
static int64_t months_of(const struct tariff *tariff, int64_t from_day, int64_t to_day)
{
    int32_t from[3], to[3];
    civil_date(from_day, &from[0], &from[1], &from[2]);
    civil_date(to_day, &to[0], &to[1], &to[2]);
    if (from[2] == 1 && to[2] == 1)
        return ((int64_t)(to[0] - from[0]) * 12 + to[1] - from[1]) * QUANTITY_ONE;
    return multiply_round(to_day - from_day, QUANTITY_ONE, tariff->month_days);
}

static void share_use(struct usage *use, const struct usage *whole, int64_t days, int64_t whole_days)
{
    for (int32_t m = 0; m < MEASURE_ENERGIES; m++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
            use->energy[m][b] = multiply_round(whole->energy[m][b], days, whole_days);
}

/* What is known of the bill as a whole belongs to the stretches as another energy does. */
static void share_as(struct usage *use, const struct usage *whole, enum measure measure, enum measure as,
                     int64_t days)
{
    int64_t whole_days = days_of(whole);
    for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
        int64_t of = whole->energy[as][b], value = whole->energy[measure][b];
        use->energy[measure][b] =
            of > 0 ? multiply_round(value, use->energy[as][b], of) : multiply_round(value, days, whole_days);
    }
}

/* ---- over a revision ---- */

struct work {
    struct bill *bill;
    const struct tariff *tariff;
    const struct contract *contract;
    const struct credit *credit;
    struct usage whole; /* with NET filled in */
    int64_t days, months;
};

/* Slab limits are those of so many days of the bill, amounts have the weight of so many. */
static void evaluate(struct work *work, const struct usage *use, int64_t days, int64_t slab_days,
                     int64_t weight_days)
{
    bool part = days != work->days;
    struct evaluation evaluation = {
        .tariff = work->tariff,
        .contract = work->contract,
        .schedule = use->schedule,
        .credit = work->credit,
        .use = *use,
        .days = days,
        .whole_days = work->days,
        .months = part ? multiply_round(work->months, days, work->days) : work->months,
        .bills = part ? multiply_round(QUANTITY_ONE, days, work->days) : QUANTITY_ONE,
        .slab_days = slab_days,
        .weight_days = weight_days,
    };
    bill_price(work->bill, &evaluation);
}

static void evaluate_part(struct work *work, const struct usage *own)
{
    int64_t days = days_of(own);
    struct usage whole = usage_in_blocks_of(&work->whole, own->schedule), use = whole;
    switch (work->tariff->revision) {
    case REVISION_WEIGHTED:
        evaluate(work, &use, work->days, work->days, days);
        break;
    case REVISION_SPLIT_USE:
        use = *own;
        share_as(&use, &whole, MEASURE_NET, MEASURE_IMPORT, days);
        share_as(&use, &whole, MEASURE_ABOVE_CAP, MEASURE_EXPORT, days);
        /* the bill has one demand, whichever part it fell into */
        memcpy(use.demand, whole.demand, sizeof(use.demand));
        memcpy(use.apparent_demand, whole.apparent_demand, sizeof(use.apparent_demand));
        evaluate(work, &use, days, days, work->days);
        break;
    default:
        share_use(&use, &whole, days, work->days);
        evaluate(work, &use, days, work->days, work->days);
        break;
    }
}

static void price_all(struct work *work, const struct usage *uses, int32_t count)
{
    enum revision revision = work->tariff->revision;
    if (count == 1 || revision == REVISION_OPENING || revision == REVISION_CLOSING) {
        struct usage use =
            usage_in_blocks_of(&work->whole, uses[revision == REVISION_OPENING ? 0 : count - 1].schedule);
        evaluate(work, &use, work->days, work->days, work->days);
        return;
    }
    for (int32_t i = 0; i < count; i++)
        evaluate_part(work, &uses[i]);
}

/* ---- money credit, settlement, rounding ---- */

static void add_line(struct bill *bill, enum line_kind kind, int64_t amount)
{
    if (bill->line_count == BILL_LINES) {
        bill->cut = true;
        return;
    }
    bill->lines[bill->line_count++] =
        (struct bill_line){ .kind = kind, .amount = amount, .share = MILLION, .slab_to = INT64_MAX };
}

static bool may_pay(const struct bill_line *line)
{
    const struct netting *netting = &line->schedule->netting;
    return netting->pays == 0 || netting->pays & UINT32_C(1) << (line->item - line->schedule->items);
}

/* Money credit pays what it may; what exports earned beyond that is carried. */
static void carry_money(struct bill *bill, struct credit *credit)
{
    int64_t payable = 0;
    for (int32_t i = 0; i < bill->line_count; i++)
        if (may_pay(&bill->lines[i]) || bill->lines[i].amount < 0)
            payable += bill->lines[i].amount;
    if (payable < 0) {
        credit->money += -payable;
        add_line(bill, LINE_CREDIT_CARRIED, -payable);
    } else if (credit->money > 0 && payable > 0) {
        int64_t used = payable < credit->money ? payable : credit->money;
        credit->money -= used;
        add_line(bill, LINE_CREDIT_USED, -used);
    }
}

static void settle(struct bill *bill, const struct netting *netting, struct credit *credit)
{
    if (netting->at_settlement == SETTLE_KEEP || !credit_settles(netting, bill->from_day, bill->to_day))
        return;
    bill->settled = true;
    bill->settlement_rate = netting->settle_rate;
    if (netting->carry == CARRY_ENERGY)
        bill->settlement = money_of(bill->credit.settled, netting->settle_rate);
    if (netting->carry == CARRY_MONEY) {
        bill->settlement = netting->at_settlement == SETTLE_PAY ? credit->money : 0;
        credit->money = 0;
    }
}

static void add_up(struct bill *bill, const struct tariff *tariff)
{
    bill->total = 0;
    for (int32_t i = 0; i < bill->line_count; i++)
        bill->total += bill->lines[i].amount;
    if (tariff->total.unit == 0)
        return;
    int64_t rounded = round_to(bill->total, tariff->total.unit, tariff->total.how);
    if (rounded != bill->total)
        add_line(bill, LINE_ROUNDING, rounded - bill->total);
    bill->total = rounded;
}

static void keep_demand(struct credit *credit, const struct usage *whole)
{
    int32_t year, day;
    if (credit->demand_count == CREDIT_DEMANDS) {
        credit->demand_count--;
        memmove(credit->demands, credit->demands + 1, (CREDIT_DEMANDS - 1) * sizeof(credit->demands[0]));
    }
    struct demand_before *before = &credit->demands[credit->demand_count++];
    before->schedule = whole->schedule;
    civil_date(whole->to_day - 1, &year, &before->month, &day);
    memcpy(before->demand, whole->demand, sizeof(before->demand));
    memcpy(before->apparent_demand, whole->apparent_demand, sizeof(before->apparent_demand));
}

static void fill_in(struct bill *bill, const struct usage *whole)
{
    bill->from_day = whole->from_day;
    bill->to_day = whole->to_day;
    bill->demand_at_least = whole->demand_at_least;
    bill->estimated = whole->estimated;
    for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
        for (int32_t m = 0; m < MEASURE_ENERGIES; m++)
            bill->energy[m] += whole->energy[m][b];
        if (whole->demand[b] > bill->demand)
            bill->demand = whole->demand[b];
        if (whole->apparent_demand[b] > bill->apparent_demand)
            bill->apparent_demand = whole->apparent_demand[b];
    }
}

bool bill_make(struct bill *bill, const struct tariff *tariff, const struct contract *contract,
               const struct usage *uses, int32_t use_count, struct credit *credit)
{
    *bill = (struct bill){ 0 };
    if (use_count < 1 || use_count > BILL_STRETCHES)
        return false;
    struct work work = { bill, tariff, contract, credit, sum_of(uses, use_count), 0, 0 };
    const struct netting *netting = &work.whole.schedule->netting;
    work.days = days_of(&work.whole);
    work.months = months_of(tariff, work.whole.from_day, work.whole.to_day);
    if (work.days < 1)
        return false;
    bill->money_in = credit->money;
    if (contract->with_plant && tariff->settlement == SETTLEMENT_NET_METERED)
        credit_net(credit, netting, work.whole.from_day, work.whole.to_day, TARIFF_BLOCKS,
                   work.whole.energy[MEASURE_IMPORT], work.whole.energy[MEASURE_EXPORT],
                   work.whole.energy[MEASURE_NET], work.whole.energy[MEASURE_ABOVE_CAP], &bill->credit);
    else
        memcpy(work.whole.energy[MEASURE_NET], work.whole.energy[MEASURE_IMPORT],
               sizeof(work.whole.energy[MEASURE_NET]));
    fill_in(bill, &work.whole);
    price_all(&work, uses, use_count);
    if (contract->with_plant && netting->carry == CARRY_MONEY)
        carry_money(bill, credit);
    if (contract->with_plant)
        settle(bill, netting, credit);
    add_up(bill, tariff);
    bill->money_out = credit->money;
    keep_demand(credit, &work.whole);
    return true;
}

int64_t bill_item_amount(const struct bill *bill, const char *name)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < bill->line_count; i++)
        if (bill->lines[i].item && strcmp(bill->lines[i].item->name, name) == 0)
            sum += bill->lines[i].amount;
    return sum;
}
