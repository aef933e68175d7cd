#include "options.h"

#include <stddef.h>
#include <string.h>

#include "nearest.h"

enum option_kind { OPTION_TEXT, OPTION_CHOICE, OPTION_FLAG };

static const char *const formats[] = { "table", "csv", "json", NULL };
static const char *const bys[] = { "default", "hour", "interval", "month", "day", "week", "year", NULL };
static const char *const barses[] = { "auto", "always", "never", NULL };
static const char *const forms[] = { "csv", "espi", "package", NULL };
static const char *const ofs[] = { "default",    "import",           "export",   "consumption",
                                   "production", "self_consumption", "apparent", NULL };
static const char *const separators[] = { "comma", "semicolon", "tab", NULL };
static const char *const decimals[] = { "point", "comma", NULL };
static const char *const date_orders[] = { "ymd", "dmy", "mdy", NULL };
static const char *const stamps[] = { "start", "end", NULL };

struct option {
    char letter; /* 0: none */
    const char *name;
    enum option_kind kind;
    size_t offset; /* in struct options */
    const char *const *choices;
    const char *argument; /* as shown in the help */
    const char *help;
    const char *command; /* those that alone have it, parted by spaces; NULL: all */
};

#define AT(field) offsetof(struct options, field)

static const struct option table[] = {
    { 0, "bars", OPTION_CHOICE, AT(bars), barses, "WHEN",
      "bars beside a table: auto (on a terminal), always, never", NULL },
    { 0, "by", OPTION_CHOICE, AT(by), bys, "ROW",
      "rows of a day: hour (default in a table), interval; of spans, outages: month; of totals: any", NULL },
    { 'c', "config", OPTION_TEXT, AT(config), NULL, "FILE",
      "configuration of the collector (/etc/meterbook/meterbook.conf)", NULL },
    { 0, "database", OPTION_TEXT, AT(database), NULL, "FILE", "the record itself, without a configuration",
      NULL },
    { 0, "format", OPTION_CHOICE, AT(format), formats, "FORM", "table (default), csv, json", NULL },
    { 'h', "help", OPTION_FLAG, AT(help), NULL, NULL, "this help", NULL },
    { 0, "now", OPTION_TEXT, AT(now), NULL, "INSTANT", "take this as the present, as in 2026-03-05T14:05:00Z",
      NULL },
    { 0, "runtime", OPTION_TEXT, AT(runtime), NULL, "DIRECTORY", "runtime directory of the collector", NULL },
    { 0, "version", OPTION_FLAG, AT(version), NULL, NULL, "version of the program", NULL },
    { 0, "count", OPTION_TEXT, AT(count), NULL, "N", "days of each end, 3 without it", "extremes" },
    { 0, "date-order", OPTION_CHOICE, AT(date_order), date_orders, "ORDER",
      "of the file's dates: ymd (default), dmy, mdy", "enter" },
    { 0, "decimal", OPTION_CHOICE, AT(decimal), decimals, "SIGN",
      "of the file's numbers: point (default), comma", "enter" },
    { 0, "dry-run", OPTION_FLAG, AT(dry_run), NULL, NULL, "say what would change, write nothing", "enter" },
    { 0, "fit", OPTION_FLAG, AT(fit), NULL, NULL,
      "share out what differs from the energy known between a gap's ends", "enter" },
    { 0, "folder", OPTION_TEXT, AT(folder), NULL, "FOLDER",
      "the pages of this month and year, those before, and all time, with a list of them", "report" },
    { 0, "length", OPTION_TEXT, AT(length), NULL, "TIME",
      "of the file's intervals, as in 15min, 1h, day, month; of demand: of a third window", "enter demand" },
    { 0, "as", OPTION_CHOICE, AT(as), forms, "FORM",
      "form of an extract: csv (default), espi (NAESB REQ.21), package (a folder)", "extract" },
    { 0, "contract", OPTION_TEXT, AT(contract), NULL, "FILE",
      "contract with the utility, see meterbook-tariff(5)",
      "bill carbon report returns savings what-if worth" },
    { 0, "equivalents", OPTION_FLAG, AT(equivalents), NULL, NULL,
      "also what a mass is as much as, with definitions", "carbon" },
    { 0, "output", OPTION_TEXT, AT(output), NULL, "FILE", "write there (a package: a new folder)",
      "extract report" },
    { 0, "measured-only", OPTION_FLAG, AT(measured_only), NULL, NULL,
      "leave out what is estimated, interpolated or not observed whole", "day month totals year" },
    { 0, "meter", OPTION_TEXT, AT(meter), NULL, "METER", "name or number of the meter",
      "demand duration extract profile supply totals" },
    { 0, "of", OPTION_CHOICE, AT(of), ofs, "FLOW",
      "import, export, consumption, production; of extremes self_consumption, of demand apparent",
      "demand duration extremes profile" },
    { 0, "replace", OPTION_FLAG, AT(replace), NULL, NULL,
      "let the file replace entered data that are as good but differ", "enter" },
    { 0, "same-register", OPTION_FLAG, AT(same_register), NULL, NULL,
      "the file's counters are the registers that the collector reads on", "enter" },
    { 0, "separator", OPTION_CHOICE, AT(separator), separators, "SIGN",
      "between the file's fields: comma (default), semicolon, tab", "enter" },
    { 0, "stamp", OPTION_CHOICE, AT(stamp), stamps, "END",
      "what a time names of an interval: start (default), end", "enter" },
    { 0, "view", OPTION_TEXT, AT(view), NULL, "VIEW", "which of its tables, see the command's manual page",
      "supply completeness returns savings what-if" },
};

enum { TABLE_COUNT = sizeof(table) / sizeof(table[0]) };
_Static_assert(TABLE_COUNT <= 64, "a bit each");

static const struct option *find_name(const char *name, size_t length)
{
    for (int32_t i = 0; i < TABLE_COUNT; i++)
        if (strlen(table[i].name) == length && memcmp(table[i].name, name, length) == 0)
            return &table[i];
    return NULL;
}

static const struct option *find_letter(char letter)
{
    for (int32_t i = 0; i < TABLE_COUNT; i++)
        if (letter != 0 && table[i].letter == letter)
            return &table[i];
    return NULL;
}

static void say_unknown(const char *word)
{
    const char *names[TABLE_COUNT + 1];
    for (int32_t i = 0; i < TABLE_COUNT; i++)
        names[i] = table[i].name;
    names[TABLE_COUNT] = NULL;
    const char *near = word[1] == '-' ? nearest(word + 2, names) : NULL;
    if (near)
        fprintf(stderr, "meterbook: unknown option '%s', did you mean '--%s'?\n", word, near);
    else
        fprintf(stderr, "meterbook: unknown option '%s', see 'meterbook --help'\n", word);
}

static int set_choice(const struct option *option, int32_t *place, const char *value)
{
    for (int32_t i = 0; option->choices[i]; i++) {
        if (strcmp(option->choices[i], value) == 0) {
            *place = i;
            return 0;
        }
    }
    fprintf(stderr, "meterbook: '--%s %s': allowed are", option->name, value);
    for (int32_t i = 0; option->choices[i]; i++)
        fprintf(stderr, "%s %s", i ? "," : "", option->choices[i]);
    fputs("\n", stderr);
    return -1;
}

static int set(const struct option *option, struct options *options, const char *value)
{
    char *place = (char *)options + option->offset;
    options->given |= UINT64_C(1) << (option - table);
    switch (option->kind) {
    case OPTION_TEXT:
        if (!value[0]) {
            fprintf(stderr, "meterbook: '--%s' needs a %s\n", option->name, option->argument);
            return -1;
        }
        memcpy(place, &value, sizeof(value));
        return 0;
    case OPTION_FLAG:
        memcpy(place, &(bool){ true }, sizeof(bool));
        return 0;
    case OPTION_CHOICE:
        break;
    }
    int32_t choice;
    if (set_choice(option, &choice, value) != 0)
        return -1;
    memcpy(place, &choice, sizeof(choice));
    return 0;
}

/* Reads the option at argv[*at]; steps over its value where that is the next word. */
static int read_option(struct options *options, int argc, char **argv, int *at)
{
    const char *word = argv[*at], *value = NULL;
    const struct option *option;
    if (word[1] == '-') {
        const char *equals = strchr(word, '=');
        option = find_name(word + 2, equals ? (size_t)(equals - word - 2) : strlen(word + 2));
        value = equals ? equals + 1 : NULL;
    } else {
        option = find_letter(word[1]);
        value = word[2] ? word + 2 : NULL;
    }
    if (!option || (option->kind == OPTION_FLAG && value)) {
        say_unknown(word);
        return -1;
    }
    if (option->kind != OPTION_FLAG && !value) {
        if (*at + 1 >= argc) {
            fprintf(stderr, "meterbook: '%s' needs a %s\n", word, option->argument);
            return -1;
        }
        value = argv[++*at];
    }
    return set(option, options, value);
}

int options_read(struct options *options, int argc, char **argv, const char *words[OPTIONS_MAX_WORDS + 1])
{
    *options = (struct options){ 0 };
    memset(words, 0, (OPTIONS_MAX_WORDS + 1) * sizeof(words[0]));
    int32_t count = 0;
    bool ended = false;
    for (int at = 1; at < argc; at++) {
        if (!ended && strcmp(argv[at], "--") == 0) {
            ended = true;
        } else if (!ended && argv[at][0] == '-' && argv[at][1]) {
            if (read_option(options, argc, argv, &at) != 0)
                return -1;
        } else if (count < OPTIONS_MAX_WORDS) {
            words[count++] = argv[at];
        } else {
            fprintf(stderr, "meterbook: '%s' is one word too many, see 'meterbook --help'\n", argv[at]);
            return -1;
        }
    }
    return 0;
}

static void print_option(FILE *out, const struct option *option)
{
    char left[48];
    snprintf(left, sizeof(left), "%c%c%c --%s %s", option->letter ? '-' : ' ',
             option->letter ? option->letter : ' ', option->letter ? ',' : ' ', option->name,
             option->argument ? option->argument : "");
    fprintf(out, "  %-26s%s\n", left, option->help);
}

int32_t options_view(const struct options *options, const char *const *views)
{
    for (int32_t i = 0; views[i]; i++)
        if (!options->view || strcmp(options->view, views[i]) == 0)
            return i;
    fprintf(stderr, "meterbook: '--view %s': allowed are", options->view);
    for (int32_t i = 0; views[i]; i++)
        fprintf(stderr, "%s %s", i ? "," : "", views[i]);
    fputs("\n", stderr);
    return -1;
}

/* Is the option one of this command alone? */
static bool belongs(const struct option *option, const char *command)
{
    size_t length = strlen(command);
    for (const char *at = option->command; at && *at; at += strspn(at, " ")) {
        size_t size = strcspn(at, " ");
        if (size == length && memcmp(at, command, length) == 0)
            return true;
        at += size;
    }
    return false;
}

bool options_fit(const struct options *options, const char *command)
{
    for (int32_t i = 0; i < TABLE_COUNT; i++) {
        if (!(options->given & UINT64_C(1) << i) || !table[i].command || belongs(&table[i], command))
            continue;
        fprintf(stderr, "meterbook: '--%s' is no option of '%s', but of: %s\n", table[i].name, command,
                table[i].command);
        return false;
    }
    return true;
}

void options_print(FILE *out, const char *command)
{
    for (int32_t i = 0; i < TABLE_COUNT; i++)
        if (!table[i].command)
            print_option(out, &table[i]);
    bool first = true;
    for (int32_t i = 0; command && i < TABLE_COUNT; i++) {
        if (!belongs(&table[i], command))
            continue;
        fputs(first ? "\n" : "", out);
        first = false;
        print_option(out, &table[i]);
    }
}

void options_list(FILE *out, const char *command)
{
    for (int32_t i = 0; i < TABLE_COUNT; i++)
        if (!table[i].command || (command && belongs(&table[i], command)))
            fprintf(out, "--%s\n", table[i].name);
}

/* The option of a word as it is typed. */
static const struct option *find_word(const char *word)
{
    if (word[0] == '-' && word[1] == '-')
        return find_name(word + 2, strcspn(word + 2, "="));
    return word[0] == '-' && word[1] && !word[2] ? find_letter(word[1]) : NULL;
}

bool options_takes_value(const char *word)
{
    const struct option *option = find_word(word);
    return option && option->kind != OPTION_FLAG;
}

void options_values(FILE *out, const char *word)
{
    const struct option *option = find_word(word);
    for (int32_t i = 0; option && option->kind == OPTION_CHOICE && option->choices[i]; i++)
        fprintf(out, "%s\n", option->choices[i]);
}
