#include "hours.h"

#include <stdlib.h>

#include "muldiv.h"

enum { HOUR_S = 3600, DAYS_A_WEEK = 7 };

bool hours_init(struct hours *hours, int64_t from_day, int64_t to_day, int32_t most)
{
    *hours = (struct hours){ .first_day = from_day, .days_a_column = 1 };
    int64_t days = to_day - from_day;
    while ((days + hours->days_a_column - 1) / hours->days_a_column > most)
        hours->days_a_column += hours->days_a_column == 1 ? DAYS_A_WEEK - 1 : DAYS_A_WEEK;
    hours->column_count = (int32_t)((days + hours->days_a_column - 1) / hours->days_a_column);
    hours->columns = calloc((size_t)hours->column_count, sizeof(*hours->columns));
    return hours->columns != NULL;
}

void hours_free(struct hours *hours)
{
    free(hours->columns);
    hours->columns = NULL;
}

static void cell_add(struct hours_cell *cell, const int64_t energy[HOURS_TERMS], int32_t length_s,
                     int64_t estimated)
{
    for (int32_t t = 0; t < HOURS_TERMS; t++) {
        if (energy[t] == UNKNOWN)
            continue;
        cell->energy[t] += energy[t];
        cell->known_s[t] += length_s;
    }
    cell->estimated += estimated;
}

void hours_add(struct hours *hours, const struct civil *civil, int64_t from_s, int32_t length_s,
               const int64_t energy[HOURS_TERMS], int64_t estimated)
{
    int32_t year, month, day_of_month, offset = civil_offset(civil, from_s);
    int64_t local_s = from_s + offset;
    int64_t day = civil_day_of(civil, from_s);
    int32_t hour = (int32_t)(((local_s / HOUR_S) % HOURS_A_DAY + HOURS_A_DAY) % HOURS_A_DAY);
    int64_t column = (day - hours->first_day) / hours->days_a_column;
    if (day < hours->first_day || column >= hours->column_count)
        return;
    civil_date(day, &year, &month, &day_of_month);
    cell_add(&hours->columns[column][hour], energy, length_s, estimated);
    cell_add(&hours->months[month - 1][hour], energy, length_s, estimated);
    cell_add(&hours->all[hour], energy, length_s, estimated);
    if (hour > 0 && hours->days_a_column == 1 && offset - civil_offset(civil, from_s - 1) >= HOUR_S)
        hours->columns[column][hour - 1].skipped = true;
}

bool hours_estimated(const struct hours_cell *cell)
{
    int64_t counted =
        cell->energy[HOURS_PRODUCTION] + cell->energy[HOURS_IMPORT] + cell->energy[HOURS_EXPORT];
    counted = counted ? counted : cell->energy[HOURS_CONSUMPTION];
    return cell->estimated > 0 && cell->estimated >= counted / 10;
}

int64_t hours_power(const struct hours_cell *cell, enum hours_term term)
{
    return cell->known_s[term] > 0 ? mul_div(cell->energy[term], HOUR_S, cell->known_s[term]) : UNKNOWN;
}

bool hours_has(const struct hours *hours, enum hours_term term)
{
    for (int32_t hour = 0; hour < HOURS_A_DAY; hour++)
        if (hours->all[hour].known_s[term] > 0)
            return true;
    return false;
}

int64_t hours_highest(const struct hours *hours, enum hours_term term, int32_t *column, int32_t *hour)
{
    int64_t highest = UNKNOWN;
    for (int32_t c = 0; c < hours->column_count; c++) {
        for (int32_t h = 0; h < HOURS_A_DAY; h++) {
            int64_t power = hours_power(&hours->columns[c][h], term);
            if (power == UNKNOWN || (highest != UNKNOWN && power <= highest))
                continue;
            highest = power;
            *column = c;
            *hour = h;
        }
    }
    return highest;
}

int32_t hours_most(const struct hours *hours, enum hours_term term, int64_t *share)
{
    int32_t most = 0;
    int64_t sum = 0;
    for (int32_t h = 0; h < HOURS_A_DAY; h++) {
        sum += hours->all[h].energy[term];
        if (hours->all[h].energy[term] > hours->all[most].energy[term])
            most = h;
    }
    *share = number_share(hours->all[most].energy[term], sum);
    return most;
}
