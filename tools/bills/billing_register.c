/* One register of the sealed meter, and the sum of what was gathered. */
#include "billing_read.h"

/* What registers of the sealed meter went on by from reading to reading; UNKNOWN where the period's ends are
 * no readings. */
int64_t gather_register(const struct gather *gather, enum sealed_register reg)
{
    const struct billing *billing = gather->billing;
    struct period period = gather->period;
    int64_t sum = 0, reached = period.from_day;
    for (int32_t i = 0; i < billing->spans.count; i++) {
        const struct spans_period *part = &billing->spans.periods[i];
        int64_t from_day = billing_day(billing, part->from_s), to_day = billing_day(billing, part->to_s);
        /* what went on between two readings of one day belongs to the bill that begins with it */
        if (part->reg != reg || from_day != reached || from_day == period.to_day || to_day > period.to_day)
            continue;
        if (part->energy == UNKNOWN)
            return UNKNOWN;
        sum += part->energy;
        reached = to_day;
        gather->result->guessed |= part->from_estimated || part->to_estimated;
    }
    return reached == period.to_day && reached > period.from_day ? sum : UNKNOWN;
}

int64_t gather_sum(const struct billing_period *result, enum measure measure)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < result->use_count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
            sum += result->with[i].energy[measure][b];
    return sum;
}
