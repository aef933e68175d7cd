/* What explains the gaps of the record: outages that the record knows of. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "completeness_read.h"

enum { AROUND_S = 86400 };

static int64_t shared_ms(const struct outages *outages, const struct outage *outage,
                         const struct completeness_gap *gap)
{
    int64_t from_ms = outage->from_ms > gap->from_s * 1000 ? outage->from_ms : gap->from_s * 1000;
    int64_t end_ms = outage_end_ms(outages, outage),
            to_ms = end_ms < gap->to_s * 1000 ? end_ms : gap->to_s * 1000;
    return to_ms > from_ms ? to_ms - from_ms : 0;
}

/* The bus on which the meter was lost. */
static bool same_bus(const struct outages *outages, const struct outage *bus,
                     const struct completeness_gap *gap)
{
    for (int32_t i = 0; i < outages->count; i++) {
        const struct outage *outage = &outages->list[i];
        if (outage->kind == OUTAGE_METER && outage->meter == gap->meter &&
            strcmp(outage->bus, bus->bus) == 0 && shared_ms(outages, outage, gap) > 0)
            return true;
    }
    return false;
}

static bool concerns(const struct outages *outages, const struct outage *outage,
                     const struct completeness_gap *gap)
{
    switch (outage->kind) {
    case OUTAGE_COMPUTER:
    case OUTAGE_GRID:
        return true;
    case OUTAGE_METER:
        return outage->meter == gap->meter;
    case OUTAGE_BUS:
        return same_bus(outages, outage, gap);
    default:
        return false;
    }
}

/* A bus that is gone takes its meters with it, a computer that is off both. */
static int32_t rank_of(enum outage_kind kind)
{
    static const int32_t ranks[OUTAGE_KINDS] = {
        [OUTAGE_COMPUTER] = 3, [OUTAGE_BUS] = 2, [OUTAGE_METER] = 1, [OUTAGE_GRID] = 1
    };
    return ranks[kind];
}

static void explain(const struct outages *outages, const struct completeness_gap *gap,
                    struct gap_cause *cause)
{
    int64_t half_ms = (gap->to_s - gap->from_s) * 500, best_ms = 0;
    int32_t best_rank = -1;
    for (int32_t i = 0; i < outages->count; i++) {
        const struct outage *outage = &outages->list[i];
        int64_t ms = concerns(outages, outage, gap) ? shared_ms(outages, outage, gap) : 0;
        int32_t rank = rank_of(outage->kind) + (ms >= half_ms ? OUTAGE_KINDS : 0);
        cause->grid_out = cause->grid_out || (outage->kind == OUTAGE_GRID && ms > 0);
        if (ms == 0 || rank < best_rank || (rank == best_rank && ms <= best_ms))
            continue;
        best_rank = rank;
        best_ms = ms;
        cause->known = true;
        cause->kind = outage->kind;
        cause->in_part = ms < half_ms;
        snprintf(cause->text, sizeof(cause->text), "%s", outage->known);
    }
}

bool completeness_find_causes(struct completeness *completeness, const struct inquiry *inquiry)
{
    const struct history *history = &inquiry->head.history;
    struct query *query = inquiry->session.query;
    struct outages outages;
    completeness->causes = calloc((size_t)completeness->gap_count + 1, sizeof(*completeness->causes));
    if (!completeness->causes)
        return false;
    query_begin(query);
    outages_read(&outages, query, inquiry->session.now_ms);
    outages_keep(&outages, (inquiry->from_s - AROUND_S) * 1000, (inquiry->to_s + AROUND_S) * 1000);
    outages_infer(&outages, query, &history->arrangements[history->count - 1]);
    query_end(query);
    bool good = !outages.memory_out && !query_error(query);
    for (int32_t i = 0; good && i < completeness->gap_count; i++)
        explain(&outages, &completeness->gaps[i], &completeness->causes[i]);
    outages_free(&outages);
    return good;
}
