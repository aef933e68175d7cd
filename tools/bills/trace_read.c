#include "trace_read.h"

#include <stdio.h>

#include "instants.h"
#include "query_apparent.h"
#include "walk.h"

static bool take(struct trace *trace, const struct civil *civil, const struct instant *row)
{
    const struct balance *balance = &row->balance;
    if (balance->production == UNKNOWN || balance->consumption == UNKNOWN || balance->import == UNKNOWN ||
        balance->export == UNKNOWN) {
        trace->left_out++;
        return true;
    }
    trace->interval_s = (int32_t)(row->to_s - row->from_s);
    trace->estimated += balance->estimated == UNKNOWN ? 0 : balance->estimated;
    int64_t day = civil_day_of(civil, row->from_s);
    if (trace->count == 0)
        trace->from_day = day;
    trace->to_day = day + 1;
    int32_t second = (int32_t)((row->from_s + civil_offset(civil, row->from_s)) % 86400);
    return trace_add(trace, day, second, balance->production, balance->consumption, balance->import,
                     balance->export);
}

static bool take_instants(struct trace *trace, const struct inquiry *inquiry)
{
    struct instants instants;
    const struct instant *instant;
    bool good = true;
    instants_begin(&instants, inquiry, inquiry->period);
    while (good && (instant = instants_next(&instants)) != NULL)
        good = take(trace, inquiry->session.civil, instant);
    if (!good)
        session_failed(&inquiry->session);
    return instants_end(&instants) && good;
}

static bool walk_rows(struct trace *trace, const struct inquiry *inquiry)
{
    struct walk walk;
    const struct answer_row *row;
    bool good = true;
    walk_begin(&walk, inquiry, ROW_INTERVAL);
    while (good && (row = walk_next(&walk)) != NULL)
        good = take(trace, inquiry->session.civil,
                    &(struct instant){ .from_s = row->from_s, .to_s = row->to_s, .balance = row->balance });
    if (!good)
        session_failed(&inquiry->session);
    return walk_end(&walk) && good;
}

/* ---- apparent energy ---- */

int32_t only_grid_meter(const struct history *history)
{
    int32_t found = 0;
    for (int32_t i = 0; i < history->count; i++)
        for (int32_t j = 0; j < history->arrangements[i].meter_count; j++) {
            const struct arranged_meter *meter = &history->arrangements[i].meters[j];
            if (meter->use != USE_GRID || meter->number == found)
                continue;
            if (found != 0)
                return 0;
            found = meter->number;
        }
    return found;
}

/* Where the interval of the trace is that begins at an instant, from `from` on; -1: nowhere. Both go by time.
 */
static int32_t find(const struct trace *trace, const struct civil *civil, int64_t at_s, int32_t from)
{
    int64_t day = civil_day_of(civil, at_s) - trace->from_day;
    int32_t second = (int32_t)((at_s + civil_offset(civil, at_s)) % 86400), i = from;
    while (i < trace->count && trace->day[i] < day)
        i++;
    for (int32_t k = i; k < trace->count && trace->day[k] == day; k++)
        if (trace->second[k] == second)
            return k;
    return -1;
}

/* A month in each read transaction. */
static bool read_apparent(struct trace *trace, const struct inquiry *inquiry)
{
    const struct civil *civil = inquiry->session.civil;
    struct query *query = inquiry->session.query;
    int32_t meter = only_grid_meter(&inquiry->head.history), next = 0;
    struct interval_row row;
    for (int64_t day = trace->from_day, to_day; meter > 0 && day < trace->to_day; day = to_day) {
        to_day = period_next_month(day);
        query_begin(query);
        query_apparent(query, meter, civil_day_start(civil, day), civil_day_start(civil, to_day));
        while (query_next_apparent(query, &row)) {
            int32_t i = find(trace, civil, row.start_s, next);
            if (i < 0)
                continue;
            trace_take_apparent(trace, i, row.import, row.reactive, row.export);
            next = i + 1;
        }
        query_end(query);
    }
    return !query_error(query);
}

bool trace_read(struct trace *trace, const struct inquiry *inquiry, bool wants_apparent)
{
    *trace = (struct trace){ .from_day = inquiry->period.from_day, .to_day = inquiry->period.to_day };
    if (!(instants_can(inquiry, inquiry->period) ? take_instants(trace, inquiry) : walk_rows(trace, inquiry)))
        return false;
    if (!wants_apparent || trace->count == 0)
        return true;
    bool good = trace_want_apparent(trace) && read_apparent(trace, inquiry);
    if (!good)
        session_failed(&inquiry->session);
    return good;
}
