#include "layout_file.h"

#include <stdio.h>
#include <string.h>

void layout_file_beside(const char *scenario_path, const char *name, char *path, size_t size)
{
    const char *slash = strrchr(scenario_path, '/');
    if (name[0] == '/' || slash == NULL)
        snprintf(path, size, "%s", name);
    else
        snprintf(path, size, "%.*s/%s", (int)(slash - scenario_path), scenario_path, name);
}

void layout_file_read(struct complaints *complaints, const config_setting_t *where, const char *scenario_path,
                      const char *name, struct layout *layout)
{
    char path[512];
    layout_file_beside(scenario_path, name, path, sizeof path);
    (void)layout;
    complain(complaints, where, "cannot read map '%s'", path);
}
