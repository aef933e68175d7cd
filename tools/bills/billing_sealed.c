/* Energies of a billing period as the registers of the sealed grid meter have them. */
#include "billing_read.h"

/* Makes the energies of a measure add up to what a register says, in proportion to what was there; where
 * nothing was, by days. */
static void scale_to(struct billing_period *result, enum measure measure, int64_t energy)
{
    int64_t whole = gather_sum(result, measure), before = 0, reached = 0;
    int64_t days = result->to_day - result->from_day, days_reached = 0;
    result->by_days |= whole == 0 && energy > 0;
    for (int32_t i = 0; i < result->use_count; i++) {
        struct usage *use = &result->with[i];
        days_reached += use->to_day - use->from_day;
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            reached += use->energy[measure][b];
            if (whole == 0 && b > 0)
                continue;
            int64_t to = whole > 0 ? multiply_round(energy, reached, whole)
                                   : multiply_round(energy, days_reached, days);
            use->energy[measure][b] = to - before;
            before = to;
        }
    }
}

/* What is not made behind the house's meter feeds nothing in it: all that is used is imported. */
static void balance_uses(struct billing_period *result, bool feeds_house)
{
    for (int32_t i = 0; i < result->use_count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            struct usage *with = &result->with[i], *without = &result->without[i];
            int64_t self =
                feeds_house ? with->energy[MEASURE_PRODUCTION][b] - with->energy[MEASURE_EXPORT][b] : 0;
            with->energy[MEASURE_SELF_CONSUMPTION][b] = self;
            with->energy[MEASURE_CONSUMPTION][b] = self + with->energy[MEASURE_IMPORT][b];
            without->energy[MEASURE_CONSUMPTION][b] = without->energy[MEASURE_IMPORT][b] =
                with->energy[MEASURE_CONSUMPTION][b];
        }
}

/* What the register of the highest demand shows at the period's end; UNKNOWN without such a reading. */
static int64_t register_demand(const struct gather *gather)
{
    const struct spans *spans = &gather->billing->spans;
    for (int32_t i = 0; i < spans->count; i++)
        if (spans->periods[i].reg == SEALED_DEMAND &&
            billing_day(gather->billing, spans->periods[i].to_s) == gather->period.to_day)
            return spans->periods[i].energy;
    return UNKNOWN;
}

/* The register's demand is what is billed: the highest one becomes it, wherever our own account saw that, and
 * no other is above it. */
static void take_demand(struct billing_period *result, int64_t demand)
{
    struct usage *highest = &result->with[0];
    int32_t at = 0;
    for (int32_t i = 0; i < result->use_count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            struct usage *use = &result->with[i];
            use->demand_at_least = false;
            if (use->demand[b] > highest->demand[at]) {
                highest = use;
                at = b;
            }
        }
    for (int32_t i = 0; i < result->use_count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
            if (result->with[i].demand[b] > demand)
                result->with[i].demand[b] = demand;
    highest->demand[at] = demand;
}

void gather_sealed(struct gather *gather)
{
    struct billing_period *result = gather->result;
    int64_t import = gather_register(gather, SEALED_IMPORT), export = gather_register(gather, SEALED_EXPORT),
            demand = register_demand(gather);
    bool all_bought = gather_sum(result, MEASURE_CONSUMPTION) == gather_sum(result, MEASURE_IMPORT);
    result->untold_import = gather->tariff->by_readings && import == UNKNOWN;
    result->untold_export = gather->tariff->by_readings && export == UNKNOWN;
    if (import == UNKNOWN || result->use_count == 0)
        return;
    result->by_readings = true;
    result->missing_days = 0;
    bool import_by_block = gather_by_registers(gather, MEASURE_IMPORT, SEALED_T1, import);
    bool export_by_block = gather_by_registers(gather, MEASURE_EXPORT, SEALED_EXPORT_T1, export);
    if (demand != UNKNOWN)
        take_demand(result, demand);
    uint32_t told = (import_by_block ? UINT32_C(1) << MEASURE_IMPORT : 0) |
                    (export_by_block || export == 0 ? UINT32_C(1) << MEASURE_EXPORT : 0);
    result->no_hours = result->no_hours && ((gather_measures_by_block(gather) & ~told) != 0 ||
                                            (gather_wants(gather, MEASURE_DEMAND) && demand == UNKNOWN) ||
                                            gather_wants(gather, MEASURE_DEMAND_APPARENT));
    if (!import_by_block)
        scale_to(result, MEASURE_IMPORT, import);
    if (!export_by_block && export != UNKNOWN)
        scale_to(result, MEASURE_EXPORT, export);
    result->shaped = result->use_count > 1 || (!import_by_block && gather->has_blocks);
    int64_t production = result->has_production ? gather_production(gather) : UNKNOWN;
    if (production != UNKNOWN)
        scale_to(result, MEASURE_PRODUCTION, production);
    /* what is sold whole by the tariff may be wired behind the meter nevertheless */
    bool feeds_house =
        gather->tariff->settlement != SETTLEMENT_GROSS || gather_sum(result, MEASURE_SELF_CONSUMPTION) != 0;
    if (result->has_production && (feeds_house || all_bought))
        balance_uses(result, feeds_house);
}
