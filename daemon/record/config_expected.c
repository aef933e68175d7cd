/* What was promised of a plant. */
#include "config_file.h"

#define EXPECTED(field) SETTING_AT(struct config_expected, field)
/* 400 kWh per kWp are half as much again as the sunniest month of a tracked plane brings (common practice,
 * no source). */
static const struct setting_rule rules[] = {
    { "kwh_per_kwp", SETTING_MONTHS, EXPECTED(kwh_per_kwp), .least = 0, .most = 400, .factor = 1000 },
    { "kwh", SETTING_MONTHS, EXPECTED(kwh), .least = 0, .most = 2000000, .factor = 1000 },
    { "uncertainty_percent", SETTING_SCALED, EXPECTED(uncertainty_ppm), .least = 0, .most = 50,
      .factor = 10000 },
};

const struct setting_table expected_table = { "expected", rules, sizeof rules / sizeof rules[0] };

static bool has(const config_setting_t *group, const char *key)
{
    return config_setting_get_member(group, key) != NULL;
}

static bool has_size(const struct config_file *file)
{
    for (int32_t i = 0; i < file->meter_count; i++)
        if (file->meters[i].meter.peak_w > 0)
            return true;
    return false;
}

void expected_check(struct source *source, struct config_file *file)
{
    const config_setting_t *place = file->expected_place;
    bool per_kwp, whole;
    if (!place)
        return;
    per_kwp = has(place, "kwh_per_kwp");
    whole = has(place, "kwh");
    if (per_kwp == whole)
        setting_complain(source, place, per_kwp ? "kwh" : NULL, true,
                         "'expected' has %s, allowed: one of 'kwh_per_kwp' and 'kwh'",
                         per_kwp ? "both" : "neither");
    if (per_kwp && !has_size(file))
        setting_complain(
            source, place, "kwh_per_kwp", false,
            "'kwh_per_kwp' needs 'peak_power' of a production meter or of parts, better: state it");
    for (int32_t i = 0; i < 12; i++)
        file->expected.given |= file->expected.kwh_per_kwp[i] > 0 || file->expected.kwh[i] > 0;
}
