#include "carbon.h"

#include <stdlib.h>
#include <string.h>

#include "money.h"
#include "setting.h"
#include "tariff_file.h"
#include "tariff_words.h"

static const char *const kind_words[] = { "average", "marginal", NULL };

struct factor_entry {
    struct carbon_factor factor;
    char from[TARIFF_NAME_SIZE], to[TARIFF_NAME_SIZE];
};

#define FACTOR(field) SETTING_AT(struct factor_entry, field)
/* 3 kg of CO2 for a kWh are more than of any fuel (common practice, no source) */
static const struct setting_rule rules[] = {
    { "name", SETTING_TEXT, FACTOR(factor.name), .required = true },
    { "kind", SETTING_WORD, FACTOR(factor.kind), .required = true, .words = kind_words },
    { "from", SETTING_TEXT, FACTOR(from), .required = true },
    { "to", SETTING_TEXT, FACTOR(to), .required = true },
    { "kg_per_kwh", SETTING_SCALED, FACTOR(factor.per_kwh), .required = true, .least = 0, .most = 3,
      .factor = 1000000, .exact = true },
    { "edition", SETTING_TEXT, FACTOR(factor.edition), .required = true },
    { "source", SETTING_TEXT, FACTOR(factor.source), .required = true },
};
static const struct setting_table table = { "a factor", rules, sizeof rules / sizeof rules[0] };

static void read_factor(struct source *source, const config_setting_t *group, struct carbon_factors *factors)
{
    struct factor_entry entry;
    memset(&entry, 0, sizeof entry);
    setting_read(source, group, &table, &entry);
    struct carbon_factor *factor = &factors->factors[factors->count++];
    *factor = entry.factor;
    if (entry.from[0])
        tariff_refuse(source, group, "from", entry.from, tariff_date(entry.from, &factor->from_day));
    if (entry.to[0] && !tariff_refuse(source, group, "to", entry.to, tariff_date(entry.to, &factor->to_day)))
        factor->to_day++;
    if (entry.from[0] && entry.to[0] && factor->to_day <= factor->from_day)
        setting_complain(source, group, "to", true,
                         "'to' is before 'from', allowed: the last day that it is for");
    for (int32_t i = 0; i + 1 < factors->count; i++) {
        const struct carbon_factor *other = &factors->factors[i];
        if (strcmp(other->name, factor->name) == 0 && other->kind == factor->kind &&
            other->from_day < factor->to_day && factor->from_day < other->to_day)
            setting_complain(source, group, "from", true,
                             "two factors of \"%s\" are for the same time, allowed: one for each day",
                             factor->name);
    }
}

struct carbon_factors *carbon_load(const char *path, struct problems *problems)
{
    struct source source;
    config_t parsed;
    struct carbon_factors *factors = calloc(1, sizeof *factors);
    config_init(&parsed);
    source_read(&source, path);
    if (factors && source.line_count > 0 && setting_parse(&source, &parsed)) {
        const config_setting_t *root = config_root_setting(&parsed),
                               *list = config_setting_get_member(root, "factors");
        int32_t count = setting_is_list(list) ? config_setting_length(list) : 0;
        if (count < 1 || count > CARBON_FACTORS)
            setting_complain(&source, root, "factors", true,
                             "'factors' has %d groups, allowed: a list of 1 to %d", (int)count,
                             (int)CARBON_FACTORS);
        for (int32_t i = 0; i < count && i < CARBON_FACTORS; i++)
            read_factor(&source, config_setting_get_elem(list, (unsigned)i), factors);
    }
    bool good = source_say(&source, problems) && factors && factors->count > 0;
    source_close(&source);
    config_destroy(&parsed);
    if (good)
        return factors;
    free(factors);
    return NULL;
}

const struct carbon_factor *carbon_at(const struct carbon_factors *factors, const char *name,
                                      enum carbon_kind kind, int64_t day, enum carbon_fit *fit)
{
    const struct carbon_factor *before = NULL, *after = NULL;
    for (int32_t i = 0; i < factors->count; i++) {
        const struct carbon_factor *factor = &factors->factors[i];
        if (strcmp(factor->name, name) != 0 || factor->kind != kind)
            continue;
        if (day >= factor->from_day && day < factor->to_day) {
            *fit = CARBON_OF_THE_DAY;
            return factor;
        }
        if (factor->to_day <= day && (!before || factor->to_day > before->to_day))
            before = factor;
        if (factor->from_day > day && (!after || factor->from_day < after->from_day))
            after = factor;
    }
    *fit = before ? CARBON_EARLIER : CARBON_LATER;
    return before ? before : after;
}

int64_t carbon_of(int64_t energy, int64_t per_kwh)
{
    return multiply_round(energy, per_kwh, 1000000);
}

int64_t carbon_with_losses(int64_t self_consumption, int64_t losses)
{
    return multiply_round(self_consumption, 1000000, 1000000 - losses);
}
