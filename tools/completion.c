#include "completion.h"

#include <string.h>

#include "meters.h"

/* ---- names of the record's meters ---- */

/* The options that stand before the last word; what is wrong with them is said where the command runs. */
static bool read_options(struct options *options, const char *const *words, int32_t count)
{
    char *arguments[OPTIONS_MAX_WORDS + 2] = { NULL };
    const char *rest[OPTIONS_MAX_WORDS + 1];
    for (int32_t i = 0; i < count; i++)
        memcpy(&arguments[i + 1], &words[i], sizeof(words[i])); /* options_read() changes none of them */
    return options_read(options, count + 1, arguments, rest) == 0;
}

static void print_meters(FILE *out, const struct options *options)
{
    struct session session;
    struct meters meters;
    if (session_open(&session, options) == EXIT_ANSWERED && meters_read(&meters, &session))
        for (int32_t i = 0; i < meters.count; i++)
            fprintf(out, "%s\n", meters.list[i].name);
    session_close(&session);
}

static void print_sealed(FILE *out, const struct options *options)
{
    struct session session;
    if (session_open(&session, options) == EXIT_ANSWERED && session.config)
        for (int32_t i = 0; i < session.config->sealed_count; i++)
            fprintf(out, "%s\n", session.config->sealed[i].name);
    session_close(&session);
}

/* ---- where the last word stands ---- */

/* A word in front of which stands an option that wants it is no command. */
static const struct completion_command *find_command(const struct completion_command *commands, int32_t count,
                                                     const char *const *words, int32_t before)
{
    int32_t at = 0;
    while (at < before && words[at][0] == '-')
        at += options_takes_value(words[at]) && !strchr(words[at], '=') ? 2 : 1;
    for (int32_t j = 0; at < before && j < count; j++)
        if (strcmp(commands[j].name, words[at]) == 0)
            return &commands[j];
    return NULL;
}

/* Words that the arguments of the help stand for. */
static void print_arguments(FILE *out, const char *arguments, const struct options *options)
{
    static const struct {
        const char *shown, *words;
    } table[] = {
        { "SPAN", "all\ntoday\nyesterday\nthis-month\nlast-month\nthis-year\nlast-year\n" },
        { "[YYYY-MM-DD]", "today\nyesterday\n" },
        { "[YYYY-MM]", "this\nlast\n" },
        { "[YYYY]", "this\nlast\n" },
    };
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++)
        if (strstr(arguments, table[i].shown))
            fputs(table[i].words, out);
    if (strstr(arguments, "METER"))
        print_sealed(out, options);
}

static void print_value(FILE *out, const char *option, const char *command, const struct options *options)
{
    static const char meter[] = "--meter";
    options_values(out, option);
    if (strncmp(option, meter, strlen(meter)) != 0)
        return;
    if (command && strcmp(command, "totals") == 0)
        fputs("all\n", out);
    print_meters(out, options);
}

void completion_print(FILE *out, const struct completion_command *commands, int32_t count,
                      const char *const *words)
{
    struct options options = { 0 };
    int32_t last = 0;
    while (words[last] && words[last + 1])
        last++;
    if (!words[last])
        return;
    const char *typed = words[last], *before = last > 0 ? words[last - 1] : "";
    const struct completion_command *command = find_command(commands, count, words, last);
    bool value = !strchr(before, '=') && options_takes_value(before);
    if (!read_options(&options, words, value ? last - 1 : last))
        options = (struct options){ 0 };
    if (value)
        print_value(out, before, command ? command->name : NULL, &options);
    else if (typed[0] == '-' && strchr(typed, '='))
        print_value(out, typed, command ? command->name : NULL, &options);
    else if (typed[0] == '-')
        options_list(out, command ? command->name : NULL);
    else if (command)
        print_arguments(out, command->arguments, &options);
    else
        for (int32_t i = 0; i < count; i++)
            fprintf(out, "%s\n", commands[i].name);
}
