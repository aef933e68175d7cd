#include "words.h"

#include <stdbool.h>
#include <stdio.h>

#include "number.h"
#include "stamp.h"

enum { MW_SCALE = 6, POWER_DECIMALS = 2 };

const char *const words_months[12] = {
    "January", "February", "March",     "April",   "May",      "June",
    "July",    "August",   "September", "October", "November", "December"
};

/* Decimals of value / 10^scale that make three digits of it, at most `most`. */
static int32_t three_digits(int64_t value, int32_t scale, int32_t most)
{
    int64_t hundred = 100;
    int32_t decimals = 0;
    for (int32_t i = 0; i < scale; i++)
        hundred *= 10;
    value = value < 0 ? -value : value;
    for (; decimals < most && value < hundred; hundred /= 10)
        decimals++;
    return decimals < 2 ? decimals : most < 2 ? most : 2;
}

static const char *amount(char buffer[WORDS_SIZE], int64_t value, int32_t scale, int32_t most,
                          const char *unit)
{
    char number[NUMBER_SIZE];
    if (value == UNKNOWN)
        snprintf(buffer, WORDS_SIZE, "not known");
    else
        snprintf(buffer, WORDS_SIZE, "%s %s",
                 number_print(number, value, scale, three_digits(value, scale, most), ','), unit);
    return buffer;
}

const char *words_energy(char buffer[WORDS_SIZE], int64_t mwh, int32_t most)
{
    return amount(buffer, mwh, ENERGY_SCALE, most, "kWh");
}

const char *words_power(char buffer[WORDS_SIZE], int64_t mw)
{
    return amount(buffer, mw, MW_SCALE, POWER_DECIMALS, "kW");
}

const char *words_share(char buffer[WORDS_SIZE], int64_t share)
{
    char number[NUMBER_SIZE];
    bool small = share > -SHARE_ONE / 10 && share < SHARE_ONE / 10;
    if (share == UNKNOWN)
        snprintf(buffer, WORDS_SIZE, "not known");
    else if (share == 0)
        snprintf(buffer, WORDS_SIZE, "0 %%");
    else if (share > -SHARE_ONE / 2000 && share < SHARE_ONE / 2000)
        snprintf(buffer, WORDS_SIZE, "%sless than 0.1 %%", share < 0 ? "minus " : "");
    else
        snprintf(buffer, WORDS_SIZE, "%s %%", number_print(number, share, SHARE_SCALE - 2, small, 0));
    return buffer;
}

const char *words_day(char buffer[WORDS_SIZE], int64_t day)
{
    int32_t year, month, number;
    civil_date(day, &year, &month, &number);
    snprintf(buffer, WORDS_SIZE, "%d %s %04d", number, words_months[month - 1], year);
    return buffer;
}

const char *words_minute(char buffer[WORDS_SIZE], const struct civil *civil, int64_t utc_s)
{
    char day[WORDS_SIZE], clock[STAMP_SIZE];
    snprintf(buffer, WORDS_SIZE, "%.30s, %s", words_day(day, civil_day_of(civil, utc_s)),
             stamp_clock(clock, civil, utc_s, 0));
    return buffer;
}

const char *words_period(char buffer[WORDS_SIZE], const struct period *period)
{
    char first[WORDS_SIZE], last[WORDS_SIZE];
    int32_t year, month, day, last_year, last_month, last_day;
    civil_date(period->from_day, &year, &month, &day);
    civil_date(period->to_day, &last_year, &last_month, &last_day);
    bool whole = day == 1 && last_day == 1;
    if (whole && month == 1 && last_month == 1 && last_year == year + 1)
        snprintf(buffer, WORDS_SIZE, "%04d", year);
    else if (whole && period_next_month(period->from_day) == period->to_day)
        snprintf(buffer, WORDS_SIZE, "%s %04d", words_months[month - 1], year);
    else if (period->to_day == period->from_day + 1)
        words_day(buffer, period->from_day);
    else
        snprintf(buffer, WORDS_SIZE, "%.30s to %.30s", words_day(first, period->from_day),
                 words_day(last, period->to_day - 1));
    return buffer;
}
