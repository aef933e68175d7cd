#include "trace.h"

#include <stdlib.h>

#include "calendar.h"
#include "nonactive.h"
#include "number.h"

enum { FIRST_ROOM = 8192 };

static bool grow_one(int32_t **array, int32_t room)
{
    int32_t *grown = realloc(*array, (size_t)room * sizeof(**array));
    if (grown)
        *array = grown;
    return grown != NULL;
}

static bool grow(struct trace *trace)
{
    int32_t room = trace->room ? 2 * trace->room : FIRST_ROOM;
    if (!grow_one(&trace->production, room) || !grow_one(&trace->consumption, room) ||
        !grow_one(&trace->overlap, room) || !grow_one(&trace->day, room) || !grow_one(&trace->second, room))
        return false;
    trace->room = room;
    return true;
}

static bool fits(int64_t energy)
{
    return energy > -INT32_MAX && energy < INT32_MAX;
}

bool trace_add(struct trace *trace, int64_t day, int32_t second, int64_t production, int64_t consumption,
               int64_t import, int64_t export)
{
    if (trace->count == trace->room && !grow(trace))
        return false;
    if (!fits(production) || !fits(consumption) || !fits(import) || !fits(export))
        return false;
    int32_t i = trace->count++;
    trace->production[i] = (int32_t)production;
    trace->consumption[i] = (int32_t)consumption;
    trace->overlap[i] = (int32_t)(import < export ? import : export);
    trace->day[i] = (int32_t)(day - trace->from_day);
    trace->second[i] = second;
    trace->energy_production += production;
    trace->energy_consumption += consumption;
    trace->energy_import += import;
    trace->energy_export += export;
    return true;
}

bool trace_want_apparent(struct trace *trace)
{
    trace->nonactive = malloc(((size_t)trace->count + 1) * sizeof(*trace->nonactive));
    trace->reactive = malloc(((size_t)trace->count + 1) * sizeof(*trace->reactive));
    for (int32_t i = 0; trace->nonactive && trace->reactive && i < trace->count; i++)
        trace->nonactive[i] = trace->reactive[i] = -1;
    return trace->nonactive && trace->reactive;
}

void trace_take_apparent(struct trace *trace, int32_t index, int64_t apparent, int64_t reactive,
                         int64_t reactive_export)
{
    int64_t net = (int64_t)trace->consumption[index] - trace->production[index];
    int64_t import = (net > 0 ? net : 0) + trace->overlap[index],
            export = (net < 0 ? -net : 0) + trace->overlap[index];
    int64_t both = reactive == UNKNOWN || reactive_export == UNKNOWN ? reactive : reactive - reactive_export;
    if (apparent != UNKNOWN && !fits(apparent))
        return;
    int64_t nonactive = nonactive_of(apparent, both, import, export);
    if (nonactive != UNKNOWN && fits(nonactive))
        trace->nonactive[index] = (int32_t)nonactive;
    if (reactive != UNKNOWN && fits(reactive))
        trace->reactive[index] = (int32_t)reactive;
}

void trace_free(struct trace *trace)
{
    free(trace->production);
    free(trace->consumption);
    free(trace->overlap);
    free(trace->day);
    free(trace->second);
    free(trace->nonactive);
    free(trace->reactive);
    *trace = (struct trace){ 0 };
}

/* ---- bins ---- */

static int32_t month_of(int64_t day)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return year * 12 + month - 1;
}

static void note_measures(struct trace_bins *bins, const struct schedule *schedule)
{
    const uint32_t apparent = UINT32_C(1) << MEASURE_APPARENT | UINT32_C(1) << MEASURE_DEMAND_APPARENT,
                   demand = UINT32_C(1) << MEASURE_DEMAND | UINT32_C(1) << MEASURE_DEMAND_APPARENT,
                   measures = schedule_measures(schedule);
    bins->wants_demand |= (measures & demand) != 0;
    bins->wants_apparent |= (measures & apparent) != 0;
    bins->wants_reactive |= (measures & UINT32_C(1) << MEASURE_REACTIVE) != 0;
}

static struct usage *add_usage(struct trace_bins *bins, int64_t day, const struct schedule *schedule)
{
    if (bins->usage_count == bins->room || !bins->usages) {
        int32_t room = bins->room > 0 ? 2 * bins->room : 16;
        struct usage *usages = realloc(bins->usages, (size_t)room * sizeof(*usages));
        if (usages)
            bins->usages = usages;
        bins->memory_out = !usages || !grow_one(&bins->period, room);
        if (bins->memory_out)
            return NULL;
        bins->room = room;
    }
    struct usage *usage = &bins->usages[bins->usage_count++];
    *usage = (struct usage){ .from_day = day, .to_day = day, .schedule = schedule };
    note_measures(bins, schedule);
    return usage;
}

/* Every day belongs to a usage, so that fixed charges are whole; the first of a month or a schedule begins
 * one. */
static void lay_out(struct trace_bins *bins, const struct trace *trace, int32_t *usage_of_day)
{
    int32_t month = -1;
    for (int64_t day = trace->from_day; day < trace->to_day && !bins->memory_out; day++) {
        const struct schedule *schedule = tariff_at(bins->tariff, day);
        struct usage *last = bins->usage_count > 0 ? &bins->usages[bins->usage_count - 1] : NULL;
        bool new_month = month_of(day) != month;
        usage_of_day[day - trace->from_day] = -1;
        if (!schedule)
            continue;
        if (!last || new_month || last->schedule != schedule) {
            bins->period_count += new_month || !last;
            last = add_usage(bins, day, schedule);
            if (!last)
                return;
            bins->period[bins->usage_count - 1] = bins->period_count - 1;
            month = month_of(day);
        }
        last->to_day = day + 1;
        usage_of_day[day - trace->from_day] = bins->usage_count - 1;
    }
}

void trace_bins_make(struct trace_bins *bins, const struct trace *trace, const struct tariff *tariff)
{
    *bins = (struct trace_bins){ .tariff = tariff };
    int32_t *usage_of_day = calloc((size_t)(trace->to_day - trace->from_day) + 1, sizeof(*usage_of_day));
    bins->bin = calloc((size_t)trace->count + 1, sizeof(*bins->bin));
    bins->memory_out = !usage_of_day || !bins->bin;
    if (!bins->memory_out)
        lay_out(bins, trace, usage_of_day);
    for (int32_t i = 0; i < trace->count && !bins->memory_out; i++) {
        int32_t usage = usage_of_day[trace->day[i]];
        bins->bin[i] = usage < 0 ? -1
                                 : usage * TARIFF_BLOCKS +
                                       schedule_block(tariff, bins->usages[usage].schedule,
                                                      trace->from_day + trace->day[i], trace->second[i]);
    }
    free(usage_of_day);
}

void trace_bins_free(struct trace_bins *bins)
{
    free(bins->bin);
    free(bins->usages);
    free(bins->period);
    *bins = (struct trace_bins){ 0 };
}
