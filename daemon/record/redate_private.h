/* Shared by redate.c (which stretches are wrong), redate_rows.c and
 * redate_clock.c only. */
#ifndef METERBOOK_REDATE_PRIVATE_H
#define METERBOOK_REDATE_PRIVATE_H

#include "redate.h"
#include "store_private.h"

enum redate_statement {
    REDATE_CLOCK_BACK,
    REDATE_CLOCK_ON,
    REDATE_CLOCK_UNTIL,
    REDATE_DROP_CLOCK,
    REDATE_MOVE_CLOCK,
    REDATE_MOVE_EVENTS,
    REDATE_UNDATE_EVENTS,
    REDATE_MOVE_SETTINGS,
    REDATE_CLAMP_SETTINGS,
    REDATE_TAKE, /* interval, energy, momentary */
    REDATE_NEXT_METER = REDATE_TAKE + 3,
    REDATE_FIRST_BASE,
    REDATE_OLD_ROWS, /* interval, energy */
    REDATE_ADD_ROW = REDATE_OLD_ROWS + 2,
    REDATE_MOVE_MOMENTARY = REDATE_ADD_ROW + 2,
    REDATE_NEXT_MOMENTARY,
    REDATE_NET,
    REDATE_DROP_NETTED,
    REDATE_SUM_OLD, /* interval, energy */
    REDATE_NEXT_RUN = REDATE_SUM_OLD + 2,
    REDATE_MOVE_RUN,
    REDATE_DROP_DAYS,
    REDATE_DROP_OLD, /* interval, energy, momentary */
    REDATE_STATEMENTS = REDATE_DROP_OLD + 3
};

/* A stretch of a boot under one clock: rows labelled from start_ms on. */
struct stretch {
    char boot[40], source[16];
    int64_t start_ms; /* UTC by its own clock */
    int64_t from_ms;  /* boot time */
    int64_t offset_ms;
    int64_t after_s; /* end of the newest row when it began */
};

struct redate {
    struct store *store;
    const struct redate_clock *clock;
    int64_t length_ms, now_ms;
    bool any;
    int64_t from_s;     /* rows from here on are taken back */
    int64_t first_ms;   /* start of the oldest stretch that is wrong */
    bool partly;        /* only its end is */
    bool battery_known; /* the error of the battery clock */
    int64_t battery_step_ms;
    bool cached; /* this_ and next belong to labels of one stretch */
    struct stretch now, next;
    bool has_next;
    sqlite3_stmt *statements[REDATE_STATEMENTS];
};

/* Resets a statement and binds integers to it. */
sqlite3_stmt *redate_bind(struct redate *redate, enum redate_statement which, const int64_t values[],
                          int count);

/* The newest stretch that begins before, the oldest that begins after an instant. 1, 0 or a failure. */
int redate_stretch(struct redate *redate, bool on, int64_t than_ms, struct stretch *stretch);

/* Is what this stretch dated placed again, by moving it? */
bool redate_places(const struct redate *redate, const struct stretch *stretch);
/* By how much it moves; of one that drifted, at its end. */
int64_t redate_step(const struct redate *redate, const struct stretch *stretch);
bool redate_drifts(const struct redate *redate, const struct stretch *stretch);

/* The right date of an instant that rows dated: 1, 0 where it has none, or a failure. */
int redate_instant(struct redate *redate, int64_t label_ms, int64_t *right_ms);

/* redate_rows.c: rows, runs, days */
int redate_rows(struct redate *redate, struct redated *done);

/* redate_clock.c: clock rows, events and settings */
int redate_clocks(struct redate *redate, struct redated *done);

#endif
