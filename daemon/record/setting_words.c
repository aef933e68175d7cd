#include <stdio.h>
#include <string.h>

#include "setting.h"
#include "utf8.h"

int32_t word_index(const char *const *words, const char *word)
{
    for (int32_t i = 0; words[i]; i++)
        if (strcmp(words[i], word) == 0)
            return i;
    return -1;
}

void words_join(const char *const *words, char *out, size_t size)
{
    size_t length = 0;
    out[0] = '\0';
    for (size_t i = 0; words[i] && length < size; i++) {
        const char *comma = i == 0 ? "" : words[i + 1] ? ", " : " or ";
        length += (size_t)snprintf(out + length, size - length, "%s\"%s\"", comma, words[i]);
    }
}

void setting_allowed(const struct setting_rule *rule, char *out, size_t size)
{
    if (rule->words) {
        words_join(rule->words, out, size);
        return;
    }
    switch (rule->type) {
    case SETTING_WHOLE:
        snprintf(out, size, "a whole number from %.0f to %.0f", rule->least, rule->most);
        break;
    case SETTING_SCALED:
    case SETTING_REAL:
        snprintf(out, size, "a number from %.9g to %.9g%s", rule->least, rule->most,
                 rule->exact ? ", with at most 6 decimals" : "");
        break;
    case SETTING_BOOL:
        snprintf(out, size, "true or false");
        break;
    case SETTING_MONTHS:
        snprintf(out, size, "twelve numbers from %.9g to %.9g, January to December, as ( 30, 45.5, ... )",
                 rule->least, rule->most);
        break;
    case SETTING_RATIO:
        snprintf(out, size, "a text like \"100/5\", both from 1 to 1000000");
        break;
    case SETTING_BITS:
        snprintf(out, size,
                 "a whole number of up to 64 bits, in quotes or with an L at the end beyond 2147483647");
        break;
    case SETTING_GROUP:
        snprintf(out, size, "a group { ... }");
        break;
    case SETTING_LIST:
        snprintf(out, size, "a list of groups ( { ... }, { ... } )");
        break;
    default:
        snprintf(out, size, "a text of 1 to %zu bytes of UTF-8 in quotes", rule->size - 1);
    }
}

void setting_value(const config_setting_t *setting, char *out, size_t size)
{
    const char *text;
    switch (config_setting_type(setting)) {
    case CONFIG_TYPE_INT:
    case CONFIG_TYPE_INT64:
        snprintf(out, size, "%lld", config_setting_get_int64(setting));
        break;
    case CONFIG_TYPE_FLOAT:
        snprintf(out, size, "%.9g", config_setting_get_float(setting));
        break;
    case CONFIG_TYPE_BOOL:
        snprintf(out, size, "%s", config_setting_get_bool(setting) ? "true" : "false");
        break;
    case CONFIG_TYPE_STRING:
        text = config_setting_get_string(setting);
        snprintf(out, size, utf8_is_plain(text) ? "\"%.60s\"" : "a text with control or broken characters",
                 text);
        break;
    case CONFIG_TYPE_GROUP:
        snprintf(out, size, "a group");
        break;
    default:
        snprintf(out, size, "a list or array");
    }
}
