#include "instants.h"

#include <string.h>

#include "schema.h"

bool instants_can(const struct inquiry *inquiry, struct period period)
{
    const struct civil *civil = inquiry->session.civil;
    int64_t from_s = civil_day_start(civil, period.from_day), to_s = civil_day_start(civil, period.to_day);
    return !inquiry->what.measured_only && inquiry->what.meter == 0 &&
           sources_sealed(inquiry->sources, from_s) == 0 && sources_next(inquiry->sources, from_s) >= to_s;
}

void instants_begin(struct instants *instants, const struct inquiry *inquiry, struct period period)
{
    struct query *query = inquiry->session.query;
    const struct civil *civil = inquiry->session.civil;
    *instants = (struct instants){ .inquiry = inquiry, .day = period.from_day, .to_day = period.to_day };
    query_begin(query);
    instants->failed = history_read(&instants->history, query, civil_day_start(civil, period.from_day),
                                    civil_day_start(civil, period.to_day)) != 0;
    query_end(query);
    instants->meters = history_range(&instants->history);
}

/* Opens the transaction of the next days where the one before is used up. */
static bool fetch(struct instants *instants)
{
    struct query *query = instants->inquiry->session.query;
    const struct civil *civil = instants->inquiry->session.civil;
    for (;;) {
        if (instants->reading && query_next_interval(query, &instants->row))
            return true;
        if (instants->reading)
            query_end(query);
        instants->reading = false;
        if (query_error(query) || instants->day >= instants->to_day)
            return false;
        int64_t next = period_next_month(instants->day);
        next = next < instants->to_day ? next : instants->to_day;
        query_begin(query);
        query_intervals_of(query, civil_day_start(civil, instants->day), civil_day_start(civil, next),
                           instants->meters);
        instants->reading = true;
        instants->day = next;
    }
}

static void put(struct instants *instants, const struct arrangement *arrangement,
                const struct interval_row *row)
{
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        if (arrangement->meters[i].number != row->meter || arrangement->meters[i].slot < 0)
            continue;
        instants->energy[i] = (struct meter_energy){ true, row->import, row->export, row->estimated };
        instants->seen++;
        instants->instant.watched &= row->unobserved == 0 && row->estimated == 0;
        instants->instant.flags |= row->how & ~HOW_METHOD_MASK;
        return;
    }
}

const struct instant *instants_next(struct instants *instants)
{
    struct instant *instant = &instants->instant;
    if (instants->failed || (!instants->has_row && !(instants->has_row = fetch(instants))))
        return NULL;
    const struct arrangement *arrangement =
        history_at(&instants->history, instants->row.start_s, &instants->hint);
    int64_t start_s = instants->row.start_s;
    *instant =
        (struct instant){ .from_s = start_s,
                          .to_s = start_s - start_s % arrangement->interval_s + arrangement->interval_s,
                          .watched = true };
    memset(instants->energy, 0, (size_t)arrangement->meter_count * sizeof(instants->energy[0]));
    instants->seen = 0;
    while (instants->has_row && instants->row.start_s == start_s) {
        put(instants, arrangement, &instants->row);
        instants->has_row = fetch(instants);
    }
    instant->balance = instants->seen > 0 ? balance_of(arrangement, instants->energy) : balance_nothing;
    return instant;
}

bool instants_end(struct instants *instants)
{
    if (instants->reading)
        query_end(instants->inquiry->session.query);
    history_free(&instants->history);
    instants->failed = instants->failed || query_error(instants->inquiry->session.query);
    if (instants->failed)
        session_failed(&instants->inquiry->session);
    return !instants->failed;
}
