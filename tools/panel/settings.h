/* Typed reading of a group of settings: a table says what there may be.
 * Every problem is reported as "file:line: what, what is allowed". */
#ifndef METERBOOK_PANEL_SETTINGS_H
#define METERBOOK_PANEL_SETTINGS_H

#include <libconfig.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum setting_type {
    SETTING_WHOLE,  /* int64_t */
    SETTING_NUMBER, /* double; whole numbers are accepted too */
    SETTING_YES_NO, /* bool */
    SETTING_TEXT,   /* char[size] */
    SETTING_CHOICE, /* int64_t, index in choices */
    SETTING_OTHER,  /* read elsewhere; only the name is known here */
};

struct setting {
    const char *name;
    enum setting_type type;
    size_t offset; /* in the target */
    size_t size;   /* of a text, NUL included */
    bool required;
    double min, max;      /* WHOLE and NUMBER */
    const char *choices;  /* CHOICE: names separated by blanks */
};

/* Where problems go: counted, and printed one a line. */
struct complaints {
    const char *path;
    int errors;
    char first[512]; /* the first line, for tests */
    bool quiet;      /* count only */
};

void complain(struct complaints *complaints, const config_setting_t *where, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Fills the target from the group; what the file does not say stays as it was. Unknown names are errors. */
void settings_read(struct complaints *complaints, const config_setting_t *group, const struct setting *table,
                   size_t count, void *target);

/* The list (or array) of that name, checked for its length; NULL where absent or wrong. */
config_setting_t *settings_list(struct complaints *complaints, const config_setting_t *group, const char *name,
                                int max_length);

/* "HH:MM" -> hours; negative if it is none. */
double settings_hour(const char *text);

#endif
