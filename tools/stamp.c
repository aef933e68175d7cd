#include "stamp.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "period.h"

enum { DAY = 86400, HOUR = 3600, MINUTE = 60 };

/* The site's clock face. */
struct face {
    int32_t year, month, day, second; /* second of the day as the clock shows it */
    int32_t offset;
};

static struct face face_at(const struct civil *civil, int64_t utc_s)
{
    struct face face = { .offset = civil_offset(civil, utc_s) };
    int64_t local = utc_s + face.offset;
    int64_t day = local / DAY - (local % DAY < 0);
    civil_date(day, &face.year, &face.month, &face.day);
    face.second = (int32_t)(local - day * DAY);
    return face;
}

static const char *print_offset(char buffer[STAMP_SIZE], int32_t offset)
{
    int32_t size = abs(offset) / MINUTE;
    snprintf(buffer, STAMP_SIZE, "%c%02d:%02d", offset < 0 ? '-' : '+', size / 60 % 100, size % 60);
    return buffer;
}

const char *stamp_offset(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    return print_offset(buffer, civil_offset(civil, utc_s));
}

const char *stamp_date(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    struct face face = face_at(civil, utc_s);
    snprintf(buffer, STAMP_SIZE, "%04d-%02d-%02d", face.year, face.month, face.day);
    return buffer;
}

const char *stamp_month(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    struct face face = face_at(civil, utc_s);
    snprintf(buffer, STAMP_SIZE, "%04d-%02d", face.year, face.month);
    return buffer;
}

const char *stamp_year(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    struct face face = face_at(civil, utc_s);
    snprintf(buffer, STAMP_SIZE, "%04d", face.year);
    return buffer;
}

const char *stamp_week(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    int32_t year, week;
    period_week(civil_day_of(civil, utc_s), &year, &week);
    snprintf(buffer, STAMP_SIZE, "%04d-W%02d", (int)year, (int)week);
    return buffer;
}

const char *stamp_clock(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s, int parts)
{
    struct face face = face_at(civil, utc_s);
    char zone[STAMP_SIZE] = "", seconds[STAMP_SIZE] = "";
    if (parts & STAMP_OFFSET)
        print_offset(zone, face.offset);
    if (parts & STAMP_SECONDS)
        snprintf(seconds, sizeof(seconds), ":%02d", face.second % MINUTE);
    snprintf(buffer, STAMP_SIZE, "%02d:%02d%.3s%.6s", face.second / HOUR, face.second / MINUTE % 60, seconds,
             zone);
    return buffer;
}

const char *stamp_minute(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    char date[STAMP_SIZE], clock[STAMP_SIZE];
    snprintf(buffer, STAMP_SIZE, "%.16s %.8s", stamp_date(date, civil, utc_s),
             stamp_clock(clock, civil, utc_s, utc_s % MINUTE ? STAMP_SECONDS : 0));
    return buffer;
}

const char *stamp_rfc3339(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s)
{
    struct face face = face_at(civil, utc_s);
    char date[STAMP_SIZE], zone[STAMP_SIZE];
    snprintf(buffer, STAMP_SIZE, "%.16sT%02d:%02d:%02d%.6s", stamp_date(date, civil, utc_s),
             face.second / HOUR, face.second / MINUTE % 60, face.second % MINUTE,
             print_offset(zone, face.offset));
    return buffer;
}

/* Reads text of one form: '0' in the form stands for a digit, all else for itself. */
static bool has_form(const char *text, const char *form)
{
    for (; *form; text++, form++)
        if (*form == '0' ? (*text < '0' || *text > '9') : *text != *form)
            return false;
    return true;
}

static int32_t digits(const char *text, int32_t count)
{
    int32_t value = 0;
    for (int32_t i = 0; i < count; i++)
        value = value * 10 + (text[i] - '0');
    return value;
}

bool stamp_read(const char *text, int64_t *utc_s)
{
    static const char form[] = "0000-00-00T00:00:00";
    const char *zone = text + sizeof(form) - 1;
    if (!has_form(text, form))
        return false;
    int32_t offset = 0;
    if (strcmp(zone, "Z") != 0) {
        if ((*zone != '+' && *zone != '-') || !has_form(zone + 1, "00:00") || zone[6])
            return false;
        offset = digits(zone + 1, 2) * HOUR + digits(zone + 4, 2) * MINUTE;
        offset = *zone == '-' ? -offset : offset;
    }
    int32_t month = digits(text + 5, 2), day = digits(text + 8, 2);
    int32_t hour = digits(text + 11, 2), minute = digits(text + 14, 2), second = digits(text + 17, 2);
    if (month < 1 || month > 12 || day < 1 || day > 31 || hour > 23 || minute > 59 || second > 59)
        return false;
    *utc_s = civil_day_number(digits(text, 4), month, day) * DAY + (int64_t)hour * HOUR +
             (int64_t)minute * MINUTE + second - offset;
    return true;
}
