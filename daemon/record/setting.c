#include "setting.h"

#include <assert.h>
#include <errno.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "utf8.h"

enum { ALLOWED_SIZE = 1024, VALUE_SIZE = 80 };

/* One key while it is read. */
struct reading_key {
    struct source *source;
    const config_setting_t *group, *setting;
    const struct setting_table *table;
    const struct setting_rule *rule;
    char *to; /* the field */
};

static int32_t line_of(const config_setting_t *setting)
{
    return setting ? (int32_t)config_setting_source_line(setting) : 0;
}

void setting_complain(struct source *source, const config_setting_t *group, const char *key, bool error,
                      const char *format, ...)
{
    char what[1500];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    const config_setting_t *member = key ? config_setting_get_member(group, key) : NULL;
    source_complain(source, line_of(member ? member : group), error, "%s", what);
}

static void refuse(const struct reading_key *key)
{
    char allowed[ALLOWED_SIZE], value[VALUE_SIZE];
    if (config_setting_is_number(key->setting) && source_scan_refused(key->source, line_of(key->setting)))
        return;
    setting_allowed(key->rule, allowed, sizeof allowed);
    setting_value(key->setting, value, sizeof value);
    source_complain(key->source, line_of(key->setting), true, "'%s' is %s, allowed: %s", key->rule->key,
                    value, allowed);
}

/* Numbers: a whole number is fine where a fraction may stand. */
static bool number_of(const config_setting_t *setting, double *number)
{
    if (!config_setting_is_number(setting))
        return false;
    *number = config_setting_type(setting) == CONFIG_TYPE_FLOAT ? config_setting_get_float(setting)
                                                                : (double)config_setting_get_int64(setting);
    return isfinite(*number);
}

static void put_number(const struct reading_key *key, double number)
{
    const struct setting_rule *rule = key->rule;
    int64_t whole = llround(rule->type == SETTING_SCALED ? number * rule->factor : number);
    int32_t narrow = (int32_t)whole;
    if (rule->type == SETTING_REAL)
        memcpy(key->to, &number, sizeof number);
    else if (rule->size == sizeof whole)
        memcpy(key->to, &whole, sizeof whole);
    else
        memcpy(key->to, &narrow, sizeof narrow);
}

static bool read_number(const struct reading_key *key)
{
    double number;
    if (!number_of(key->setting, &number) || number < key->rule->least || number > key->rule->most)
        return false;
    if (key->rule->type == SETTING_WHOLE && number != floor(number))
        return false;
    if (key->rule->exact &&
        fabs(number * key->rule->factor - (double)llround(number * key->rule->factor)) > 0.01)
        return false;
    put_number(key, number);
    return true;
}

enum { MONTHS = 12 };

static bool read_months(const struct reading_key *key)
{
    const struct setting_rule *rule = key->rule;
    int32_t months[MONTHS];
    bool row = config_setting_is_array(key->setting) || config_setting_is_list(key->setting);
    if (!row || config_setting_length(key->setting) != MONTHS)
        return false;
    for (unsigned i = 0; i < MONTHS; i++) {
        double number;
        if (!number_of(config_setting_get_elem(key->setting, i), &number) || number < rule->least ||
            number > rule->most)
            return false;
        months[i] = (int32_t)llround(number * rule->factor);
    }
    memcpy(key->to, months, sizeof months);
    return true;
}

static bool read_bool(const struct reading_key *key)
{
    if (config_setting_type(key->setting) != CONFIG_TYPE_BOOL)
        return false;
    bool value = config_setting_get_bool(key->setting);
    memcpy(key->to, &value, sizeof value);
    return true;
}

static const char *text_of(const config_setting_t *setting)
{
    return config_setting_type(setting) == CONFIG_TYPE_STRING ? config_setting_get_string(setting) : NULL;
}

/* Cut to what the field holds. */
static void put_text(const struct reading_key *key, const char *text)
{
    size_t length = strnlen(text, key->rule->size - 1);
    memcpy(key->to, text, length);
    key->to[length] = '\0';
}

static bool read_text(const struct reading_key *key)
{
    const char *text = text_of(key->setting);
    if (!text || text[0] == '\0' || strlen(text) >= key->rule->size || !utf8_is_plain(text))
        return false;
    if (key->rule->words && word_index(key->rule->words, text) < 0)
        return false;
    put_text(key, text);
    return true;
}

static void put_word(const struct reading_key *key, int32_t index)
{
    bool flag = index != 0;
    if (key->rule->size == sizeof flag)
        memcpy(key->to, &flag, sizeof flag);
    else
        memcpy(key->to, &index, sizeof index);
}

static bool read_word(const struct reading_key *key)
{
    const char *text = text_of(key->setting);
    int32_t index = text ? word_index(key->rule->words, text) : -1;
    if (index < 0)
        return false;
    put_word(key, index);
    return true;
}

static bool read_ratio(const struct reading_key *key)
{
    int32_t sides[2] = { 0, 0 };
    const char *text = text_of(key->setting);
    for (int i = 0; text && i < 2; i++) {
        char *end;
        long number = *text >= '1' && *text <= '9' ? strtol(text, &end, 10) : 0;
        if (number < 1 || number > 1000000 || *end != (i == 0 ? '/' : '\0'))
            return false;
        sides[i] = (int32_t)number;
        text = end + 1;
    }
    if (!text)
        return false;
    memcpy(key->to, sides, sizeof sides);
    return true;
}

static bool read_bits(const struct reading_key *key)
{
    struct setting_bits bits = { .given = true };
    const char *text = text_of(key->setting);
    if (text) {
        char *end;
        bool hex = text[0] == '0' && (text[1] == 'x' || text[1] == 'X');
        if (!hex && strspn(text, "-0123456789") != strlen(text))
            return false;
        errno = 0;
        bits.negative = text[0] == '-';
        bits.value = bits.negative ? (uint64_t)strtoll(text, &end, 10) : strtoull(text, &end, hex ? 16 : 10);
        if (errno || end == text || *end != '\0')
            return false;
    } else if (config_setting_type(key->setting) == CONFIG_TYPE_INT ||
               config_setting_type(key->setting) == CONFIG_TYPE_INT64) {
        long long number = config_setting_get_int64(key->setting);
        bits.negative = number < 0 && config_setting_get_format(key->setting) != CONFIG_FORMAT_HEX;
        bits.value = (uint64_t)number;
    } else {
        return false;
    }
    memcpy(key->to, &bits, sizeof bits);
    return true;
}

bool setting_is_list(const config_setting_t *setting)
{
    if (!setting || !config_setting_is_list(setting))
        return false;
    for (int i = 0; i < config_setting_length(setting); i++)
        if (!config_setting_is_group(config_setting_get_elem(setting, (unsigned)i)))
            return false;
    return true;
}

static bool read_value(const struct reading_key *key)
{
    switch (key->rule->type) {
    case SETTING_WHOLE:
    case SETTING_SCALED:
    case SETTING_REAL:
        return read_number(key);
    case SETTING_BOOL:
        return read_bool(key);
    case SETTING_TEXT:
        return read_text(key);
    case SETTING_WORD:
        return read_word(key);
    case SETTING_MONTHS:
        return read_months(key);
    case SETTING_RATIO:
        return read_ratio(key);
    case SETTING_BITS:
        return read_bits(key);
    case SETTING_GROUP:
        return config_setting_is_group(key->setting);
    case SETTING_LIST:
        return setting_is_list(key->setting);
    case SETTING_ANY:
        return true;
    }
    return false;
}

static void put_default(const struct reading_key *key)
{
    const struct setting_rule *rule = key->rule;
    bool flag = rule->otherwise != 0;
    static const int32_t one_to_one[2] = { 1, 1 };
    switch (rule->type) {
    case SETTING_WHOLE:
    case SETTING_SCALED:
    case SETTING_REAL:
        put_number(key, rule->otherwise);
        break;
    case SETTING_BOOL:
        memcpy(key->to, &flag, sizeof flag);
        break;
    case SETTING_TEXT:
        put_text(key, rule->text ? rule->text : "");
        break;
    case SETTING_WORD:
        put_word(key, (int32_t)rule->otherwise);
        break;
    case SETTING_MONTHS:
        memset(key->to, 0, rule->size);
        break;
    case SETTING_RATIO:
        memcpy(key->to, one_to_one, sizeof one_to_one);
        break;
    case SETTING_BITS:
        memset(key->to, 0, sizeof(struct setting_bits));
        break;
    default:
        break;
    }
}

static void read_key(const struct reading_key *key, uint32_t kind)
{
    const struct setting_rule *rule = key->rule, *chooser = &key->table->rules[0];
    bool belongs = rule->only == 0 || (rule->only & kind);
    put_default(key);
    if (key->setting && belongs) {
        if (!read_value(key))
            refuse(key);
    } else if (key->setting) {
        const char *kinds[33] = { NULL };
        char allowed[ALLOWED_SIZE];
        for (int32_t i = 0, n = 0; chooser->words[i]; i++)
            if (rule->only & UINT32_C(1) << i)
                kinds[n++] = chooser->words[i];
        words_join(kinds, allowed, sizeof allowed);
        source_complain(key->source, line_of(key->setting), true,
                        "'%s' does not belong here, it is for '%s' %s", rule->key, chooser->key, allowed);
    } else if (rule->required && belongs && kind != UINT32_MAX) {
        char allowed[ALLOWED_SIZE];
        setting_allowed(rule, allowed, sizeof allowed);
        source_complain(key->source, line_of(key->group), true, "'%s' is missing in %s, allowed: %s",
                        rule->key, key->table->what, allowed);
    }
}

/* Index of the rule of a key; the table's count without one. */
static size_t rule_of(const struct setting_table *table, const char *key)
{
    size_t i = 0;
    while (i < table->count && (table->rules[i].key[0] != key[0] || strcmp(table->rules[i].key, key) != 0))
        i++;
    return i;
}

static void refuse_unknown(struct source *source, const config_setting_t *group,
                           const struct setting_table *table)
{
    for (int i = 0; i < config_setting_length(group); i++) {
        const config_setting_t *member = config_setting_get_elem(group, (unsigned)i);
        char allowed[ALLOWED_SIZE] = "";
        size_t length = 0;
        if (rule_of(table, config_setting_name(member)) < table->count)
            continue;
        for (size_t j = 0; j < table->count && length < sizeof allowed; j++)
            length += (size_t)snprintf(allowed + length, sizeof allowed - length, "%s%s", j ? ", " : "",
                                       table->rules[j].key);
        source_complain(source, line_of(member), true, "unknown key '%s' in %s, allowed: %s",
                        config_setting_name(member), table->what, allowed);
    }
}

/* The setting of each rule, in one pass: config_setting_get_member() would look for a path, letter by letter,
 * for each of them. False where some setting has no rule. */
static bool find_members(const config_setting_t *group, const struct setting_table *table,
                         const config_setting_t *members[SETTING_MOST_RULES])
{
    int count = group ? config_setting_length(group) : 0;
    bool known = true;
    assert(table->count <= SETTING_MOST_RULES);
    for (int i = 0; i < count; i++) {
        const config_setting_t *member = config_setting_get_elem(group, (unsigned)i);
        size_t rule = rule_of(table, config_setting_name(member));
        if (rule < table->count)
            members[rule] = member;
        known = known && rule < table->count;
    }
    return known;
}

void setting_read(struct source *source, const config_setting_t *group, const struct setting_table *table,
                  void *into)
{
    /* Until the kind is known every key may stand, and none is missed. */
    uint32_t kind = UINT32_MAX;
    bool kinds = false;
    const config_setting_t *members[SETTING_MOST_RULES] = { NULL };
    bool known = find_members(group, table, members);
    for (size_t i = 0; i < table->count; i++)
        kinds = kinds || table->rules[i].only != 0;
    if (!kinds)
        kind = 1;
    for (size_t i = 0; i < table->count; i++) {
        const struct setting_rule *rule = &table->rules[i];
        const config_setting_t *setting = members[i];
        struct reading_key key = { source, group, setting, table, rule, (char *)into + rule->offset };
        if (kinds && i == 0) {
            const char *text = setting ? text_of(setting) : NULL;
            int32_t index = text ? word_index(rule->words, text) : -1;
            read_key(&key, 1);
            if (!setting && !rule->required)
                index = (int32_t)rule->otherwise;
            kind = index < 0 ? UINT32_MAX : UINT32_C(1) << index;
        } else if (group) {
            read_key(&key, kind);
        } else {
            put_default(&key);
        }
    }
    if (!known)
        refuse_unknown(source, group, table);
}

bool setting_parse(struct source *source, config_t *parsed)
{
    if (source->open_end)
        return false;
    if (config_read_string(parsed, source->text ? source->text : ""))
        return true;
    source_complain(source, config_error_line(parsed), true, "%s", config_error_text(parsed));
    return false;
}
