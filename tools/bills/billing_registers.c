/* Energies by block as the sealed meter's registers of tariff periods have them. */
#include <string.h>

#include "billing_read.h"

enum { REST = CONTRACT_REGISTERS, PARTS }; /* what no register of a period counted is the last part */

/* What each register counted, and into which block of each stretch it goes. */
struct parts {
    const struct gather *gather;
    enum measure measure;
    int64_t energy[PARTS];
    int32_t block[PARTS][BILL_STRETCHES];        /* -1: none there */
    int64_t ours[BILL_STRETCHES][TARIFF_BLOCKS]; /* by our own account */
};

static int64_t weight(const struct parts *parts, int32_t part, int32_t stretch, bool by_days)
{
    const struct usage *use = &parts->gather->result->with[stretch];
    int32_t block = parts->block[part][stretch];
    return block < 0 ? 0 : by_days ? use->to_day - use->from_day : parts->ours[stretch][block];
}

/* Over a revision as our own account has it in that block; where that has nothing, by days. */
static void put(const struct parts *parts, int32_t part)
{
    struct billing_period *result = parts->gather->result;
    int64_t whole = 0, reached = 0, before = 0;
    bool by_days = false;
    for (int32_t i = 0; i < result->use_count; i++)
        whole += weight(parts, part, i, false);
    by_days = whole <= 0;
    result->by_days |= by_days && parts->energy[part] > 0;
    for (int32_t i = 0; i < result->use_count && by_days; i++)
        whole += weight(parts, part, i, true);
    for (int32_t i = 0; i < result->use_count && whole > 0; i++) {
        reached += weight(parts, part, i, by_days);
        int64_t upto = multiply_round(parts->energy[part], reached, whole);
        if (parts->block[part][i] >= 0)
            result->with[i].energy[parts->measure][parts->block[part][i]] += upto - before;
        before = upto;
    }
}

/* The one block of a schedule that no register counts; -1: none; -2: several, which nothing tells apart. */
static int32_t left_over(const struct schedule *schedule, uint32_t counted)
{
    int32_t found = -1;
    for (int32_t b = 0; b < schedule->block_count; b++)
        if (schedule->blocks[b].same == b && !(counted & UINT32_C(1) << b))
            found = found == -1 ? b : -2;
    return found;
}

/* Finds the parts; false where they do not tell all blocks. */
static bool find_parts(struct parts *parts, enum sealed_register first, int64_t total)
{
    const struct gather *gather = parts->gather;
    const struct billing_period *result = gather->result;
    uint32_t counted[BILL_STRETCHES] = { 0 };
    int64_t sum = 0;
    bool any = false, rest = false;
    for (int32_t t = 0; t < CONTRACT_REGISTERS; t++) {
        const char *name = gather->billing->contract->registers[t];
        parts->energy[t] = name[0] ? gather_register(gather, (enum sealed_register)(first + t)) : UNKNOWN;
        if (parts->energy[t] == UNKNOWN)
            continue;
        any = true;
        sum += parts->energy[t];
        for (int32_t i = 0; i < result->use_count; i++) {
            parts->block[t][i] = schedule_block_named(result->with[i].schedule, name);
            counted[i] |= UINT32_C(1) << parts->block[t][i];
        }
    }
    for (int32_t i = 0; i < result->use_count; i++) {
        parts->block[REST][i] = left_over(result->with[i].schedule, counted[i]);
        any = any && parts->block[REST][i] != -2;
        rest |= parts->block[REST][i] >= 0;
    }
    parts->energy[REST] = rest && total != UNKNOWN ? total - sum : UNKNOWN;
    return any && (!rest || (total != UNKNOWN && total >= sum));
}

bool gather_by_registers(struct gather *gather, enum measure measure, enum sealed_register first,
                         int64_t total)
{
    struct billing_period *result = gather->result;
    struct parts parts = { .gather = gather, .measure = measure };
    if (!find_parts(&parts, first, total))
        return false;
    for (int32_t i = 0; i < result->use_count; i++) {
        memcpy(parts.ours[i], result->with[i].energy[measure], sizeof(parts.ours[i]));
        memset(result->with[i].energy[measure], 0, sizeof(parts.ours[i]));
    }
    for (int32_t p = 0; p < PARTS; p++)
        if (parts.energy[p] != UNKNOWN)
            put(&parts, p);
    return true;
}

/* ---- which energies are asked for block by block ---- */

uint32_t gather_measures_by_block(const struct gather *gather)
{
    const uint32_t netted = UINT32_C(1) << MEASURE_NET | UINT32_C(1) << MEASURE_ABOVE_CAP;
    uint32_t measures = 0;
    for (int32_t i = 0; i < gather->result->use_count; i++) {
        const struct schedule *schedule = gather->result->with[i].schedule;
        bool nets = schedule->netting.by_block && schedule->block_count > 1;
        for (int32_t k = 0; k < schedule->item_count; k++)
            if (schedule->items[k].block >= 0)
                measures |= UINT32_C(1) << schedule->items[k].of;
        measures |= nets ? UINT32_C(1) << MEASURE_NET : 0;
    }
    if (measures & netted) /* what it is made of */
        measures |=
            UINT32_C(1) << MEASURE_IMPORT |
            (gather->tariff->settlement == SETTLEMENT_NET_METERED ? UINT32_C(1) << MEASURE_EXPORT : 0);
    return measures & ~netted;
}
