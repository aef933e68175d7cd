/* The items of a schedule: what each multiplies, and by what. */
#include <stdio.h>
#include <string.h>

#include "tariff_file.h"
#include "tariff_words.h"

bool tariff_refuse(struct source *source, const config_setting_t *group, const char *key, const char *value,
                   const char *allowed)
{
    if (allowed)
        setting_complain(source, group, key, true, "'%s' is \"%s\", allowed: %s", key, value, allowed);
    return allowed != NULL;
}

uint32_t tariff_item_set(struct source *source, const config_setting_t *group, const char *key,
                         const char *names, const struct schedule *schedule, int32_t before)
{
    char list[TARIFF_WORDS_SIZE], *rest = list, *name;
    uint32_t set = 0;
    snprintf(list, sizeof list, "%s", names);
    while ((name = strsep(&rest, ",")) != NULL) {
        int32_t i = 0;
        name += strspn(name, " ");
        for (size_t end = strlen(name); end > 0 && name[end - 1] == ' '; end--)
            name[end - 1] = '\0';
        while (i < before && strcmp(schedule->items[i].name, name) != 0)
            i++;
        if (i == before)
            setting_complain(
                source, group, key, true,
                "there is no item \"%s\" before this, allowed: names of items that stand before it, "
                "parted by commas",
                name);
        else if (set & UINT32_C(1) << i)
            setting_complain(source, group, key, true, "the item \"%s\" is named twice, allowed: each once",
                             name);
        else
            set |= UINT32_C(1) << i;
    }
    return set;
}

/* Slabs rise, and the last one has no limit. */
static void read_slabs(struct source *source, const config_setting_t *group, struct slab_table *table)
{
    const config_setting_t *list = config_setting_get_member(group, "slabs");
    int64_t before = 0;
    if (!setting_is_list(list))
        return;
    int32_t count = config_setting_length(list);
    if (count < 1 || count > TARIFF_SLABS) {
        setting_complain(source, group, "slabs", true, "there are %d slabs, allowed: 1 to %d", (int)count,
                         (int)TARIFF_SLABS);
        return;
    }
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct slab *slab = &table->slabs[table->slab_count++];
        bool last = i + 1 == count, limited = config_setting_get_member(place, "to") != NULL;
        setting_read(source, place, &slab_rules, slab);
        if (last ? limited : !limited || slab->to <= before)
            setting_complain(source, place, "to", true,
                             "'to' %s, allowed: limits that rise, and none on the last slab",
                             last      ? "stands on the last slab"
                             : limited ? "does not rise"
                                       : "is missing");
        before = slab->to;
        if (last)
            slab->to = INT64_MAX;
    }
}

static void read_tables(struct source *source, const config_setting_t *group, struct item *item)
{
    const config_setting_t *list = config_setting_get_member(group, "tables");
    int64_t before = 0;
    if (item->price != PRICE_CHOSEN) {
        item->table_count = 1;
        item->tables[0].to = INT64_MAX;
        read_slabs(source, group, &item->tables[0]);
        return;
    }
    if (!setting_is_list(list))
        return;
    int32_t count = config_setting_length(list);
    if (count < 1 || count > TARIFF_TABLES) {
        setting_complain(source, group, "tables", true, "there are %d tables, allowed: 1 to %d", (int)count,
                         (int)TARIFF_TABLES);
        return;
    }
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct slab_table *table = &item->tables[item->table_count++];
        bool last = i + 1 == count, limited = config_setting_get_member(place, "to") != NULL;
        setting_read(source, place, &table_rules, table);
        read_slabs(source, place, table);
        if (last ? limited : !limited || table->to <= before)
            setting_complain(source, place, "to", true,
                             "'to' %s, allowed: limits that rise, and none on the last table",
                             last      ? "stands on the last table"
                             : limited ? "does not rise"
                                       : "is missing");
        before = table->to;
        if (last)
            table->to = INT64_MAX;
    }
}

static void read_ages(struct source *source, const config_setting_t *group, struct item *item)
{
    const config_setting_t *list = config_setting_get_member(group, "ages");
    int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
    if (count > TARIFF_AGES)
        setting_complain(source, group, "ages", true, "there are %d rates by age, allowed: up to %d",
                         (int)count, (int)TARIFF_AGES);
    for (int32_t i = 0; i < count && i < TARIFF_AGES; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct age_entry entry;
        setting_read(source, place, &age_rules, &entry);
        entry.age.from_day = INT64_MIN;
        entry.age.to_day = INT64_MAX;
        if (entry.from[0])
            tariff_refuse(source, place, "commissioned_from", entry.from,
                          tariff_date(entry.from, &entry.age.from_day));
        if (entry.to[0])
            tariff_refuse(source, place, "commissioned_before", entry.to,
                          tariff_date(entry.to, &entry.age.to_day));
        item->ages[item->age_count++] = entry.age;
    }
}

static bool is_energy(enum measure measure)
{
    return measure < MEASURE_ENERGIES;
}

static void find_block(struct source *source, const config_setting_t *group, const struct item_entry *entry,
                       const struct schedule *schedule, struct item *item)
{
    item->block = -1;
    if (!entry->block[0])
        return;
    for (int32_t i = 0; i < schedule->block_count; i++)
        if (strcmp(schedule->blocks[i].name, entry->block) == 0)
            item->block = schedule->blocks[i].same;
    if (item->block < 0)
        setting_complain(
            source, group, "block", true,
            "there is no block \"%s\", allowed: a block of this schedule, or \"other\" for all other "
            "time",
            entry->block);
    else if (!is_energy(item->of) && item->of != MEASURE_DEMAND && item->of != MEASURE_DEMAND_APPARENT)
        setting_complain(source, group, "block", true,
                         "'%s' is not counted by block, allowed: a block with energies and demand",
                         measure_name(item->of));
}

/* What must hold within an item. */
static void check(struct source *source, const config_setting_t *group, const struct item *item)
{
    bool of_items = item->price == PRICE_PERCENT || item->price == PRICE_LEAST;
    bool demand = item->of == MEASURE_DEMAND || item->of == MEASURE_DEMAND_APPARENT;
    if (item->apparent_percent > 0 && item->of != MEASURE_DEMAND)
        setting_complain(source, group, "apparent_percent", true,
                         "'apparent_percent' stands with \"%s\", allowed: with \"demand\"",
                         measure_name(item->of));
    if (of_items != (item->of == MEASURE_ITEMS))
        setting_complain(
            source, group, "of", true,
            "'of' is \"%s\", allowed: \"items\" with the prices \"percent\" and \"least\", and only with "
            "them",
            measure_name(item->of));
    if ((item->ratchet_percent > 0 || item->contracted_percent > 0) && !demand)
        setting_complain(
            source, group, item->ratchet_percent ? "ratchet_percent" : "contracted_percent", true,
            "a least demand stands with \"%s\", allowed: with \"demand\" and \"apparent_demand\"",
            measure_name(item->of));
    if (item->price == PRICE_FLAT && item->age_count == 0 && !config_setting_get_member(group, "rate"))
        setting_complain(source, group, "rate", true,
                         "'rate' is missing in an item, allowed: a rate, or 'ages'");
    if (item->of == MEASURE_POWER_FACTOR)
        setting_complain(source, group, "of", true,
                         "'of' is \"power_factor\", allowed: as 'chosen_by'; it multiplies nothing");
    if (item->age_count > 0 && item->of != MEASURE_EXPORT && item->of != MEASURE_PRODUCTION)
        setting_complain(source, group, "ages", true,
                         "rates by age stand with \"%s\", allowed: with \"export\" and \"production\"",
                         measure_name(item->of));
}

static void read_item(struct source *source, const config_setting_t *group, struct schedule *schedule)
{
    int32_t index = schedule->item_count;
    struct item_entry entry;
    memset(&entry, 0, sizeof entry);
    setting_read(source, group, &item_table, &entry);
    struct item *item = &schedule->items[index];
    *item = entry.item;
    for (int32_t i = 0; i < index; i++)
        if (strcmp(schedule->items[i].name, item->name) == 0 && item->name[0])
            setting_complain(source, group, "name", true,
                             "two items are named \"%s\", allowed: each name once", item->name);
    item->chosen_by = entry.chosen_by < 0 ? item->of : (enum measure)entry.chosen_by;
    if (item->price == PRICE_PERCENT)
        item->rate = entry.percent;
    if (item->price == PRICE_LEAST)
        item->rate = entry.least;
    find_block(source, group, &entry, schedule, item);
    if (entry.ratchet_months[0])
        tariff_refuse(source, group, "ratchet_months", entry.ratchet_months,
                      tariff_months(entry.ratchet_months, &item->ratchet_months));
    if (entry.items[0])
        item->items = tariff_item_set(source, group, "items", entry.items, schedule, index);
    if (item->price == PRICE_TELESCOPIC || item->price == PRICE_WHOLE || item->price == PRICE_CHOSEN)
        read_tables(source, group, item);
    read_ages(source, group, item);
    check(source, group, item);
    schedule->item_count++;
}

void tariff_read_items(struct source *source, const config_setting_t *group, struct schedule *schedule)
{
    const config_setting_t *list = config_setting_get_member(group, "items");
    int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
    if (count > TARIFF_ITEMS || (count == 0 && setting_is_list(list)))
        setting_complain(source, group, "items", true, "there are %d items, allowed: 1 to %d", (int)count,
                         (int)TARIFF_ITEMS);
    for (int32_t i = 0; i < count && i < TARIFF_ITEMS; i++)
        read_item(source, config_setting_get_elem(list, (unsigned)i), schedule);
}
