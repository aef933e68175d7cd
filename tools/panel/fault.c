#include "fault.h"

#include <math.h>
#include <stddef.h>

const struct fault_info fault_infos[FAULT_KIND_COUNT] = {
#define X(symbol, name, where, number, default_value, min, max)                                              \
    { name, where, number, default_value, min, max },
    FAULT_TABLE(X)
#undef X
};

static int64_t ms(double seconds)
{
    return llround(seconds * 1000);
}

bool fault_due(const struct fault *fault, int64_t elapsed_ms)
{
    int64_t from = ms(fault->from);
    if (elapsed_ms < from || (fault->to >= 0 && elapsed_ms >= ms(fault->to)))
        return false;
    return fault->every <= 0 || (elapsed_ms - from) % ms(fault->every) < ms(fault->lasting);
}

int64_t fault_next_change(const struct fault *fault, int64_t elapsed_ms)
{
    int64_t from = ms(fault->from), next = INT64_MAX;
    if (elapsed_ms < from)
        return from;
    if (fault->every > 0) {
        int64_t every = ms(fault->every);
        int64_t start = elapsed_ms - (elapsed_ms - from) % every;
        int64_t stop = start + ms(fault->lasting);
        next = elapsed_ms < stop ? stop : start + every;
    }
    if (fault->to >= 0) {
        int64_t to = ms(fault->to);
        if (elapsed_ms >= to)
            return INT64_MAX;
        next = next < to ? next : to;
    }
    return next;
}

const struct fault *fault_take(struct fault *faults, int count, enum fault_kind kind, int64_t elapsed_ms,
                               int64_t request)
{
    for (struct fault *fault = faults; fault < faults + count; fault++) {
        if (fault->kind != (int32_t)kind || !fault_due(fault, elapsed_ms))
            continue;
        if ((fault->nth > 0 && request % fault->nth != 0) ||
            (fault->times > 0 && fault->used >= fault->times))
            continue;
        fault->used++;
        return fault;
    }
    return NULL;
}
