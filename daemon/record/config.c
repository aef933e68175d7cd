#include "config.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "civil.h"
#include "config_file.h"
#include "map_file.h"

/* One load: all that it holds until the configuration is whole. */
struct load {
    const char *path;
    bool maps; /* are read too */
    struct source source;
    config_t parsed;
    struct config_file *file;
    struct config *config;
    struct source map_sources[CONFIG_MAX_METERS]; /* of config->maps, by index; empty for a walked one */
    char map_paths[CONFIG_MAX_METERS][CONFIG_PATH_SIZE];
};

const char *role_name(enum meter_role role)
{
    return role_words[role];
}

const char *bus_kind_name(enum bus_kind kind)
{
    return bus_kind_words[kind];
}

/* Index of the map in config->maps, read at its first mention. */
static int32_t find_map(struct load *load, const char *path, bool walked)
{
    struct config *config = load->config;
    int32_t i = 0;
    while (i < config->map_count && (strcmp(load->map_paths[i], path) != 0 || config->maps[i].walk != walked))
        i++;
    if (i < config->map_count)
        return i;
    config->map_count++;
    snprintf(load->map_paths[i], CONFIG_PATH_SIZE, "%s", path);
    if (walked) {
        config->maps[i] = (struct register_map){ .walk = true, .max_registers = MAP_MAX_REGISTERS };
        snprintf(config->maps[i].name, sizeof config->maps[i].name, "%s", map_sunspec);
    } else {
        map_file_read(&config->maps[i], &load->map_sources[i], path);
    }
    return i;
}

static bool has_other_phases(const struct register_map *map)
{
    static const enum quantity others[] = { Q_POWER_L2,   Q_POWER_L3,   Q_VOLTAGE_L2,
                                            Q_VOLTAGE_L3, Q_CURRENT_L2, Q_CURRENT_L3 };
    for (int32_t i = 0; i < map->point_count; i++)
        for (size_t j = 0; j < sizeof others / sizeof others[0]; j++)
            if (map->points[i].quantity == others[j])
                return true;
    return false;
}

/* What a meter and its map must agree on. */
static void check_against_map(struct source *source, const struct meter_entry *entry,
                              const struct register_map *map)
{
    int32_t widest = 0;
    for (int32_t i = 0; i < map->point_count; i++)
        if (map->points[i].size > widest)
            widest = map->points[i].size;
    if (entry->meter.max_registers > 0 && entry->meter.max_registers < widest)
        setting_complain(source, entry->place, "max_registers", true,
                         "'max_registers' is %d but a value of its map is wider, allowed: %d to %d",
                         (int)entry->meter.max_registers, (int)widest, (int)MAP_MAX_REGISTERS);
    if (entry->meter.phases == 1 && has_other_phases(map))
        setting_complain(source, entry->place, "phases", false,
                         "the map of \"%s\" has values of phases 2 or 3, better: phases = 3",
                         entry->meter.name);
}

static void read_maps(struct load *load)
{
    for (int32_t i = 0; i < load->file->meter_count; i++) {
        struct meter_entry *entry = &load->file->meters[i];
        bool walked = strcmp(entry->map, map_sunspec) == 0;
        char path[CONFIG_PATH_SIZE];
        if (!path_beside(walked ? "" : load->path, entry->map, path)) {
            setting_complain(&load->source, entry->place, "map", true,
                             "the path \"%s\" is too long, allowed: up to %d bytes", entry->map,
                             CONFIG_PATH_SIZE - 1);
        } else if (path[0] && entry->map[0]) {
            entry->meter.map = find_map(load, path, walked);
            check_against_map(&load->source, entry, &load->config->maps[entry->meter.map]);
        }
    }
}

/* Paths of the record stand relative to the configuration file too. */
static void set_paths(struct load *load)
{
    const struct {
        const char *key, *from;
        char *to;
    } paths[] = {
        { "database", load->file->record.database, load->config->database },
        { "runtime", load->file->record.runtime, load->config->runtime },
        { "logbook", load->file->record.logbook, load->config->logbook },
        { "contract", load->file->record.contract, load->config->contract },
    };
    const config_setting_t *group = config_setting_get_member(load->file->root, "record");
    for (size_t i = 0; i < sizeof paths / sizeof paths[0]; i++)
        if (paths[i].from[0] && !path_beside(load->path, paths[i].from, paths[i].to))
            setting_complain(&load->source, group, paths[i].key, true,
                             "the path \"%s\" is too long, allowed: up to %d bytes", paths[i].from,
                             CONFIG_PATH_SIZE - 1);
}

static void read_all(struct load *load)
{
    source_read(&load->source, load->path);
    if (load->source.line_count == 0 || !setting_parse(&load->source, &load->parsed))
        return;
    config_file_read(&load->source, &load->parsed, load->file);
    config_file_check(&load->source, load->file);
    if (load->maps) {
        civil_edition(load->file->site.zone_edition, sizeof load->file->site.zone_edition);
        read_maps(load);
    }
    set_paths(load);
}

/* What was read moves into the configuration; the texts change their owner. */
static void take_over(struct load *load)
{
    struct config *config = load->config;
    struct config_file *file = load->file;
    config->site = file->site;
    config->civil = file->civil;
    file->civil = NULL;
    config->checks = file->checks;
    config->supply = file->supply;
    config->expected = file->expected;
    config->bus_count = file->bus_count;
    config->meter_count = file->meter_count;
    for (int32_t i = 0; i < file->bus_count; i++)
        config->buses[i] = file->buses[i].bus;
    for (int32_t i = 0; i < file->meter_count; i++)
        config->meters[i] = file->meters[i].meter;
    config->sealed_count = file->sealed_count;
    for (int32_t i = 0; i < file->sealed_count; i++)
        config->sealed[i] = file->sealed[i].sealed;
    source_hash(&load->source, config->hash);
    config->text = load->source.text;
    config->text_size = load->source.size;
    load->source.text = NULL;
    for (int32_t i = 0; i < config->map_count; i++) {
        config->map_texts[i] = config->maps[i].walk ? strdup("") : load->map_sources[i].text;
        load->map_sources[i].text = NULL;
        if (config->maps[i].walk && !config->map_texts[i])
            load->source.memory_out = true;
    }
}

static bool say_all(struct load *load, struct problems *problems)
{
    bool good = source_say(&load->source, problems);
    for (int32_t i = 0; i < CONFIG_MAX_METERS; i++)
        good = source_say(&load->map_sources[i], problems) && good;
    return good;
}

static struct config *create(bool maps)
{
    struct config *config = calloc(1, sizeof *config);
    if (!config || !maps)
        return config;
    config->maps = calloc(CONFIG_MAX_METERS, sizeof *config->maps);
    config->map_texts = calloc(CONFIG_MAX_METERS, sizeof *config->map_texts);
    if (config->maps && config->map_texts)
        return config;
    config_free(config);
    return NULL;
}

static void finish(struct load *load)
{
    for (int32_t i = 0; i < CONFIG_MAX_METERS; i++)
        source_close(&load->map_sources[i]);
    source_close(&load->source);
    config_destroy(&load->parsed);
    config_free(load->config);
    if (load->file)
        civil_close(load->file->civil);
    free(load->file);
    free(load);
}

static struct load *begin(const char *path, bool maps)
{
    struct load *load = calloc(1, sizeof *load);
    if (!load)
        return NULL;
    config_init(&load->parsed);
    load->path = path;
    load->maps = maps;
    load->file = calloc(1, sizeof *load->file);
    load->config = create(maps);
    if (load->file && load->config)
        return load;
    finish(load);
    return NULL;
}

static struct config *load_file(const char *path, bool maps, struct problems *problems)
{
    struct config *config = NULL;
    struct load *load = begin(path, maps);
    if (!load) {
        problems->errors++;
        problems->say(problems->self, true, "out of memory before reading the configuration");
        return NULL;
    }
    read_all(load);
    if (!source_has_error(&load->source))
        take_over(load);
    if (say_all(load, problems)) {
        config = load->config;
        load->config = NULL;
    }
    finish(load);
    return config;
}

struct config *config_load(const char *path, struct problems *problems)
{
    return load_file(path, true, problems);
}

struct config *config_load_site(const char *path, struct problems *problems)
{
    return load_file(path, false, problems);
}

bool config_same(const struct config *a, const struct config *b)
{
    if (a->text_size != b->text_size || memcmp(a->text, b->text, a->text_size) != 0 ||
        a->map_count != b->map_count)
        return false;
    for (int32_t i = 0; i < a->map_count; i++)
        if (strcmp(a->map_texts[i], b->map_texts[i]) != 0)
            return false;
    return true;
}

struct config *config_load_stored(const char *text)
{
    struct config *config = NULL;
    struct load *load = begin("", false);
    if (!load)
        return NULL;
    load->source.text = strdup(text);
    load->source.size = strlen(text);
    if (load->source.text && setting_parse(&load->source, &load->parsed)) {
        config_file_read(&load->source, &load->parsed, load->file);
        config_file_check(&load->source, load->file);
        if (!source_has_error(&load->source)) {
            take_over(load);
            config = load->config;
            load->config = NULL;
        }
    }
    finish(load);
    return config;
}

void config_free(struct config *config)
{
    if (!config)
        return;
    for (int32_t i = 0; config->map_texts && i < config->map_count; i++)
        free(config->map_texts[i]);
    free(config->map_texts);
    free(config->maps);
    free(config->text);
    civil_close(config->civil);
    free(config);
}
