#include "period.h"

#include <stdbool.h>
#include <stddef.h>
#include <string.h>

#include "civil.h"

enum { FIRST_YEAR = 1970, LAST_YEAR = 9999 };

struct date {
    int32_t year, month, day; /* month and day from 1 */
};

static int64_t day_of(struct date date)
{
    return civil_day_number(date.year, date.month, date.day);
}

static struct date date_of(int64_t day)
{
    struct date date;
    civil_date(day, &date.year, &date.month, &date.day);
    return date;
}

int64_t period_next_month(int64_t day)
{
    struct date date = date_of(day);
    return day_of((struct date){ date.year + (date.month == 12), date.month % 12 + 1, 1 });
}

int64_t period_next_year(int64_t day)
{
    return day_of((struct date){ date_of(day).year + 1, 1, 1 });
}

/* Reads exactly `count` digits; steps `at` over them. */
static bool read_digits(const char **at, int32_t count, int32_t *value)
{
    int32_t result = 0;
    for (int32_t i = 0; i < count; i++) {
        char c = (*at)[i];
        if (c < '0' || c > '9')
            return false;
        result = result * 10 + (c - '0');
    }
    *at += count;
    *value = result;
    return true;
}

/* Reads "2026", "2026-03" or "2026-03-05": as many parts as asked for. */
static bool read_date(const char *word, int32_t parts, struct date *date)
{
    struct date read = { 0, 1, 1 };
    int32_t *const places[] = { &read.year, &read.month, &read.day };
    for (int32_t i = 0; i < parts; i++) {
        if (i > 0 && *word++ != '-')
            return false;
        if (!read_digits(&word, i ? 2 : 4, places[i]))
            return false;
    }
    if (*word || read.year < FIRST_YEAR || read.year > LAST_YEAR || read.month < 1 || read.month > 12)
        return false;
    struct date same = date_of(day_of(read)); /* 31 April comes back as 1 May */
    if (same.day != read.day || same.month != read.month)
        return false;
    *date = read;
    return true;
}

const char *period_day(struct period *period, const char *word, int64_t today)
{
    int64_t day = today;
    struct date date;
    if (word && strcmp(word, "yesterday") == 0)
        day = today - 1;
    else if (word && read_date(word, 3, &date))
        day = day_of(date);
    else if (word && strcmp(word, "today") != 0)
        return "a day is YYYY-MM-DD (as in 2026-03-05), today or yesterday";
    *period = (struct period){ day, day + 1 };
    return NULL;
}

static struct period month_of(int32_t year, int32_t month)
{
    struct date first = { year, month, 1 };
    return (struct period){ day_of(first), period_next_month(day_of(first)) };
}

const char *period_month(struct period *period, const char *word, int64_t today)
{
    struct date date = date_of(today);
    if (word && strcmp(word, "last") == 0)
        date = date_of(day_of((struct date){ date.year, date.month, 1 }) - 1);
    else if (word && strcmp(word, "this") != 0 && !read_date(word, 2, &date))
        return "a month is YYYY-MM (as in 2026-03), this or last";
    *period = month_of(date.year, date.month);
    return NULL;
}

const char *period_year(struct period *period, const char *word, int64_t today)
{
    struct date date = date_of(today);
    if (word && strcmp(word, "last") == 0)
        date.year--;
    else if (word && strcmp(word, "this") != 0 && !read_date(word, 1, &date))
        return "a year is YYYY (as in 2026), this or last";
    *period = (struct period){ day_of((struct date){ date.year, 1, 1 }),
                               day_of((struct date){ date.year + 1, 1, 1 }) };
    return NULL;
}

/* Days since a Monday, 0 to 6: 1970-01-01 was a Thursday. */
static int64_t weekday(int64_t day)
{
    return ((day + 3) % 7 + 7) % 7;
}

int64_t period_week_start(int64_t day)
{
    return day - weekday(day);
}

void period_week(int64_t day, int32_t *year, int32_t *week)
{
    struct date thursday = date_of(period_week_start(day) + 3); /* its year is the week's */
    *year = thursday.year;
    *week = (int32_t)((day_of(thursday) - day_of((struct date){ thursday.year, 1, 1 })) / 7) + 1;
}

/* "2026-W10" */
static bool read_week(const char *word, struct period *period)
{
    int32_t year, week, same_year, same_week;
    if (!read_digits(&word, 4, &year) || *word++ != '-' || *word++ != 'W' || !read_digits(&word, 2, &week))
        return false;
    if (*word || year < FIRST_YEAR || week < 1)
        return false;
    int64_t first = period_week_start(day_of((struct date){ year, 1, 4 })) + 7 * (int64_t)(week - 1);
    period_week(first, &same_year, &same_week);
    if (same_year != year || same_week != week)
        return false;
    *period = (struct period){ first, first + 7 };
    return true;
}

bool period_is_open(const char *word)
{
    return strstr(word, "all") != NULL;
}

static bool read_span(struct period *period, const char *word, int64_t today, const struct period *reach)
{
    if (strcmp(word, "all") == 0) {
        *period = *reach;
        return true;
    }
    if (strcmp(word, "this") == 0 || strcmp(word, "last") == 0)
        return false; /* of what? */
    if (strcmp(word, "this-month") == 0 || strcmp(word, "last-month") == 0)
        return !period_month(period, word[0] == 't' ? "this" : "last", today);
    if (strcmp(word, "this-year") == 0 || strcmp(word, "last-year") == 0)
        return !period_year(period, word[0] == 't' ? "this" : "last", today);
    return !period_day(period, word, today) || !period_month(period, word, today) ||
           !period_year(period, word, today) || read_week(word, period);
}

const char *period_any(struct period *period, const char *word, int64_t today, const struct period *reach)
{
    static const char allowed[] =
        "a span is YYYY, YYYY-MM, YYYY-MM-DD, YYYY-Www, today, yesterday, this-month, last-month, this-year, "
        "last-year, all, or two of them as FROM/TO, the first not after the second";
    char first_word[16];
    const char *slash = strchr(word, '/');
    struct period first, last;
    if (!slash)
        return read_span(period, word, today, reach) ? NULL : allowed;
    size_t length = (size_t)(slash - word);
    if (length >= sizeof(first_word))
        return allowed;
    memcpy(first_word, word, length);
    first_word[length] = '\0';
    if (!read_span(&first, first_word, today, reach) || !read_span(&last, slash + 1, today, reach) ||
        last.to_day <= first.from_day)
        return allowed;
    *period = (struct period){ first.from_day, last.to_day };
    return NULL;
}
