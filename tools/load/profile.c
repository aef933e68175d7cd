#include "profile.h"

#include "muldiv.h"
#include "number.h"

enum { HOUR = 3600, WEEK = 7, MONDAY = 3 /* 1970-01-01 was a Thursday */, FRIDAY = 4 };

void profile_init(struct profile *profile, const struct civil *civil)
{
    *profile = (struct profile){ .civil = civil, .day = INT64_MIN };
}

static enum profile_class class_of(int64_t day)
{
    int64_t weekday = ((day + MONDAY) % WEEK + WEEK) % WEEK;
    return weekday <= FRIDAY ? PROFILE_WORKDAY : weekday == FRIDAY + 1 ? PROFILE_SATURDAY : PROFILE_SUNDAY;
}

/* Within one hour of the clock. */
static void add_part(struct profile *profile, int64_t local_s, int64_t seconds, int64_t energy)
{
    int32_t year, month, day_of_month;
    int64_t day = local_s / HOUR / PROFILE_HOURS;
    civil_date(day, &year, &month, &day_of_month);
    enum profile_class class = class_of(day);
    struct profile_cell *cell = &profile->cells[month - 1][class][local_s / HOUR % PROFILE_HOURS];
    cell->energy += energy;
    cell->seconds += seconds;
    profile->days[month - 1][class] += day != profile->day;
    profile->day = day;
}

void profile_add(struct profile *profile, int64_t from_s, int64_t to_s, int64_t energy)
{
    int64_t given = 0;
    for (int64_t at_s = from_s, end_s; at_s < to_s; at_s = end_s) {
        int64_t local_s = at_s + civil_offset(profile->civil, at_s);
        end_s = at_s - local_s % HOUR + HOUR;
        end_s = end_s < to_s ? end_s : to_s;
        int64_t until = mul_div(energy, end_s - from_s, to_s - from_s);
        add_part(profile, local_s, end_s - at_s, until - given);
        given = until;
    }
}

struct profile_cell profile_hour(const struct profile *profile, int32_t month, int32_t class, int32_t hour)
{
    struct profile_cell sum = { 0, 0 };
    for (int32_t m = 0; m < PROFILE_MONTHS; m++)
        for (int32_t c = 0; c < PROFILE_CLASSES; c++) {
            if ((month != PROFILE_ALL && month != m) || (class != PROFILE_ALL && class != c))
                continue;
            sum.energy += profile->cells[m][c][hour].energy;
            sum.seconds += profile->cells[m][c][hour].seconds;
        }
    return sum;
}

int32_t profile_days(const struct profile *profile, int32_t month, int32_t class)
{
    int32_t days = 0;
    for (int32_t m = 0; m < PROFILE_MONTHS; m++)
        for (int32_t c = 0; c < PROFILE_CLASSES; c++)
            if ((month == PROFILE_ALL || month == m) && (class == PROFILE_ALL || class == c))
                days += profile->days[m][c];
    return days;
}

int64_t profile_power(const struct profile_cell *cell)
{
    return cell->seconds > 0 ? mul_div(cell->energy, HOUR, cell->seconds) : UNKNOWN;
}

int64_t profile_energy(const struct profile *profile, int32_t month, int32_t class)
{
    int64_t sum = 0;
    for (int32_t hour = 0; hour < PROFILE_HOURS; hour++) {
        struct profile_cell cell = profile_hour(profile, month, class, hour);
        if (cell.seconds == 0)
            return UNKNOWN;
        sum += profile_power(&cell);
    }
    return sum;
}
