/* Which meters stand for what: whether a site's grid meter must be derived, and
 * from which meters. Pure. */
#ifndef METERBOOK_ARRANGEMENT_H
#define METERBOOK_ARRANGEMENT_H

#include <stdbool.h>

#include "config.h"

/* Production and whole consumption are metered, the grid is not. */
bool arrangement_derives(const struct config *config);

/* Is the meter's delivery production behind the house meter? Production meters
 * are; parts are where there is no production meter. Gross plants are not. */
bool arrangement_produces(const struct config *config, const struct config_meter *meter);

#endif
