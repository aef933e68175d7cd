#include "credit.h"

#include <string.h>

#include "calendar.h"
#include "muldiv.h"
#include "number.h"

static void drop(struct credit *credit, int32_t index)
{
    credit->lot_count--;
    memmove(&credit->lots[index], &credit->lots[index + 1],
            (size_t)(credit->lot_count - index) * sizeof(credit->lots[0]));
}

void credit_add(struct credit *credit, int64_t day, int32_t block, int64_t energy)
{
    if (energy <= 0)
        return;
    if (credit->lot_count == CREDIT_LOTS) {
        credit->lots[1].energy += credit->lots[0].energy;
        drop(credit, 0);
    }
    credit->lots[credit->lot_count++] = (struct credit_lot){ day, energy, block };
}

int64_t credit_sum(const struct credit *credit)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < credit->lot_count; i++)
        sum += credit->lots[i].energy;
    return sum;
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Takes up to `wanted` of a block's credit (-1: any), oldest first. */
static int64_t take(struct credit *credit, int32_t block, int64_t wanted)
{
    int64_t taken = 0;
    for (int32_t i = 0; i < credit->lot_count && taken < wanted;) {
        struct credit_lot *lot = &credit->lots[i];
        if (block >= 0 && lot->block != block) {
            i++;
            continue;
        }
        int64_t part = least(lot->energy, wanted - taken);
        lot->energy -= part;
        taken += part;
        if (lot->energy == 0)
            drop(credit, i);
        else
            i++;
    }
    return taken;
}

/* The day on which a lot is that many months old. */
static int64_t months_after(int64_t day, int32_t months)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    int32_t later = year * 12 + month - 1 + months;
    int64_t last_day = civil_day_number((later + 1) / 12, (later + 1) % 12 + 1, 1) - 1;
    int64_t same_day = civil_day_number(later / 12, later % 12 + 1, day_of_month);
    return same_day < last_day ? same_day : last_day; /* a month after the 31st of January ends February */
}

/* A lot is of its closing reading's day, the one after its bill's last. A bill may still use it whose own
 * closing reading is on the day on which it expires. */
static int64_t expire(struct credit *credit, const struct netting *netting, int64_t to_day)
{
    int64_t expired = 0;
    for (int32_t i = 0; netting->expiry_months > 0 && i < credit->lot_count;) {
        if (months_after(credit->lots[i].day + 1, netting->expiry_months) < to_day) {
            expired += credit->lots[i].energy;
            drop(credit, i);
        } else {
            i++;
        }
    }
    return expired;
}

static int64_t keep_share(struct credit *credit, int32_t percent)
{
    int64_t lost = 0;
    for (int32_t i = 0; i < credit->lot_count;) {
        struct credit_lot *lot = &credit->lots[i];
        int64_t kept = mul_div(lot->energy, percent, 100);
        lost += lot->energy - kept;
        lot->energy = kept;
        if (kept == 0)
            drop(credit, i);
        else
            i++;
    }
    return lost;
}

bool credit_settles(const struct netting *netting, int64_t from_day, int64_t to_day)
{
    int32_t year, month, day;
    civil_date(from_day, &year, &month, &day);
    for (int32_t i = 0; i < 2 * netting->settle_count; i++) {
        const struct day_of_year *settle = &netting->settle[i / 2];
        int64_t last = civil_day_number(year + i % 2, settle->month, settle->day);
        if (last >= from_day && last < to_day)
            return true;
    }
    return false;
}

static void settle(struct credit *credit, const struct netting *netting, struct credit_use *use)
{
    if (netting->at_settlement == SETTLE_KEEP)
        return;
    *(netting->at_settlement == SETTLE_PAY ? &use->settled : &use->lost) += credit_sum(credit);
    credit->lot_count = 0;
}

/* What blocks have left over goes to the others, in their order. */
static void net_across(int32_t block_count, int64_t net[TARIFF_BLOCKS], int64_t surplus[TARIFF_BLOCKS])
{
    for (int32_t from = 0; from < block_count; from++)
        for (int32_t to = 0; to < block_count; to++) {
            int64_t part = least(surplus[from], net[to]);
            surplus[from] -= part;
            net[to] -= part;
        }
}

/* ---- the cap ---- */

/* How much of a bill's import may be taken off. */
struct cap {
    bool within;                 /* the share is of each block's import */
    int64_t room[TARIFF_BLOCKS]; /* of each */
    int64_t whole;               /* of all together */
};

static struct cap cap_of(const struct netting *netting, int64_t days, int32_t block_count,
                         const int64_t import[TARIFF_BLOCKS])
{
    struct cap cap = { .within = netting->cap_share > 0 && netting->by_block && !netting->across,
                       .whole = INT64_MAX };
    int64_t sum = 0;
    for (int32_t b = 0; b < block_count; b++) {
        sum += import[b];
        cap.room[b] = cap.within ? mul_div(import[b], netting->cap_share, 1000000) : INT64_MAX;
    }
    if (netting->cap_share > 0 && !cap.within)
        cap.whole = mul_div(sum, netting->cap_share, 1000000);
    if (netting->cap_energy > 0)
        cap.whole =
            least(cap.whole, netting->cap_days > 0 ? mul_div(netting->cap_energy, days, netting->cap_days)
                                                   : netting->cap_energy);
    return cap;
}

/* Cuts export to the cap; where all blocks share one, each in proportion. What is above goes to `above`. */
static void cut(const struct cap *cap, int32_t block_count, int64_t export[TARIFF_BLOCKS],
                int64_t above[TARIFF_BLOCKS])
{
    int64_t sum = 0, reached = 0, before = 0;
    for (int32_t b = 0; b < block_count; b++) {
        int64_t kept = least(export[b], cap -> room[b]);
        above[b] = export[b] - kept;
        export[b] = kept;
        sum += kept;
    }
    for (int32_t b = 0; b < block_count && sum > cap->whole; b++) {
        reached += export[b];
        int64_t upto = mul_div(cap->whole, reached, sum), kept = upto - before;
        above[b] += export[b] - kept;
        export[b] = kept;
        before = upto;
    }
}

/* Takes credit for what a block has to pay for, as far as the cap has room. */
static int64_t use_in(struct credit *credit, struct cap *cap, int32_t from, int32_t block,
                      int64_t net[TARIFF_BLOCKS])
{
    int64_t taken = take(credit, from, least(net[block], least(cap->room[block], cap->whole)));
    net[block] -= taken;
    if (cap->within)
        cap->room[block] -= taken;
    if (cap->whole != INT64_MAX)
        cap->whole -= taken;
    return taken;
}

static void use_credit(struct credit *credit, const struct netting *netting, struct cap *cap,
                       int32_t block_count, int64_t net[TARIFF_BLOCKS], struct credit_use *use)
{
    for (int32_t b = 0; b < block_count; b++)
        use->used += use_in(credit, cap, netting->by_block ? b : -1, b, net);
    for (int32_t b = 0; b < block_count && netting->across; b++)
        use->used += use_in(credit, cap, -1, b, net);
}

/* What exports of the bill itself have taken off leaves less room for credit. */
static void leave_room(struct cap *cap, int32_t block_count, const int64_t import[TARIFF_BLOCKS],
                       const int64_t net[TARIFF_BLOCKS])
{
    for (int32_t b = 0; b < block_count; b++) {
        if (cap->within)
            cap->room[b] -= import[b] - net[b];
        if (cap->whole != INT64_MAX)
            cap->whole -= import[b] - net[b];
    }
}

/* ---- a bill ---- */

static void place_above(const struct netting *netting, int32_t block_count, int64_t surplus[TARIFF_BLOCKS],
                        int64_t above[TARIFF_BLOCKS], struct credit_use *use)
{
    for (int32_t b = 0; b < block_count; b++) {
        use->above += above[b];
        if (netting->above_cap == ABOVE_SURPLUS) {
            surplus[b] += above[b];
        } else {
            use->surplus += above[b];
            *(netting->above_cap == ABOVE_PAY ? &use->paid : &use->lost) += above[b];
        }
        if (netting->above_cap != ABOVE_PAY)
            above[b] = 0;
    }
}

void credit_net(struct credit *credit, const struct netting *netting, int64_t from_day, int64_t to_day,
                int32_t block_count, const int64_t import[TARIFF_BLOCKS], const int64_t export[TARIFF_BLOCKS],
                int64_t net[TARIFF_BLOCKS], int64_t above[TARIFF_BLOCKS], struct credit_use *use)
{
    int64_t surplus[TARIFF_BLOCKS] = { 0 }, counted[TARIFF_BLOCKS];
    bool carries = netting->carry == CARRY_ENERGY;
    struct cap cap = cap_of(netting, to_day - from_day, block_count, import);
    *use = (struct credit_use){ .in = credit_sum(credit) };
    memcpy(counted, export, sizeof(counted));
    cut(&cap, block_count, counted, above);
    for (int32_t b = 0; b < block_count; b++) {
        net[b] = import[b] > counted[b] ? import[b] - counted[b] : 0;
        surplus[b] = counted[b] > import[b] ? counted[b] - import[b] : 0;
    }
    if (!netting->by_block || netting->across)
        net_across(block_count, net, surplus);
    leave_room(&cap, block_count, import, net);
    place_above(netting, block_count, surplus, above, use);
    use->expired = expire(credit, netting, to_day);
    use_credit(credit, netting, &cap, block_count, net, use);
    for (int32_t b = 0; b < block_count; b++) {
        use->surplus += surplus[b];
        if (carries)
            credit_add(credit, to_day - 1, netting->by_block ? b : 0, surplus[b]);
        else
            use->lost += surplus[b];
    }
    if (credit_settles(netting, from_day, to_day))
        settle(credit, netting, use);
    else if (netting->kept_percent < 100)
        use->not_kept = keep_share(credit, netting->kept_percent);
    use->out = credit_sum(credit);
}

int64_t credit_worth(const struct credit *credit, const struct netting *netting)
{
    int64_t energy = credit_sum(credit);
    bool settles = netting->settle_count > 0, lost = settles && netting->at_settlement == SETTLE_LOSE;
    if (lost || (energy == 0 && credit->money == 0))
        return 0;
    if (energy == 0)
        return credit->money;
    return settles && netting->at_settlement == SETTLE_PAY
               ? money_of(energy, netting->settle_rate) + credit->money
               : UNKNOWN;
}
