/* Bills on paper. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "contract_cases.h"
#include "number.h"

enum { PAPER_MOST = 600 };

#define MILLIONTHS .factor = 1000000, .exact = true
#define MOST_MONEY 1e12
#define MOST_SHOWN 999999999

struct paper_entry {
    char from[TARIFF_NAME_SIZE], to[TARIFF_NAME_SIZE];
    int64_t import, export, total;
    char note[CONTRACT_TEXT_SIZE];
    bool estimated;
};

#define PAPER(field) SETTING_AT(struct paper_entry, field)
static const struct setting_rule paper_rules[] = {
    { "from", SETTING_TEXT, PAPER(from), .required = true },
    { "to", SETTING_TEXT, PAPER(to), .required = true },
    { "import", SETTING_SCALED, PAPER(import), .least = 0, .most = 1e9, MILLIONTHS },
    { "export", SETTING_SCALED, PAPER(export), .least = 0, .most = 1e9, MILLIONTHS },
    { "total", SETTING_SCALED, PAPER(total), .required = true, .least = -MOST_MONEY, .most = MOST_MONEY,
      MILLIONTHS },
    { "estimated", SETTING_BOOL, PAPER(estimated) },
    { "note", SETTING_TEXT, PAPER(note) },
    { "items", SETTING_LIST, .offset = 0, .size = 0 },
    { "readings", SETTING_LIST, .offset = 0, .size = 0 },
};

#define ITEM(field) SETTING_AT(struct paper_item, field)
static const struct setting_rule item_rules[] = {
    { "name", SETTING_TEXT, ITEM(name), .required = true },
    { "amount", SETTING_SCALED, ITEM(amount), .required = true, .least = -MOST_MONEY, .most = MOST_MONEY,
      MILLIONTHS },
};

struct reading_entry {
    bool export;
    char block[TARIFF_NAME_SIZE];
    int64_t opening, closing, factor, energy;
};

static const char *const of_words[] = { "import", "export", NULL };
#define READING(field) SETTING_AT(struct reading_entry, field)
static const struct setting_rule reading_rules[] = {
    { "of", SETTING_WORD, READING(export), .words = of_words },
    { "block", SETTING_TEXT, READING(block) },
    { "opening", SETTING_SCALED, READING(opening), .least = 0, .most = MOST_SHOWN, MILLIONTHS },
    { "closing", SETTING_SCALED, READING(closing), .least = 0, .most = MOST_SHOWN, MILLIONTHS },
    { "factor", SETTING_SCALED, READING(factor), .least = 0.001, .most = 100000, .otherwise = 1, MILLIONTHS },
    { "kwh", SETTING_SCALED, READING(energy), .least = 0, .most = 1e9, MILLIONTHS },
};

#define TABLE(what, rules)                                                                                   \
    {                                                                                                        \
        what, (rules), sizeof(rules) / sizeof((rules)[0])                                                    \
    }
static const struct setting_table paper_table = TABLE("a paper bill", paper_rules),
                                  item_table = TABLE("an item of a paper bill", item_rules),
                                  reading_table = TABLE("a reading of a paper bill", reading_rules);

static bool has(const config_setting_t *group, const char *key)
{
    return config_setting_get_member(group, key) != NULL;
}

static void read_items(struct source *source, const config_setting_t *group, struct paper_bill *paper)
{
    const config_setting_t *list;
    int32_t count = contract_list_of(source, group, "items", PAPER_ITEMS, &list);
    for (int32_t i = 0; i < count; i++)
        setting_read(source, config_setting_get_elem(list, (unsigned)i), &item_table,
                     &paper->items[paper->item_count++]);
}

/* What is billed of a register stands there, or follows from its two readings. */
static int64_t energy_of(struct source *source, const config_setting_t *group,
                         const struct reading_entry *entry)
{
    bool opening = has(group, "opening"), closing = has(group, "closing");
    if (opening != closing)
        setting_complain(source, group, opening ? "opening" : "closing", true,
                         "one reading stands alone, allowed: 'opening' and 'closing' together");
    else if (!has(group, "kwh") && !opening)
        setting_complain(source, group, NULL, true,
                         "a reading says nothing, allowed: 'kwh', or 'opening' and 'closing', or all three");
    else if (!has(group, "kwh") && entry->closing < entry->opening)
        setting_complain(source, group, "closing", true,
                         "'closing' is below 'opening', allowed: 'kwh' beside them where a register began "
                         "anew or the meter was exchanged");
    else if (!has(group, "kwh"))
        return multiply_round(entry->closing - entry->opening, entry->factor, MONEY_ONE);
    return entry->energy;
}

static void read_reading(struct source *source, const config_setting_t *group, struct paper_bill *paper)
{
    struct reading_entry entry = { 0 };
    setting_read(source, group, &reading_table, &entry);
    struct paper_reading *reading = &paper->readings[paper->reading_count];
    *reading = (struct paper_reading){
        .of = entry.export ? MEASURE_EXPORT : MEASURE_IMPORT,
        .opening = has(group, "opening") ? entry.opening : UNKNOWN,
        .closing = has(group, "closing") ? entry.closing : UNKNOWN,
        .energy = energy_of(source, group, &entry),
        .line = contract_line_of(source, group, "block"),
    };
    snprintf(reading->block, sizeof reading->block, "%s", entry.block);
    for (int32_t i = 0; i < paper->reading_count; i++)
        if (paper->readings[i].of == reading->of && strcmp(paper->readings[i].block, entry.block) == 0)
            setting_complain(source, group, has(group, "block") ? "block" : NULL, true,
                             "there are two readings of %s%s%s%s, allowed: each register once",
                             of_words[entry.export], entry.block[0] ? " in \"" : "", entry.block,
                             entry.block[0] ? "\"" : "");
    paper->reading_count++;
    /* that of all time is what the bill is about */
    int64_t *whole = entry.export ? &paper->export : &paper->import;
    if (!entry.block[0] && *whole == UNKNOWN)
        *whole = reading->energy;
}

static void read_readings(struct source *source, const config_setting_t *group, struct paper_bill *paper)
{
    const config_setting_t *list;
    int32_t count = contract_list_of(source, group, "readings", PAPER_READINGS, &list);
    for (int32_t i = 0; i < count; i++)
        read_reading(source, config_setting_get_elem(list, (unsigned)i), paper);
}

static void read_paper(struct source *source, const config_setting_t *group, struct paper_bill *paper,
                       int64_t *before)
{
    struct paper_entry entry = { 0 };
    setting_read(source, group, &paper_table, &entry);
    paper->from_day = contract_date_of(source, group, "from", entry.from, before);
    paper->to_day = contract_date_of(source, group, "to", entry.to, NULL);
    if (paper->to_day <= paper->from_day)
        setting_complain(source, group, "to", true,
                         "'to' is not after 'from', allowed: the day of the closing "
                         "reading");
    paper->import = has(group, "import") ? entry.import : UNKNOWN;
    paper->export = has(group, "export") ? entry.export : UNKNOWN;
    paper->total = entry.total;
    paper->estimated = entry.estimated;
    snprintf(paper->note, sizeof paper->note, "%s", entry.note);
    read_items(source, group, paper);
    read_readings(source, group, paper);
}

void contract_read_papers(struct source *source, const config_setting_t *root, struct contract_file *file)
{
    const config_setting_t *list;
    int64_t before = INT64_MIN;
    int32_t count = contract_list_of(source, root, "paper", PAPER_MOST, &list);
    file->papers = calloc((size_t)count + 1, sizeof *file->papers);
    source->memory_out = source->memory_out || !file->papers;
    for (int32_t i = 0; i < count && file->papers; i++)
        read_paper(source, config_setting_get_elem(list, (unsigned)i), &file->papers[file->paper_count++],
                   &before);
}
