/* A stretch of one meter's intervals, with what outages say of each. */
#include <string.h>

#include "query_supply.h"
#include "schema.h"
#include "supply_read.h"

static struct supply_row *row_at(struct supply_row *rows, int32_t count, struct supply_row *last,
                                 int64_t at_s)
{
    for (struct supply_row *row = last ? last : rows; row && row < rows + count; row++)
        if (at_s < row->to_s)
            return at_s >= row->from_s ? row : NULL;
    return NULL;
}

static unsigned flagged_in(const struct supply_answer *answer, int64_t from_s, int64_t to_s)
{
    unsigned phases = 0;
    for (int32_t i = 0; i < answer->flag_count && answer->flags[i].from_s < to_s; i++)
        if (answer->flags[i].to_s > from_s)
            phases |= answer->flags[i].phases;
    return phases;
}

static void give(struct supply_answer *answer, struct supply *supply, const struct supply_reading *row,
                 int32_t length_s)
{
    bool counted =
        row->estimated == 0 && !(row->how & HOW_CLOCK) && (row->import != UNKNOWN || row->export != UNKNOWN);
    struct supply_interval interval = {
        .start_s = row->start_s,
        .length_s = length_s,
        .unobserved_s = row->unobserved,
        .stepped = (row->how & HOW_CLOCK) != 0,
        .flagged = flagged_in(answer, row->start_s, row->start_s + length_s),
        .frequency = row->frequency,
        .import = !counted                 ? UNKNOWN
                  : row->import == UNKNOWN ? 0
                                           : row->import,
        .export = !counted                 ? UNKNOWN
                  : row->export == UNKNOWN ? 0
                                           : row->export,
    };
    memcpy(interval.voltage, row->voltage, sizeof(interval.voltage));
    int64_t block_s = supply_block_start(row->start_s);
    if (supply == &answer->supply && block_s != supply->block_s) {
        supply_end(supply);
        supply->week = row_at(answer->weeks, answer->week_count, supply->week, block_s);
        supply->month = row_at(answer->months, answer->month_count, supply->month, block_s);
    }
    supply_take(supply, &interval);
}

bool supply_feed(struct supply_answer *answer, struct supply *supply, const struct inquiry *inquiry,
                 int64_t from_s, int64_t to_s)
{
    struct query *query = inquiry->session.query;
    struct supply_reading row;
    query_begin(query);
    query_supply(query, answer->meter.number, from_s, to_s);
    while (query_next_supply(query, &row)) {
        int32_t length_s = history_at(&inquiry->head.history, row.start_s, &answer->hint)->interval_s;
        if (SUPPLY_BLOCK_S % length_s != 0) {
            answer->coarse++;
            answer->coarse_s = length_s;
        } else if (row.start_s % length_s == 0) {
            give(answer, supply, &row, length_s);
        }
    }
    query_end(query);
    return !query_error(query);
}
