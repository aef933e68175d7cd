/* Reads a tariff's file. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tariff_file.h"
#include "tariff_words.h"

static const char *const root_words[] = { "tariff", "holidays", "schedules", NULL };
static const char other[] = "other";

static void refuse_unknown(struct source *source, const config_setting_t *root)
{
    char allowed[200];
    words_join(root_words, allowed, sizeof allowed);
    for (int i = 0; i < config_setting_length(root); i++) {
        const config_setting_t *member = config_setting_get_elem(root, (unsigned)i);
        if (word_index(root_words, config_setting_name(member)) < 0)
            source_complain(source, (int32_t)config_setting_source_line(member), true,
                            "unknown key '%s', allowed: %s", config_setting_name(member), allowed);
    }
}

static void read_head(struct source *source, const config_setting_t *root, struct tariff *tariff)
{
    const config_setting_t *group = config_setting_get_member(root, "tariff");
    struct tariff_entry entry;
    memset(&entry, 0, sizeof entry);
    if (!group || !config_setting_is_group(group)) {
        setting_complain(source, root, "tariff", true, "'tariff' is missing, allowed: a group { ... }");
        return;
    }
    setting_read(source, group, &tariff_table, &entry);
    *tariff = entry.tariff;
    tariff->end_day = INT64_MAX;
    tariff->decimals = currency_decimals(tariff->currency);
    if (tariff->decimals < 0 && tariff->currency[0])
        setting_complain(source, group, "currency", true,
                         "'currency' is \"%s\", allowed: a code of ISO 4217, three capital letters",
                         tariff->currency);
    if (tariff->demand_s > 0 && 3600 % tariff->demand_s != 0)
        setting_complain(source, group, "demand_minutes", true,
                         "'demand_minutes' does not divide an hour, allowed: 5, 10, 15, 20, 30, 60 ...");
    if (entry.until[0] &&
        !tariff_refuse(source, group, "until", entry.until, tariff_date(entry.until, &tariff->end_day)))
        tariff->end_day++; /* that day is the last */
}

static void read_holidays(struct source *source, const config_setting_t *root, struct tariff *tariff)
{
    const config_setting_t *list = config_setting_get_member(root, "holidays");
    if (!list)
        return;
    int32_t count = config_setting_is_aggregate(list) ? config_setting_length(list) : -1;
    if (count < 0 || count > TARIFF_HOLIDAYS) {
        setting_complain(source, root, "holidays", true,
                         "'holidays' is no list of dates, allowed: up to %d texts in "
                         "( ... )",
                         (int)TARIFF_HOLIDAYS);
        return;
    }
    tariff->holidays = calloc((size_t)count + 1, sizeof *tariff->holidays);
    if (!tariff->holidays) {
        source->memory_out = true;
        return;
    }
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *element = config_setting_get_elem(list, (unsigned)i);
        const char *text =
            config_setting_type(element) == CONFIG_TYPE_STRING ? config_setting_get_string(element) : "";
        int64_t day = 0;
        const char *allowed = tariff_date(text, &day);
        if (allowed || (tariff->holiday_count > 0 && day <= tariff->holidays[tariff->holiday_count - 1]))
            source_complain(source, (int32_t)config_setting_source_line(element), true,
                            "\"%s\" is no holiday, allowed: %s, each later than the one before", text,
                            allowed ? allowed : "a date");
        else
            tariff->holidays[tariff->holiday_count++] = day;
    }
}

static void read_block(struct source *source, const config_setting_t *group, struct schedule *schedule)
{
    struct block_entry entry;
    memset(&entry, 0, sizeof entry);
    setting_read(source, group, &block_table, &entry);
    struct block *block = &schedule->blocks[schedule->block_count++];
    *block = entry.block;
    tariff_refuse(source, group, "months", entry.months, tariff_months(entry.months, &block->months));
    tariff_refuse(source, group, "days", entry.weekdays, tariff_weekdays(entry.weekdays, &block->weekdays));
    tariff_refuse(source, group, "from", entry.from, tariff_clock(entry.from, &block->from_s));
    tariff_refuse(source, group, "to", entry.to, tariff_clock(entry.to, &block->to_s));
    if (block->from_s == block->to_s)
        setting_complain(source, group, "to", true,
                         "'to' is \"%s\" as 'from' is, allowed: another time; a whole day is \"00:00\" to "
                         "\"24:00\"",
                         entry.to);
    block->same = 0;
    while (strcmp(schedule->blocks[block->same].name, block->name) != 0)
        block->same++;
    if (strcmp(block->name, other) == 0)
        setting_complain(source, group, "name", true,
                         "a block is named \"other\", allowed: any other name; \"other\" is all other time");
}

static void read_blocks(struct source *source, const config_setting_t *group, struct schedule *schedule)
{
    const config_setting_t *list = config_setting_get_member(group, "blocks");
    int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
    if (count >= TARIFF_BLOCKS)
        setting_complain(source, group, "blocks", true, "there are %d blocks, allowed: up to %d", (int)count,
                         (int)TARIFF_BLOCKS - 1);
    for (int32_t i = 0; i < count && i + 1 < TARIFF_BLOCKS; i++)
        read_block(source, config_setting_get_elem(list, (unsigned)i), schedule);
    struct block *rest = &schedule->blocks[schedule->block_count++];
    snprintf(rest->name, sizeof rest->name, "%s", other);
    rest->same = schedule->block_count - 1;
    rest->months = rest->weekdays = UINT32_MAX;
    rest->to_s = 24 * 3600;
}

/* Days of each year, parted by spaces. */
static void read_settle(struct source *source, const config_setting_t *place, const char *text,
                        struct netting *netting)
{
    char list[TARIFF_WORDS_SIZE], *rest = list, *word;
    bool alone = strcmp(text, "never") == 0;
    snprintf(list, sizeof list, "%s", text);
    while ((word = strsep(&rest, " ")) != NULL) {
        struct day_of_year day = { 0, 0 };
        const char *allowed = word[0] ? tariff_day_of_year(word, &day.month, &day.day) : NULL;
        if (!allowed && word[0] && day.month == 0 && !alone)
            allowed = "\"never\" alone, or days of a year";
        if (!allowed && day.month > 0 && netting->settle_count == TARIFF_SETTLE_DAYS)
            allowed = "up to four days of a year";
        if (!tariff_refuse(source, place, "settle", word, allowed) && day.month > 0)
            netting->settle[netting->settle_count++] = day;
    }
}

static void check_cap(struct source *source, const config_setting_t *place, const struct tariff *tariff,
                      const struct schedule *schedule)
{
    const struct netting *netting = &schedule->netting;
    bool capped = netting->cap_share > 0 || netting->cap_energy > 0, priced = false;
    for (int32_t i = 0; i < schedule->item_count; i++)
        priced |= schedule->items[i].of == MEASURE_ABOVE_CAP;
    if (capped && tariff->settlement != SETTLEMENT_NET_METERED)
        setting_complain(source, place, netting->cap_share > 0 ? "cap_percent" : "cap_kwh", true,
                         "netting is capped, allowed: under the settlement \"net_metered\" only");
    if (netting->cap_days > 0 && netting->cap_energy == 0)
        setting_complain(source, place, "cap_days", true,
                         "'cap_days' stands without 'cap_kwh', allowed: the days that it is for, with it");
    if (netting->above_cap != ABOVE_SURPLUS && !capped)
        setting_complain(source, place, "above_cap", true,
                         "'above_cap' stands without a cap, allowed: with 'cap_percent' or 'cap_kwh'");
    if (priced != (netting->above_cap == ABOVE_PAY))
        setting_complain(
            source, place, "above_cap", true,
            "items of \"above_cap\" and 'above_cap' do not fit, allowed: the word \"pay\" with at "
            "least one such item, else none");
}

/* A key that would do nothing is a slip: its bill would not be what was meant. */
static void refuse_idle(struct source *source, const config_setting_t *place, const struct tariff *tariff,
                        const struct netting *netting)
{
    const bool energy = netting->carry == CARRY_ENERGY, money = netting->carry == CARRY_MONEY;
    const bool settles = netting->settle_count > 0, pays = netting->at_settlement == SETTLE_PAY;
    const struct {
        const char *key;
        bool fits;
        const char *allowed;
    } keys[] = {
        { "by_block", !netting->by_block || tariff->settlement == SETTLEMENT_NET_METERED,
          "under the settlement \"net_metered\"" },
        { "across", !netting->across || netting->by_block, "with 'by_block'" },
        { "kept_percent", energy, "with 'carry' \"energy\"" },
        { "expiry_months", energy, "with 'carry' \"energy\"" },
        { "pays", money, "with 'carry' \"money\"" },
        { "settle", (energy || money) || !settles, "with 'carry' \"energy\" or \"money\"" },
        { "at_settlement", settles, "with days of 'settle'" },
        { "settle_rate", energy && pays, "with 'carry' \"energy\" and 'at_settlement' \"pay\"" },
    };
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (!keys[i].fits && config_setting_get_member(place, keys[i].key))
            setting_complain(source, place, keys[i].key, true, "'%s' does nothing here, allowed: %s",
                             keys[i].key, keys[i].allowed);
}

static void read_netting(struct source *source, const config_setting_t *group, const struct tariff *tariff,
                         struct schedule *schedule)
{
    const config_setting_t *place = config_setting_get_member(group, "netting");
    struct netting_entry entry;
    memset(&entry, 0, sizeof entry);
    setting_read(source, place, &netting_table, &entry);
    schedule->netting = entry.netting;
    struct netting *netting = &schedule->netting;
    check_cap(source, place ? place : group, tariff, schedule);
    if (!place)
        return;
    read_settle(source, place, entry.settle, netting);
    if (entry.pays[0])
        netting->pays = tariff_item_set(source, place, "pays", entry.pays, schedule, schedule->item_count);
    if (tariff->settlement != SETTLEMENT_NET_METERED && netting->carry == CARRY_ENERGY)
        setting_complain(source, place, "carry", true,
                         "energy is carried, allowed: under the settlement \"net_metered\" only");
    if (netting->at_settlement == SETTLE_PAY && !config_setting_get_member(place, "settle_rate") &&
        netting->carry == CARRY_ENERGY)
        setting_complain(source, place, "settle_rate", true,
                         "'settle_rate' is missing, allowed: the rate of a kWh that "
                         "is paid at settlement");
    refuse_idle(source, place, tariff, netting);
}

static void read_dates(struct source *source, const config_setting_t *group, struct schedule *schedule)
{
    struct schedule_entry entry;
    memset(&entry, 0, sizeof entry);
    setting_read(source, group, &schedule_table, &entry);
    snprintf(schedule->source, sizeof schedule->source, "%s", entry.source);
    schedule->from_day = INT64_MIN;
    if (entry.from[0])
        tariff_refuse(source, group, "from", entry.from, tariff_date(entry.from, &schedule->from_day));
    schedule->known_day = schedule->from_day;
    if (entry.known[0])
        tariff_refuse(source, group, "known", entry.known, tariff_date(entry.known, &schedule->known_day));
}

/* A schedule holds until the next one: there can be no gap between them, and two of one day would overlap. */
static void check_order(struct source *source, const config_setting_t *list, const struct tariff *tariff)
{
    for (int32_t i = 0; i < tariff->schedule_count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        int64_t from = tariff->schedules[i].from_day;
        if (i > 0 && from <= tariff->schedules[i - 1].from_day)
            setting_complain(source, place, "from", true,
                             "a schedule does not begin after the one before it, allowed: rising dates");
        if (from >= tariff->end_day)
            setting_complain(source, place, "from", true,
                             "a schedule begins after the tariff's 'until', allowed: a date before it");
    }
}

static bool same_blocks(const struct schedule *a, const struct schedule *b)
{
    bool same = a->block_count == b->block_count;
    for (int32_t i = 0; same && i < a->block_count; i++)
        same = strcmp(a->blocks[i].name, b->blocks[i].name) == 0;
    return same;
}

/* Credit that is kept by block is kept by the block's place. */
static void check_blocks(struct source *source, const config_setting_t *list, const struct tariff *tariff)
{
    for (int32_t i = 1; i < tariff->schedule_count; i++)
        if (tariff->schedules[i].netting.by_block && tariff->schedules[i].netting.carry == CARRY_ENERGY &&
            !same_blocks(&tariff->schedules[i - 1], &tariff->schedules[i]))
            setting_complain(source, config_setting_get_elem(list, (unsigned)i), "blocks", true,
                             "blocks are not those of the schedule before, allowed: the same names in the "
                             "same order where credit is kept by block");
}

static void read_schedules(struct source *source, const config_setting_t *root, struct tariff *tariff)
{
    const config_setting_t *list = config_setting_get_member(root, "schedules");
    int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
    if (count < 1 || count > TARIFF_SCHEDULES) {
        setting_complain(source, root, "schedules", true,
                         "'schedules' has %d groups, allowed: a list of 1 to %d", (int)count,
                         (int)TARIFF_SCHEDULES);
        return;
    }
    tariff->schedules = calloc((size_t)count, sizeof *tariff->schedules);
    if (!tariff->schedules) {
        source->memory_out = true;
        return;
    }
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct schedule *schedule = &tariff->schedules[tariff->schedule_count++];
        read_dates(source, place, schedule);
        read_blocks(source, place, schedule);
        tariff_read_items(source, place, schedule);
        read_netting(source, place, tariff, schedule);
    }
    check_order(source, list, tariff);
    check_blocks(source, list, tariff);
}

struct tariff *tariff_load(const char *path, struct problems *problems)
{
    struct source source;
    config_t parsed;
    struct tariff *tariff = calloc(1, sizeof *tariff);
    config_init(&parsed);
    source_read(&source, path);
    if (tariff && source.line_count > 0 && setting_parse(&source, &parsed)) {
        const config_setting_t *root = config_root_setting(&parsed);
        refuse_unknown(&source, root);
        read_head(&source, root, tariff);
        read_holidays(&source, root, tariff);
        read_schedules(&source, root, tariff);
    }
    bool good = source_say(&source, problems) && tariff && tariff->schedule_count > 0;
    source_close(&source);
    config_destroy(&parsed);
    if (good)
        return tariff;
    tariff_free(tariff);
    return NULL;
}

void tariff_free(struct tariff *tariff)
{
    if (!tariff)
        return;
    free(tariff->holidays);
    free(tariff->schedules);
    free(tariff);
}

struct tariff *tariff_unrounded(const struct tariff *tariff)
{
    static const struct rounding none = { 0, ROUND_HALF_UP };
    struct tariff *copy = calloc(1, sizeof *copy);
    if (!copy)
        return NULL;
    *copy = *tariff;
    copy->quantity = copy->line = copy->total = none;
    copy->holidays = calloc((size_t)tariff->holiday_count + 1, sizeof *copy->holidays);
    copy->schedules = calloc((size_t)tariff->schedule_count, sizeof *copy->schedules);
    if (!copy->holidays || !copy->schedules) {
        tariff_free(copy);
        return NULL;
    }
    if (tariff->holiday_count > 0)
        memcpy(copy->holidays, tariff->holidays, (size_t)tariff->holiday_count * sizeof *copy->holidays);
    memcpy(copy->schedules, tariff->schedules, (size_t)tariff->schedule_count * sizeof *copy->schedules);
    for (int32_t s = 0; s < copy->schedule_count; s++)
        for (int32_t i = 0; i < copy->schedules[s].item_count; i++)
            copy->schedules[s].items[i].quantity = copy->schedules[s].items[i].amount = none;
    return copy;
}
