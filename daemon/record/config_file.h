/* The configuration file as tables of settings, and its groups as read, before
 * names are resolved and maps loaded. */
#ifndef METERBOOK_CONFIG_FILE_H
#define METERBOOK_CONFIG_FILE_H

#include "config.h"
#include "setting.h"

/* A bus or a meter as written, and where. */
struct bus_entry {
    struct config_bus bus;
    char host[CONFIG_PATH_SIZE];
    const config_setting_t *place;
};

struct meter_entry {
    struct config_meter meter;
    char bus[CONFIG_NAME_SIZE];
    char map[CONFIG_PATH_SIZE];
    const config_setting_t *place;
};

struct sealed_entry {
    struct config_sealed sealed;
    char registers[120];
    const config_setting_t *place;
};

struct config_file {
    const config_setting_t *root, *site_place;
    struct config_site site;
    struct civil *civil; /* of the site's zone, opened by the check; whoever has the file closes it */
    struct config_checks checks;
    const config_setting_t *checks_place;
    struct config_supply supply;
    const config_setting_t *supply_place;
    struct config_expected expected;
    const config_setting_t *expected_place;
    struct {
        char database[CONFIG_PATH_SIZE], runtime[CONFIG_PATH_SIZE], logbook[CONFIG_PATH_SIZE],
            contract[CONFIG_PATH_SIZE];
    } record;
    int32_t bus_count, meter_count;
    struct bus_entry buses[CONFIG_MAX_BUSES];
    struct meter_entry meters[CONFIG_MAX_METERS];
    int32_t sealed_count;
    struct sealed_entry sealed[CONFIG_MAX_SEALED];
};

/* The `map` of a meter that is walked. */
extern const char map_sunspec[];

extern const char *const role_words[];
extern const char *const bus_kind_words[];
extern const char *const class_words[], *const ct_class_words[];

/* Reads every group by its table, into a file that is all 0. */
void config_file_read(struct source *source, const config_t *parsed, struct config_file *file);

/* What must hold within and between the groups; sets each meter's bus and each bus's device. */
void config_file_check(struct source *source, struct config_file *file);

/* The same for the sealed meters: config_sealed.c. */
extern const struct setting_table sealed_table;
void sealed_check(struct source *source, struct config_file *file);

/* The same for the thresholds of the checks: config_checks.c. */
extern const struct setting_table checks_table;
void checks_check(struct source *source, struct config_file *file);

/* The same for what the supply is held against: config_supply.c. */
extern const struct setting_table supply_table;
void supply_check(struct source *source, struct config_file *file);

/* The same for what was promised: config_expected.c. */
extern const struct setting_table expected_table;
void expected_check(struct source *source, struct config_file *file);

/* What intervals of this length make impossible to answer, as static texts;
 * returns how many, at least one unless the length divides 300 s. */
enum { INTERVAL_ANSWERS = 4 };
int32_t interval_prevents(int32_t interval_s, const char *prevented[INTERVAL_ANSWERS]);

#endif
