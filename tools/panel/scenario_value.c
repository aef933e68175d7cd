/* Values and lists that all parts of a scenario are written in. */
#include <stdio.h>

#include "scenario_read.h"

double scenario_hour(const char *text)
{
    unsigned hour, minute;
    char rest;
    if (sscanf(text, "%2u:%2u%c", &hour, &minute, &rest) != 2 || hour > 24 || minute > 59)
        return -1;
    return hour + minute / 60.0;
}

const config_setting_t *scenario_list(struct source *source, const config_setting_t *group, const char *name,
                                      int most, int *count)
{
    const config_setting_t *list = config_setting_get_member(group, name);
    *count = list != NULL && config_setting_is_list(list) ? config_setting_length(list) : 0;
    for (int i = 0; i < *count; i++)
        if (!config_setting_is_group(config_setting_get_elem(list, (unsigned)i)))
            *count = 0; /* said already where the list itself was looked at */
    if (*count > most) {
        setting_complain(source, group, name, true, "'%s' has %d entries, allowed: up to %d", name, *count,
                         most);
        *count = 0;
    }
    return list;
}
