/* Thresholds of the checks. */
#include "config_file.h"

#define CHECKS(field) SETTING_AT(struct config_checks, field)
/* 180 % is the spike check's of the California standards, from memory; 1.3 times a clear sky is common
 * practice for clock and scaling errors; all others are our own choice. */
static const struct setting_rule rules[] = {
    { "spike", SETTING_WHOLE, CHECKS(spike_percent), .least = 10, .most = 10000, .otherwise = 180 },
    { "spike_block", SETTING_SCALED, CHECKS(spike_block_s), .least = 1, .most = 60, .otherwise = 15,
      .factor = 60 },
    { "spike_floor", SETTING_WHOLE, CHECKS(spike_floor_percent), .least = 1, .most = 100, .otherwise = 10 },
    { "day_high", SETTING_WHOLE, CHECKS(day_high_percent), .least = 101, .most = 10000, .otherwise = 300 },
    { "day_low", SETTING_WHOLE, CHECKS(day_low_percent), .least = 0, .most = 99, .otherwise = 25 },
    { "month_high", SETTING_WHOLE, CHECKS(month_high_percent), .least = 101, .most = 10000,
      .otherwise = 200 },
    { "month_low", SETTING_WHOLE, CHECKS(month_low_percent), .least = 0, .most = 99, .otherwise = 50 },
    { "clear_sky", SETTING_WHOLE, CHECKS(clear_sky_percent), .least = 100, .most = 1000, .otherwise = 130 },
    { "residual", SETTING_WHOLE, CHECKS(residual_percent), .least = 1, .most = 100, .otherwise = 5 },
};

const struct setting_table checks_table = { "checks", rules, sizeof rules / sizeof rules[0] };

struct config_checks config_default_checks(void)
{
    struct config_checks checks;
    setting_read(NULL, NULL, &checks_table, &checks);
    return checks;
}

/* Blocks are aligned to UTC, so they must tile an hour. */
void checks_check(struct source *source, struct config_file *file)
{
    int32_t block_s = file->checks.spike_block_s;
    if (block_s > 0 && 3600 % block_s != 0)
        setting_complain(
            source, file->checks_place, "spike_block", true,
            "'spike_block' does not divide an hour, allowed: one that does, such as 5, 15, 30 or 60");
}
