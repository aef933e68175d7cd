/* What is asked for, where an instant's energy goes, and demand intervals: the same for active and for
 * apparent energy. */
#include "billing_read.h"

bool gather_wants(const struct gather *gather, enum measure measure)
{
    return (gather->measures & UINT32_C(1) << measure) != 0;
}

bool gather_demand(struct gather *gather, int64_t from_s, int64_t to_s, int64_t with, int64_t without,
                   bool doubtful)
{
    struct demand *demand = &gather->demand;
    int64_t block_s = from_s - from_s % gather->tariff->demand_s;
    if (block_s != demand->block_s)
        *demand = (struct demand){ .block_s = block_s };
    demand->covered_s += to_s - from_s;
    demand->doubtful |= doubtful;
    demand->with += with;
    demand->without += without;
    return to_s >= block_s + gather->tariff->demand_s;
}

bool gather_demand_is_sure(const struct gather *gather)
{
    return gather->demand.covered_s >= gather->tariff->demand_s && !gather->demand.doubtful;
}

static int32_t stretch_at(const struct billing_period *result, int64_t day)
{
    int32_t i = 0;
    while (i < result->use_count && day >= result->with[i].to_day)
        i++;
    return i < result->use_count && day >= result->with[i].from_day ? i : -1;
}

static int64_t day_at(struct gather *gather, int64_t at_s)
{
    const struct civil *civil = gather->billing->inquiry->session.civil;
    if (at_s < gather->day_s || at_s >= gather->next_day_s) {
        gather->day = civil_day_of(civil, at_s);
        gather->day_s = civil_day_start(civil, gather->day);
        gather->next_day_s = civil_day_start(civil, gather->day + 1);
    }
    return gather->day;
}

int32_t gather_place(struct gather *gather, int64_t at_s, int32_t *block)
{
    const struct civil *civil = gather->billing->inquiry->session.civil;
    int64_t day = day_at(gather, at_s);
    int32_t stretch = stretch_at(gather->result, day);
    *block = 0;
    if (stretch >= 0 && gather->by_interval) {
        bool plain = gather->next_day_s - gather->day_s == 86400;
        int32_t second = (int32_t)(plain ? at_s - gather->day_s : (at_s + civil_offset(civil, at_s)) % 86400);
        *block = schedule_block(gather->tariff, gather->result->with[stretch].schedule, day, second);
    }
    return stretch;
}
