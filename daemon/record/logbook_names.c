/* Whom an entry is about. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "logbook_value.h"
#include "nearest.h"

struct check {
    const struct config *config;
    const struct meter_names *names;
    struct logbook_entry *entry;
    uint64_t given; /* keys */
    char *why;
};

static int refuse(struct check *check, const char *format, ...) __attribute__((format(printf, 2, 3)));

static int refuse(struct check *check, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(check->why, LOGBOOK_WHY_SIZE, format, arguments);
    va_end(arguments);
    return -1;
}

static const struct config_sealed *find_sealed(const struct config *config, const char *name)
{
    for (int32_t i = 0; i < config->sealed_count; i++)
        if (strcmp(config->sealed[i].name, name) == 0)
            return &config->sealed[i];
    return NULL;
}

static int unknown_name(struct check *check, const char *name, bool sealed, bool meters)
{
    const struct config *config = check->config;
    const char *names[CONFIG_MAX_METERS + CONFIG_MAX_SEALED + 1];
    int32_t count = 0;
    for (int32_t i = 0; sealed && i < config->sealed_count; i++)
        names[count++] = config->sealed[i].name;
    for (int32_t i = 0; meters && i < config->meter_count; i++)
        names[count++] = config->meters[i].name;
    names[count] = NULL;
    const char *near = nearest(name, names), *what = sealed && !meters ? "sealed meter" : "meter";
    if (near)
        return refuse(check, "there is no %s '%.60s', did you mean '%s'?", what, name, near);
    return refuse(check, "there is no %s '%.60s', allowed: the names in the configuration", what, name);
}

static int check_registers(struct check *check, const struct config_sealed *sealed)
{
    char list[LOGBOOK_LIST_SIZE];
    uint64_t registers = sealed ? sealed->registers : 1 << SEALED_IMPORT | 1 << SEALED_EXPORT;
    uint64_t allowed = registers << LOGBOOK_REGISTER | registers << LOGBOOK_OLD | registers << LOGBOOK_NEW;
    uint64_t all = (UINT64_C(1) << (LOGBOOK_NEW + SEALED_REGISTERS)) - 1;
    if (!(check->given & all & ~allowed))
        return 0;
    char wrong[LOGBOOK_LIST_SIZE];
    logbook_key_list(check->given & all & ~allowed, wrong, sizeof wrong);
    logbook_key_list(allowed & logbook_forms[check->entry->kind].keys, list, sizeof list);
    return refuse(check, "'%s' has no register for %s, allowed: %s", check->entry->subject, wrong, list);
}

/* A source that is not there cannot speak. */
static int check_source(struct check *check)
{
    const struct config *config = check->config;
    bool grid = strcmp(check->entry->subject, "grid") == 0;
    if (check->entry->number[LOGBOOK_SOURCE] != 0)
        return 0;
    for (int32_t i = 0; i < config->sealed_count; i++)
        if (config->sealed[i].role == (grid ? ROLE_GRID : ROLE_PRODUCTION))
            return 0;
    return refuse(
        check,
        "'source' is 'sealed', but no sealed meter has the role %s, allowed: record, or such a meter "
        "in the configuration",
        check->entry->subject);
}

/* The meter of ours that a name means. 0 where it means none, or -1 refused. */
static int32_t find_meter(struct check *check, const char *name)
{
    int32_t both[2];
    int32_t found = meter_names_find(check->names, check->config, name, check->entry->at_s, both);
    if (found != METER_NAMES_TWO)
        return found;
    return refuse(
        check,
        "'%.60s' was the name of meter %d and of meter %d at different times, allowed: the name that "
        "the one that is meant has now",
        name, (int)both[0], (int)both[1]);
}

/* About anything: a meter's name is one. Only what counts for a meter must say which. */
static int check_any(struct check *check)
{
    struct logbook_entry *entry = check->entry;
    int32_t found = find_sealed(check->config, entry->subject) ? 0 : find_meter(check, entry->subject);
    if (found < 0 && entry->kind == LOGBOOK_CLEANING)
        return -1;
    entry->meter = found > 0 ? found : 0;
    return 0;
}

static int check_with(struct check *check)
{
    const char *name = check->entry->word[LOGBOOK_WITH - LOGBOOK_NUMBERS];
    if (!(check->given & UINT64_C(1) << LOGBOOK_WITH))
        return 0;
    check->entry->with = find_meter(check, name);
    if (check->entry->with == 0)
        return unknown_name(check, name, false, true);
    if (check->entry->with == check->entry->meter)
        return refuse(check, "'with' is the same meter, allowed: the name of another meter");
    return check->entry->with < 0 ? -1 : 0;
}

int logbook_names(const struct logbook_site *site, struct logbook_entry *entry, uint64_t given,
                  char why[LOGBOOK_WHY_SIZE])
{
    const struct config *config = site->config;
    const struct logbook_form *form = &logbook_forms[entry->kind];
    struct check check = { config, site->names, entry, given, why };
    if (!config || (form->subject_optional && !entry->subject[0]))
        return 0;
    if (form->subject == SUBJECT_BALANCE)
        return check_source(&check);
    if (form->subject == SUBJECT_ANY)
        return check_any(&check);
    bool sealed = form->subject == SUBJECT_SEALED || form->subject == SUBJECT_BOTH;
    bool meters = form->subject == SUBJECT_METER || form->subject == SUBJECT_BOTH;
    if (!sealed && !meters)
        return 0;
    const struct config_sealed *found = sealed ? find_sealed(config, entry->subject) : NULL;
    entry->meter = meters && !found ? find_meter(&check, entry->subject) : 0;
    if (entry->meter < 0)
        return -1;
    if (!found && entry->meter == 0)
        return unknown_name(&check, entry->subject, sealed, meters);
    if (check_with(&check) != 0)
        return -1;
    if (entry->kind == LOGBOOK_CREDIT && found && found->role != ROLE_GRID)
        return refuse(&check,
                      "'credit' of '%.60s', allowed: a sealed meter of role grid, its settlement is meant",
                      entry->subject);
    return entry->kind == LOGBOOK_CORRECT ? 0 : check_registers(&check, found);
}
