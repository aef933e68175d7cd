#include "spans_before.h"

#include "muldiv.h"

static int32_t find_own(const struct config *config, int32_t number)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].number == number)
            return i;
    return -1;
}

bool spans_before(struct spans_before *before, struct query *query, const struct config *config,
                  const struct logbook_entry *entry, enum sealed_register reg)
{
    struct first_run run;
    int32_t own = find_own(config, entry->meter);
    int64_t shown = entry->number[LOGBOOK_REGISTER + reg];
    if (entry->kind != LOGBOOK_START || entry->revoked || entry->refused || own < 0 ||
        shown == LOGBOOK_NOTHING)
        return false;
    if (!query_first_run(query, config->meters[own].number, reg == SEALED_EXPORT, &run))
        return false;
    /* the ratio is the meter's own: what it shows is before it; 10^-6 kWh is a mWh */
    int64_t stood = mul_div(shown, run.ratio_above, run.ratio_below);
    bool good = run.from_s > entry->at_s && run.first >= stood;
    *before = (struct spans_before){
        own, reg, entry->at_s, run.from_s, good ? run.first - stood : UNKNOWN, run.step
    };
    return run.from_s > entry->at_s;
}
