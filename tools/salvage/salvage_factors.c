/* The CT and VT ratios that register runs count by. */
#include <stdio.h>

#include "config.h"
#include "salvage_rows.h"

static const struct config_meter *configured(const struct config *config, int32_t number)
{
    for (int32_t i = 0; config && i < config->meter_count; i++)
        if (config->meters[i].number == number)
            return &config->meters[i];
    return NULL;
}

static bool add_factor(struct salvage *salvage, int64_t id, const struct config_meter *meter)
{
    char sql[320];
    snprintf(sql, sizeof(sql),
             "INSERT INTO factor(id, meter, setting, ct_primary, ct_secondary, vt_primary, vt_secondary, "
             "reversed) VALUES(%lld, %d, coalesce((SELECT max(id) FROM setting), 1), %d, %d, %d, %d, %d)",
             (long long)id, (int)meter->number, (int)meter->ct_primary, (int)meter->ct_secondary,
             (int)meter->vt_primary, (int)meter->vt_secondary, meter->reversed);
    return salvage_run(salvage, sql);
}

/* A run whose factor was lost can only go on with the same factor; without it
 * the run ends, and the collector begins another with its first reading. */
bool salvage_factors(struct salvage *salvage, const struct config *config)
{
    for (int64_t id = 0, run = 0; !salvage->why[0];) {
        run = salvage_ask(
            salvage,
            "SELECT min(id) FROM run WHERE ended IS NULL AND factor > 0 AND id > ?1 AND NOT EXISTS(SELECT 1 "
            "FROM factor WHERE factor.id = run.factor)",
            id, 0, 0, 0);
        if (run == 0)
            break;
        id = run;
        int32_t number = (int32_t)salvage_ask(salvage, "SELECT meter FROM run WHERE id = ?1", run, 0, 0, 0);
        int64_t factor = salvage_ask(salvage, "SELECT factor FROM run WHERE id = ?1", run, 0, 0, 0);
        const struct config_meter *meter = configured(config, number);
        if (meter && add_factor(salvage, factor, meter))
            continue;
        salvage_note(salvage, "meter %d: its ratio was lost, a new register run will begin%s", (int)number,
                     config ? "" : "; the configuration, given with --config, knows it");
        salvage_ask(salvage,
                    "UPDATE run SET ended = 'salvage', to_ms = anchor_s * 1000, last = anchor, last_raw = 0 "
                    "WHERE id = ?1",
                    run, 0, 0, 0);
    }
    return !salvage->why[0];
}
