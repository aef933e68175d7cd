/* Wall time to meter time, and what happens at set instants on the way:
 * lines of truth, counters that are reset or exchanged. */
#ifndef METERBOOK_PANEL_TIMELINE_H
#define METERBOOK_PANEL_TIMELINE_H

#include <stdint.h>
#include <stdio.h>

#include "reply.h"

struct timeline {
    struct panel *panel;
    double speed;           /* meter time per wall time */
    int64_t start_us;       /* monotonic, when the panel was ready */
    int64_t start_wall_ms;  /* UTC at the same instant */
    FILE *truth;            /* NULL: nobody wants it */
    int64_t truth_every_ms; /* lines at the multiples of this in UTC */
    int64_t truth_next_ms;  /* UTC */
    int64_t fault_next_ms[SCENARIO_MAX_METERS]
                         [FAULT_MAX]; /* since ready: the counter's next reset or exchange */
};

void timeline_init(struct timeline *timeline, struct panel *panel, double speed, int64_t now_us,
                   int64_t wall_ms, FILE *truth, int64_t truth_every_ms);

/* Brings counters, truth and panel->elapsed_ms to now (monotonic us). */
void timeline_catch_up(struct timeline *timeline, int64_t now_us);

/* When (monotonic us) timeline_catch_up() wants to be called at the latest. */
int64_t timeline_next(const struct timeline *timeline);

/* A line of truth for each meter, as of the last catch-up. */
void timeline_write_truth(const struct timeline *timeline);

#endif
