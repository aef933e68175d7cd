#include "calendar.h"

static int64_t floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b != 0 && (a < 0) != (b < 0));
}

/* Years are counted from March, so that the leap day ends them; 400 years are
 * 146097 days. */
int64_t civil_day_number(int64_t year, int32_t month, int32_t day)
{
    int64_t y = month > 2 ? year : year - 1;
    int64_t era = floor_div(y, 400);
    int64_t year_of_era = y - era * 400;
    int64_t day_of_year = (153 * (month > 2 ? month - 3 : month + 9) + 2) / 5 + day - 1;
    int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * 146097 + day_of_era - 719468; /* 0000-03-01 to 1970-01-01 */
}

void civil_date(int64_t day_number, int32_t *year, int32_t *month, int32_t *day)
{
    int64_t z = day_number + 719468;
    int64_t era = floor_div(z, 146097);
    int64_t day_of_era = z - era * 146097;
    int64_t year_of_era = (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t m = (5 * day_of_year + 2) / 153;
    *day = (int32_t)(day_of_year - (153 * m + 2) / 5 + 1);
    *month = (int32_t)(m < 10 ? m + 3 : m - 9);
    *year = (int32_t)(year_of_era + era * 400 + (*month <= 2));
}
