#include "zone_rule.h"

#include "calendar.h"

enum { HOUR_S = 3600, DAY_S = 86400 };

/* Readers take what they understand from the front of *text; false where it is
 * something else. */
static bool take_number(const char **text, int32_t least, int32_t most, int32_t *number)
{
    int32_t n = 0;
    const char *p = *text;
    if (*p < '0' || *p > '9')
        return false;
    for (; *p >= '0' && *p <= '9'; p++) {
        n = n * 10 + (*p - '0');
        if (n > most)
            return false;
    }
    *text = p;
    *number = n;
    return n >= least;
}

static bool take(const char **text, char c)
{
    if (**text != c)
        return false;
    ++*text;
    return true;
}

/* "CET", or "<-03>" in angle brackets. */
static bool take_name(const char **text)
{
    const char *p = *text;
    bool quoted = take(&p, '<');
    const char *start = p;
    while ((*p >= 'A' && *p <= 'Z') || (*p >= 'a' && *p <= 'z') ||
           (quoted && ((*p >= '0' && *p <= '9') || *p == '+' || *p == '-')))
        p++;
    if (p - start < 3 || (quoted && !take(&p, '>')))
        return false;
    *text = p;
    return true;
}

/* [+-]hh[:mm[:ss]] */
static bool take_time(const char **text, int32_t *time_s)
{
    int32_t hours = 0, minutes = 0, seconds = 0;
    bool negative = take(text, '-');
    if (!negative)
        take(text, '+');
    if (!take_number(text, 0, 167, &hours))
        return false;
    if (take(text, ':')) {
        if (!take_number(text, 0, 59, &minutes) || (take(text, ':') && !take_number(text, 0, 59, &seconds)))
            return false;
    }
    *time_s = hours * HOUR_S + minutes * 60 + seconds;
    if (negative)
        *time_s = -*time_s;
    return true;
}

static bool take_change(const char **text, struct zone_change *change)
{
    *change = (struct zone_change){ .kind = 'N', .time_s = 2 * HOUR_S };
    if (take(text, 'M')) {
        change->kind = 'M';
        if (!take_number(text, 1, 12, &change->month) || !take(text, '.') ||
            !take_number(text, 1, 5, &change->week) || !take(text, '.') ||
            !take_number(text, 0, 6, &change->day))
            return false;
    } else if (take(text, 'J')) {
        change->kind = 'J';
        if (!take_number(text, 1, 365, &change->day))
            return false;
    } else if (!take_number(text, 0, 365, &change->day)) {
        return false;
    }
    return !take(text, '/') || take_time(text, &change->time_s);
}

int zone_rule_read(struct zone_rule *rule, const char *text)
{
    int32_t west_s;
    *rule = (struct zone_rule){ 0 };
    if (!take_name(&text) || !take_time(&text, &west_s))
        return -1;
    rule->standard_s = -west_s; /* POSIX counts westward */
    if (*text == '\0')
        return 0;
    if (!take_name(&text))
        return -1;
    rule->summer_s = rule->standard_s + HOUR_S;
    if (*text != ',') {
        if (!take_time(&text, &west_s))
            return -1;
        rule->summer_s = -west_s;
    }
    rule->changes = true;
    bool read = take(&text, ',') && take_change(&text, &rule->to_summer) && take(&text, ',') &&
                take_change(&text, &rule->to_standard);
    return read && *text == '\0' ? 0 : -1;
}

/* The week-th weekday of a month; week 5 is the last one. */
static int64_t weekday_of_month(int64_t year, int32_t month, int32_t week, int32_t weekday)
{
    int64_t first = civil_day_number(year, month, 1);
    int64_t next = month == 12 ? civil_day_number(year + 1, 1, 1) : civil_day_number(year, month + 1, 1);
    int64_t first_weekday = ((first + 4) % 7 + 7) % 7; /* 1970-01-01 was a Thursday */
    int64_t day = first + (weekday - first_weekday + 7) % 7 + 7 * (week - 1);
    return day < next ? day : day - 7;
}

int64_t zone_change_at(const struct zone_change *change, int64_t year, int32_t offset_before_s)
{
    int64_t day = civil_day_number(year, 1, 1) + change->day; /* 'N' */
    if (change->kind == 'M') {
        day = weekday_of_month(year, change->month, change->week, change->day);
    } else if (change->kind == 'J') {
        bool leap = civil_day_number(year, 3, 1) - civil_day_number(year, 2, 1) == 29;
        day += (leap && change->day >= 60) - 1;
    }
    return day * DAY_S + change->time_s - offset_before_s;
}
