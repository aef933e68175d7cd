/* Sealed meters: what is read by eye. */
#include <stdio.h>
#include <string.h>

#include "config_file.h"

static const char *const role_choice[] = { "grid", "production", NULL };
static const char *const delivers_words[] = { "import", "export", NULL };
static const char *const phase_words[] = { "unknown", "netted", "apart", "absolute", NULL };
static const char *const clock_words[] = { "civil", "standard", NULL };

const char *const sealed_register_words[SEALED_REGISTERS + 1] = { "import",    "export",    "t1",
                                                                  "t2",        "t3",        "t4",
                                                                  "export.t1", "export.t2", "export.t3",
                                                                  "export.t4", "demand",    NULL };

const char *phase_method_name(enum phase_method method)
{
    return phase_words[method];
}

enum { GRID = 0, PRODUCTION = 1, ONLY_PRODUCTION = 1 << PRODUCTION };

#define SEALED(field) SETTING_AT(struct sealed_entry, field)
static const struct setting_rule rules[] = {
    { "role", SETTING_WORD, SEALED(sealed.role), .required = true, .words = role_choice },
    { "name", SETTING_TEXT, SEALED(sealed.name), .required = true },
    { "serial_number", SETTING_TEXT, SEALED(sealed.serial) },
    { "registers", SETTING_TEXT, SEALED(registers), .required = true },
    { "delivers", SETTING_WORD, SEALED(sealed.delivers_by_export), .words = delivers_words, .otherwise = 1,
      .only = ONLY_PRODUCTION },
    { "digits", SETTING_WHOLE, SEALED(sealed.digits), .required = true, .least = 3, .most = 9 },
    { "decimals", SETTING_WHOLE, SEALED(sealed.decimals), .least = 0, .most = 3 },
    { "multiplying_factor", SETTING_SCALED, SEALED(sealed.factor_thousandths), .least = 0.001, .most = 100000,
      .otherwise = 1, .factor = 1000 },
    { "phase_method", SETTING_WORD, SEALED(sealed.phase_method), .words = phase_words },
    { "accuracy_class", SETTING_TEXT, SEALED(sealed.accuracy_class), .words = class_words },
    { "ct_class", SETTING_TEXT, SEALED(sealed.ct_class), .words = ct_class_words },
    { "whole_units", SETTING_BOOL, SEALED(sealed.whole_units) },
    { "clock", SETTING_WORD, SEALED(sealed.standard_time), .words = clock_words },
};
_Static_assert(sizeof(enum phase_method) == sizeof(int32_t), "a field of a WORD");

const struct setting_table sealed_table = { "a sealed meter", rules, sizeof rules / sizeof rules[0] };

/* "import export t1": one bit each. */
static void read_registers(struct source *source, struct sealed_entry *entry)
{
    char word[CONFIG_NAME_SIZE], allowed[200];
    int used;
    words_join(sealed_register_words, allowed, sizeof allowed);
    for (const char *at = entry->registers; sscanf(at, " %47[^ ]%n", word, &used) == 1; at += used) {
        int32_t index = word_index(sealed_register_words, word);
        if (index < 0)
            setting_complain(source, entry->place, "registers", true,
                             "there is no register \"%s\", allowed, parted by spaces: %s", word, allowed);
        else if (entry->sealed.registers & UINT32_C(1) << index)
            setting_complain(source, entry->place, "registers", true,
                             "the register \"%s\" stands twice, allowed: each once", word);
        else
            entry->sealed.registers |= UINT32_C(1) << index;
    }
}

static void check_names(struct source *source, const struct config_file *file, int32_t index)
{
    const struct sealed_entry *entry = &file->sealed[index];
    bool taken = false;
    for (int32_t i = 0; i < file->meter_count; i++)
        taken |= strcmp(file->meters[i].meter.name, entry->sealed.name) == 0;
    for (int32_t i = 0; i < index; i++)
        taken |= strcmp(file->sealed[i].sealed.name, entry->sealed.name) == 0;
    if (taken && entry->sealed.name[0])
        setting_complain(source, entry->place, "name", true,
                         "two meters are named \"%s\", allowed: each name once", entry->sealed.name);
}

void sealed_check(struct source *source, struct config_file *file)
{
    for (int32_t i = 0; i < file->sealed_count; i++) {
        struct sealed_entry *entry = &file->sealed[i];
        /* the words above in the order of the table's kinds */
        entry->sealed.role = (int32_t)entry->sealed.role == PRODUCTION ? ROLE_PRODUCTION : ROLE_GRID;
        read_registers(source, entry);
        check_names(source, file, i);
        enum sealed_register counted = entry->sealed.delivers_by_export ? SEALED_EXPORT : SEALED_IMPORT;
        if (entry->sealed.role == ROLE_PRODUCTION && entry->sealed.registers &&
            !(entry->sealed.registers & UINT32_C(1) << counted))
            setting_complain(source, entry->place, "registers", true,
                             "'delivers' is \"%s\", which is not among the registers, allowed: \"%s\" among "
                             "'registers', or the other for 'delivers'",
                             delivers_words[entry->sealed.delivers_by_export],
                             delivers_words[entry->sealed.delivers_by_export]);
    }
}
