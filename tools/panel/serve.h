/* The panel's sockets and pseudo-terminals, in one thread around poll(). */
#ifndef METERBOOK_PANEL_SERVE_H
#define METERBOOK_PANEL_SERVE_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "link.h"
#include "timeline.h"

enum { SERVE_MAX_LINKS = 96 };

struct serve {
    struct panel *panel;
    struct timeline *timeline;
    FILE *log; /* a line per request; NULL = none */
    struct link links[SERVE_MAX_LINKS];
    bool plugged[SCENARIO_MAX_BUSES];
    int64_t foreign_next_us[SCENARIO_MAX_BUSES];
    int64_t foreign_count;
};

/* Opens every bus, ports of 0 are replaced by those given. false: said on stderr. */
bool serve_open(struct serve *serve, struct panel *panel, struct timeline *timeline, FILE *log);

/* A line per bus: "bus NAME tcp 127.0.0.1:15020" or "bus NAME rtu /dev/pts/3". */
void serve_print_addresses(const struct serve *serve, FILE *out);

/* Waits for something to do, at most until the timeline wants to go on, and does it. Returns on a signal too:
 * signals that the caller blocked are let in while waiting. */
void serve_turn(struct serve *serve);

void serve_close(struct serve *serve);

/* Monotonic us. */
int64_t serve_now(void);

#endif
