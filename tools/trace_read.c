#include "trace_read.h"

#include <stdio.h>

#include "walk.h"

static bool take(struct trace *trace, const struct civil *civil, const struct answer_row *row)
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

bool trace_read(struct trace *trace, const struct inquiry *inquiry)
{
    struct walk walk;
    const struct answer_row *row;
    bool good = true;
    *trace = (struct trace){ .from_day = inquiry->period.from_day, .to_day = inquiry->period.to_day };
    walk_begin(&walk, inquiry, ROW_INTERVAL);
    while (good && (row = walk_next(&walk)) != NULL)
        good = take(trace, inquiry->session.civil, row);
    if (!good)
        session_failed(&inquiry->session);
    return walk_end(&walk) && good;
}
