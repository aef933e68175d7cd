#include "refine.h"

#include "arrangement.h"
#include "fill.h"
#include "refine_private.h"

/* Is production over the gap still to be placed, or not there yet? 1, 0 or a failure. */
static int must_wait(struct refine *refine, const struct gap *gap)
{
    for (int32_t i = 0; i < refine->config->meter_count; i++) {
        const struct config_meter *meter = &refine->config->meters[i];
        int64_t newest_s;
        if (!arrangement_produces(refine->config, meter))
            continue;
        int result = store_newest(refine->store, meter->number, refine_interval_s(refine), &newest_s);
        if (result < 0 || newest_s < gap->to_s)
            return result < 0 ? result : 1;
        const int64_t values[4] = { meter->number, gap->to_s, refine_interval_s(refine), gap->from_s };
        result = refine_fetch(refine, UNPLACED, values, 4, NULL);
        if (result != 0)
            return result;
    }
    return 0;
}

/* Is what follows a gap in the record too? 1, 0 or a failure. */
static int is_settled(struct refine *refine, const struct gap *gap)
{
    int64_t newest_s, end_s = gap->to_s + FILL_END_S + refine_interval_s(refine);
    int result = store_newest(refine->store, gap->number, refine_interval_s(refine), &newest_s);
    return result < 0 ? result : newest_s >= end_s;
}

/* The gap's energies, where it has all its rows. Returns 1, 0 or a failure. */
static int read_sums(struct refine *refine, enum refine_statement which, struct gap *gap)
{
    const int64_t values[4] = { gap->number, gap->from_s, gap->to_s, refine_interval_s(refine) };
    sqlite3_stmt *s = refine_statement(refine, which, values, which == GAP_SUM ? 3 : 4);
    int result = store_fetch(refine->store, s);
    if (result != 1)
        return result;
    for (int c = 0; c < 2; c++)
        gap->energy[c] = sqlite3_column_int64(s, c);
    bool whole = sqlite3_column_int64(s, 2) == (gap->to_s - gap->from_s) / refine_interval_s(refine);
    sqlite3_reset(s);
    return whole;
}

/* The oldest gap from *from_s on that is over. Returns 1, 0 or a failure. */
static int find_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct gap *gap)
{
    *gap = (struct gap){ .meter = meter, .number = refine->config->meters[meter].number };
    int64_t values[3] = { gap->number, *from_s, refine_interval_s(refine) };
    int result = refine_fetch(refine, FIND_GAP, values, 3, &gap->from_s);
    if (result != 1) {
        int64_t newest_s;
        if (result == 0 &&
            store_newest(refine->store, gap->number, refine_interval_s(refine), &newest_s) == STORE_OK)
            *from_s = newest_s > *from_s ? newest_s : *from_s;
        return result;
    }
    *from_s = values[1] = gap->from_s;
    result = refine_fetch(refine, END_GAP, values, 3, &gap->to_s);
    if (result != 1)
        return result;
    result = read_sums(refine, GAP_SUM, gap);
    if (result == 0)
        *from_s = gap->to_s; /* a hole inside: somebody else's rows, or an interval of another length */
    return result;
}

static int place_at_once(struct refine *refine, const struct gap *gap, struct refined *done)
{
    int result = store_begin(refine->store);
    if (result == STORE_OK)
        result = refine_place(refine, gap, done);
    if (result == STORE_OK)
        result = store_commit(refine->store);
    if (result != STORE_OK)
        store_rollback(refine->store);
    return result;
}

int refine_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct refined *done)
{
    struct gap gap;
    *done = (struct refined){ 0 };
    int result = find_gap(refine, meter, from_s, &gap);
    if (result == 1)
        result = is_settled(refine, &gap);
    if (result != 1)
        return result;
    if (refine->config->meters[meter].role == ROLE_GRID) {
        int waits = must_wait(refine, &gap);
        if (waits != 0)
            return waits < 0 ? waits : 0;
    }
    result = place_at_once(refine, &gap, done);
    if (result != STORE_OK)
        return result;
    done->from_s = gap.from_s;
    done->to_s = *from_s = gap.to_s;
    return 1;
}

int refine_entered(struct refine *refine, int32_t meter, int64_t from_s, int64_t to_s)
{
    struct refined done = { 0 };
    struct gap gap = {
        .meter = meter, .number = refine->config->meters[meter].number, .from_s = from_s, .to_s = to_s
    };
    int result = read_sums(refine, ENTERED_SUM, &gap);
    if (result != 1)
        return result;
    result = place_at_once(refine, &gap, &done);
    return result == STORE_OK ? 1 : result;
}
