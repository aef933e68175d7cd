/* One line of the logbook. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "logbook_value.h"
#include "nearest.h"
#include "utf8.h"

struct parse {
    const struct logbook_site *site;
    struct logbook_entry *entry;
    const struct logbook_form *form;
    uint64_t given; /* keys */
    char *at;       /* rest of the line */
    char *why;
    char line[LOGBOOK_LINE_SIZE];
};

static int refuse(struct parse *parse, const char *format, ...) __attribute__((format(printf, 2, 3)));

static int refuse(struct parse *parse, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(parse->why, LOGBOOK_WHY_SIZE, format, arguments);
    va_end(arguments);
    return -1;
}

static void skip_blanks(struct parse *parse)
{
    while (*parse->at == ' ')
        parse->at++;
}

/* Takes a text in quotes apart in place; NULL where it does not end. */
static char *take_quoted(struct parse *parse)
{
    char *start = ++parse->at, *to = start;
    for (; *parse->at && *parse->at != '"'; parse->at++) {
        if (*parse->at == '\\' && (parse->at[1] == '"' || parse->at[1] == '\\'))
            parse->at++;
        *to++ = *parse->at;
    }
    if (*parse->at != '"' || (parse->at[1] && parse->at[1] != ' '))
        return NULL;
    parse->at++;
    *to = '\0';
    return start;
}

static char *take_word(struct parse *parse)
{
    char *start = parse->at;
    while (*parse->at && *parse->at != ' ')
        parse->at++;
    if (*parse->at)
        *parse->at++ = '\0';
    return start;
}

static int read_date(struct parse *parse)
{
    char date[64];
    char *word = take_word(parse);
    size_t length = strlen(word) < sizeof date ? strlen(word) : sizeof date - 1;
    memcpy(date, word, length);
    date[length] = '\0';
    skip_blanks(parse);
    /* a blank in place of the T */
    if (length == 10 && strlen(parse->at) > 3 && parse->at[2] == ':' && parse->at[0] >= '0' &&
        parse->at[0] <= '9')
        snprintf(date, sizeof date, "%.10sT%.40s", word, take_word(parse));
    const char *allowed =
        logbook_date(date, parse->site->civil, &parse->entry->at_s, &parse->entry->day_only);
    if (allowed)
        return refuse(parse, "'%.60s' at its begin, allowed: %s", date, allowed);
    return 0;
}

static int read_kind(struct parse *parse)
{
    skip_blanks(parse);
    const char *word = take_word(parse);
    for (int32_t i = 0; i < LOGBOOK_KINDS; i++)
        if (strcmp(word, logbook_kind_words[i]) == 0) {
            parse->entry->kind = (enum logbook_kind)i;
            parse->form = &logbook_forms[i];
            return 0;
        }
    const char *near = nearest(word, logbook_kind_words);
    if (near)
        return refuse(parse, "unknown kind '%.40s', did you mean '%s'?", word, near);
    return refuse(parse,
                  "%s '%.40s', allowed: reading, exchange, start, cleaning, repair, note, clock, correct, "
                  "revoke, precedence or credit",
                  *word ? "unknown kind" : "no kind", word);
}

static int read_key(struct parse *parse, const char *word, const char *equals)
{
    char list[LOGBOOK_LIST_SIZE], *value;
    const char *kind = logbook_kind_words[parse->entry->kind];
    int32_t key = logbook_key_of(word, (size_t)(equals - word));
    if (key == LOGBOOK_KEYS || !(parse->form->keys & UINT64_C(1) << key)) {
        logbook_key_list(parse->form->keys, list, sizeof list);
        return refuse(parse, "'%.*s' does not belong to '%s', allowed: %s", (int)(equals - word), word, kind,
                      list[0] ? list : "no keys");
    }
    if (parse->given & UINT64_C(1) << key)
        return refuse(parse, "'%s' stands twice, allowed: once", logbook_key_name((enum logbook_key)key));
    parse->given |= UINT64_C(1) << key;
    parse->at += equals + 1 - word;
    value = *parse->at == '"' ? take_quoted(parse) : take_word(parse);
    if (!value)
        return refuse(parse, "the quotes of '%s' do not end, allowed: %s=\"...\" and then a blank",
                      logbook_key_name((enum logbook_key)key), logbook_key_name((enum logbook_key)key));
    const char *allowed = logbook_take(parse->entry, (enum logbook_key)key, value, parse->site->civil);
    if (allowed)
        return refuse(parse, "'%s' is '%.60s', allowed: %s", logbook_key_name((enum logbook_key)key), value,
                      allowed);
    return 0;
}

static int take_subject(struct parse *parse, const char *word)
{
    if (parse->form->subject == SUBJECT_NONE)
        return refuse(parse, "'%.60s' behind '%s', allowed: keys and a text in quotes, it is about no meter",
                      word, logbook_kind_words[parse->entry->kind]);
    if (strlen(word) >= CONFIG_NAME_SIZE || !word[0])
        return refuse(parse, "the name '%.60s', allowed: 1 to %d bytes", word, CONFIG_NAME_SIZE - 1);
    memcpy(parse->entry->subject, word, strlen(word) + 1);
    return 0;
}

static int take_text(struct parse *parse, const char *text)
{
    if (strlen(text) >= LOGBOOK_TEXT_SIZE)
        return refuse(parse, "a text of %zu bytes, allowed: up to %d", strlen(text), LOGBOOK_TEXT_SIZE - 1);
    snprintf(parse->entry->text, LOGBOOK_TEXT_SIZE, "%s", text);
    skip_blanks(parse);
    if (*parse->at)
        return refuse(parse, "'%.60s' behind the text, allowed: the text in quotes at the end", parse->at);
    return 0;
}

/* Subject, keys and text. A text in quotes that is all there is to an entry whose
 * subject may be left out is its text. */
static int read_rest(struct parse *parse)
{
    bool first = true;
    for (skip_blanks(parse); *parse->at; skip_blanks(parse), first = false) {
        int result;
        if (*parse->at == '"') {
            const char *text = take_quoted(parse);
            if (!text)
                return refuse(parse, "the quotes do not end, allowed: \"...\" and then a blank");
            skip_blanks(parse);
            bool subject = first && (*parse->at || !parse->form->subject_optional);
            result = subject ? take_subject(parse, text) : take_text(parse, text);
        } else {
            const char *equals = parse->at + strcspn(parse->at, "= ");
            if (*equals == '=')
                result = read_key(parse, parse->at, equals);
            else if (first)
                result = take_subject(parse, take_word(parse));
            else
                return refuse(parse, "'%.60s', allowed: key=value, or a text in quotes at the end",
                              take_word(parse));
        }
        if (result != 0)
            return result;
    }
    return 0;
}

/* ---- what must hold within an entry ---- */

static int check_keys(struct parse *parse)
{
    const struct logbook_form *form = parse->form;
    const char *kind = logbook_kind_words[parse->entry->kind];
    char list[LOGBOOK_LIST_SIZE];
    if ((form->needed & parse->given) != form->needed) {
        logbook_key_list(form->needed & ~parse->given, list, sizeof list);
        return refuse(parse, "'%s' lacks %s", kind, list);
    }
    if (form->one_of && !(form->one_of & parse->given)) {
        logbook_key_list(form->one_of, list, sizeof list);
        return refuse(parse, "'%s' says nothing, allowed: at least one of %s", kind, list);
    }
    if (form->text_needed && !parse->entry->text[0])
        return refuse(parse, "'%s' without a text, allowed: a text in quotes at the end", kind);
    if (form->subject != SUBJECT_NONE && !form->subject_optional && !parse->entry->subject[0])
        return refuse(parse, "'%s' without a name, allowed: what it is about behind it", kind);
    return 0;
}

static bool has(const struct parse *parse, enum logbook_key key)
{
    return parse->given & UINT64_C(1) << key;
}

static int check_kind(struct parse *parse)
{
    const int64_t *number = parse->entry->number;
    switch (parse->entry->kind) {
    case LOGBOOK_EXCHANGE:
        for (int32_t r = 0; r < SEALED_REGISTERS; r++)
            if (has(parse, LOGBOOK_OLD + r) != has(parse, LOGBOOK_NEW + r))
                return refuse(
                    parse, "an exchange with '%s' alone, allowed: old and new reading of each register",
                    logbook_key_name(has(parse, LOGBOOK_OLD + r) ? LOGBOOK_OLD + r : LOGBOOK_NEW + r));
        return 0;
    case LOGBOOK_CORRECT:
        if (number[LOGBOOK_FROM] >= number[LOGBOOK_TO])
            return refuse(parse, "'from' is not before 'to', allowed: an earlier instant");
        if ((number[LOGBOOK_WHAT] == CORRECT_RATIO) != has(parse, LOGBOOK_RATIO_OLD) ||
            (number[LOGBOOK_WHAT] == CORRECT_RATIO) != has(parse, LOGBOOK_RATIO_NEW))
            return refuse(parse, "'old' and 'new' go with what=ratio, allowed: both with it, none without");
        if ((number[LOGBOOK_WHAT] == CORRECT_SWAPPED) != has(parse, LOGBOOK_WITH))
            return refuse(parse,
                          "'with' goes with what=swapped, allowed: the other meter with it, none without");
        if (strcmp(parse->entry->word[LOGBOOK_WITH - LOGBOOK_NUMBERS], parse->entry->subject) == 0)
            return refuse(parse, "'with' is the same meter, allowed: the name of another meter");
        return 0;
    case LOGBOOK_CLOCK:
        if (has(parse, LOGBOOK_BOOT) != has(parse, LOGBOOK_BOOT_MS))
            return refuse(parse, "'boot' and 'boot_ms' go together, allowed: both or none");
        if (parse->entry->day_only)
            return refuse(parse, "'clock' without a time of day, allowed: a date as 2026-03-05T14:05");
        return 0;
    case LOGBOOK_PRECEDENCE:
        if (strcmp(parse->entry->subject, "grid") != 0 && strcmp(parse->entry->subject, "production") != 0)
            return refuse(parse, "'precedence' of '%.60s', allowed: grid or production",
                          parse->entry->subject);
        return 0;
    default:
        return 0;
    }
}

/* A reading that is only dated was taken by day. */
static void set_noon(struct parse *parse)
{
    struct logbook_entry *entry = parse->entry;
    if (entry->day_only && (entry->kind == LOGBOOK_READING || entry->kind == LOGBOOK_EXCHANGE))
        entry->at_s += 12 * 3600;
}

int logbook_line(const char *line, size_t size, const struct logbook_site *site, struct logbook_entry *entry,
                 char why[LOGBOOK_WHY_SIZE])
{
    struct parse parse = { .site = site, .entry = entry, .why = why };
    while (size > 0 && (line[size - 1] == '\r' || line[size - 1] == ' ' || line[size - 1] == '\t'))
        size--;
    if (size >= LOGBOOK_LINE_SIZE)
        return refuse(&parse, "a line of %zu bytes, allowed: up to %d", size, LOGBOOK_LINE_SIZE - 1);
    memcpy(parse.line, line, size);
    for (char *tab = parse.line; (tab = memchr(tab, '\t', size - (size_t)(tab - parse.line))) != NULL;)
        *tab = ' ';
    parse.at = parse.line;
    skip_blanks(&parse);
    if (strlen(parse.line) != size || !utf8_is_plain(parse.line))
        return refuse(&parse, "control or broken characters, allowed: UTF-8 text");
    if (*parse.at == '\0' || *parse.at == '#')
        return 0;
    *entry = (struct logbook_entry){ 0 };
    for (int32_t i = 0; i < LOGBOOK_NUMBERS; i++)
        entry->number[i] = LOGBOOK_NOTHING;
    if (read_date(&parse) != 0 || read_kind(&parse) != 0 || read_rest(&parse) != 0 ||
        check_keys(&parse) != 0 || check_kind(&parse) != 0 ||
        logbook_names(site, entry, parse.given, why) != 0)
        return -1;
    set_noon(&parse);
    return 1;
}
