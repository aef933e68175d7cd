#include "worth.h"

#include <stdlib.h>

#include "calendar.h"
#include "number.h"

enum { MILLION = 1000000, HOUR_S = 3600, STEP = MILLION }; /* a kWh */

/* What is changed: by how much, in which intervals. */
enum where { ANY_TIME, WHILE_MAKING, IN_SURPLUS };
struct change {
    enum where where;
    int32_t month, hour;             /* month 1 to 12 and hour; 0 and -1: any */
    int64_t production, consumption; /* mWh in all */
};

struct finder {
    struct trace *trace;
    const struct trace_bins *bins;
    const struct contract *contract;
    int64_t before;
    bool failed;
};

static int32_t month_of(int64_t day)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return month;
}

static bool is_chosen(const struct trace *trace, int32_t i, const struct change *change, int32_t month)
{
    if ((change->month > 0 && month != change->month) ||
        (change->hour >= 0 && trace->second[i] / HOUR_S != change->hour))
        return false;
    switch (change->where) {
    case WHILE_MAKING:
        return trace->production[i] > 0;
    case IN_SURPLUS:
        return trace->production[i] > trace->consumption[i];
    default:
        return true;
    }
}

/* Shares the change out evenly to the chosen intervals; how many they are. */
static int32_t apply(struct trace *trace, const struct change *change, int32_t *added_production,
                     int32_t *added_consumption)
{
    int32_t chosen = 0, done = 0, month = 0, day = -1;
    for (int32_t pass = 0; pass < 2; pass++) {
        int64_t production = 0, consumption = 0;
        day = -1;
        for (int32_t i = 0; i < trace->count && (pass == 0 || chosen > 0); i++) {
            if (trace->day[i] != day) {
                day = trace->day[i];
                month = month_of(trace->from_day + day);
            }
            if (!is_chosen(trace, i, change, month))
                continue;
            if (pass == 0) {
                chosen++;
                continue;
            }
            done++;
            int64_t made = change->production * done / chosen, used = change->consumption * done / chosen;
            added_production[i] += (int32_t)(made - production);
            added_consumption[i] += (int32_t)(used - consumption);
            production = made;
            consumption = used;
        }
    }
    return chosen;
}

/* Moves a use within each day that has both dark hours and a surplus, the same on each of them; how many days
 * they are. */
static int32_t apply_shift(const struct trace *trace, int32_t *added_consumption)
{
    int32_t days = 0;
    int64_t per_day = 0;
    for (int32_t pass = 0; pass < 2; pass++) {
        for (int32_t first = 0, end; first < trace->count; first = end) {
            int64_t dark = 0, surplus = 0, taken = 0, given = 0;
            for (end = first; end < trace->count && trace->day[end] == trace->day[first]; end++) {
                dark += trace->production[end] == 0;
                surplus += trace->production[end] > trace->consumption[end];
            }
            if (dark == 0 || surplus == 0)
                continue;
            days += pass == 0;
            int64_t dark_done = 0, surplus_done = 0;
            for (int32_t i = first; i < end && pass == 1; i++) {
                int64_t *done = trace->production[i] == 0 ? &dark_done : &surplus_done;
                if (trace->production[i] > 0 && trace->production[i] <= trace->consumption[i])
                    continue;
                int64_t *sum = done == &dark_done ? &taken : &given;
                int64_t to = per_day * ++*done / (done == &dark_done ? dark : surplus);
                added_consumption[i] += (int32_t)(done == &dark_done ? *sum - to : to - *sum);
                *sum = to;
            }
        }
        per_day = days > 0 ? STEP / days : 0;
    }
    return days;
}

static void add_all(struct trace *trace, const int32_t *production, const int32_t *consumption, int32_t sign)
{
    for (int32_t i = 0; i < trace->count; i++) {
        trace->production[i] += sign * production[i];
        trace->consumption[i] += sign * consumption[i];
    }
}

/* What a kWh of the change saves; without one (NULL), of the shift within the days. */
static int64_t saves(struct finder *finder, const struct change *change)
{
    struct trace *trace = finder->trace;
    struct what_if_result result = { 0 };
    int32_t *production = calloc((size_t)trace->count + 1, sizeof(*production));
    int32_t *consumption = calloc((size_t)trace->count + 1, sizeof(*consumption));
    finder->failed = finder->failed || !production || !consumption;
    int32_t found = finder->failed ? 0
                    : change       ? apply(trace, change, production, consumption)
                                   : apply_shift(trace, consumption);
    int64_t step = change || found == 0 ? STEP : (int64_t)(STEP / found) * found;
    if (found > 0) {
        add_all(trace, production, consumption, 1);
        finder->failed = !what_if_with(&what_if_recorded, trace, finder->bins, finder->contract, &result);
        add_all(trace, production, consumption, -1);
    }
    free(production);
    free(consumption);
    return found > 0 && !finder->failed && result.with != UNKNOWN
               ? multiply_round(finder->before - result.with, MILLION, step)
               : UNKNOWN;
}

bool worth_find(struct worth *worth, struct trace *trace, const struct trace_bins *bins,
                const struct contract *contract)
{
    struct finder finder = { .trace = trace, .bins = bins, .contract = contract };
    struct what_if_result before;
    if (!what_if_with(&what_if_recorded, trace, bins, contract, &before))
        return false;
    *worth = (struct worth){ .unknown = before.unknown };
    if (before.unknown > 0)
        return true;
    finder.before = before.with;
    worth->use_less = saves(&finder, &(struct change){ ANY_TIME, 0, -1, 0, -STEP });
    worth->make_more = saves(&finder, &(struct change){ WHILE_MAKING, 0, -1, STEP, 0 });
    worth->shift_to_production = saves(&finder, NULL);
    worth->export_instead = saves(&finder, &(struct change){ IN_SURPLUS, 0, -1, 0, -STEP });
    for (int32_t month = 0; month < WORTH_MONTHS; month++)
        for (int32_t hour = 0; hour < WORTH_HOURS; hour++) {
            worth->use_less_at[month][hour] =
                saves(&finder, &(struct change){ ANY_TIME, month, hour, 0, -STEP });
            worth->make_more_at[month][hour] =
                saves(&finder, &(struct change){ WHILE_MAKING, month, hour, STEP, 0 });
        }
    return !finder.failed;
}
