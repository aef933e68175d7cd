#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "contract.h"
#include "contract_cases.h"
#include "number.h"
#include "setting.h"
#include "tariff_file.h"
#include "tariff_words.h"

#define MILLIONTHS .factor = 1000000, .exact = true
#define MOST_MONEY 1e12
#define PERCENT    .factor = 10000, .exact = true

struct head_entry {
    char tariff[CONFIG_PATH_SIZE], without[CONFIG_PATH_SIZE];
    int32_t phases;
    char registers[CONTRACT_REGISTERS][TARIFF_NAME_SIZE];
};

#define HEAD(field) SETTING_AT(struct head_entry, field)
static const struct setting_rule head_rules[] = {
    { "tariff", SETTING_TEXT, HEAD(tariff), .required = true },
    { "without_plant", SETTING_TEXT, HEAD(without) },
    { "phases", SETTING_WHOLE, HEAD(phases), .least = 1, .most = 3, .otherwise = 1 },
    { "t1", SETTING_TEXT, HEAD(registers[0]) },
    { "t2", SETTING_TEXT, HEAD(registers[1]) },
    { "t3", SETTING_TEXT, HEAD(registers[2]) },
    { "t4", SETTING_TEXT, HEAD(registers[3]) },
};

/* Anything that is dated: the fields that a list does not use stay at their defaults. */
struct dated_entry {
    char from[TARIFF_NAME_SIZE];
    int64_t kilowatts, amount;
    char text[CONTRACT_TEXT_SIZE];
};

#define DATED(field) SETTING_AT(struct dated_entry, field)
static const struct setting_rule load_rules[] = {
    { "from", SETTING_TEXT, DATED(from), .required = true },
    { "contracted_kw", SETTING_SCALED, DATED(kilowatts), .required = true, .least = 0, .most = 100000,
      MILLIONTHS },
};
static const struct setting_rule part_rules[] = {
    { "from", SETTING_TEXT, DATED(from), .required = true },
    { "kwp", SETTING_SCALED, DATED(kilowatts), .required = true, .least = 0.001, .most = 100000, MILLIONTHS },
};
static const struct setting_rule cost_rules[] = {
    { "date", SETTING_TEXT, DATED(from), .required = true },
    { "what", SETTING_TEXT, DATED(text), .required = true },
    { "amount", SETTING_SCALED, DATED(amount), .required = true, .least = -MOST_MONEY, .most = MOST_MONEY,
      MILLIONTHS },
};
#define CREDIT(field) SETTING_AT(struct credit_entry, field)
struct credit_entry {
    char date[TARIFF_NAME_SIZE];
    struct contract_credit credit;
};
static const struct setting_rule credit_rules[] = {
    { "date", SETTING_TEXT, CREDIT(date), .required = true },
    { "block", SETTING_TEXT, CREDIT(credit.block), .required = true },
    { "kwh", SETTING_SCALED, CREDIT(credit.energy), .required = true, .least = 0, .most = 1e9, MILLIONTHS },
    { "source", SETTING_TEXT, CREDIT(credit.source), .required = true },
};

#define PROJECTION(field) SETTING_AT(struct contract_projection, field)
static const struct setting_rule projection_rules[] = {
    { "life_years", SETTING_WHOLE, PROJECTION(life_years), .required = true, .least = 1, .most = 60 },
    { "degradation_percent", SETTING_SCALED, PROJECTION(degradation), .least = 0, .most = 10, PERCENT },
    { "escalation_percent", SETTING_SCALED, PROJECTION(escalation), .least = -20, .most = 50, PERCENT },
    { "operating_per_year", SETTING_SCALED, PROJECTION(operating), .least = 0, .most = MOST_MONEY,
      MILLIONTHS },
    { "operating_escalation_percent", SETTING_SCALED, PROJECTION(operating_escalation), .least = -20,
      .most = 50, PERCENT },
    { "replacement_year", SETTING_WHOLE, PROJECTION(replacement_year), .least = 0, .most = 60 },
    { "replacement", SETTING_SCALED, PROJECTION(replacement), .least = 0, .most = MOST_MONEY, MILLIONTHS },
    { "discount_percent", SETTING_SCALED, PROJECTION(discount), .required = true, .least = -10, .most = 100,
      PERCENT },
    { "deposit_percent", SETTING_SCALED, PROJECTION(deposit), .required = true, .least = -10, .most = 100,
      PERCENT },
};

static const char *const claim_words[] = { "owner", "sold", NULL };
#define CARBON(field) SETTING_AT(struct contract_carbon, field)
/* Median of rooftop plants: IPCC, fifth assessment, working group III, annex III, table A.III.2. */
static const struct setting_rule carbon_rules[] = {
    { "factors", SETTING_TEXT, CARBON(factors), .required = true },
    { "average", SETTING_TEXT, CARBON(average) },
    { "marginal", SETTING_TEXT, CARBON(marginal) },
    { "losses_percent", SETTING_SCALED, CARBON(losses), .least = 0, .most = 50, PERCENT },
    { "life_cycle_g_per_kwh", SETTING_SCALED, CARBON(life_cycle), .least = 0, .most = 1000, .otherwise = 41,
      .factor = 1000, .exact = true },
    { "embodied_kwh_per_kwp", SETTING_SCALED, CARBON(embodied_kwh_per_kwp), .least = 0, .most = 50000,
      MILLIONTHS },
    { "claim", SETTING_WORD, CARBON(claim_sold), .words = claim_words },
};

#define TABLE(what, rules)                                                                                   \
    {                                                                                                        \
        what, (rules), sizeof(rules) / sizeof((rules)[0])                                                    \
    }
static const struct setting_table head_table = TABLE("the contract", head_rules),
                                  load_table = TABLE("a load", load_rules),
                                  part_table = TABLE("a part", part_rules),
                                  cost_table = TABLE("a cost", cost_rules),
                                  credit_table = TABLE("a credit", credit_rules),
                                  projection_table = TABLE("the projection", projection_rules),
                                  carbon_table = TABLE("carbon", carbon_rules);

static const char *const root_words[] = { "contract", "loads", "plant", "costs",  "credits", "projection",
                                          "paper",    "cases", "sweep", "carbon", NULL };

struct load {
    const char *path;
    struct source source;
    struct contract_file *file;
};

static void refuse_unknown(struct load *load, const config_setting_t *root)
{
    char allowed[200];
    words_join(root_words, allowed, sizeof allowed);
    for (int i = 0; i < config_setting_length(root); i++) {
        const config_setting_t *member = config_setting_get_elem(root, (unsigned)i);
        if (word_index(root_words, config_setting_name(member)) < 0)
            source_complain(&load->source, (int32_t)config_setting_source_line(member), true,
                            "unknown key '%s', allowed: %s", config_setting_name(member), allowed);
    }
}

static void set_path(struct load *load, const config_setting_t *group, const char *key, const char *from,
                     char *to)
{
    if (from[0] && !path_beside(load->path, from, to))
        setting_complain(&load->source, group, key, true,
                         "the path \"%s\" is too long, allowed: up to %d bytes", from, CONFIG_PATH_SIZE - 1);
}

static void read_head(struct load *load, const config_setting_t *root)
{
    const config_setting_t *group = config_setting_get_member(root, "contract");
    struct head_entry entry;
    memset(&entry, 0, sizeof entry);
    if (!group || !config_setting_is_group(group)) {
        setting_complain(&load->source, root, "contract", true,
                         "'contract' is missing, allowed: a group { ... }");
        return;
    }
    setting_read(&load->source, group, &head_table, &entry);
    load->file->phases = entry.phases;
    memcpy(load->file->registers, entry.registers, sizeof entry.registers);
    set_path(load, group, "tariff", entry.tariff, load->file->tariff);
    set_path(load, group, "without_plant", entry.without[0] ? entry.without : entry.tariff,
             load->file->without);
}

static void read_loads(struct load *load, const config_setting_t *root)
{
    const config_setting_t *list;
    int64_t before = INT64_MIN;
    int32_t count = contract_list_of(&load->source, root, "loads", CONTRACT_LOADS, &list);
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct dated_entry entry = { 0 };
        setting_read(&load->source, place, &load_table, &entry);
        load->file->loads[load->file->load_count++] =
            (struct contract_load){ contract_date_of(&load->source, place, "from", entry.from, &before),
                                    entry.kilowatts };
    }
}

static void read_parts(struct load *load, const config_setting_t *root)
{
    const config_setting_t *list;
    int64_t before = INT64_MIN;
    int32_t count = contract_list_of(&load->source, root, "plant", BILL_PARTS, &list);
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct dated_entry entry = { 0 };
        setting_read(&load->source, place, &part_table, &entry);
        load->file->parts[load->file->part_count++] =
            (struct plant_part){ contract_date_of(&load->source, place, "from", entry.from, &before),
                                 entry.kilowatts };
    }
}

static void read_costs(struct load *load, const config_setting_t *root)
{
    const config_setting_t *list;
    int32_t count = contract_list_of(&load->source, root, "costs", CONTRACT_COSTS, &list);
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct dated_entry entry = { 0 };
        setting_read(&load->source, place, &cost_table, &entry);
        struct contract_cost *cost = &load->file->costs[load->file->cost_count++];
        *cost = (struct contract_cost){ contract_date_of(&load->source, place, "date", entry.from, NULL),
                                        entry.amount, "" };
        snprintf(cost->what, sizeof cost->what, "%s", entry.text);
    }
}

static void read_credits(struct load *load, const config_setting_t *root)
{
    const config_setting_t *list;
    int64_t before = INT64_MIN;
    int32_t count = contract_list_of(&load->source, root, "credits", CONTRACT_CREDITS, &list);
    for (int32_t i = 0; i < count; i++) {
        const config_setting_t *place = config_setting_get_elem(list, (unsigned)i);
        struct contract_credit *credit = &load->file->credits[load->file->credit_count];
        struct credit_entry entry = { 0 };
        setting_read(&load->source, place, &credit_table, &entry);
        *credit = entry.credit;
        credit->day = contract_date_of(&load->source, place, "date", entry.date, &before);
        credit->line = contract_line_of(&load->source, place, "block");
        for (int32_t k = 0; k < load->file->credit_count; k++)
            if (load->file->credits[k].day == credit->day &&
                strcmp(load->file->credits[k].block, credit->block) == 0)
                setting_complain(&load->source, place, "block", true,
                                 "there are two credits of that day in \"%s\", allowed: each block once",
                                 credit->block);
        load->file->credit_count++;
    }
}

static void read_projection(struct load *load, const config_setting_t *root)
{
    const config_setting_t *group = config_setting_get_member(root, "projection");
    if (!group)
        return;
    setting_read(&load->source, group, &projection_table, &load->file->projection);
    load->file->has_projection = true;
    const struct contract_projection *projection = &load->file->projection;
    bool replaced = projection->replacement_year > 0;
    if ((projection->replacement > 0) != replaced)
        setting_complain(
            &load->source, group, replaced ? "replacement_year" : "replacement", true,
            "'%s' stands alone, allowed: 'replacement', an amount, and 'replacement_year', the year "
            "of the plant's life, together",
            replaced ? "replacement_year" : "replacement");
    if (replaced && projection->replacement_year >= projection->life_years)
        setting_complain(&load->source, group, "replacement_year", true,
                         "'replacement_year' is %d, allowed: less than 'life_years', %d",
                         (int)projection->replacement_year, (int)projection->life_years);
}

static void read_carbon(struct load *load, const config_setting_t *root)
{
    const config_setting_t *group = config_setting_get_member(root, "carbon");
    char path[CONFIG_PATH_SIZE];
    if (!group)
        return;
    setting_read(&load->source, group, &carbon_table, &load->file->carbon);
    snprintf(path, sizeof path, "%s", load->file->carbon.factors);
    set_path(load, group, "factors", path, load->file->carbon.factors);
    if (!load->file->carbon.average[0] && !load->file->carbon.marginal[0])
        setting_complain(
            &load->source, group, NULL, true,
            "neither 'average' nor 'marginal' is there, allowed: the name of a factor in the file");
}

struct contract_file *contract_load(const char *path, struct problems *problems)
{
    config_t parsed;
    struct load load = { .path = path, .file = calloc(1, sizeof *load.file) };
    config_init(&parsed);
    source_read(&load.source, path);
    if (load.file && load.source.line_count > 0 && setting_parse(&load.source, &parsed)) {
        const config_setting_t *root = config_root_setting(&parsed);
        refuse_unknown(&load, root);
        read_head(&load, root);
        read_loads(&load, root);
        read_parts(&load, root);
        read_costs(&load, root);
        read_credits(&load, root);
        read_projection(&load, root);
        read_carbon(&load, root);
        contract_read_papers(&load.source, root, load.file);
        contract_read_cases(&load.source, path, root, load.file);
    }
    bool good = source_say(&load.source, problems) && load.file && load.file->papers;
    source_close(&load.source);
    config_destroy(&parsed);
    if (good)
        return load.file;
    contract_free(load.file);
    return NULL;
}

void contract_free(struct contract_file *file)
{
    if (file)
        free(file->papers);
    free(file);
}

struct contract contract_at(const struct contract_file *file, int64_t day, bool with_plant)
{
    struct contract contract = { .with_plant = with_plant, .phases = file->phases };
    for (int32_t i = 0; i < file->load_count; i++)
        if (file->loads[i].from_day <= day)
            contract.contracted = file->loads[i].contracted;
    contract.part_count = with_plant ? file->part_count : 0;
    memcpy(contract.parts, file->parts, sizeof contract.parts);
    return contract;
}
