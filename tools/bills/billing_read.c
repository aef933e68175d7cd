/* The energies of a billing period, from the record or from sealed readings shared out to days. */
#include <string.h>

#include "billing_read.h"
#include "instants.h"
#include "schema.h"
#include "walk.h"

/* ---- what the tariff asks for ---- */

/* Stretches of the period by schedule: none where one of its days has no schedule, or they are too many. */
static void lay_out(struct gather *gather)
{
    struct billing_period *result = gather->result;
    gather->by_quarters = gather->tariff->demand_s % CURVE_QUARTER_S == 0;
    for (int64_t day = result->from_day; day < result->to_day; day++) {
        const struct schedule *schedule = tariff_at(gather->tariff, day);
        struct usage *last = result->use_count > 0 ? &result->with[result->use_count - 1] : NULL;
        if (schedule && (!last || last->schedule != schedule) && result->use_count < BILL_STRETCHES) {
            last = &result->with[result->use_count++];
            *last = (struct usage){ .from_day = day, .to_day = day, .schedule = schedule };
            gather->measures |= schedule_measures(schedule);
            gather->has_blocks |= schedule->block_count > 1;
            gather->by_quarters &= schedule_is_of(schedule, CURVE_QUARTER_S);
        }
        if (!schedule || last->schedule != schedule)
            result->unscheduled_days++;
        else
            last->to_day = day + 1;
    }
    if (result->unscheduled_days > 0)
        result->use_count = 0;
    memcpy(result->without, result->with, sizeof(result->with));
}

/* ---- demand ---- */

static void raise_to(int64_t *highest, int64_t value)
{
    *highest = value > *highest ? value : *highest;
}

static int64_t known(int64_t value)
{
    return value == UNKNOWN ? 0 : value;
}

static void add_demand(struct gather *gather, const struct instant *row, int32_t stretch, int32_t block)
{
    const struct demand *demand = &gather->demand;
    struct usage *with = &gather->result->with[stretch], *without = &gather->result->without[stretch];
    bool doubtful = !row->watched || row->balance.import == UNKNOWN || row->flags & HOW_CLOCK;
    if (!gather_demand(gather, row->from_s, row->to_s, known(row->balance.import),
                       known(row->balance.consumption), doubtful))
        return;
    if (!gather_demand_is_sure(gather)) {
        with->demand_at_least = without->demand_at_least = true;
        return;
    }
    /* mWh in `covered_s` are millionths of a kW times hours */
    raise_to(&with->demand[block], multiply_round(demand->with, 3600, demand->covered_s));
    raise_to(&without->demand[block], multiply_round(demand->without, 3600, demand->covered_s));
}

/* ---- rows ---- */

/* Returns the civil day that it is of. */
static int64_t take_row(struct gather *gather, const struct instant *row)
{
    const struct balance *balance = &row->balance;
    int32_t block, stretch = gather_place(gather, row->from_s, &block);
    if (stretch < 0)
        return gather->day;
    struct usage *with = &gather->result->with[stretch], *without = &gather->result->without[stretch];
    if (gather->by_interval)
        add_demand(gather, row, stretch, block);
    const struct {
        enum measure measure;
        int64_t with, without;
    } energies[] = {
        { MEASURE_IMPORT, known(balance->import), known(balance->consumption) },
        { MEASURE_EXPORT, known(balance->export), 0 },
        { MEASURE_CONSUMPTION, known(balance->consumption), known(balance->consumption) },
        { MEASURE_PRODUCTION, known(balance->production), 0 },
        { MEASURE_SELF_CONSUMPTION, known(balance->self_consumption), 0 },
    };
    for (size_t i = 0; i < sizeof(energies) / sizeof(energies[0]); i++) {
        with->energy[energies[i].measure][block] += energies[i].with;
        without->energy[energies[i].measure][block] += energies[i].without;
    }
    with->estimated += known(balance->estimated);
    without->estimated += known(balance->estimated);
    gather->result->has_production &= balance->consumption != UNKNOWN;
    return gather->day;
}

/* Are the energies known that are billed? */
static bool is_told(const struct gather *gather, const struct balance *balance)
{
    bool net = gather_wants(gather, MEASURE_NET);
    return (balance->import != UNKNOWN || !(net || gather_wants(gather, MEASURE_IMPORT))) &&
           (balance->export != UNKNOWN || !(net || gather_wants(gather, MEASURE_EXPORT))) &&
           (balance->production != UNKNOWN || !gather_wants(gather, MEASURE_PRODUCTION)) &&
           (balance->consumption != UNKNOWN || !gather_wants(gather, MEASURE_CONSUMPTION));
}

static void count_day(struct gather *gather, int64_t day, int64_t *last_day)
{
    gather->result->missing_days -= day != *last_day;
    *last_day = day;
}

static bool take_instants(struct gather *gather, struct period period)
{
    struct instants instants;
    const struct instant *instant;
    int64_t last_day = INT64_MIN;
    if (gather->by_quarters)
        instants_begin_quarters(&instants, gather->billing->inquiry, period);
    else
        instants_begin(&instants, gather->billing->inquiry, period);
    while ((instant = instants_next(&instants)) != NULL) {
        int64_t day = take_row(gather, instant);
        if (is_told(gather, &instant->balance))
            count_day(gather, day, &last_day);
    }
    return instants_end(&instants);
}

static bool walk_rows(struct gather *gather, struct period period, enum row_unit unit)
{
    struct inquiry inquiry = *gather->billing->inquiry;
    struct walk walk;
    const struct answer_row *row;
    int64_t last_day = INT64_MIN;
    inquiry.period = period;
    gather->result->missing_days = period.to_day - period.from_day;
    if (unit == ROW_INTERVAL && instants_can(&inquiry, period))
        return take_instants(gather, period);
    walk_begin(&walk, &inquiry, unit);
    while ((row = walk_next(&walk)) != NULL) {
        const struct instant instant = { .from_s = row->from_s,
                                         .to_s = row->to_s,
                                         .balance = row->balance,
                                         .watched = row->lost_s == 0 && known(row->balance.estimated) == 0,
                                         .flags = row->flags };
        int64_t day = take_row(gather, &instant);
        if (row->sources != 0 && is_told(gather, &row->balance))
            count_day(gather, day, &last_day);
    }
    return walk_end(&walk);
}

bool billing_read(struct billing *billing, const struct tariff *tariff, struct period period,
                  struct billing_period *result)
{
    struct gather gather = { .billing = billing, .tariff = tariff, .result = result, .period = period };
    *result = (struct billing_period){ .from_day = period.from_day,
                                       .to_day = period.to_day,
                                       .has_production = true };
    lay_out(&gather);
    gather.by_interval = gather.has_blocks || gather_wants(&gather, MEASURE_DEMAND) ||
                         gather_wants(&gather, MEASURE_DEMAND_APPARENT);
    if (!walk_rows(&gather, period, gather.by_interval ? ROW_INTERVAL : ROW_DAY))
        return false;
    if (gather.by_interval && result->missing_days == period.to_day - period.from_day) {
        /* sealed readings may know the days */
        result->no_hours = result->no_hours_without = true;
        gather.by_interval = false;
        if (!walk_rows(&gather, period, ROW_DAY))
            return false;
    }
    if (!gather_apparent(&gather))
        return false;
    if (billing->sealed >= 0)
        gather_sealed(&gather);
    if (query_error(billing->inquiry->session.query))
        session_failed(&billing->inquiry->session);
    return !query_error(billing->inquiry->session.query);
}
