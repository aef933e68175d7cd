/* A panel scenario from a text in the test, by way of a temporary file. */
#ifndef METERBOOK_TESTS_PANEL_SCENARIO_H
#define METERBOOK_TESTS_PANEL_SCENARIO_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "scenario.h"

struct heard {
    char lines[8][512];
    int count;
};

static inline void hear(void *self, bool error, const char *line)
{
    struct heard *heard = self;
    (void)error;
    if (heard->count < 8)
        snprintf(heard->lines[heard->count], sizeof heard->lines[0], "%s", line);
    heard->count++;
}

/* NULL if it is wrong; what was said is in *heard then. */
static inline struct scenario *scenario_of(const char *text, struct heard *heard)
{
    char path[] = "/tmp/panel-scenario-XXXXXX";
    struct problems problems = { .say = hear, .self = heard };
    int fd = mkstemp(path);
    memset(heard, 0, sizeof *heard);
    if (fd < 0 || write(fd, text, strlen(text)) != (ssize_t)strlen(text))
        abort();
    close(fd);
    struct scenario *scenario = scenario_load(path, &problems);
    unlink(path);
    return scenario;
}

#define PANEL_SITE                                                                                           \
    "site: { name = \"invented\"; latitude = 47.5; longitude = 9.0; utc_offset = 2.0; seed = 5; "            \
    "start = \"2026-06-21T09:00:00Z\"; };\n"                                                                 \
    "parts = ( { name = \"south\"; peak_w = 4200; standby_w = 3; phase = 1; },"                              \
    "          { name = \"west\"; peak_w = 2600; phase = 0; azimuth = 260.0; } );\n"                         \
    "loads = ( { kind = \"constant\"; name = \"base\"; w = 180; reactive = 0.3; },"                          \
    "          { kind = \"cycle\"; name = \"fridge\"; w = 90; phase = 2; period_s = 2700; on_s = 800; },"    \
    "          { kind = \"events\"; name = \"kettle\"; w = 2000; on_s = 180; per_day = 6; from = "           \
    "\"06:30\"; "                                                                                            \
    "            to = \"22:00\"; phase = 3; branch = \"kitchen\"; } );\n"

#endif
