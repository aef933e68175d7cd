/* Appends a line to the logbook, once it is known to be right. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "logbook_session.h"
#include "logbook_value.h"
#include "site_clock.h"
#include "stamp.h"

#define KINDS                                                                                                \
    ": reading, exchange, start, cleaning, repair, note, clock, correct, revoke, precedence or credit\n"

struct line {
    char text[2 * LOGBOOK_LINE_SIZE];
    size_t size;
};

static void put(struct line *line, const char *text, size_t size)
{
    if (size >= sizeof(line->text) - line->size)
        size = sizeof(line->text) - line->size - 1; /* too long for an entry in any case */
    memcpy(line->text + line->size, text, size);
    line->size += size;
    line->text[line->size] = '\0';
}

static void put_quoted(struct line *line, const char *text)
{
    put(line, "\"", 1);
    for (; *text; text++) {
        if (*text == '"' || *text == '\\')
            put(line, "\\", 1);
        put(line, text, 1);
    }
    put(line, "\"", 1);
}

/* Length of "import=" in "import=8124.3"; 0 where the word is no key and value. */
static size_t key_length(const char *word)
{
    size_t length = strspn(word, "abcdefghijklmnopqrstuvwxyz0123456789._");
    return length > 0 && word[length] == '=' ? length + 1 : 0;
}

/* The shell has taken the quotes away: the last word that is no key and value is
 * the text, the first the name of what it is about; one alone is the text where the kind
 * needs no name. */
static void put_words(struct line *line, const char *const *words, bool needs_subject)
{
    int32_t plain = 0, seen = 0;
    for (int32_t i = 0; words[i]; i++)
        plain += key_length(words[i]) == 0;
    for (int32_t i = 0; words[i]; i++) {
        size_t length = key_length(words[i]);
        put(line, " ", 1);
        if (length > 0) {
            put(line, words[i], length);
            if (words[i][length + strcspn(words[i] + length, " \"")])
                put_quoted(line, words[i] + length);
            else
                put(line, words[i] + length, strlen(words[i] + length));
            continue;
        }
        bool subject = seen++ == 0 && (plain > 1 || needs_subject);
        if (subject && !words[i][strcspn(words[i], " \"=")])
            put(line, words[i], strlen(words[i]));
        else
            put_quoted(line, words[i]);
    }
}

/* This boot and its time, by which the collector knows when the person looked at the clock. */
static void put_boot(struct line *line, const char *runtime)
{
    char boot[SITE_BOOT_SIZE], more[120];
    if (!site_boot(runtime, boot)) {
        fprintf(stderr, "meterbook: cannot read '%s/boot': %s; the collector will not know when this was\n",
                runtime, strerror(errno));
        return;
    }
    snprintf(more, sizeof(more), " boot=%s boot_ms=%lld", boot, (long long)site_boot_ms());
    put(line, more, strlen(more));
}

static bool says_boot(const char *const *words)
{
    for (; *words; words++)
        if (strncmp(*words, "boot", 4) == 0)
            return true;
    return false;
}

static int32_t kind_of(const char *word)
{
    int32_t kind = 0;
    while (kind < LOGBOOK_KINDS && strcmp(logbook_kind_words[kind], word) != 0)
        kind++;
    return kind;
}

/* Corrections may be written ahead, and a clock noted where this computer's is wrong. */
static bool tells_of_past(int32_t kind)
{
    return kind == LOGBOOK_READING || kind == LOGBOOK_EXCHANGE || kind == LOGBOOK_START ||
           kind == LOGBOOK_CLEANING || kind == LOGBOOK_REPAIR;
}

static bool compose(struct line *line, const struct logbook_session *session, const char *const *words)
{
    char stamp[STAMP_SIZE];
    int64_t at_s;
    bool day_only, dated = !logbook_date(words[0], session->civil, &at_s, &day_only);
    const char *date = dated ? words[0] : stamp_rfc3339(stamp, session->civil, session->now_s);
    if (dated && (!day_only && !strpbrk(words[0] + 10, "Z+-")))
        date = stamp_rfc3339(stamp, session->civil, at_s);
    words += dated;
    if (!words[0]) {
        fputs("meterbook: a kind is missing behind the date" KINDS, stderr);
        return false;
    }
    if (*words[0] >= '0' && *words[0] <= '9') {
        fprintf(stderr, "meterbook: '%.60s' is no date, allowed: %s\n", words[0],
                logbook_date(words[0], session->civil, &at_s, &day_only));
        return false;
    }
    int32_t kind = kind_of(words[0]);
    if (kind == LOGBOOK_CLOCK && !dated) {
        fputs("meterbook: 'clock' needs the time that it is: meterbook note 2026-03-05T14:05 clock\n",
              stderr);
        return false;
    }
    if (dated && at_s > session->now_s && tells_of_past(kind))
        fprintf(stderr, "meterbook: warning: %s is later than now\n", words[-1]);
    put(line, date, strlen(date));
    put(line, " ", 1);
    put(line, words[0], strlen(words[0]));
    if (kind == LOGBOOK_CLOCK && !says_boot(words + 1))
        put_boot(line, session->config->runtime);
    bool about = kind < LOGBOOK_KINDS && logbook_forms[kind].subject != SUBJECT_NONE;
    put_words(line, words + 1, about && !logbook_forms[kind].subject_optional);
    put(line, "\n", 1);
    return true;
}

/* What is wrong with the new line only: the file's other problems are not its fault. */
struct judge {
    char place[CONFIG_PATH_SIZE + 16];
    int32_t errors;
};

static void judge_line(void *self, bool error, const char *line)
{
    struct judge *judge = self;
    if (strncmp(line, judge->place, strlen(judge->place)) != 0)
        return;
    judge->errors += error;
    fprintf(stderr, "meterbook: %s%s\n", error ? "" : "warning: ", line + strlen(judge->place));
}

static bool is_right(struct logbook_session *session, const struct line *line, bool *ends)
{
    size_t size = 0;
    struct judge judge = { .errors = 0 };
    char *text = logbook_text(session->config->logbook, &size, &session->problems);
    char *both = text ? malloc(size + line->size + 2) : NULL;
    if (!both) {
        free(text);
        return false;
    }
    memcpy(both, text, size);
    *ends = size == 0 || text[size - 1] == '\n';
    if (!*ends)
        both[size++] = '\n';
    memcpy(both + size, line->text, line->size);
    int32_t number = 1;
    for (size_t i = 0; i < size; i++)
        number += both[i] == '\n';
    snprintf(judge.place, sizeof(judge.place), "%s:%d: ", session->config->logbook, (int)number);
    struct problems problems = { .say = judge_line, .self = &judge };
    struct logbook *logbook =
        logbook_read(both, size + line->size, session->config->logbook, &session->site, &problems);
    bool good = logbook && judge.errors == 0;
    logbook_free(logbook);
    free(both);
    free(text);
    return good;
}

/* One write at the end of the file: never half a line, never into another's. */
static bool append(const char *path, const struct line *line, bool ends)
{
    char text[sizeof(line->text) + 1];
    size_t size = 0;
    if (!ends)
        text[size++] = '\n';
    memcpy(text + size, line->text, line->size);
    size += line->size;
    int file = open(path, O_WRONLY | O_APPEND | O_CREAT | O_CLOEXEC, 0664);
    bool good = file >= 0 && write(file, text, size) == (ssize_t)size && fsync(file) == 0;
    if (!good)
        fprintf(stderr, "meterbook: cannot write to '%s': %s\n", path, strerror(errno));
    if (file >= 0)
        close(file);
    return good;
}

static bool is_read(const struct logbook_session *session, const char *name)
{
    int32_t both[2];
    return meter_names_find(session->names, session->config, name, INT64_MAX, both) != 0;
}

/* Exchanges of sealed meters are read by answers alone. */
static bool concerns_collector(const struct logbook_session *session, const char *const *words)
{
    int64_t at_s;
    bool day_only, about = false;
    words += !logbook_date(words[0], session->civil, &at_s, &day_only);
    int32_t kind = kind_of(words[0]);
    for (int32_t i = 1; words[i]; i++)
        about = about || is_read(session, words[i]);
    return kind == LOGBOOK_CLOCK || kind == LOGBOOK_CORRECT ||
           ((kind == LOGBOOK_EXCHANGE || kind == LOGBOOK_REVOKE) && about);
}

static enum exit_code note(struct logbook_session *session, const char *const *words)
{
    struct line line = { .size = 0 };
    bool ends;
    if (!compose(&line, session, words))
        return EXIT_USAGE;
    if (!is_right(session, &line, &ends))
        return session->problems.errors ? EXIT_RECORD : EXIT_USAGE;
    if (!append(session->config->logbook, &line, ends))
        return EXIT_OUTPUT;
    fputs(line.text, stdout);
    if (concerns_collector(session, words))
        fputs("meterbook: the collector acts on it once it reads the logbook: on SIGHUP, or when it starts\n",
              stderr);
    return EXIT_ANSWERED;
}

enum exit_code cmd_note(const struct options *options, const char *const *arguments)
{
    struct logbook_session session;
    if (!arguments[0]) {
        fputs("meterbook: note needs a kind" KINDS, stderr);
        return EXIT_USAGE;
    }
    enum exit_code code = logbook_session_open(&session, options);
    if (code == EXIT_ANSWERED)
        code = note(&session, arguments);
    logbook_session_close(&session);
    return code;
}
