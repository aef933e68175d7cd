/* A site without a wire: simulated meters whose truth is known to the mWh,
 * virtual clocks, and the real collector on the disk of disk.h. */
#ifndef METERBOOK_FAKE_SITE_H
#define METERBOOK_FAKE_SITE_H

#include <stdbool.h>
#include <stdint.h>

#include "collect_state.h"
#include "config.h"
#include "inbox.h"
#include "plan.h"

enum { SITE_METERS = 8 };

struct site_meter {
    struct plan plans[2]; /* a new one is made beside the one in use */
    const struct plan *plan;
    unsigned without; /* bit c: the map has no counter c */
    int64_t step;     /* of the registers, mWh */
    int64_t first[2]; /* register at the beginning, mWh */
    int64_t truth[2]; /* import, export since the beginning, mWh */
    int64_t work[2];
    int64_t power_mw;   /* now; import positive */
    int64_t voltage_mv; /* now */
    int64_t error_ppm;  /* of the power register */
    bool silent;
    int64_t zero_polls;   /* answers zeros so often */
    int64_t back_polls;   /* answers less so often */
    int64_t back_steps;   /* so much less; 0: five */
    int64_t modulus;      /* registers roll over here, mWh; 0 never */
    int64_t taken_off[2]; /* by a reset */
    int64_t shown[2];     /* registers at the last answer, mWh */
    bool clock;           /* has one: seconds since 1970 */
    int64_t clock_error_s;
    const char *serial; /* up to eight characters; NULL: its map has none */
};

struct site {
    struct config config;
    struct register_map map;
    char *map_text;
    struct site_meter meters[SITE_METERS];
    const char *logbook; /* its text, read at each start; NULL: none */
    struct inbox *inbox;
    struct collect *collect;
    int64_t real_ms;       /* true UTC */
    int64_t boot_ms;       /* of this boot */
    int64_t wall_error_ms; /* wall clock less true UTC */
    bool synchronised;
    bool stalled; /* polls go on, the collector does not turn */
    int boots;
    char boot[BOOT_ID_SIZE];
    uint64_t random;
};

/* `count` meters of the roles given, interval and steps as said; off. */
void site_init(struct site *site, uint64_t seed, int count, const enum meter_role roles[], int64_t interval_s,
               int64_t step);
void site_finish(struct site *site);

/* Starts the daemon's collector; false when it cannot. */
bool site_start(struct site *site);
/* People wrote this; false where a line is wrong. */
bool site_write_logbook(struct site *site, const char *text);
/* Ends the process; `clean`: as on SIGTERM. */
void site_stop(struct site *site, bool clean);
/* Power off for so long: a new boot after it, with the disk as it lasted. */
void site_power_off(struct site *site, int64_t for_ms);

/* One second: power flows, meters answer, the collector turns. */
void site_second(struct site *site);
void site_run(struct site *site, int64_t seconds);

/* The meter's map was walked again: another plan, with or without some counters. */
void site_replan(struct site_meter *meter);

uint64_t site_random(struct site *site);

#endif
