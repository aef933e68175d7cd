#include "espi_time.h"

#include <stdbool.h>

#include "calendar.h"

enum { RULE_YEARS = 5, MOST_CHANGES = 2, DAY_S = 86400, HOUR_S = 3600 };
enum { FIRST = 2, LAST = 7 }; /* operators */

struct change {
    int64_t at_s;
    int32_t before_s, after_s; /* local time less UTC */
};

static int64_t year_start(const struct civil *civil, int32_t year)
{
    return civil_day_start(civil, civil_day_number(year, 1, 1));
}

/* The first instant of (from, to] at which the offset differs from that of `from`, where it differs at `to`.
 */
static int64_t find_change(const struct civil *civil, int64_t from_s, int64_t to_s)
{
    int32_t before_s = civil_offset(civil, from_s);
    while (to_s - from_s > 1) {
        int64_t middle_s = from_s + (to_s - from_s) / 2;
        if (civil_offset(civil, middle_s) == before_s)
            from_s = middle_s;
        else
            to_s = middle_s;
    }
    return to_s;
}

/* Changes of the offset in a year; more than two are no summer time. */
static int32_t changes_of(const struct civil *civil, int32_t year, struct change changes[MOST_CHANGES])
{
    int32_t count = 0;
    int64_t end_s = year_start(civil, year + 1);
    for (int64_t at_s = year_start(civil, year); at_s < end_s; at_s += DAY_S) {
        int32_t before_s = civil_offset(civil, at_s), after_s = civil_offset(civil, at_s + DAY_S);
        if (before_s == after_s)
            continue;
        if (count == MOST_CHANGES)
            return -1;
        changes[count++] = (struct change){ find_change(civil, at_s, at_s + DAY_S), before_s, after_s };
    }
    return count;
}

/* The rule by which a change would come on the same weekday of the month. */
static uint32_t rule_of(const struct change *change, uint32_t operator)
{
    int64_t local_s = change->at_s + change->before_s, day = local_s / DAY_S;
    uint32_t weekday = (uint32_t)((day + 3) % 7) + 1, second = (uint32_t)(local_s % DAY_S);
    int32_t year, month, day_of_month, later_month, later_day;
    civil_date(day + 7, &year, &later_month, &later_day);
    civil_date(day, &year, &month, &day_of_month);
    bool fits = operator== LAST ? later_month != month : operator== FIRST +(uint32_t)(day_of_month - 1) / 7;
    if (!fits)
        return ESPI_NO_RULE;
    return (uint32_t)month << 28 | operator<< 25 | weekday << 17 | second / HOUR_S << 12 | second % HOUR_S;
}

static bool holds(const struct civil *civil, int32_t year, int32_t which, uint32_t operator, uint32_t rule)
{
    struct change changes[MOST_CHANGES];
    for (int32_t later = year + 1; later < year + RULE_YEARS; later++)
        if (changes_of(civil, later, changes) != MOST_CHANGES || rule_of(&changes[which], operator) != rule)
            return false;
    return true;
}

static uint32_t find_rule(const struct civil *civil, int32_t year, const struct change *changes,
                          int32_t which)
{
    for (uint32_t operator= LAST; operator>= FIRST; operator--) {
        uint32_t rule = rule_of(&changes[which], operator);
        if (rule != ESPI_NO_RULE && holds(civil, year, which, operator, rule))
            return rule;
    }
    return ESPI_NO_RULE;
}

struct espi_time espi_time_of(const struct civil *civil, int64_t utc_s)
{
    struct change changes[MOST_CHANGES];
    int32_t year, month, day;
    civil_date(civil_day_of(civil, utc_s), &year, &month, &day);
    struct espi_time time = { ESPI_NO_RULE, ESPI_NO_RULE, civil_offset(civil, utc_s), 0 };
    if (changes_of(civil, year, changes) != MOST_CHANGES)
        return time;
    int32_t into = changes[0].after_s > changes[0].before_s ? 0 : 1;
    time.start = find_rule(civil, year, changes, into);
    time.end = find_rule(civil, year, changes, 1 - into);
    if (time.start == ESPI_NO_RULE || time.end == ESPI_NO_RULE) {
        time.start = time.end = ESPI_NO_RULE;
        return time;
    }
    time.standard_s = changes[into].before_s;
    time.summer_s = changes[into].after_s - changes[into].before_s;
    return time;
}
