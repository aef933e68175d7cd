#include "logbook_value.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

enum value_type { VALUE_NUMBER, VALUE_WHOLE, VALUE_WORD, VALUE_RATIO, VALUE_DATE, VALUE_TEXT };

static const char *const how_words[] = { "read", "estimated", NULL };
static const char *const what_words[] = { "ratio", "exchanged", "swapped", NULL };
static const char *const source_words[] = { "sealed", "record", NULL };
const char *const logbook_kind_words[LOGBOOK_KINDS + 1] = { "reading", "exchange",   "start",  "cleaning",
                                                            "repair",  "note",       "clock",  "correct",
                                                            "revoke",  "precedence", "credit", NULL };

struct key {
    const char *name;
    enum value_type type;
    int64_t least, most; /* of a NUMBER or WHOLE, as kept */
    int32_t decimals;    /* of a NUMBER: kept in 10^-decimals */
    const char *const *words;
    const char *allowed;
};

#define MICRO     INT64_C(1000000)
#define SHOWN     INT64_C(9999999999999) /* nine digits and some decimals */
#define REGISTERS "a number of up to 9 digits and 3 decimals, as the register shows it"
#define READ(name)                                                                                           \
    {                                                                                                        \
        name, VALUE_NUMBER, 0, 999999999 * MICRO + 999999, 6, NULL, REGISTERS                                \
    }
#define SET(prefix)                                                                                          \
    READ(prefix "import"), READ(prefix "export"), READ(prefix "t1"), READ(prefix "t2"), READ(prefix "t3"),   \
        READ(prefix "t4"), READ(prefix "export.t1"), READ(prefix "export.t2"), READ(prefix "export.t3"),     \
        READ(prefix "export.t4"), READ(prefix "demand")

static const struct key keys[LOGBOOK_KEYS] = {
    SET(""),
    SET("old."),
    SET("new."),
    [LOGBOOK_HOW] = { "how", VALUE_WORD, 0, 0, 0, how_words, "read or estimated" },
    [LOGBOOK_DIGITS] = { "digits", VALUE_WHOLE, 3, 9, 0, NULL, "a whole number from 3 to 9" },
    [LOGBOOK_DECIMALS] = { "decimals", VALUE_WHOLE, 0, 3, 0, NULL, "a whole number from 0 to 3" },
    [LOGBOOK_FACTOR] = { "factor", VALUE_NUMBER, 1, 100000000, 3, NULL, "a number from 0.001 to 100000" },
    [LOGBOOK_WHAT] = { "what", VALUE_WORD, 0, 0, 0, what_words, "ratio, exchanged or swapped" },
    [LOGBOOK_RATIO_OLD] = { "old", VALUE_RATIO, 0, 0, 0, NULL, "a ratio as 100/5" },
    [LOGBOOK_RATIO_NEW] = { "new", VALUE_RATIO, 0, 0, 0, NULL, "a ratio as 150/5" },
    [LOGBOOK_FROM] = { "from", VALUE_DATE, 0, 0, 0, NULL, NULL },
    [LOGBOOK_TO] = { "to", VALUE_DATE, 0, 0, 0, NULL, NULL },
    [LOGBOOK_OF] = { "of", VALUE_DATE, 0, 0, 0, NULL, NULL },
    [LOGBOOK_OF_KIND] = { "kind", VALUE_WORD, 0, 0, 0, logbook_kind_words, "the kind of an entry" },
    [LOGBOOK_SOURCE] = { "source", VALUE_WORD, 0, 0, 0, source_words, "sealed or record" },
    [LOGBOOK_KWH] = { "kwh", VALUE_NUMBER, 0, SHOWN * 1000, 6, NULL,
                      "a number of kWh with up to 6 decimals" },
    [LOGBOOK_MONEY] = { "money", VALUE_NUMBER, 0, SHOWN * 1000, 6, NULL, "an amount with up to 6 decimals" },
    [LOGBOOK_BOOT_MS] = { "boot_ms", VALUE_WHOLE, 0, INT64_C(10000000000000), 0, NULL,
                          "a whole number of ms" },
    [LOGBOOK_DOUBT] = { "doubt", VALUE_WHOLE, 0, 86400, 0, NULL, "a whole number of seconds up to 86400" },
    [LOGBOOK_SERIAL] = { "serial", VALUE_TEXT, 0, 0, 0, NULL, "a text of 1 to 47 bytes" },
    [LOGBOOK_WITH] = { "with", VALUE_TEXT, 0, 0, 0, NULL, "the name of another meter" },
    [LOGBOOK_BOOT] = { "boot", VALUE_TEXT, 0, 0, 0, NULL, "a text of 1 to 47 bytes" },
};

#define KEY(key)        (UINT64_C(1) << LOGBOOK_##key)
#define ALL(first)      (((UINT64_C(1) << SEALED_REGISTERS) - 1) << LOGBOOK_##first)
#define ENERGIES(first) (UINT64_C(3) << LOGBOOK_##first) /* import and export */
_Static_assert(LOGBOOK_KEYS <= 64, "a bit per key");

const struct logbook_form logbook_forms[LOGBOOK_KINDS] = {
    [LOGBOOK_READING] = { SUBJECT_SEALED, false, false, ALL(REGISTER) | KEY(HOW), 0, ALL(REGISTER) },
    [LOGBOOK_EXCHANGE] = { SUBJECT_BOTH, false, false,
                           ALL(OLD) | ALL(NEW) | KEY(SERIAL) | KEY(DIGITS) | KEY(DECIMALS) | KEY(FACTOR) |
                               KEY(HOW),
                           0, ALL(OLD) },
    [LOGBOOK_START] = { SUBJECT_BOTH, false, false, ALL(REGISTER), 0, ALL(REGISTER) },
    [LOGBOOK_CLEANING] = { SUBJECT_ANY, true, false, 0, 0, 0 },
    [LOGBOOK_REPAIR] = { SUBJECT_ANY, true, true, 0, 0, 0 },
    [LOGBOOK_NOTE] = { SUBJECT_ANY, true, true, 0, 0, 0 },
    [LOGBOOK_CLOCK] = { SUBJECT_NONE, true, false, KEY(BOOT) | KEY(BOOT_MS) | KEY(DOUBT), 0, 0 },
    [LOGBOOK_CORRECT] = { SUBJECT_METER, false, false,
                          KEY(WHAT) | KEY(RATIO_OLD) | KEY(RATIO_NEW) | KEY(WITH) | KEY(FROM) | KEY(TO),
                          KEY(WHAT) | KEY(FROM) | KEY(TO), 0 },
    [LOGBOOK_REVOKE] = { SUBJECT_ANY, true, false, KEY(OF) | KEY(OF_KIND), KEY(OF), 0 },
    [LOGBOOK_PRECEDENCE] = { SUBJECT_BALANCE, false, false, KEY(SOURCE), KEY(SOURCE), 0 },
    [LOGBOOK_CREDIT] = { SUBJECT_SEALED, true, true, KEY(KWH) | KEY(MONEY), 0, KEY(KWH) | KEY(MONEY) },
};

const char *logbook_key_name(enum logbook_key key)
{
    return keys[key].name;
}

int32_t logbook_key_of(const char *name, size_t size)
{
    int32_t i = 0;
    while (i < LOGBOOK_KEYS && (strlen(keys[i].name) != size || memcmp(keys[i].name, name, size) != 0))
        i++;
    return i;
}

void logbook_key_list(uint64_t set, char *out, size_t size)
{
    size_t at = 0;
    out[0] = '\0';
    for (int32_t i = 0; i < LOGBOOK_KEYS && at < size; i++)
        if (set & UINT64_C(1) << i)
            at += (size_t)snprintf(out + at, size - at, "%s%s", at ? ", " : "", keys[i].name);
}

/* A decimal number of at most `decimals` decimals, kept in 10^-decimals; false where it is none. */
static bool read_number(const char *text, int32_t decimals, int64_t *value)
{
    int64_t result = 0;
    int32_t digits = 0, behind = -1;
    for (; *text; text++) {
        if (*text == '.' && behind < 0 && digits > 0) {
            behind = 0;
            continue;
        }
        if (*text < '0' || *text > '9' || ++digits > 18 || (behind >= 0 && ++behind > decimals))
            return false;
        if (result > INT64_MAX / 100)
            return false;
        result = result * 10 + (*text - '0');
    }
    if (digits == 0 || behind == 0)
        return false;
    for (int32_t i = behind < 0 ? 0 : behind; i < decimals; i++) {
        if (result > INT64_MAX / 100)
            return false;
        result *= 10;
    }
    *value = result;
    return true;
}

static bool read_ratio(const char *text, int64_t *value)
{
    char *end;
    if (*text < '1' || *text > '9')
        return false;
    long primary = strtol(text, &end, 10);
    if (*end != '/' || end[1] < '1' || end[1] > '9')
        return false;
    long secondary = strtol(end + 1, &end, 10);
    if (*end || primary > 1000000 || secondary > 1000000)
        return false;
    *value = (int64_t)primary << 32 | secondary;
    return true;
}

const char *logbook_take(struct logbook_entry *entry, enum logbook_key which, const char *value,
                         const struct civil *civil)
{
    const struct key *key = &keys[which];
    int64_t number = 0;
    bool day_only, good = false;
    switch (key->type) {
    case VALUE_NUMBER:
    case VALUE_WHOLE:
        good = read_number(value, key->decimals, &number) && number >= key->least && number <= key->most;
        break;
    case VALUE_WORD:
        while (key->words[number] && strcmp(key->words[number], value) != 0)
            number++;
        good = key->words[number] != NULL;
        break;
    case VALUE_RATIO:
        good = read_ratio(value, &number);
        break;
    case VALUE_DATE: {
        const char *allowed = logbook_date(value, civil, &number, &day_only);
        if (allowed)
            return allowed;
        good = true;
        break;
    }
    case VALUE_TEXT:
        if (!value[0] || strlen(value) >= CONFIG_NAME_SIZE || !utf8_is_plain(value))
            return key->allowed;
        snprintf(entry->word[which - LOGBOOK_NUMBERS], CONFIG_NAME_SIZE, "%s", value);
        return NULL;
    }
    if (!good)
        return key->allowed;
    entry->number[which] = number;
    return NULL;
}

/* ---- dates ---- */

static bool digits(const char **at, int32_t count, int32_t *value)
{
    *value = 0;
    for (int32_t i = 0; i < count; i++) {
        if ((*at)[i] < '0' || (*at)[i] > '9')
            return false;
        *value = *value * 10 + ((*at)[i] - '0');
    }
    *at += count;
    return true;
}

static bool sign(const char **at, char c)
{
    if (**at != c)
        return false;
    (*at)++;
    return true;
}

/* "14:05" or "14:05:30" as seconds of the day. */
static bool read_time(const char **at, int32_t *seconds)
{
    int32_t hour, minute, second = 0;
    if (!digits(at, 2, &hour) || !sign(at, ':') || !digits(at, 2, &minute))
        return false;
    if (sign(at, ':') && !digits(at, 2, &second))
        return false;
    *seconds = hour * 3600 + minute * 60 + second;
    return hour < 24 && minute < 60 && second < 60;
}

/* "Z", "+01:00" or nothing. */
static bool read_offset(const char **at, bool *given, int32_t *offset)
{
    int32_t hours, minutes;
    bool west = **at == '-';
    *given = **at != '\0';
    *offset = 0;
    if (!*given || sign(at, 'Z'))
        return true;
    if (!sign(at, '+') && !sign(at, '-'))
        return false;
    if (!digits(at, 2, &hours) || !sign(at, ':') || !digits(at, 2, &minutes) || hours > 23 || minutes > 59)
        return false;
    *offset = (hours * 3600 + minutes * 60) * (west ? -1 : 1);
    return true;
}

/* The first instant at which the site's clock shows this; false where it never does. */
static bool of_local(const struct civil *civil, int64_t local_s, int64_t *at_s)
{
    /* offsets of the day before and the day after are all that can be in force */
    int32_t offsets[] = { civil_offset(civil, local_s - 86400), civil_offset(civil, local_s + 86400) };
    int64_t first = INT64_MAX;
    for (int32_t i = 0; i < 2; i++) {
        int64_t utc_s = local_s - offsets[i];
        if (utc_s + civil_offset(civil, utc_s) == local_s && utc_s < first)
            first = utc_s;
    }
    *at_s = first;
    return first != INT64_MAX;
}

const char *logbook_date(const char *text, const struct civil *civil, int64_t *at_s, bool *day_only)
{
    static const char allowed[] =
        "a date as 2026-03-05 or 2026-03-05T14:05, with Z, an offset as +01:00 or in the site's local time";
    int32_t year, month, day, seconds = 0, offset, y, m, d;
    bool given = false;
    const char *at = text;
    if (!digits(&at, 4, &year) || !sign(&at, '-') || !digits(&at, 2, &month) || !sign(&at, '-') ||
        !digits(&at, 2, &day) || year < 1970 || month < 1 || month > 12 || day < 1)
        return allowed;
    int64_t number = civil_day_number(year, month, day);
    civil_date(number, &y, &m, &d);
    if (d != day || m != month)
        return "a day that the month has";
    *day_only = *at == '\0';
    if (*day_only) {
        *at_s = civil_day_start(civil, number);
        return NULL;
    }
    at++;
    if ((at[-1] != 'T' && at[-1] != ' ') || !read_time(&at, &seconds) || !read_offset(&at, &given, &offset) ||
        *at)
        return allowed;
    if (given)
        *at_s = number * 86400 + seconds - offset;
    else if (!of_local(civil, number * 86400 + seconds, at_s))
        return "a time that the site's clock shows: on this day it was put forward over it";
    return NULL;
}

/* ---- back to text ---- */

static void print_number(char *out, size_t size, int64_t value, int32_t decimals)
{
    int64_t one = 1;
    for (int32_t i = 0; i < decimals; i++)
        one *= 10;
    int32_t behind = decimals;
    int64_t rest = value % one;
    for (; behind > 0 && rest % 10 == 0; behind--)
        rest /= 10;
    if (behind == 0)
        snprintf(out, size, "%lld", (long long)(value / one));
    else
        snprintf(out, size, "%lld.%0*lld", (long long)(value / one), (int)behind, (long long)rest);
}

static void print_date(char *out, size_t size, int64_t at_s, const struct civil *civil)
{
    int32_t year, month, day, offset = civil_offset(civil, at_s);
    int64_t local = at_s + offset, number = local / 86400 - (local % 86400 < 0);
    int32_t second = (int32_t)(local - number * 86400);
    civil_date(number, &year, &month, &day);
    snprintf(out, size, "%04d-%02d-%02dT%02d:%02d:%02d%c%02d:%02d", year, month, day, second / 3600,
             second / 60 % 60, second % 60, offset < 0 ? '-' : '+', abs(offset) / 3600,
             abs(offset) / 60 % 60);
}

bool logbook_value(const struct logbook_entry *entry, enum logbook_key which, const struct civil *civil,
                   char *out, size_t size)
{
    const struct key *key = &keys[which];
    if (which >= LOGBOOK_NUMBERS) {
        snprintf(out, size, "%s", entry->word[which - LOGBOOK_NUMBERS]);
        return out[0] != '\0';
    }
    int64_t value = entry->number[which];
    if (value == LOGBOOK_NOTHING)
        return false;
    if (key->type == VALUE_WORD)
        snprintf(out, size, "%s", key->words[value]);
    else if (key->type == VALUE_RATIO)
        snprintf(out, size, "%lld/%lld", (long long)(value >> 32), (long long)(value & INT64_C(0xffffffff)));
    else if (key->type == VALUE_DATE)
        print_date(out, size, value, civil);
    else
        print_number(out, size, value, key->decimals);
    return true;
}
