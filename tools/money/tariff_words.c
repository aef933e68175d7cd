#include "tariff_words.h"

#include <stdio.h>
#include <string.h>

#include "calendar.h"

enum {
    MONTHS = 12,
    WEEKDAYS = 7,
    HOLIDAYS = 7,
    MOST_DAYS = 8,
    WORD_SIZE = 12,
    FIRST_YEAR = 1950,
    LAST_YEAR = 2200
};

static bool digits(const char *text, int32_t count, int32_t *value)
{
    int32_t sum = 0;
    for (int32_t i = 0; i < count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        sum = 10 * sum + text[i] - '0';
    }
    *value = sum;
    return true;
}

static bool is_date(int32_t year, int32_t month, int32_t day)
{
    int32_t same_year, same_month, same_day;
    if (month < 1 || month > MONTHS || day < 1)
        return false;
    civil_date(civil_day_number(year, month, day), &same_year, &same_month, &same_day);
    return same_year == year && same_month == month && same_day == day;
}

const char *tariff_date(const char *text, int64_t *day)
{
    int32_t year, month, day_of_month;
    if (strlen(text) != strlen("2026-03-05") || !digits(text, 4, &year) || text[4] != '-' ||
        !digits(text + 5, 2, &month) || text[7] != '-' || !digits(text + 8, 2, &day_of_month) ||
        year < FIRST_YEAR || year > LAST_YEAR || !is_date(year, month, day_of_month))
        return "a date as in \"2026-03-05\"";
    *day = civil_day_number(year, month, day_of_month);
    return NULL;
}

const char *tariff_clock(const char *text, int32_t *second)
{
    int32_t hour, minute;
    if (strlen(text) != strlen("18:00") || !digits(text, 2, &hour) || text[2] != ':' ||
        !digits(text + 3, 2, &minute) || minute > 59 || hour * 60 + minute > 24 * 60)
        return "a time of day as in \"18:00\", up to \"24:00\"";
    *second = (hour * 60 + minute) * 60;
    return NULL;
}

/* Index from `names`, or a number from 1 on less one; -1. */
static int32_t index_of(const char *word, const char *const *names, int32_t count)
{
    int32_t number;
    for (int32_t i = 0; names && i < count; i++)
        if (strcmp(word, names[i]) == 0)
            return i;
    if (names || strlen(word) < 1 || strlen(word) > 2 || !digits(word, (int32_t)strlen(word), &number))
        return -1;
    return number >= 1 && number <= count ? number - 1 : -1;
}

/* Words and ranges, parted by spaces, which may run over the end: "10-3". `ring` of them come round again. */
static bool read_set(const char *text, const char *const *names, int32_t ring, int32_t count, uint32_t *set)
{
    char word[WORD_SIZE];
    int used;
    uint32_t bits = 0;
    if (strcmp(text, "all") == 0) {
        *set = (UINT32_C(1) << count) - 1;
        return true;
    }
    while (sscanf(text, " %11[^ ]%n", word, &used) == 1) {
        char *dash = strchr(word, '-');
        if (dash)
            *dash = '\0';
        int32_t from = index_of(word, names, count), to = dash ? index_of(dash + 1, names, count) : from;
        if (from < 0 || to < 0 || (dash && (from >= ring || to >= ring)))
            return false;
        bits |= UINT32_C(1) << from;
        for (int32_t i = from; i != to; i = (i + 1) % ring)
            bits |= UINT32_C(1) << (i + 1) % ring;
        text += used;
    }
    if (bits == 0 || strspn(text, " ") != strlen(text))
        return false;
    *set = bits;
    return true;
}

const char *tariff_months(const char *text, uint32_t *months)
{
    return read_set(text, NULL, MONTHS, MONTHS, months)
               ? NULL
               : "months as in \"4-9\", \"10-3\", \"1 2 12\" or \"all\"";
}

const char *tariff_weekdays(const char *text, uint32_t *weekdays)
{
    static const char *const names[MOST_DAYS] = {
        "mon", "tue", "wed", "thu", "fri", "sat", "sun", "holidays"
    };
    return read_set(text, names, WEEKDAYS, MOST_DAYS, weekdays)
               ? NULL
               : "weekdays as in \"mon-fri\", \"sat sun holidays\" or \"all\"";
}

const char *tariff_day_of_year(const char *text, int32_t *month, int32_t *day)
{
    int32_t read_month, read_day;
    if (strcmp(text, "never") == 0) {
        *month = *day = 0;
        return NULL;
    }
    /* 29 February is no day of each year */
    if (strlen(text) != strlen("03-31") || !digits(text, 2, &read_month) || text[2] != '-' ||
        !digits(text + 3, 2, &read_day) || !is_date(2001, read_month, read_day))
        return "a day of each year as in \"03-31\", or \"never\"";
    *month = read_month;
    *day = read_day;
    return NULL;
}
