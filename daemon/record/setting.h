/* Settings as tables: what a group may hold, of which type, in which range,
 * what it is when absent, and where it goes. Reading a group by its table
 * complains about missing keys, wrong types, values out of range, keys of
 * another kind and unknown keys, and always says what is allowed. */
#ifndef METERBOOK_SETTING_H
#define METERBOOK_SETTING_H

#include <libconfig.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "source.h"

enum setting_type {
    SETTING_WHOLE,  /* whole number of at most 31 bits -> int32_t or int64_t by `size` */
    SETTING_SCALED, /* number, fractions allowed, times `factor`, rounded -> int32_t or int64_t by `size` */
    SETTING_REAL,   /* number -> double */
    SETTING_BOOL,   /* true or false -> bool */
    SETTING_TEXT,   /* UTF-8 -> char[size]; with `words`, one of them */
    SETTING_WORD,   /* one of `words` -> its index, int32_t or bool by `size` */
    SETTING_MONTHS, /* twelve such numbers, [ ... ] or ( ... ) -> int32_t[12] */
    SETTING_RATIO,  /* "100/5" -> two int32_t beside each other */
    SETTING_BITS,   /* whole number, with L or in quotes beyond 31 bits -> struct setting_bits */
    SETTING_GROUP,  /* { ... }: only that it is one */
    SETTING_LIST,   /* ( { ... }, ... ): only that it is a list of groups */
    SETTING_ANY,    /* read by whoever has the table */
};

struct setting_bits {
    bool given, negative;
    uint64_t value; /* two's complement */
};

struct setting_rule {
    const char *key;
    enum setting_type type;
    size_t offset, size; /* see SETTING_AT */
    bool required;
    double least, most, otherwise, factor; /* as written in the file; a WORD's `otherwise` is its index */
    const char *const *words;              /* ends with NULL */
    const char *text;                      /* a TEXT's `otherwise` */
    bool exact;                            /* SCALED: refused where `factor` leaves a fraction */
    uint32_t only; /* kinds it belongs to, 1 << index of the table's first rule; 0 = all */
};

#define SETTING_AT(type, field) .offset = offsetof(type, field), .size = sizeof(((type *)0)->field)

/* What a group is called in messages, and its rules. Where some rule has
 * `only`, the first rule is the WORD that chooses the kind. */
struct setting_table {
    const char *what;
    const struct setting_rule *rules;
    size_t count; /* up to SETTING_MOST_RULES */
};

enum { SETTING_MOST_RULES = 64 };

/* Reads a group into the struct that the offsets refer to. An absent group
 * (NULL) gives the defaults, without complaint. */
void setting_read(struct source *source, const config_setting_t *group, const struct setting_table *table,
                  void *into);

/* Complains at a key of a group, or at the group where it has no such key. */
void setting_complain(struct source *source, const config_setting_t *group, const char *key, bool error,
                      const char *format, ...) __attribute__((format(printf, 5, 6)));

/* "a", "b", "c" of a list that ends with NULL, for messages. */
void words_join(const char *const *words, char *out, size_t size);

/* Index of a word, or -1. */
int32_t word_index(const char *const *words, const char *word);

/* A list of groups? False for NULL. */
bool setting_is_list(const config_setting_t *setting);

/* For messages: what a rule allows, and what stands in the file instead. */
void setting_allowed(const struct setting_rule *rule, char *out, size_t size);
void setting_value(const config_setting_t *setting, char *out, size_t size);

/* Parses the source's text; a syntax error becomes a complaint and false. */
bool setting_parse(struct source *source, config_t *parsed);

#endif
