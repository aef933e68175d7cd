/* meterbook: answers from the record. One row per command, one file each. */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "command.h"
#include "completion.h"
#include "nearest.h"

struct command {
    const char *name;
    command_function *run; /* NULL: run() below */
    const char *arguments; /* as shown in the help; "" for none */
    int32_t most;          /* words it takes */
    const char *help;
};

/* Sorted by name. */
static const struct command commands[] = {
    { "agreement", cmd_agreement, "[METER] [SPAN]", 3,
      "sealed meters against our own account, and what fits a difference" },
    { "bill", cmd_bill, "[SPAN]", 1, "what the utility should have billed, line by line" },
    { "carbon", cmd_carbon, "[SPAN]", 1, "emissions avoided, by dated published factors" },
    { "cleaning", cmd_cleaning, "[SPAN]", 1, "what the cleanings in the logbook brought" },
    { "compare", cmd_compare, "SPAN [SPAN]", 2, "two spans side by side, or one and a year before" },
    { "completeness", cmd_completeness, "[SPAN]", 1, "what of the record is observed, filled or missing" },
    { "completion", NULL, "[WORD ...]", OPTIONS_MAX_WORDS - 1,
      "what may stand next on the command line, for shells" },
    { "day", cmd_day, "[YYYY-MM-DD]", 1, "the balance of a day, by hours or intervals" },
    { "degradation", cmd_degradation, "[SPAN]", 1, "what the plant loses from year to year, and how sure" },
    { "demand", cmd_demand, "[SPAN]", 1, "highest demand over 15 and 30 minutes, by month" },
    { "duration", cmd_duration, "[SPAN]", 1, "load duration and base load" },
    { "enter", cmd_enter, "FILE.csv", 1, "data from elsewhere into the record" },
    { "expected", cmd_expected, "[SPAN]", 1, "what was promised beside what was made" },
    { "extract", cmd_extract, "[SPAN]", 1,
      "interval data of a span for other programs: CSV, XML, a package" },
    { "extremes", cmd_extremes, "SPAN", 1, "the days with the most and the least of a figure" },
    { "logbook", cmd_logbook, "", 0, "what people wrote, and what is wrong with it" },
    { "month", cmd_month, "[YYYY-MM]", 1, "the balance of a month, by days" },
    { "note", cmd_note, "[DATE] KIND [...]", OPTIONS_MAX_WORDS - 1,
      "an entry into the logbook, see meterbook-logbook(5)" },
    { "now", cmd_now, "", 0, "each meter's last reading: power, voltage, energy today" },
    { "outages", cmd_outages, "[YYYY[-MM[-DD]]]", 1, "outages of grid, computer, bus and meter, by month" },
    { "parts", cmd_parts, "[SPAN]", 1, "which part of the plant lags behind its peers, since when" },
    { "profile", cmd_profile, "[SPAN]", 1, "the average day by hours: weekdays, Saturday, Sunday; by month" },
    { "report", cmd_report, "[SPAN]", 1, "a page of pictures over a span, as HTML" },
    { "returns", cmd_returns, "[SPAN]", 1, "the return on the plant's cost, beside a deposit's" },
    { "salvage", cmd_salvage, "OLD NEW", 2, "a new record from what is readable of a damaged one" },
    { "savings", cmd_savings, "[SPAN]", 1, "what the plant saved, by billing period" },
    { "spans", cmd_spans, "[METER]", 1, "sealed meters by reading period, beside our own account" },
    { "supply", cmd_supply, "[SPAN]", 1, "voltage and frequency of the supply, against EN 50160" },
    { "totals", cmd_totals, "SPAN", 1, "the balance of any span, or one meter's counters" },
    { "validate", cmd_validate, "[YYYY[-MM[-DD]]]", 1, "the published checks over a day, month or year" },
    { "what-if", cmd_what_if, "[SPAN]", 1,
      "another consumption, plant, battery or tariff over what was recorded" },
    { "worth", cmd_worth, "[SPAN]", 1, "what a kWh is worth under the tariff, by month and hour" },
    { "year", cmd_year, "[YYYY]", 1, "the balance of a year, by months" },
    { "yield", cmd_yield, "[SPAN]", 1, "yield, capacity factors, performance ratio or clear days" },
};

enum { COMMAND_COUNT = sizeof(commands) / sizeof(commands[0]) };

static void print_usage(FILE *out)
{
    fputs("usage: meterbook [OPTION ...] COMMAND [ARGUMENT ...]\n\n", out);
    for (int i = 0; i < COMMAND_COUNT; i++) {
        char left[40];
        snprintf(left, sizeof(left), "%s %s", commands[i].name, commands[i].arguments);
        fprintf(out, "  %-26s%s\n", left, commands[i].help);
    }
    fputs("\n", out);
    options_print(out, NULL);
}

static void print_command_help(const struct command *command)
{
    printf("usage: meterbook [OPTION ...] %s%s%s\n\n%s\n\n", command->name, *command->arguments ? " " : "",
           command->arguments, command->help);
    options_print(stdout, command->name);
}

static const struct command *find(const char *name)
{
    for (int i = 0; i < COMMAND_COUNT; i++)
        if (strcmp(commands[i].name, name) == 0)
            return &commands[i];
    return NULL;
}

static void say_unknown(const char *name)
{
    const char *names[COMMAND_COUNT + 1];
    for (int i = 0; i < COMMAND_COUNT; i++)
        names[i] = commands[i].name;
    names[COMMAND_COUNT] = NULL;
    const char *near = nearest(name, names);
    if (near)
        fprintf(stderr, "meterbook: unknown command '%s', did you mean '%s'?\n", name, near);
    else
        fprintf(stderr, "meterbook: unknown command '%s', see 'meterbook --help'\n", name);
}

static enum exit_code complete(const char *const *words)
{
    struct completion_command names[COMMAND_COUNT];
    for (int i = 0; i < COMMAND_COUNT; i++)
        names[i] = (struct completion_command){ commands[i].name, commands[i].arguments };
    completion_print(stdout, names, COMMAND_COUNT, words);
    return EXIT_ANSWERED;
}

static enum exit_code run(const struct options *options, const char *const *words)
{
    if (options->version) {
        puts("meterbook " METERBOOK_VERSION);
        return EXIT_ANSWERED;
    }
    if (!words[0]) {
        print_usage(options->help ? stdout : stderr);
        return options->help ? EXIT_ANSWERED : EXIT_USAGE;
    }
    const struct command *command = find(words[0]);
    if (!command) {
        say_unknown(words[0]);
        return EXIT_USAGE;
    }
    if (options->help) {
        print_command_help(command);
        return EXIT_ANSWERED;
    }
    if (words[1 + command->most]) {
        fprintf(stderr, "meterbook: '%s' is one word too many, see 'meterbook %s --help'\n",
                words[1 + command->most], command->name);
        return EXIT_USAGE;
    }
    if (!options_fit(options, command->name))
        return EXIT_USAGE;
    return command->run ? command->run(options, words + 1) : complete(words + 1);
}

/* An answer cut short by a full disk must not look like a whole one. */
static enum exit_code finish(enum exit_code code)
{
    int failed = ferror(stdout);
    if (fflush(stdout) != 0)
        failed = 1;
    if (!failed)
        return code;
    fprintf(stderr, "meterbook: cannot write the answer: %s\n", strerror(errno));
    return EXIT_OUTPUT;
}

int main(int argc, char **argv)
{
    struct options options;
    const char *words[OPTIONS_MAX_WORDS + 1];
    if (options_read(&options, argc, argv, words) != 0)
        return EXIT_USAGE;
    return (int)finish(run(&options, words));
}
