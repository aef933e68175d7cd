/* Apparent and reactive energy of a billing period, which only the grid meter's own counters know. */
#include "billing_read.h"
#include "query_apparent.h"
#include "trace_read.h"

static void add_demand(struct gather *gather, const struct interval_row *row, int32_t stretch, int32_t block)
{
    struct usage *with = &gather->result->with[stretch];
    int32_t hint = 0;
    const struct history *history = &gather->billing->inquiry->head.history;
    int64_t to_s = row->start_s + history_at(history, row->start_s, &hint)->interval_s;
    if (!gather_demand(gather, row->start_s, to_s, row->import, 0, row->unobserved > 0))
        return;
    if (!gather_demand_is_sure(gather)) {
        with->demand_at_least = true;
        return;
    }
    int64_t demand = multiply_round(gather->demand.with, 3600, gather->demand.covered_s);
    if (demand > with->apparent_demand[block])
        with->apparent_demand[block] = demand;
}

/* Reactive energy is the same without the plant, as its inverters make none; apparent energy is not known
 * then. */
static void add_row(struct gather *gather, const struct interval_row *row, bool counts[2])
{
    int32_t block, stretch = gather_place(gather, row->start_s, &block);
    if (stretch < 0)
        return;
    if (row->import != UNKNOWN) {
        counts[0] = true;
        gather->result->with[stretch].energy[MEASURE_APPARENT][block] += row->import;
        if (gather->by_interval)
            add_demand(gather, row, stretch, block);
    }
    if (row->reactive != UNKNOWN) {
        counts[1] = true;
        gather->result->with[stretch].energy[MEASURE_REACTIVE][block] += row->reactive;
        gather->result->without[stretch].energy[MEASURE_REACTIVE][block] += row->reactive;
    }
}

bool gather_apparent(struct gather *gather)
{
    const struct inquiry *inquiry = gather->billing->inquiry;
    struct query *query = inquiry->session.query;
    bool wants_apparent =
        gather_wants(gather, MEASURE_APPARENT) || gather_wants(gather, MEASURE_DEMAND_APPARENT);
    bool wants_reactive = gather_wants(gather, MEASURE_REACTIVE), counts[2] = { false, false };
    int32_t meter = only_grid_meter(&inquiry->head.history);
    struct interval_row row;
    if (!wants_apparent && !wants_reactive)
        return true;
    gather->demand = (struct demand){ 0 };
    if (meter > 0) {
        query_begin(query);
        query_apparent(query, meter, civil_day_start(inquiry->session.civil, gather->period.from_day),
                       civil_day_start(inquiry->session.civil, gather->period.to_day));
        while (query_next_apparent(query, &row))
            add_row(gather, &row, counts);
        query_end(query);
    }
    gather->result->no_apparent = wants_apparent && !counts[0];
    gather->result->no_reactive = wants_reactive && !counts[1];
    gather->result->no_apparent_without = wants_apparent;
    if (query_error(query))
        session_failed(&inquiry->session);
    return !query_error(query);
}
