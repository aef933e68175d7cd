#include "tariff.h"

#include <stddef.h>
#include <string.h>

#include "calendar.h"
#include "tariff_file.h"

enum { DAY_S = 86400, HOLIDAY = 7 };

const struct schedule *tariff_at(const struct tariff *tariff, int64_t day)
{
    if (day >= tariff->end_day)
        return NULL;
    for (int32_t i = tariff->schedule_count - 1; i >= 0; i--)
        if (tariff->schedules[i].from_day <= day)
            return &tariff->schedules[i];
    return NULL;
}

static bool is_holiday(const struct tariff *tariff, int64_t day)
{
    int32_t low = 0, high = tariff->holiday_count;
    while (low < high) {
        int32_t middle = low + (high - low) / 2;
        if (tariff->holidays[middle] == day)
            return true;
        if (tariff->holidays[middle] < day)
            low = middle + 1;
        else
            high = middle;
    }
    return false;
}

/* A block over midnight belongs to the day on which it begins. */
static bool block_holds(const struct tariff *tariff, const struct block *block, int64_t day, int32_t second)
{
    int32_t year, month, day_of_month;
    bool over = block->to_s <= block->from_s;
    if (over && second < block->to_s) {
        day--;
        second += DAY_S;
    }
    if (second < block->from_s || second >= block->to_s + (over ? DAY_S : 0))
        return false;
    civil_date(day, &year, &month, &day_of_month);
    uint32_t kind = is_holiday(tariff, day) ? HOLIDAY : (uint32_t)(((day + 3) % 7 + 7) % 7);
    return block->months & UINT32_C(1) << (month - 1) && block->weekdays & UINT32_C(1) << kind;
}

int32_t schedule_block(const struct tariff *tariff, const struct schedule *schedule, int64_t day,
                       int32_t second_of_day)
{
    int32_t i = 0;
    while (i + 1 < schedule->block_count && !block_holds(tariff, &schedule->blocks[i], day, second_of_day))
        i++;
    return schedule->blocks[i].same;
}

bool schedule_is_of(const struct schedule *schedule, int32_t seconds)
{
    for (int32_t b = 0; b + 1 < schedule->block_count; b++)
        if (schedule->blocks[b].from_s % seconds != 0 || schedule->blocks[b].to_s % seconds != 0)
            return false;
    return true;
}

int32_t schedule_find_block(const struct schedule *schedule, const char *name)
{
    for (int32_t b = 0; b < schedule->block_count; b++)
        if (strcmp(schedule->blocks[b].name, name) == 0)
            return schedule->blocks[b].same;
    return -1;
}

int32_t schedule_block_named(const struct schedule *schedule, const char *name)
{
    int32_t found = schedule_find_block(schedule, name);
    return found >= 0 ? found : schedule->blocks[schedule->block_count - 1].same;
}

bool tariff_has_block(const struct tariff *tariff, const char *name)
{
    for (int32_t s = 0; s < tariff->schedule_count; s++)
        if (schedule_find_block(&tariff->schedules[s], name) >= 0)
            return true;
    return false;
}

uint32_t schedule_measures(const struct schedule *schedule)
{
    uint32_t measures = 0;
    for (int32_t i = 0; i < schedule->item_count; i++) {
        const struct item *item = &schedule->items[i];
        measures |= UINT32_C(1) << item->of | UINT32_C(1) << item->chosen_by;
        if (item->apparent_percent > 0)
            measures |= UINT32_C(1) << MEASURE_DEMAND_APPARENT;
    }
    if (measures & UINT32_C(1) << MEASURE_POWER_FACTOR)
        measures |= UINT32_C(1) << MEASURE_APPARENT;
    return measures;
}

bool tariff_asks_apparent(const struct tariff *tariff)
{
    const uint32_t asked = UINT32_C(1) << MEASURE_APPARENT | UINT32_C(1) << MEASURE_REACTIVE |
                           UINT32_C(1) << MEASURE_DEMAND_APPARENT;
    for (int32_t s = 0; s < tariff->schedule_count; s++)
        if (schedule_measures(&tariff->schedules[s]) & asked)
            return true;
    return false;
}

const char *measure_name(enum measure measure)
{
    return measure_words[measure];
}

const char *measure_unit(enum measure measure)
{
    static const char *const units[MEASURE_COUNT] = {
        [MEASURE_IMPORT] = "kWh",          [MEASURE_EXPORT] = "kWh",     [MEASURE_NET] = "kWh",
        [MEASURE_CONSUMPTION] = "kWh",     [MEASURE_PRODUCTION] = "kWh", [MEASURE_SELF_CONSUMPTION] = "kWh",
        [MEASURE_APPARENT] = "kVAh",       [MEASURE_REACTIVE] = "kvarh", [MEASURE_DEMAND] = "kW",
        [MEASURE_DEMAND_APPARENT] = "kVA", [MEASURE_ABOVE_CAP] = "kWh",  [MEASURE_CONTRACTED] = "kW",
        [MEASURE_DAYS] = "days",           [MEASURE_MONTHS] = "months",  [MEASURE_BILLS] = "bills",
        [MEASURE_PHASES] = "phases",       [MEASURE_POWER_FACTOR] = "",  [MEASURE_ITEMS] = "",
    };
    return units[measure];
}
