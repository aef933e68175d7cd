/* Configurations, maps and factors as loaded: what every row leads back to. */
#include <string.h>

#include "arrangement.h"
#include "store_private.h"

#ifndef METERBOOK_VERSION
#define METERBOOK_VERSION "0"
#endif

static bool same_text(sqlite3_stmt *s, int column, const char *text)
{
    return strcmp(store_text(s, column), text) == 0;
}

/* 1: the newest setting is this one (*setting), 0: it is not. */
static int newest_is(struct store *store, const struct config *config, int64_t *setting)
{
    sqlite3_stmt *s = store_statement(store, NEWEST_SETTING);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    bool same = same_text(s, 1, config->hash) && same_text(s, 2, config->site.zone_edition) &&
                same_text(s, 3, METERBOOK_VERSION);
    *setting = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return same;
}

static int add_setting(struct store *store, const struct config *config, const char *boot, int64_t boot_ms,
                       int64_t from_ms)
{
    sqlite3_stmt *s = store_statement(store, ADD_SETTING);
    store_bind(s, 1, from_ms);
    sqlite3_bind_text(s, 2, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 3, boot_ms);
    sqlite3_bind_text(s, 4, config->hash, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 5, config->site.name, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 6, config->site.time_zone, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 7, config->site.zone_edition, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 8, config->site.interval_s);
    sqlite3_bind_int64(s, 9, config->site.poll_period_ms);
    sqlite3_bind_text(s, 10, METERBOOK_VERSION, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 11, config->text ? config->text : "", -1, SQLITE_STATIC);
    return store_run_statement(store, s);
}

static int add_map(struct store *store, const struct register_map *map, const char *text)
{
    if (map->walk)
        return STORE_OK;
    sqlite3_stmt *s = store_statement(store, ADD_MAP);
    sqlite3_bind_text(s, 1, map->hash, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 2, map->name, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 3, text, -1, SQLITE_STATIC);
    return store_run_statement(store, s);
}

static int add_meter(struct store *store, int64_t setting, const struct config_meter *meter,
                     const struct register_map *map)
{
    sqlite3_stmt *s = store_statement(store, ADD_METER_SETTING);
    sqlite3_bind_int64(s, 1, setting);
    sqlite3_bind_int64(s, 2, meter->number);
    sqlite3_bind_text(s, 3, meter->name, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 4, role_name(meter->role), -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 5, meter->delivers_by_export ? "export" : "import", -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 6, meter->gross);
    sqlite3_bind_text(s, 7, meter->phases_apart ? "apart" : "netted", -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 8, meter->phases);
    sqlite3_bind_int64(s, 9, meter->rated_w);
    sqlite3_bind_int64(s, 10, meter->peak_w);
    store_bind(s, 11, meter->plane_azimuth < 0 ? STORE_NULL : meter->plane_azimuth);
    store_bind(s, 12, meter->tilt < 0 ? STORE_NULL : meter->tilt);
    sqlite3_bind_text(s, 13, meter->accuracy_class, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 14, !map ? "derived" : map->walk ? "sunspec" : map->hash, -1, SQLITE_STATIC);
    return store_run_statement(store, s);
}

/* The derived grid meter has a setting of its own, so that readers find it
 * like any other. */
static int add_derived(struct store *store, int64_t setting, const struct config *config)
{
    if (!arrangement_derives(config))
        return STORE_OK;
    struct config_meter derived = { .number = METER_DERIVED,
                                    .name = "derived grid meter",
                                    .role = ROLE_GRID,
                                    .phases = 1,
                                    .plane_azimuth = -1,
                                    .tilt = -1 };
    return add_meter(store, setting, &derived, NULL);
}

int store_put_setting(struct store *store, const struct config *config, const char *boot, int64_t boot_ms,
                      int64_t from_ms, int64_t *setting)
{
    int result = newest_is(store, config, setting);
    if (result != 0)
        return result == 1 ? STORE_OK : result;
    result = add_setting(store, config, boot, boot_ms, from_ms);
    if (result != STORE_OK)
        return result;
    *setting = sqlite3_last_insert_rowid(store->db);
    for (int32_t i = 0; i < config->map_count && result == STORE_OK; i++)
        result = add_map(store, &config->maps[i], config->map_texts[i]);
    for (int32_t i = 0; i < config->meter_count && result == STORE_OK; i++)
        result = add_meter(store, *setting, &config->meters[i], &config->maps[config->meters[i].map]);
    return result == STORE_OK ? add_derived(store, *setting, config) : result;
}

int store_date_boot(struct store *store, const char *boot, int64_t offset_ms)
{
    static const enum statement both[] = { DATE_SETTINGS, DATE_EVENTS };
    int result = STORE_OK;
    for (int i = 0; i < 2 && result == STORE_OK; i++) {
        sqlite3_stmt *s = store_statement(store, both[i]);
        sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
        sqlite3_bind_int64(s, 2, offset_ms);
        result = store_run_statement(store, s);
    }
    return result;
}

int store_put_factor(struct store *store, const struct config_meter *meter, int64_t setting, int64_t *factor)
{
    const int64_t values[5] = { meter->ct_primary, meter->ct_secondary, meter->vt_primary,
                                meter->vt_secondary, meter->reversed };
    sqlite3_stmt *s = store_statement(store, NEWEST_FACTOR);
    sqlite3_bind_int64(s, 1, meter->number);
    int result = store_fetch(store, s);
    if (result < 0)
        return result;
    bool same = result == 1;
    for (int i = 0; i < 5 && same; i++)
        same = sqlite3_column_int64(s, 1 + i) == values[i];
    if (same)
        *factor = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    if (same)
        return STORE_OK;
    s = store_statement(store, ADD_FACTOR);
    sqlite3_bind_int64(s, 1, meter->number);
    sqlite3_bind_int64(s, 2, setting);
    for (int i = 0; i < 5; i++)
        sqlite3_bind_int64(s, 3 + i, values[i]);
    result = store_run_statement(store, s);
    if (result != STORE_OK)
        return result;
    *factor = sqlite3_last_insert_rowid(store->db);
    s = store_statement(store, FORGET_HELD);
    sqlite3_bind_int64(s, 1, meter->number);
    return store_run_statement(store, s);
}
