/* Names that meters ever had in the record's settings. A meter's number is its identity; what people wrote
 * about it goes by the name that it had then, or has now. */
#ifndef METERBOOK_METER_NAMES_H
#define METERBOOK_METER_NAMES_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"

/* A stretch of settings in which a meter had a name. */
struct meter_name {
    int32_t number;
    char name[CONFIG_NAME_SIZE];
    int64_t since_s; /* UTC; INT64_MAX: not dated yet */
};

struct meter_names {
    int32_t count, room;
    struct meter_name *list; /* heap; oldest first */
};

/* Reads those of the record at a path, by a connection of its own; without a record there are none.
 * meter_names_free() takes the result; NULL, with the reason in `why`, where it cannot be read. */
enum { METER_NAMES_WHY = 200 };
struct meter_names *meter_names_load(const char *path, char why[METER_NAMES_WHY]);
void meter_names_free(struct meter_names *names);

/* Number, name and instant (ms, NULL) for meter_names_add(); the derived meter has no name of its own. */
#define METER_NAMES_SELECT                                                                                   \
    "SELECT meter, name, from_ms FROM meter_setting JOIN setting ON setting.id = meter_setting.setting "     \
    "WHERE meter < 1023 ORDER BY setting, meter"

/* Adds what a setting says, in the order of settings. False without memory. */
bool meter_names_add(struct meter_names *names, int32_t number, const char *name, int64_t since_s);

/* The number of the configured meter that is meant by a name in what was dated `at_s`: the one that has it
 * now or had it once. 0: there is none. METER_NAMES_TWO: several had it at different times, and it is not so
 * that the one that has it now already had it then; both[] are two of them. `names` may be NULL. */
enum { METER_NAMES_TWO = -1 };
int32_t meter_names_find(const struct meter_names *names, const struct config *config, const char *name,
                         int64_t at_s, int32_t both[2]);

#endif
