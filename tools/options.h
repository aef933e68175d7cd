/* The options of the command line, as a table in options.c. */
#ifndef METERBOOK_OPTIONS_H
#define METERBOOK_OPTIONS_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum format { FORMAT_TABLE, FORMAT_CSV, FORMAT_JSON, FORMAT_COUNT };
enum by { BY_DEFAULT, BY_HOUR, BY_INTERVAL, BY_MONTH, BY_DAY, BY_WEEK, BY_YEAR };
enum bars { BARS_AUTO, BARS_ALWAYS, BARS_NEVER };

enum extract_form { EXTRACT_CSV, EXTRACT_ESPI, EXTRACT_PACKAGE };

enum of { OF_DEFAULT, OF_IMPORT, OF_EXPORT, OF_CONSUMPTION, OF_PRODUCTION, OF_SELF_CONSUMPTION, OF_APPARENT };

enum separator { SEPARATOR_COMMA, SEPARATOR_SEMICOLON, SEPARATOR_TAB };
enum decimal { DECIMAL_POINT, DECIMAL_COMMA };
enum stamp_of { STAMP_OF_START, STAMP_OF_END };

struct options {
    const char *config;   /* NULL: the default file */
    const char *database; /* NULL: the one that the configuration names */
    const char *runtime;  /* NULL: the one that the configuration names */
    const char *now;      /* NULL: the computer's clock */
    int32_t format;       /* enum format */
    int32_t by;           /* enum by */
    int32_t bars;         /* enum bars */
    int32_t of;           /* enum of */
    const char *count;    /* extremes: days of each end; NULL: a few */
    const char *meter;    /* name or number; NULL: the command chooses */
    bool measured_only;   /* leave out what is not measured whole */
    const char *view;     /* NULL: the command's first; options_view() reads it */
    int32_t as;           /* enum extract_form */
    bool equivalents;
    const char *contract; /* NULL: the one that the configuration names */
    const char *folder;   /* of report: its pages, NULL: one page */
    const char *output;   /* NULL: stdout */
    /* enter */
    const char *length; /* NULL: that of the first two lines; of demand: no third window */
    int32_t separator;  /* enum separator */
    int32_t decimal;    /* enum decimal */
    int32_t date_order; /* enum date_order */
    int32_t stamp;      /* enum stamp_of */
    bool dry_run, replace, fit, same_register;
    bool help, version;
    uint64_t given; /* rows of the table that stood on the command line, one bit each */
};

enum { OPTIONS_MAX_WORDS = 16 };

/* Reads argv[1..]; options may stand anywhere, "--" ends them. What is no
 * option goes to `words` in order, the rest of the array stays NULL. Returns
 * 0, or -1 after saying on stderr what was wrong. */
int options_read(struct options *options, int argc, char **argv, const char *words[OPTIONS_MAX_WORDS + 1]);

/* Does the command have every option that was given? False, said on stderr. */
bool options_fit(const struct options *options, const char *command);

/* Index of the view that was asked for in `views` (ends with NULL), 0 without one; -1 after saying on
 * stderr what is allowed. */
int32_t options_view(const struct options *options, const char *const *views);

/* Prints each option with its help: those of all commands, then those of `command` alone (NULL: none). */
void options_print(FILE *out, const char *command);

/* For completion: the names of the same options, as "--by", a line each. */
void options_list(FILE *out, const char *command);

/* Does the option that the word begins ("--by", "-c", "--by=week") take a value; where it is one of several,
 * these, a line each. */
bool options_takes_value(const char *word);
void options_values(FILE *out, const char *word);

#endif
