/* The simulated panel's answers to a replayed series, given to the real
 * collector in virtual time: one process, no socket, no sleep. */
#ifndef METERBOOK_REAL_PANEL_SITE_H
#define METERBOOK_REAL_PANEL_SITE_H

#include "collect_state.h"
#include "reply.h"
#include "series.h"

struct panel_site {
    const struct dataset *series;
    char directory[32];
    struct scenario *scenario;
    struct counting counting;
    struct panel panel;
    struct register_map map;
    char *map_text;
    struct plan plan;
    struct config config;
    struct inbox *inbox;
    struct collect *collect;
    int64_t now_s; /* UTC */
    int64_t polls;
    bool silent;
};

/* Writes scenario, map and replays of a series, starts the panel, and a collector from from_s (a stamp of
 * the series) on that writes the database. False: said why. */
bool panel_site_start(struct panel_site *site, const struct dataset *series, const char *database,
                      int64_t from_s);
/* Polls from here to an instant, and turns after each. */
void panel_site_run(struct panel_site *site, int64_t to_s);
void panel_site_stop(struct panel_site *site);

/* Highest power that a poll may see at once where the register moves at the series' stamps, W. */
int64_t panel_site_rated_w(const struct dataset *series, int meter);

#endif
