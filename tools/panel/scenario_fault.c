#include <string.h>

#include "scenario_read.h"

static bool allowed(const struct fault_info *info, const struct scenario_bus *bus, bool on_bus)
{
    bool mbap = bus->transport == TRANSPORT_TCP;
    if ((info->where & (on_bus ? FAULT_ON_BUS : FAULT_ON_METER)) == 0)
        return false;
    return (info->where & (mbap ? FAULT_RTU_ONLY : FAULT_MBAP_ONLY)) == 0;
}

static int kind_by_name(const char *name)
{
    int kind = 0;
    while (strcmp(fault_infos[kind].name, name) != 0)
        kind++;
    return kind;
}

/* The kinds that may stand here, for setting_read(): a word's index means nothing beyond this list. */
struct kind_word {
    int32_t index;
    const char *words[FAULT_KIND_COUNT + 1];
};

static void read_fault(struct source *source, const config_setting_t *group, const struct scenario_bus *bus,
                       bool on_bus, struct fault *fault)
{
    struct kind_word kind = { 0 };
    const char *name = NULL;
    int count = 0;
    for (int i = 0; i < FAULT_KIND_COUNT; i++)
        if (allowed(&fault_infos[i], bus, on_bus))
            kind.words[count++] = fault_infos[i].name;

    *fault = (struct fault){ .to = -1 };
    if (!config_setting_lookup_string(group, "kind", &name) || word_index(kind.words, name) < 0) {
        char list[400];
        words_join(kind.words, list, sizeof list);
        setting_complain(source, group, "kind", true,
                         "'kind' of this fault is missing or wrong, allowed here: %s", list);
        return;
    }
    const struct fault_info *info = &fault_infos[kind_by_name(name)];
    fault->kind = kind_by_name(name);
    /* each kind has a number of its own, or none, under its own name; a new meter has registers */
    struct setting_rule rules[12] = {
        { "kind", SETTING_WORD, offsetof(struct fault, kind), sizeof(int32_t), .words = kind.words },
        RULE_REAL(struct fault, from, 0, 1e9, 0),
        RULE_REAL(struct fault, to, 0, 1e9, -1),
        RULE_REAL(struct fault, every, 0.001, 1e9, 0),
        { "for", SETTING_REAL, SETTING_AT(struct fault, lasting), .least = 0.001, .most = 1e9 },
        RULE_WHOLE(struct fault, nth, 1, 1000000, 0),
        RULE_WHOLE(struct fault, times, 1, 1000000, 0),
    };
    struct setting_table table = { "a fault", rules, 7 };
    if (info->number[0] != '\0')
        rules[table.count++] = (struct setting_rule){
            info->number,         SETTING_WHOLE,      SETTING_AT(struct fault, number),
            .least = info->least, .most = info->most, .otherwise = info->default_value
        };
    if (fault->kind == FAULT_EXCHANGE) {
        rules[table.count++] = (struct setting_rule)RULE_TEXT(struct fault, serial, true);
        rules[table.count++] = (struct setting_rule)RULE_REAL(struct fault, import_wh, 0, 9e12, 0);
        rules[table.count++] = (struct setting_rule)RULE_REAL(struct fault, export_wh, 0, 9e12, 0);
    }
    setting_read(source, group, &table, fault);
    fault->kind = kind_by_name(name);
    if ((fault->every > 0) != (fault->lasting > 0))
        setting_complain(source, group, "every", true,
                         "'every' and 'for' belong together: every 60 s, for 5 s");
}

int scenario_read_faults(struct source *source, const config_setting_t *group, const struct scenario_bus *bus,
                         bool on_bus, struct fault *faults)
{
    int count;
    const config_setting_t *list = scenario_list(source, group, "faults", FAULT_MAX, &count);
    for (int i = 0; i < count; i++)
        read_fault(source, config_setting_get_elem(list, (unsigned)i), bus, on_bus, &faults[i]);
    return count;
}
