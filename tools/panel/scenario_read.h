/* Pieces of scenario_load(), for scenario*.c only. */
#ifndef METERBOOK_PANEL_SCENARIO_READ_H
#define METERBOOK_PANEL_SCENARIO_READ_H

#include "scenario.h"
#include "setting.h"

enum { SCENARIO_MAX_WATTS = 100000000 };

/* A rule for the member of that name. */
#define RULE_WHOLE(struct_type, name, from, to, usual)                                                       \
    {                                                                                                        \
#name, SETTING_WHOLE, SETTING_AT(struct_type, name), .least = from, .most = to, .otherwise = usual   \
    }
#define RULE_REAL(struct_type, name, from, to, usual)                                                        \
    {                                                                                                        \
#name, SETTING_REAL, SETTING_AT(struct_type, name), .least = from, .most = to, .otherwise = usual    \
    }
#define RULE_TEXT(struct_type, name, needed)                                                                 \
    {                                                                                                        \
#name, SETTING_TEXT, SETTING_AT(struct_type, name), .required = needed                               \
    }
#define RULE_BOOL(struct_type, name)                                                                         \
    {                                                                                                        \
#name, SETTING_BOOL, SETTING_AT(struct_type, name)                                                   \
    }
#define RULE_TABLE(variable, what, rules)                                                                    \
    static const struct setting_table variable = { what, rules, sizeof(rules) / sizeof *(rules) }

/* The list of groups of that name; its length goes to *count, 0 where it is absent, wrong or too long. */
const config_setting_t *scenario_list(struct source *source, const config_setting_t *group, const char *name,
                                      int most, int *count);

void scenario_read_parts(struct source *source, const config_setting_t *root, struct world *world);
void scenario_read_loads(struct source *source, const config_setting_t *root, struct world *world);
void scenario_read_buses(struct source *source, const config_setting_t *root, struct scenario *scenario);
void scenario_read_meters(struct source *source, const config_setting_t *root, struct scenario *scenario,
                          struct problems *problems);

/* Returns how many there are. What is allowed depends on the bus, and on whether they are the bus's own. */
int scenario_read_faults(struct source *source, const config_setting_t *group, const struct scenario_bus *bus,
                         bool on_bus, struct fault *faults);

#endif
