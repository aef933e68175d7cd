#include "logbook_value.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FILE_MOST = 16 << 20, MOST_AT_FIRST = 1000 };

struct reading {
    struct logbook *logbook;
    const char *name;
    const struct logbook_site *site;
    struct problems *problems;
    bool exchanges; /* there are any */
};

static void complain(struct reading *reading, bool error, int32_t line, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

static void complain(struct reading *reading, bool error, int32_t line, const char *format, ...)
{
    char text[CONFIG_PATH_SIZE + LOGBOOK_WHY_SIZE + 32];
    int length = line > 0 ? snprintf(text, sizeof text, "%s:%d: ", reading->name, (int)line)
                          : snprintf(text, sizeof text, "%s: ", reading->name);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text + length, sizeof text - (size_t)length, format, arguments);
    va_end(arguments);
    if (error)
        reading->problems->errors++;
    else
        reading->problems->warnings++;
    reading->problems->say(reading->problems->self, error, text);
}

/* Room for an entry per line, to begin with. */
static bool make_room(struct logbook *logbook, const char *text, size_t size)
{
    logbook->room = 1;
    for (const char *at = text;
         logbook->room < MOST_AT_FIRST && (at = memchr(at, '\n', size - (size_t)(at - text))) != NULL; at++)
        logbook->room++;
    logbook->entries = malloc((size_t)logbook->room * sizeof *logbook->entries);
    logbook->memory_out = !logbook->entries;
    return logbook->entries;
}

/* Where the next entry goes; NULL without memory. */
static struct logbook_entry *next_entry(struct logbook *logbook)
{
    if (logbook->count == logbook->room) {
        int32_t room = 2 * logbook->room;
        struct logbook_entry *more = realloc(logbook->entries, (size_t)room * sizeof *more);
        logbook->memory_out = !more;
        if (!more)
            return NULL;
        logbook->entries = more;
        logbook->room = room;
    }
    return &logbook->entries[logbook->count];
}

static void read_lines(struct reading *reading, const char *text, size_t size)
{
    char why[LOGBOOK_WHY_SIZE];
    const char *at = text, *end = text + size;
    struct logbook *logbook = reading->logbook;
    if (!make_room(logbook, text, size))
        return;
    if (size >= 3 && memcmp(at, "\xef\xbb\xbf", 3) == 0)
        at += 3; /* a byte-order mark */
    for (int32_t line = 1; at < end; line++) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        size_t length = feed ? (size_t)(feed - at) : (size_t)(end - at);
        struct logbook_entry *entry = next_entry(logbook);
        if (!entry)
            return;
        int result = logbook_line(at, length, reading->site, entry, why);
        entry->line = line;
        if (result < 0)
            complain(reading, true, line, "%s", why);
        logbook->count += result > 0;
        reading->exchanges |= result > 0 && entry->kind == LOGBOOK_EXCHANGE;
        at += length + 1;
    }
}

/* ---- between entries ---- */

static bool same_values(const struct logbook_entry *a, const struct logbook_entry *b)
{
    return memcmp(a->number, b->number, sizeof a->number) == 0 && a->with == b->with &&
           memcmp(a->word, b->word, sizeof a->word) == 0;
}

/* A meter of ours may have another name by now. */
static bool same_subject(const struct logbook_entry *a, const struct logbook_entry *b)
{
    return a->meter || b->meter ? a->meter == b->meter : strcmp(a->subject, b->subject) == 0;
}

/* Takes the newest entry back that a revocation means. */
static void revoke(struct reading *reading, int32_t index)
{
    struct logbook_entry *entries = reading->logbook->entries, *by = &entries[index];
    bool was = false;
    for (int32_t i = index - 1; i >= 0; i--) {
        struct logbook_entry *entry = &entries[i];
        int64_t noon = entry->day_only && (entry->kind == LOGBOOK_READING || entry->kind == LOGBOOK_EXCHANGE)
                           ? 12 * 3600
                           : 0;
        bool same_date =
            entry->at_s == by->number[LOGBOOK_OF] || entry->at_s - noon == by->number[LOGBOOK_OF];
        if (entry->kind == LOGBOOK_REVOKE || !same_date || !same_subject(entry, by) ||
            (by->number[LOGBOOK_OF_KIND] != LOGBOOK_NOTHING &&
             by->number[LOGBOOK_OF_KIND] != (int64_t)entry->kind))
            continue;
        if (!entry->revoked) {
            entry->revoked = true;
            return;
        }
        was = true;
    }
    complain(reading, true, by->line, "%s, allowed: the date of an entry further up, with the same name",
             was ? "this entry is taken back already" : "there is no entry to take back");
}

/* Two entries of one instant may complete one another; they may not differ. */
static bool contradicts(const struct logbook_entry *a, const struct logbook_entry *b)
{
    static const unsigned facts = 1U << LOGBOOK_READING | 1U << LOGBOOK_EXCHANGE | 1U << LOGBOOK_START |
                                  1U << LOGBOOK_CLOCK | 1U << LOGBOOK_PRECEDENCE | 1U << LOGBOOK_CREDIT;
    for (int32_t i = 0; facts & 1U << a->kind && i < LOGBOOK_NUMBERS; i++)
        if (a->number[i] != LOGBOOK_NOTHING && b->number[i] != LOGBOOK_NOTHING &&
            a->number[i] != b->number[i])
            return true;
    return false;
}

static void compare(struct reading *reading, const struct logbook_entry *before, struct logbook_entry *entry)
{
    if (before->revoked || entry->revoked || before->kind != entry->kind || before->at_s != entry->at_s ||
        !same_subject(before, entry))
        return;
    entry->refused |= contradicts(before, entry);
    if (entry->refused)
        complain(reading, true, entry->line,
                 "it contradicts line %d of the same time, allowed: one of them; 'revoke' takes the wrong "
                 "one back",
                 (int)before->line);
    else if (same_values(before, entry) && strcmp(before->text, entry->text) == 0)
        complain(reading, false, entry->line, "the same as line %d", (int)before->line);
}

struct by_date {
    int64_t at_s;
    int32_t index;
};

static int compare_dates(const void *a, const void *b)
{
    const struct by_date *left = a, *right = b;
    if (left->at_s != right->at_s)
        return left->at_s < right->at_s ? -1 : 1;
    return left->index - right->index;
}

static void find_duplicates(struct reading *reading)
{
    struct logbook *logbook = reading->logbook;
    struct by_date *dates = malloc(((size_t)logbook->count + 1) * sizeof *dates);
    if (!dates) {
        logbook->memory_out = true;
        return;
    }
    for (int32_t i = 0; i < logbook->count; i++)
        dates[i] = (struct by_date){ logbook->entries[i].at_s, i };
    qsort(dates, (size_t)logbook->count, sizeof *dates, compare_dates);
    for (int32_t i = 0; i < logbook->count; i++)
        for (int32_t j = i - 1; j >= 0 && j > i - 20 && dates[j].at_s == dates[i].at_s; j--)
            compare(reading, &logbook->entries[dates[j].index], &logbook->entries[dates[i].index]);
    free(dates);
}

static void say_most(void *self, const struct logbook_entry *entry)
{
    complain(self, true, entry->line,
             "it is one correction too many of a day, allowed: %d that touch one UTC day",
             LOGBOOK_MOST_CORRECTIONS);
}

/* ---- digits of a sealed meter, as they are at a time ---- */

static void shape_at(const struct reading *reading, const struct config_sealed *sealed, int64_t at_s,
                     int64_t *digits, int64_t *decimals)
{
    int64_t latest = INT64_MIN;
    *digits = sealed->digits;
    *decimals = sealed->decimals;
    for (int32_t i = 0; reading->exchanges && i < reading->logbook->count; i++) {
        const struct logbook_entry *entry = &reading->logbook->entries[i];
        if (entry->kind != LOGBOOK_EXCHANGE || entry->revoked || entry->at_s > at_s || entry->at_s < latest ||
            strcmp(entry->subject, sealed->name) != 0)
            continue;
        latest = entry->at_s;
        if (entry->number[LOGBOOK_DIGITS] != LOGBOOK_NOTHING)
            *digits = entry->number[LOGBOOK_DIGITS];
        if (entry->number[LOGBOOK_DECIMALS] != LOGBOOK_NOTHING)
            *decimals = entry->number[LOGBOOK_DECIMALS];
    }
}

static int64_t power_of_ten(int64_t exponent)
{
    int64_t power = 1;
    while (exponent-- > 0)
        power *= 10;
    return power;
}

/* Does the register show such a value? */
static void check_shown(struct reading *reading, const struct config_sealed *sealed,
                        struct logbook_entry *entry, int32_t first, int64_t at_s)
{
    int64_t digits, decimals;
    shape_at(reading, sealed, at_s, &digits, &decimals);
    for (int32_t r = first; r < first + SEALED_DEMAND; r++) {
        int64_t value = entry->number[r];
        if (value == LOGBOOK_NOTHING)
            continue;
        if (value < power_of_ten(digits + 6) && value % power_of_ten(6 - decimals) == 0)
            continue;
        entry->refused = true;
        complain(reading, true, entry->line,
                 "'%s' has more digits than '%s' shows, allowed: %d, and %d decimals",
                 logbook_key_name((enum logbook_key)r), sealed->name, (int)digits, (int)decimals);
    }
}

static void check_digits(struct reading *reading)
{
    const struct config *config = reading->site->config;
    for (int32_t i = 0; i < reading->logbook->count; i++) {
        struct logbook_entry *entry = &reading->logbook->entries[i];
        const struct config_sealed *sealed = NULL;
        for (int32_t m = 0; m < config->sealed_count; m++)
            if (strcmp(config->sealed[m].name, entry->subject) == 0)
                sealed = &config->sealed[m];
        if (!sealed || entry->revoked)
            continue;
        if (entry->kind == LOGBOOK_READING || entry->kind == LOGBOOK_START)
            check_shown(reading, sealed, entry, LOGBOOK_REGISTER, entry->at_s);
        if (entry->kind == LOGBOOK_EXCHANGE) {
            check_shown(reading, sealed, entry, LOGBOOK_OLD, entry->at_s - 1);
            check_shown(reading, sealed, entry, LOGBOOK_NEW, entry->at_s);
        }
    }
}

/* ---- the file ---- */

struct logbook *logbook_read(const char *text, size_t size, const char *name, const struct logbook_site *site,
                             struct problems *problems)
{
    struct reading reading = {
        .logbook = calloc(1, sizeof *reading.logbook), .name = name, .site = site, .problems = problems
    };
    if (reading.logbook) {
        read_lines(&reading, text, size);
        for (int32_t i = 0; i < reading.logbook->count; i++)
            if (reading.logbook->entries[i].kind == LOGBOOK_REVOKE)
                revoke(&reading, i);
        find_duplicates(&reading);
        reading.logbook->memory_out |= !logbook_refuse_most(reading.logbook, say_most, &reading);
        if (site->config)
            check_digits(&reading);
    }
    if (reading.logbook && !reading.logbook->memory_out)
        return reading.logbook;
    complain(&reading, true, 0, "out of memory");
    logbook_free(reading.logbook);
    return NULL;
}

static char *read_file(FILE *file, size_t *size)
{
    size_t room = 1 << 16;
    char *text = malloc(room);
    *size = 0;
    while (text) {
        *size += fread(text + *size, 1, room - *size, file);
        if (*size < room || room >= FILE_MOST)
            break;
        char *more = realloc(text, 2 * room);
        if (!more)
            free(text);
        text = more;
        room *= 2;
    }
    return text;
}

char *logbook_text(const char *path, size_t *size, struct problems *problems)
{
    struct reading reading = { .name = path, .problems = problems };
    FILE *file = fopen(path, "rb");
    if (!file && errno == ENOENT) {
        *size = 0;
        return calloc(1, 1);
    }
    int reason = file ? 0 : errno;
    char *text = file ? read_file(file, size) : NULL;
    if (text && ferror(file))
        reason = errno;
    bool whole = text && !ferror(file) && *size < FILE_MOST;
    if (text && !ferror(file) && !whole)
        complain(&reading, true, 0, "is too large, allowed: less than %d bytes", FILE_MOST);
    else if (!whole)
        complain(&reading, true, 0, "cannot be read: %s", reason ? strerror(reason) : "out of memory");
    if (file)
        fclose(file);
    if (whole)
        return text;
    free(text);
    return NULL;
}

struct logbook *logbook_load(const char *path, const struct logbook_site *site, struct problems *problems)
{
    size_t size;
    char *text = logbook_text(path, &size, problems);
    struct logbook *logbook = text ? logbook_read(text, size, path, site, problems) : NULL;
    free(text);
    return logbook;
}

static int compare_entries(const void *a, const void *b)
{
    const struct logbook_entry *left = a, *right = b;
    if (left->at_s != right->at_s)
        return left->at_s < right->at_s ? -1 : 1;
    return left->line < right->line ? -1 : left->line > right->line;
}

void logbook_sort(struct logbook *logbook)
{
    if (logbook->count > 0)
        qsort(logbook->entries, (size_t)logbook->count, sizeof *logbook->entries, compare_entries);
}

const struct logbook_entry *logbook_credit(const struct logbook *logbook, const char *meter, int64_t at_s)
{
    const struct logbook_entry *newest = NULL;
    for (int32_t i = 0; i < logbook->count && logbook->entries[i].at_s <= at_s; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        bool ours = !entry->subject[0] || strcmp(entry->subject, meter) == 0;
        if (entry->kind == LOGBOOK_CREDIT && ours && !entry->refused && !entry->revoked)
            newest = entry;
    }
    return newest;
}

void logbook_free(struct logbook *logbook)
{
    if (!logbook)
        return;
    free(logbook->entries);
    free(logbook);
}
