#include "trace_read.h"

#include <stdio.h>

#include "instants.h"
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

bool trace_read(struct trace *trace, const struct inquiry *inquiry)
{
    *trace = (struct trace){ .from_day = inquiry->period.from_day, .to_day = inquiry->period.to_day };
    return instants_can(inquiry, inquiry->period) ? take_instants(trace, inquiry) : walk_rows(trace, inquiry);
}
