/* What another outage, or sleep, explains is taken from a meter's; and sums. */
#include <stdlib.h>
#include <string.h>

#include "outages.h"
#include "query_outages.h"
#include "schema.h"

enum {
    NEAR_MS = 120000,  /* beside what explains it nothing is left that is shorter: both are seen late */
    SLOW_MS = 1800000, /* the same of an inverter: it waits for the grid, and whole intervals are looked at */
    TWILIGHT_MS = 5400000 /* beside sleep: an inverter falls silent before the sun is down, and wakes late */
};

struct span {
    int64_t from_ms, to_ms, near_ms;
};

/* Spans that explain an outage, in order. */
struct spans_of {
    struct span *list; /* heap */
    int32_t count, room;
    bool memory_out;
};

static void add_span(struct spans_of *spans, struct span span)
{
    struct span *last = spans->count > 0 ? &spans->list[spans->count - 1] : NULL;
    if (last && span.from_ms <= last->to_ms && span.near_ms == last->near_ms) {
        last->to_ms = span.to_ms > last->to_ms ? span.to_ms : last->to_ms;
        return;
    }
    if (spans->count == spans->room) {
        int32_t room = spans->room ? 2 * spans->room : 32;
        struct span *list = realloc(spans->list, (size_t)room * sizeof(*list));
        if (!list) {
            spans->memory_out = true;
            return;
        }
        spans->list = list;
        spans->room = room;
    }
    spans->list[spans->count++] = span;
}

/* The grid explains all that hangs on it, a bus its meters, an inverter's rest
 * the silence of its meter, and that of the plant the rest of its parts. */
static bool explains(const struct outage *cause, const struct outage *outage)
{
    switch (outage->kind) {
    case OUTAGE_PHASE:
        return cause->kind == OUTAGE_GRID;
    case OUTAGE_METER:
        return cause->kind == OUTAGE_GRID ||
               (cause->kind == OUTAGE_BUS && outage->bus[0] && strcmp(cause->bus, outage->bus) == 0) ||
               (cause->kind == OUTAGE_INVERTER && cause->meter == outage->meter);
    case OUTAGE_INVERTER:
        return cause->kind == OUTAGE_GRID || (cause->kind == OUTAGE_INVERTER && outage->part && !cause->part);
    default:
        return false;
    }
}

static int64_t near_ms(const struct outage *cause, const struct outage *outage)
{
    return cause->kind == OUTAGE_INVERTER || outage->kind == OUTAGE_INVERTER ? SLOW_MS : NEAR_MS;
}

/* What the record says of a sleeping inverter. */
static void add_sleep(struct spans_of *spans, const struct outages *outages, struct query *query,
                      const struct outage *outage)
{
    struct interval_row row;
    int64_t from_s = outage->from_ms / 1000, to_s = outage_end_ms(outages, outage) / 1000 + 1;
    if (outage->kind != OUTAGE_METER || query_meter_sum(query, outage->meter, from_s, to_s).asleep == 0)
        return;
    int32_t interval_s = query_interval_at(query, from_s);
    query_intervals(query, from_s, to_s);
    while (query_next_interval(query, &row))
        if (row.meter == outage->meter && (row.how & HOW_METHOD_MASK) == HOW_ASLEEP)
            add_span(spans,
                     (struct span){ row.start_s * 1000, (row.start_s + interval_s) * 1000, TWILIGHT_MS });
}

static int by_start(const void *left, const void *right)
{
    const struct span *a = left, *b = right;
    return a->from_ms < b->from_ms ? -1 : a->from_ms > b->from_ms;
}

/* What lies between two spans, or before or behind them all. */
static void keep_piece(struct outages *outages, struct outage piece, int64_t near_ms)
{
    if (outage_end_ms(outages, &piece) - piece.from_ms > near_ms)
        outages_add(outages, &piece);
}

static void cut_one(struct outages *outages, int32_t index, const struct spans_of *spans)
{
    struct outage rest = outages->list[index];
    int64_t end_ms = outage_end_ms(outages, &rest), near = 0;
    for (int32_t i = 0; i < spans->count; i++) {
        const struct span *span = &spans->list[i];
        struct outage piece = rest;
        if (span->to_ms <= rest.from_ms || span->from_ms >= end_ms)
            continue;
        piece.to_ms = span->from_ms;
        if (piece.to_ms > piece.from_ms)
            keep_piece(outages, piece, span->near_ms > near ? span->near_ms : near);
        outages->list[index].gone = true;
        rest.from_ms = span->to_ms;
        near = span->near_ms;
    }
    if (outages->list[index].gone && rest.from_ms < end_ms)
        keep_piece(outages, rest, near);
}

static int by_time(const void *left, const void *right)
{
    const struct outage *a = left, *b = right;
    if (a->from_ms != b->from_ms)
        return a->from_ms < b->from_ms ? -1 : 1;
    return a->kind != b->kind ? (a->kind < b->kind ? -1 : 1) : a->meter - b->meter;
}

void outages_cut(struct outages *outages, struct query *query)
{
    struct spans_of spans = { 0 };
    int32_t count = outages->count; /* pieces of them come behind */
    for (int32_t i = 0; i < count; i++) {
        spans.count = 0;
        for (int32_t j = 0; j < count; j++)
            if (explains(&outages->list[j], &outages->list[i]))
                add_span(&spans,
                         (struct span){ outages->list[j].from_ms, outage_end_ms(outages, &outages->list[j]),
                                        near_ms(&outages->list[j], &outages->list[i]) });
        add_sleep(&spans, outages, query, &outages->list[i]);
        if (spans.count > 0) {
            qsort(spans.list, (size_t)spans.count, sizeof(spans.list[0]), by_start);
            cut_one(outages, i, &spans);
        }
    }
    outages->memory_out = outages->memory_out || spans.memory_out;
    free(spans.list);
    outages_keep(outages, INT64_MIN, INT64_MAX);
    if (outages->count > 0)
        qsort(outages->list, (size_t)outages->count, sizeof(outages->list[0]), by_time);
}

struct outage_sum outages_sum(const struct outages *outages, enum outage_kind kind, int64_t from_ms,
                              int64_t to_ms)
{
    struct outage_sum sum = { .not_made = UNKNOWN };
    int64_t reached_ms = from_ms;
    for (int32_t i = 0; i < outages->count; i++) {
        const struct outage *outage = &outages->list[i];
        int64_t begin = outage->from_ms > reached_ms ? outage->from_ms : reached_ms;
        int64_t end = outage_end_ms(outages, outage);
        if (outage->kind != kind)
            continue;
        if (outage->from_ms >= from_ms && outage->from_ms < to_ms) {
            sum.count++;
            sum.not_made = number_sum(sum.not_made, outage->not_made);
        }
        end = end < to_ms ? end : to_ms;
        if (end <= begin)
            continue;
        sum.ms += end - begin;
        reached_ms = end;
    }
    return sum;
}
