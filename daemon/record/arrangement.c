#include "arrangement.h"

static bool any(const struct config *config, enum meter_role role)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].role == role)
            return true;
    return false;
}

bool arrangement_produces(const struct config *config, const struct config_meter *meter)
{
    enum meter_role role = any(config, ROLE_PRODUCTION) ? ROLE_PRODUCTION : ROLE_PART;
    return meter->role == role && !meter->gross;
}

bool arrangement_derives(const struct config *config)
{
    if (any(config, ROLE_GRID) || !any(config, ROLE_CONSUMPTION))
        return false;
    for (int32_t i = 0; i < config->meter_count; i++)
        if (arrangement_produces(config, &config->meters[i]))
            return true;
    return false;
}
