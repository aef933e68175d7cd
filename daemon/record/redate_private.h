/* Shared by the files of dating anew: redate_sql.c (statements), redate.c (which
 * stretches are wrong), redate_rows.c and redate_runs.c, redate_clock.c,
 * redate_place.c, redate_run.c (all of it). */
#ifndef METERBOOK_REDATE_PRIVATE_H
#define METERBOOK_REDATE_PRIVATE_H

#include "redate.h"
#include "store_private.h"
#include "weave.h"

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
    REDATE_ROWS_SPAN, /* first and last, from an instant on; taken back */
    REDATE_OLD_SPAN,
    REDATE_TAKE, /* interval, energy, momentary */
    REDATE_NEXT_METER = REDATE_TAKE + 3,
    REDATE_FIRST_BASE,
    REDATE_OLD_ROWS, /* interval, energy */
    REDATE_ADD_ROW = REDATE_OLD_ROWS + 2,
    REDATE_ADD_HELD = REDATE_ADD_ROW + 2,
    REDATE_MOVE_MOMENTARY,
    REDATE_NEXT_WEATHER,
    REDATE_NEXT_MOMENTARY,
    REDATE_NET,
    REDATE_DROP_NETTED,
    REDATE_SUM_OLD, /* interval, energy */
    REDATE_NEXT_RUN = REDATE_SUM_OLD + 2,
    REDATE_MOVE_RUN,
    REDATE_DROP_DAYS,
    REDATE_DROP_CORRECTED, /* rows, days */
    REDATE_HELD_METER = REDATE_DROP_CORRECTED + 2,
    REDATE_HELD_POINTS,
    REDATE_HELD_SPAN,
    REDATE_CONTRADICTS,
    REDATE_SEEN_BEFORE, /* interval, energy */
    REDATE_SEEN_AFTER = REDATE_SEEN_BEFORE + 2,
    REDATE_ROWS_END = REDATE_SEEN_AFTER + 2,
    REDATE_RUN_SINCE = REDATE_ROWS_END + 2,
    REDATE_FACTOR,
    REDATE_TAKE_GAP,
    REDATE_DERIVE = REDATE_TAKE_GAP + 2,
    REDATE_SHIFT_DERIVED,
    REDATE_DROP_HELD,
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
    bool held;          /* held rows are placed; else rows are dated anew */
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

/* Rows of a meter in one of the two tables, interval and energy, made anew. */
struct redate_piece {
    int32_t meter;
    int table;
    int64_t before_s; /* where its old rows began: accounts up to there stay */
    int64_t begin_s;  /* where its new rows begin */
    int64_t end_s;    /* where they end */
    unsigned has;     /* bit i: the rows so far had this counter */
};

/* Which counters each of the tables has. */
struct redate_table {
    int first, count;
};
extern const struct redate_table redate_tables[2];

/* Prepares the statements; redate_end() is needed in any case. */
int redate_begin(struct redate *redate, struct store *store, const struct redate_clock *clock);
void redate_end(struct redate *redate);

/* Resets a statement and binds integers to it. */
sqlite3_stmt *redate_bind(struct redate *redate, enum redate_statement which, const int64_t values[],
                          int count);

/* The newest stretch that begins before, the oldest that begins after an instant. 1, 0 or a failure. */
int redate_stretch(struct redate *redate, bool on, int64_t than_ms, struct stretch *stretch);

/* Finds the stretches that are wrong; *stays_s: end of the rows that stay. 0 or a failure. */
int redate_look_back(struct redate *redate, int64_t *stays_s);

/* Is what this stretch dated placed again, by moving it? */
bool redate_places(const struct redate *redate, const struct stretch *stretch);
/* By how much it moves; of one that drifted, at its end. */
int64_t redate_step(const struct redate *redate, const struct stretch *stretch);
bool redate_drifts(const struct redate *redate, const struct stretch *stretch);

/* The right date of an instant that rows dated: 1, 0 where it has none, or a failure. */
int redate_instant(struct redate *redate, int64_t label_ms, int64_t *right_ms);

/* Runs a statement that gives nothing; fetches one integer, `none` for NULL or no row. */
int redate_write(struct redate *redate, enum redate_statement which, const int64_t values[], int count);
int redate_fetch(struct redate *redate, enum redate_statement which, const int64_t values[], int count,
                 int64_t none, int64_t *value);

/* redate_runs.c: an account at a boundary is base or anchor + rows: where the
 * rows moved, it moves with them. Days are closed anew. */
int redate_move_runs(struct redate *redate, const struct redate_piece *piece);
int redate_close_days(struct redate *redate, const struct redate_piece *piece);

/* redate_rows.c */
int redate_put_rows(struct redate *redate, struct redate_piece *piece, struct weave *weave);
int redate_rows(struct redate *redate, struct redated *done);
int redate_drop_old(struct redate *redate);

/* redate_clock.c: clock rows, events and settings */
int redate_clocks(struct redate *redate, struct redated *done);

#endif
