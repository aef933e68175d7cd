#include "instants.h"

#include <stdlib.h>
#include <string.h>

#include "query_curve.h"
#include "schema.h"

enum { DAY_S = 86400 };

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

void instants_begin_quarters(struct instants *instants, const struct inquiry *inquiry, struct period period)
{
    instants_begin(instants, inquiry, period);
    instants->curves = calloc(ARRANGEMENT_MAX_METERS, sizeof(instants->curves[0])); /* without: rows */
}

/* The next day's curves. Not on a day of which not all is of one arrangement, or on which the clock is set:
 * that may be within a quarter hour. */
static bool read_curves(struct instants *instants)
{
    const struct civil *civil = instants->inquiry->session.civil;
    int64_t day_s = civil_day_start(civil, instants->day), next_s = civil_day_start(civil, instants->day + 1);
    const struct arrangement *arrangement = history_at(&instants->history, day_s, &instants->hint);
    bool any = false;
    if (next_s - day_s != DAY_S || arrangement->from_s > day_s || arrangement->to_s < next_s)
        return false;
    instants->flags = 0;
    for (int32_t k = 0; k < arrangement->used_count; k++) {
        int32_t i = arrangement->used[k];
        struct day_curve *curve = &instants->curves[i];
        int32_t flags = 0;
        if (arrangement->meters[i].slot < 0)
            continue;
        if (!query_curve(instants->inquiry->session.query, arrangement->meters[i].number, instants->day,
                         curve, &flags) ||
            curve->from_s != day_s || curve->next_s != next_s || curve->interval_s != arrangement->interval_s)
            return false;
        instants->flags |= flags;
        any = true;
    }
    /* that flag says which of its rows are to be kept out of peaks */
    if (!any || instants->flags & HOW_CLOCK)
        return false;
    instants->arrangement = arrangement;
    instants->quarter = 0;
    instants->quarters = DAY_S / CURVE_QUARTER_S;
    return true;
}

/* Opens a transaction for the next days where the one before is used up. False at the end, and where a day's
 * curves come instead of its rows. */
static bool fetch(struct instants *instants)
{
    struct query *query = instants->inquiry->session.query;
    const struct civil *civil = instants->inquiry->session.civil;
    for (;;) {
        if (instants->reading && query_next_interval(query, &instants->row))
            return true;
        instants->reading = false;
        if (instants->begun && (query_error(query) || instants->day >= instants->open_day)) {
            query_end(query);
            instants->begun = false;
        }
        if (query_error(query) || instants->day >= instants->to_day)
            return false;
        if (!instants->begun) {
            int64_t next = period_next_month(instants->day);
            instants->open_day = next < instants->to_day ? next : instants->to_day;
            query_begin(query);
            instants->begun = true;
        }
        bool curves = instants->curves && read_curves(instants);
        int64_t from_day = instants->day;
        instants->day = instants->curves ? from_day + 1 : instants->open_day;
        if (curves)
            return false;
        query_intervals_of(query, civil_day_start(civil, from_day), civil_day_start(civil, instants->day),
                           instants->meters);
        instants->reading = true;
    }
}

static const struct instant *next_quarter(struct instants *instants)
{
    struct instant *instant = &instants->instant;
    const struct arrangement *arrangement = instants->arrangement;
    int32_t q = instants->quarter++;
    *instant = (struct instant){ .watched = true, .flags = instants->flags };
    for (int32_t k = 0; k < arrangement->used_count; k++) {
        int32_t i = arrangement->used[k];
        const struct day_curve *curve = &instants->curves[i];
        instants->energy[i] = (struct meter_energy){ 0 };
        if (arrangement->meters[i].slot < 0)
            continue;
        instants->energy[i] =
            (struct meter_energy){ true,
                                   curve->known[CURVE_IMPORT] ? curve->energy[CURVE_IMPORT][q] : UNKNOWN,
                                   curve->known[CURVE_EXPORT] ? curve->energy[CURVE_EXPORT][q] : UNKNOWN,
                                   curve->energy[CURVE_ESTIMATED][q] };
        instant->watched &= curve->energy[CURVE_ESTIMATED][q] == 0 && curve->energy[CURVE_UNOBSERVED][q] == 0;
        instant->from_s = curve->from_s + (int64_t)q * CURVE_QUARTER_S;
    }
    instant->to_s = instant->from_s + CURVE_QUARTER_S;
    instant->balance = balance_of(arrangement, instants->energy);
    return instant;
}

static void put(struct instants *instants, const struct arrangement *arrangement,
                const struct interval_row *row)
{
    for (int32_t k = 0; k < arrangement->used_count; k++) {
        int32_t i = arrangement->used[k];
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
    if (instants->failed)
        return NULL;
    if (!instants->has_row && instants->quarter == instants->quarters)
        instants->has_row = fetch(instants);
    if (instants->quarter < instants->quarters)
        return next_quarter(instants);
    if (!instants->has_row)
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
    if (instants->begun)
        query_end(instants->inquiry->session.query);
    free(instants->curves);
    history_free(&instants->history);
    instants->failed = instants->failed || query_error(instants->inquiry->session.query);
    if (instants->failed)
        session_failed(&instants->inquiry->session);
    return !instants->failed;
}
