#include "enter_time.h"

#include <stdio.h>
#include <string.h>

enum { DAY = 86400, HOUR = 3600, MINUTE = 60 };

/* What a stamp says, before it is an instant. */
struct face {
    int32_t date[3]; /* year, month, day */
    int64_t ms;      /* of the day; up to 24:00 */
    bool timed, has_offset;
    int32_t offset; /* s */
};

static const char *const date_forms[] = { "YYYY-MM-DD", "DD.MM.YYYY", "MM/DD/YYYY" };
static const char *const order_names[] = { "ymd", "dmy", "mdy" };

/* Reads `least` to `most` digits; NULL when there are fewer. */
static const char *digits(const char *text, int least, int most, int32_t *value)
{
    int count = 0;
    for (*value = 0; count < most && text[count] >= '0' && text[count] <= '9'; count++)
        *value = *value * 10 + (text[count] - '0');
    return count < least ? NULL : text + count;
}

static const char *read_date(const char *text, enum date_order order, int32_t date[3])
{
    static const uint8_t places[3][3] = { { 0, 1, 2 }, { 2, 1, 0 }, { 1, 2, 0 } };
    char sign = 0;
    for (int i = 0; i < 3; i++) {
        int place = places[order][i];
        text = digits(text, place == 0 ? 4 : 1, place == 0 ? 4 : 2, &date[place]);
        if (!text)
            return NULL;
        if (i == 2)
            break;
        if ((i == 0 && !strchr("-./", *text)) || (i == 1 && *text != sign) || !*text)
            return NULL;
        sign = *text++;
    }
    return text;
}

static const char *read_fraction(const char *text, int64_t *ms)
{
    int64_t weight = 100;
    if (*text != '.' && *text != ',')
        return text;
    text++;
    if (*text < '0' || *text > '9')
        return NULL;
    for (; *text >= '0' && *text <= '9'; text++, weight /= 10)
        *ms += (*text - '0') * weight;
    return text;
}

static const char *read_time(const char *text, int64_t *ms)
{
    int32_t hour, minute, second = 0;
    text = digits(text, 1, 2, &hour);
    if (!text || *text != ':' || !(text = digits(text + 1, 2, 2, &minute)))
        return NULL;
    if (*text == ':' && !(text = digits(text + 1, 2, 2, &second)))
        return NULL;
    *ms = 1000 * ((int64_t)hour * HOUR + (int64_t)minute * MINUTE + second);
    if (minute > 59 || second > 59 || *ms > INT64_C(1000) * DAY)
        return NULL;
    return read_fraction(text, ms);
}

static const char *read_offset(const char *text, struct face *face)
{
    int32_t hour, minute;
    if (*text == 'Z' || *text == 'z') {
        face->has_offset = true;
        return text + 1;
    }
    if (*text != '+' && *text != '-')
        return text;
    int sign = *text == '-' ? -1 : 1;
    text = digits(text + 1, 2, 2, &hour);
    if (!text)
        return NULL;
    text = digits(*text == ':' ? text + 1 : text, 2, 2, &minute);
    if (!text || hour > 23 || minute > 59)
        return NULL;
    face->has_offset = true;
    face->offset = sign * (hour * HOUR + minute * MINUTE);
    return text;
}

static bool read_face(const char *text, enum date_order order, struct face *face)
{
    *face = (struct face){ 0 };
    text = read_date(text, order, face->date);
    if (text && (*text == 'T' || *text == 't' || *text == ' ') && text[1]) {
        face->timed = true;
        text = read_time(text + 1, &face->ms);
        if (text)
            text = read_offset(text, face);
    }
    return text && !*text;
}

/* The instants at which the site's clock shows a time: none, one or two. */
static int instants(const struct civil *civil, int64_t local_s, int64_t found[2])
{
    int count = 0;
    int32_t before = civil_offset(civil, local_s - DAY), after = civil_offset(civil, local_s + DAY);
    int64_t first = local_s - before, second = local_s - after;
    if (civil_offset(civil, first) == before)
        found[count++] = first;
    if (second != first && civil_offset(civil, second) == after)
        found[count++] = second;
    if (count == 2 && found[0] > found[1]) {
        found[0] = second;
        found[1] = first;
    }
    return count;
}

static const char *to_instant(const struct enter_clock *clock, const struct face *face, int64_t local_s,
                              int64_t *utc_s, char why[160])
{
    int64_t found[2];
    if (face->has_offset) {
        *utc_s = local_s - face->offset;
        return NULL;
    }
    int count = instants(clock->civil, local_s, found);
    if (count == 0) {
        snprintf(why, 160, "there is no %02d:%02d on %04d-%02d-%02d at the site: its clock was put forward",
                 (int)(face->ms / 3600000 % 100), (int)(face->ms / 60000 % 60), (int)face->date[0] % 10000,
                 (int)face->date[1] % 100, (int)face->date[2] % 100);
        return why;
    }
    bool passed = count == 2 && clock->seen && found[0] * 1000 + face->ms % 1000 <= clock->last_ms;
    *utc_s = found[passed ? 1 : 0];
    return NULL;
}

const char *enter_clock_read(struct enter_clock *clock, const char *text, int64_t *utc_ms, char why[160])
{
    struct face face;
    int64_t utc_s = 0;
    if (!read_face(text, clock->order, &face)) {
        snprintf(why, 160,
                 "'%.40s' is no time: allowed is %s HH:MM[:SS], with or without an offset (--date-order %s)",
                 text, date_forms[clock->order], order_names[clock->order]);
        return why;
    }
    if (!face.timed && !clock->dates)
        return "the time of day is missing, allowed with --length day or month only";
    int32_t year, month, day;
    int64_t number = civil_day_number(face.date[0], face.date[1], face.date[2]);
    if (face.date[1] >= 1 && face.date[1] <= 12 && face.date[2] >= 1)
        civil_date(number, &year, &month, &day);
    else
        day = 0;
    if (day != face.date[2] || face.date[0] < 1970 || face.date[0] > 2200) {
        snprintf(why, 160, "'%.40s': there is no such day (--date-order %s)", text,
                 order_names[clock->order]);
        return why;
    }
    const char *wrong = to_instant(clock, &face, number * DAY + face.ms / 1000, &utc_s, why);
    if (wrong)
        return wrong;
    *utc_ms = utc_s * 1000 + face.ms % 1000;
    clock->seen = true;
    clock->last_ms = *utc_ms;
    return NULL;
}

bool enter_length_read(struct enter_length *length, const char *text)
{
    static const struct {
        const char *unit;
        int32_t seconds;
    } units[] = { { "", 1 }, { "s", 1 }, { "min", MINUTE }, { "h", HOUR } };
    int32_t number;
    *length = (struct enter_length){ .months = strcmp(text, "month") == 0 };
    if (length->months || strcmp(text, "day") == 0)
        return true;
    const char *unit = digits(text, 1, 6, &number);
    for (size_t i = 0; unit && i < sizeof(units) / sizeof(units[0]); i++)
        if (strcmp(unit, units[i].unit) == 0)
            length->seconds = (int64_t)number * units[i].seconds;
    return length->seconds > 0 && length->seconds <= DAY;
}

int64_t enter_length_from(const struct enter_length *length, const struct civil *civil, int64_t at_ms,
                          bool back)
{
    if (length->seconds > 0)
        return at_ms + (back ? -1000 : 1000) * length->seconds;
    int64_t at_s = at_ms / 1000, day = civil_day_of(civil, at_s);
    int64_t into_s = at_s - civil_day_start(civil, day);
    int32_t year, month, of_month;
    civil_date(day, &year, &month, &of_month);
    if (length->months) {
        month += back ? -1 : 1;
        year += month < 1 ? -1 : month > 12 ? 1 : 0;
        month = month < 1 ? 12 : month > 12 ? 1 : month;
        day = civil_day_number(year, month, of_month);
    } else {
        day += back ? -1 : 1;
    }
    return (civil_day_start(civil, day) + into_s) * 1000;
}
