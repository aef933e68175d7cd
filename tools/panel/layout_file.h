/* A simulated meter's layout from a register map file, the same that the collector reads. */
#ifndef METERBOOK_PANEL_LAYOUT_FILE_H
#define METERBOOK_PANEL_LAYOUT_FILE_H

#include <stddef.h>

#include "layout.h"
#include "settings.h"

/* Reads the map that lies at `name`, seen from the scenario's directory. Complains at `where`. */
void layout_file_read(struct complaints *complaints, const config_setting_t *where, const char *scenario_path,
                      const char *name, struct layout *layout);

/* `name` as seen from the directory of the scenario file. */
void layout_file_beside(const char *scenario_path, const char *name, char *path, size_t size);

#endif
