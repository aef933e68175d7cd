/* What `now` shows: the last value of every meter.
 *
 * The collector rewrites RUNTIME/latest in place at most once a second, between
 * two lines "sequence N" that are alike when it is whole. Its first line is
 *
 *     meterbook-latest 1 BOOT_ID WALL_MS SYNCHRONISED(0|1)
 *
 * then a line per meter, "-" standing for what is not known:
 *
 *     METER STATE(ok|lost|waiting) READING_WALL_MS POWER_MW VOLTAGE_MV
 *         IMPORT_MWH EXPORT_MWH TODAY_IMPORT_MWH TODAY_EXPORT_MWH NAME...
 *
 * and one per bus: bus INDEX STATE(up|down|foreign) NAME...
 * Where it is missing or old, the record answers instead. */
#ifndef METERBOOK_PRESENT_H
#define METERBOOK_PRESENT_H

#include <stdbool.h>
#include <stdint.h>

#include "answer.h"
#include "query.h"

enum meter_state {
    STATE_FRESH,    /* read within some poll periods */
    STATE_OLD,      /* the last reading is older */
    STATE_LOST,     /* does not answer */
    STATE_WAITING,  /* not read yet */
    STATE_RECORDED, /* from the record: the collector does not run */
};

struct present_meter {
    int32_t number;
    const char *role;
    char name[CONFIG_NAME_SIZE];
    enum meter_state state;
    int64_t at_ms;                      /* UTC ms of the reading; recorded: end of the interval; UNKNOWN */
    int64_t power, voltage;             /* mW, mV; recorded: means over the interval; UNKNOWN */
    int64_t today_import, today_export; /* mWh; UNKNOWN */
    int32_t decimals;                   /* of a kWh that its registers have, at most 3 */
};

struct present_bus {
    char name[CONFIG_NAME_SIZE];
    char state[12];
};

struct present {
    struct site site;
    const struct civil *civil;
    int64_t now_ms;
    int64_t at_ms; /* of what is shown: when `latest` was written, or the end of the newest interval */
    bool running;
    struct arrangement arrangement; /* the newest settings */
    int32_t meter_count, bus_count;
    struct present_meter meters[ARRANGEMENT_MAX_METERS];
    struct present_bus buses[CONFIG_MAX_BUSES];
    int64_t production, grid,
        consumption; /* mW, by role, where all meters of it are fresh; grid: import positive */
    int32_t note_count;
    char notes[4][NOTE_SIZE];
};

const char *present_state_name(enum meter_state state);

/* Fills site, arrangement and meters from the newest settings and, without a
 * running collector, from the newest intervals. `runtime` is the directory,
 * NULL to look at the record only. False where the query failed. */
bool present_build(struct present *present, struct query *query, const struct civil *civil,
                   const char *runtime, int64_t now_ms);

/* latest.c, pure: */

/* Age from which a reading is old. */
int64_t present_stale_ms(const struct present *present);

/* The meter of that number, NULL where the newest settings have none. */
struct present_meter *present_find(struct present *present, int32_t number);

/* Takes the lines "sequence N" off that the collector writes around the text.
 * False, and "" left, where they differ: it was being written. */
bool present_unwrap(char *text);

/* Reads the text of `latest` over the meters; false where it is not of that form. */
bool present_read(struct present *present, char *text);

/* Sums by role of what is fresh. */
void present_add_up(struct present *present);

#endif
