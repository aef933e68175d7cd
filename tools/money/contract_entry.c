/* What entries of a contract's lists have in common. */
#include "contract_cases.h"
#include "tariff_file.h"
#include "tariff_words.h"

int32_t contract_list_of(struct source *source, const config_setting_t *group, const char *key, int32_t most,
                         const config_setting_t **list)
{
    *list = config_setting_get_member(group, key);
    if (!*list)
        return 0;
    int32_t count = setting_is_list(*list) ? config_setting_length(*list) : -1;
    if (count >= 0 && count <= most)
        return count;
    setting_complain(source, group, key, true,
                     "'%s' is no list of groups, or one of more than %d, allowed: ( { "
                     "... }, { ... } )",
                     key, (int)most);
    return 0;
}

int64_t contract_date_of(struct source *source, const config_setting_t *place, const char *key,
                         const char *text, int64_t *before)
{
    int64_t day = INT64_MIN;
    if (!text[0] || tariff_refuse(source, place, key, text, tariff_date(text, &day)))
        return day;
    if (before && day < *before)
        setting_complain(source, place, key, true, "'%s' is before the one above, allowed: rising dates",
                         key);
    if (before)
        *before = day;
    return day;
}

int32_t contract_line_of(const struct source *source, const config_setting_t *group, const char *key)
{
    const config_setting_t *member = config_setting_get_member(group, key);
    size_t line = config_setting_source_line(member ? member : group);
    return line > 0 && line <= source->line_count ? source->lines[line - 1].line : 0;
}
