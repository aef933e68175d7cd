/* What cycle.c (whom to ask) and cycle_answer.c (what came of it) share. */
#ifndef METERBOOK_CYCLE_PRIVATE_H
#define METERBOOK_CYCLE_PRIVATE_H

#include "cycle.h"

enum {
    CYCLE_FIRST_PAUSE_US = 5000000,  /* before a lost meter is tried the first time */
    CYCLE_WALK_AGAIN_US = 300000000, /* absent longer: may be another device */
    CYCLE_TURNAROUND_US = 5000,      /* of a usual meter, for choosing requests */
};

static inline int64_t floor_divide(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

/* Number of the interval, in site time, in which `now_us` lies. */
int64_t cycle_interval_at(const struct cycle *cycle, int64_t now_us);

void cycle_walk_start(const struct cycle *cycle, struct cycle_meter *meter);

/* The meter has failed this cycle; nothing more is asked in it. */
void cycle_meter_give_up(struct cycle *cycle, struct cycle_meter *meter, int64_t now_us);

#endif
