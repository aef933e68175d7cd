/* Private to tariff_file*.c: a tariff's groups as read, before names are resolved. */
#ifndef METERBOOK_TARIFF_FILE_H
#define METERBOOK_TARIFF_FILE_H

#include "setting.h"
#include "tariff.h"

enum { TARIFF_WORDS_SIZE = 200 };

struct tariff_entry {
    struct tariff tariff;
    char until[TARIFF_NAME_SIZE];
};

struct block_entry {
    struct block block;
    char months[TARIFF_WORDS_SIZE], weekdays[TARIFF_WORDS_SIZE], from[TARIFF_NAME_SIZE], to[TARIFF_NAME_SIZE];
};

struct netting_entry {
    struct netting netting;
    char settle[TARIFF_WORDS_SIZE], pays[TARIFF_WORDS_SIZE];
};

struct item_entry {
    struct item item;
    char block[TARIFF_NAME_SIZE], items[TARIFF_WORDS_SIZE], ratchet_months[TARIFF_WORDS_SIZE];
    int32_t chosen_by; /* 0: its own; else the measure above */
    int64_t percent, least;
};

struct schedule_entry {
    char from[TARIFF_NAME_SIZE], known[TARIFF_NAME_SIZE], source[TARIFF_TEXT_SIZE];
};

struct age_entry {
    struct age_rate age;
    char from[TARIFF_NAME_SIZE], to[TARIFF_NAME_SIZE];
};

extern const struct setting_table tariff_table, block_table, netting_table, schedule_table, slab_rules,
    table_rules, age_rules;
extern const struct setting_table item_table;
extern const char *const measure_words[MEASURE_COUNT + 1];

/* tariff_items.c: the items of a schedule, after its blocks. */
void tariff_read_items(struct source *source, const config_setting_t *group, struct schedule *schedule);
/* A set of names of items that stand before `before`; complains. */
uint32_t tariff_item_set(struct source *source, const config_setting_t *group, const char *key,
                         const char *names, const struct schedule *schedule, int32_t before);
/* Complains at a key where `allowed` is not NULL: what stands in the file and what is allowed. */
bool tariff_refuse(struct source *source, const config_setting_t *group, const char *key, const char *value,
                   const char *allowed);

#endif
