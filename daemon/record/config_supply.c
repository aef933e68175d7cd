/* What the voltages and the frequency of the supply are held against. */
#include "config_file.h"

enum { FACTOR_VOLTS = 100, FACTOR_PERCENT = 10 };

#define SUPPLY(field) SETTING_AT(struct config_supply, field)
#define VOLTS(field)  SETTING_SCALED, SUPPLY(field), .least = 50, .most = 1000, .factor = FACTOR_VOLTS
/* EN 50160 is of the nominal voltage alone; that nine tenths must be valid is our own choice. */
static const struct setting_rule rules[] = {
    { "nominal_voltage", VOLTS(nominal_voltage), .otherwise = 230 },
    { "nominal_frequency", SETTING_SCALED, SUPPLY(nominal_frequency), .least = 50, .most = 60,
      .otherwise = 50, .factor = 1000 },
    { "band_low", VOLTS(band_low) },
    { "band_high", VOLTS(band_high) },
    { "band_percent", SETTING_SCALED, SUPPLY(band_percent), .least = 0.1, .most = 50,
      .factor = FACTOR_PERCENT },
    { "throttle_voltage", VOLTS(throttle_voltage) },
    { "valid_share", SETTING_WHOLE, SUPPLY(valid_percent), .least = 50, .most = 100, .otherwise = 90 },
};

const struct setting_table supply_table = { "supply", rules, sizeof rules / sizeof rules[0] };

struct config_supply config_default_supply(void)
{
    struct config_supply supply;
    setting_read(NULL, NULL, &supply_table, &supply);
    return supply;
}

void supply_check(struct source *source, struct config_file *file)
{
    const struct config_supply *supply = &file->supply;
    const config_setting_t *place = file->supply_place;
    bool volts = supply->band_low > 0 || supply->band_high > 0;
    if (supply->nominal_frequency != 50000 && supply->nominal_frequency != 60000)
        setting_complain(source, place, "nominal_frequency", true,
                         "'nominal_frequency' is neither of a supply, allowed: 50 or 60");
    if (volts && supply->band_percent > 0)
        setting_complain(source, place, "band_percent", true,
                         "a band in V and one in per cent, allowed: 'band_low' and 'band_high', or "
                         "'band_percent'");
    if (supply->band_low > 0 && supply->band_high > 0 && supply->band_low >= supply->band_high)
        setting_complain(source, place, "band_low", true,
                         "'band_low' is not below 'band_high', allowed: a lower one");
}
