#include "meter_names.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void meter_names_free(struct meter_names *names)
{
    if (!names)
        return;
    free(names->list);
    free(names);
}

/* The newest stretch of a meter; NULL. */
static const struct meter_name *newest_of(const struct meter_names *names, int32_t number)
{
    for (int32_t i = names->count - 1; i >= 0; i--)
        if (names->list[i].number == number)
            return &names->list[i];
    return NULL;
}

bool meter_names_add(struct meter_names *names, int32_t number, const char *name, int64_t since_s)
{
    const struct meter_name *newest = newest_of(names, number);
    if (newest && strcmp(newest->name, name) == 0)
        return true;
    if (names->count == names->room) {
        int32_t room = 2 * names->room + 16;
        struct meter_name *more = realloc(names->list, (size_t)room * sizeof *more);
        if (!more)
            return false;
        names->list = more;
        names->room = room;
    }
    struct meter_name *added = &names->list[names->count++];
    *added = (struct meter_name){ .number = number, .since_s = since_s };
    snprintf(added->name, sizeof added->name, "%s", name);
    return true;
}

static bool is_configured(const struct config *config, int32_t number)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].number == number)
            return true;
    return false;
}

static int32_t holder_of(const struct config *config, const char *name)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (strcmp(config->meters[i].name, name) == 0)
            return config->meters[i].number;
    return 0;
}

int32_t meter_names_find(const struct meter_names *names, const struct config *config, const char *name,
                         int64_t at_s, int32_t both[2])
{
    int32_t holder = holder_of(config, name), found = holder;
    bool several = false;
    for (int32_t i = 0; names && i < names->count; i++) {
        int32_t number = names->list[i].number;
        if (strcmp(names->list[i].name, name) != 0 || number == found)
            continue;
        if (found) {
            several = true;
            both[0] = number;
            both[1] = found;
        } else {
            found = number;
        }
    }
    if (!several)
        return is_configured(config, found) ? found : 0;
    const struct meter_name *now = holder ? newest_of(names, holder) : NULL;
    return now && strcmp(now->name, name) == 0 && at_s >= now->since_s ? holder : METER_NAMES_TWO;
}
