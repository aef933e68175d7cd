/* What is to be tried: cases of what-if, and a sweep over sizes. */
#include "contract_cases.h"

#include <stdio.h>
#include <string.h>

#include "number.h"

#define MILLIONTHS .factor = 1000000, .exact = true
#define PERCENT    .factor = 10000, .exact = true
#define MOST_MONEY 1e12
#define MOST_KILO  100000

static const char *const dispatch_words[] = { "self_consumption", "time_of_use", NULL };

enum { HOURS = 24, MONTHS = 12, MOST_LOAD_W = 1000000, MOST_SHAPE = 500, MILLION = 1000000, DAY_S = 86400 };

#define CASE(field) SETTING_AT(struct contract_case, field)
static const struct setting_rule case_rules[] = {
    { "name", SETTING_TEXT, CASE(name), .required = true },
    { "tariff", SETTING_TEXT, CASE(tariff) },
    { "plant_kwp", SETTING_SCALED, CASE(plant_kwp), .least = 0.001, .most = MOST_KILO, MILLIONTHS },
    { "inverter_kw", SETTING_SCALED, CASE(inverter_kw), .least = 0.001, .most = MOST_KILO, MILLIONTHS },
    { "export_limit_kw", SETTING_SCALED, CASE(export_limit_kw), .least = 0, .most = MOST_KILO, MILLIONTHS },
    { "consumption_change_percent", SETTING_SCALED, CASE(consumption_change), .least = -100, .most = 1000,
      PERCENT },
    { "consumption_kwh_per_month", SETTING_SCALED, CASE(consumption_per_month), .least = 1, .most = 1e6,
      MILLIONTHS },
    { "shape_percent", SETTING_ANY, .offset = 0, .size = 0 },
    { "shape_percent_months", SETTING_MONTHS, CASE(shape_months), .least = 0, .most = 500, .factor = 10000 },
    { "load_w", SETTING_ANY, .offset = 0, .size = 0 },
    { "battery_kwh", SETTING_SCALED, CASE(battery_kwh), .least = 0, .most = MOST_KILO, MILLIONTHS },
    { "battery_kw", SETTING_SCALED, CASE(battery_kw), .least = 0, .most = MOST_KILO, MILLIONTHS },
    { "battery_efficiency_percent", SETTING_SCALED, CASE(battery_efficiency), .least = 1, .most = 100,
      .otherwise = 90, PERCENT },
    { "dispatch", SETTING_WORD, CASE(by_time_of_use), .words = dispatch_words },
    { "dispatch_block", SETTING_TEXT, CASE(dispatch_block) },
    { "netting_minutes", SETTING_SCALED, CASE(netting_s), .least = 1, .most = 1440, .factor = 60 },
    { "cost", SETTING_SCALED, CASE(cost), .least = -MOST_MONEY, .most = MOST_MONEY, MILLIONTHS },
};
static const struct setting_table case_table = { "a case", case_rules,
                                                 sizeof case_rules / sizeof case_rules[0] };

#define SWEEP(field) SETTING_AT(struct contract_sweep, field)
static const struct setting_rule sweep_rules[] = {
    { "plant_from", SETTING_SCALED, SWEEP(plant_from), .required = true, .least = 0, .most = MOST_KILO,
      MILLIONTHS },
    { "plant_to", SETTING_SCALED, SWEEP(plant_to), .required = true, .least = 0, .most = MOST_KILO,
      MILLIONTHS },
    { "plant_step", SETTING_SCALED, SWEEP(plant_step), .required = true, .least = 0.001, .most = MOST_KILO,
      MILLIONTHS },
    { "consumption_from", SETTING_SCALED, SWEEP(consumption_from), .required = true, .least = 1, .most = 1e6,
      MILLIONTHS },
    { "consumption_to", SETTING_SCALED, SWEEP(consumption_to), .required = true, .least = 1, .most = 1e6,
      MILLIONTHS },
    { "consumption_step", SETTING_SCALED, SWEEP(consumption_step), .required = true, .least = 1, .most = 1e6,
      MILLIONTHS },
    { "cost_fixed", SETTING_SCALED, SWEEP(cost_fixed), .required = true, .least = 0, .most = MOST_MONEY,
      MILLIONTHS },
    { "cost_per_kwp", SETTING_SCALED, SWEEP(cost_per_kwp), .required = true, .least = 0, .most = MOST_MONEY,
      MILLIONTHS },
    { "inverter_kw_per_kwp", SETTING_SCALED, SWEEP(inverter_share), .least = 0, .most = 3, MILLIONTHS },
};
static const struct setting_table sweep_table = { "the sweep", sweep_rules,
                                                  sizeof sweep_rules / sizeof sweep_rules[0] };

/* Twenty-four whole numbers, from midnight on; false where the key is absent or was complained of. */
static bool read_hours(struct source *source, const config_setting_t *group, const char *key,
                       const char *what, int32_t most, int32_t hours[HOURS])
{
    const config_setting_t *list = config_setting_get_member(group, key);
    if (!list)
        return false;
    bool good = (config_setting_is_array(list) || config_setting_is_list(list)) &&
                config_setting_length(list) == HOURS;
    for (int32_t i = 0; good && i < HOURS; i++) {
        const config_setting_t *element = config_setting_get_elem(list, (unsigned)i);
        int value = config_setting_type(element) == CONFIG_TYPE_INT ? config_setting_get_int(element) : -1;
        good = value >= 0 && value <= most;
        hours[i] = value;
    }
    if (!good)
        setting_complain(
            source, group, key, true,
            "'%s' is no row of 24 numbers, allowed: %s by hour of the day, 0 to %d, as [ 0, 0, 150, ... ]",
            key, what, (int)most);
    return good;
}

/* One of the two may stand alone: the other is then 100 % throughout. */
static void read_shape(struct source *source, const config_setting_t *group, struct contract_case *entry)
{
    bool by_hour = read_hours(source, group, "shape_percent", "per cent of what was made", MOST_SHAPE,
                              entry->shape_hours);
    bool by_month = config_setting_get_member(group, "shape_percent_months") != NULL;
    entry->has_shape = by_hour || by_month;
    for (int32_t i = 0; i < HOURS; i++)
        entry->shape_hours[i] = by_hour ? entry->shape_hours[i] * 10000 : MILLION;
    for (int32_t i = 0; i < MONTHS && !by_month; i++)
        entry->shape_months[i] = MILLION;
}

static void read_case(struct source *source, const char *path, const config_setting_t *group,
                      struct contract_case *entry)
{
    char tariff[CONFIG_PATH_SIZE];
    setting_read(source, group, &case_table, entry);
    entry->has_load = read_hours(source, group, "load_w", "W", MOST_LOAD_W, entry->load_w);
    read_shape(source, group, entry);
    snprintf(tariff, sizeof tariff, "%s", entry->tariff);
    if (tariff[0] && !path_beside(path, tariff, entry->tariff))
        setting_complain(source, group, "tariff", true,
                         "the path \"%s\" is too long, allowed: up to %d bytes", tariff,
                         CONFIG_PATH_SIZE - 1);
    if ((entry->battery_kwh > 0) != (entry->battery_kw > 0))
        setting_complain(
            source, group, entry->battery_kwh > 0 ? "battery_kwh" : "battery_kw", true,
            "a battery has a capacity and a power, allowed: 'battery_kwh' and 'battery_kw' together");
    if (entry->by_time_of_use != (entry->dispatch_block[0] != '\0'))
        setting_complain(
            source, group, "dispatch", true,
            "'dispatch_block' names the block in which the battery gives, allowed: with the dispatch "
            "\"time_of_use\", and only with it");
    if (!config_setting_get_member(group, "export_limit_kw"))
        entry->export_limit_kw = UNKNOWN;
    if (entry->netting_s > 0 && DAY_S % entry->netting_s != 0)
        setting_complain(source, group, "netting_minutes", true,
                         "'netting_minutes' does not divide a day, allowed: 15, 30, 60, 1440 ...");
    if (entry->consumption_per_month > 0 && entry->consumption_change != 0)
        setting_complain(source, group, "consumption_kwh_per_month", true,
                         "the consumption is set twice, allowed: 'consumption_kwh_per_month' or "
                         "'consumption_change_percent'");
}

static void read_sweep(struct source *source, const config_setting_t *group, struct contract_file *file)
{
    struct contract_sweep *sweep = &file->sweep;
    setting_read(source, group, &sweep_table, sweep);
    file->has_sweep = true;
    if (sweep->plant_to < sweep->plant_from || sweep->consumption_to < sweep->consumption_from)
        setting_complain(source, group, sweep->plant_to < sweep->plant_from ? "plant_to" : "consumption_to",
                         true, "a range ends before it begins, allowed: 'from' not above 'to'");
}

void contract_read_cases(struct source *source, const char *path, const config_setting_t *root,
                         struct contract_file *file)
{
    const config_setting_t *list = config_setting_get_member(root, "cases");
    const config_setting_t *sweep = config_setting_get_member(root, "sweep");
    int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
    if (list && (!setting_is_list(list) || count > CONTRACT_CASES))
        setting_complain(source, root, "cases", true,
                         "'cases' is no list of groups, or one of more than %d, allowed: ( { "
                         "... }, { ... } )",
                         (int)CONTRACT_CASES);
    for (int32_t i = 0; i < count && i < CONTRACT_CASES; i++)
        read_case(source, path, config_setting_get_elem(list, (unsigned)i), &file->cases[file->case_count++]);
    if (sweep)
        read_sweep(source, sweep, file);
}
