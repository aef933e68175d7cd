/* What must hold between the points and ranges of a register map file. */
#ifndef METERBOOK_MAP_CHECK_H
#define METERBOOK_MAP_CHECK_H

#include "map.h"
#include "setting.h"

/* Where each point and range of the map stands in the file. */
struct map_places {
    const config_setting_t *point[MAP_MAX_POINTS];
    const config_setting_t *range[MAP_MAX_RANGES];
};

void map_check(struct source *source, const struct register_map *map, const struct map_places *places);

#endif
