/* Private to enter_batch.c (collecting, writing) and enter_judge.c (what becomes of each row). */
#ifndef METERBOOK_ENTER_PRIVATE_H
#define METERBOOK_ENTER_PRIVATE_H

#include "enter_batch.h"
#include "enter_gap.h"

enum { ENTER_TEXT = 320 };

/* A row that waits for the next transaction. */
struct waiting {
    int32_t target;
    enum enter_verdict verdict;
    bool stands; /* nothing is written for it */
    int64_t line;
    struct enter_row entered, result;
};

struct ended {
    int32_t target, position;
    struct enter_run run;
};

/* What a series is entered into. */
struct target {
    struct enter_series series;
    struct enter_counts counts;
    bool same_register;
    bool asked;         /* `join` is known */
    bool joined;        /* the collector's first reading was read after the file's */
    bool joined_before; /* an earlier time */
    struct reading join;
    int64_t changed; /* rows in this transaction, and their first and last start */
    int64_t from_s, last_s;
    int64_t last_day; /* newest closed day that was counted */
};

struct enter_batch {
    struct enter_setup setup;
    int32_t count, ended_count;
    int32_t target_count;
    int64_t differing;
    char why[ENTER_TEXT], rejected[ENTER_TEXT];
    struct ended ended[ENTER_MAX_ENDED];
    struct target targets[ENTER_MAX_SERIES];
    struct enter_gap_rows gap;
    struct enter_span *spans; /* heap */
    int32_t span_count, span_room;
    /* What stands in the span asked last. */
    struct enter_span summed;
    int64_t sum[2];
    struct waiting rows[ENTER_BATCH];
};

/* The rows stored beside those that wait, a few at a time. */
enum { LOOK_AHEAD = 512 };
struct window {
    struct enter_row rows[LOOK_AHEAD];
    int32_t count, at;
    int64_t upto_s; /* what lies before it has been read */
};

/* Says what becomes of the waiting row `at` and tallies it; what a gap or the
 * collector's first row takes is written at once. *next is the next to judge;
 * last_s the start of the target's last waiting row. */
int enter_judge(struct enter_batch *batch, int32_t target_at, const struct enter_limits *limits,
                struct window *window, int64_t last_s, int32_t at, int32_t *next);

/* Writes a row, or in a trial run only counts it. */
int enter_write(struct enter_batch *batch, struct target *target, const struct enter_limits *limits,
                const struct enter_row *row, bool insert);

/* Keeps the first text of its kind: "file:line: ...". */
void enter_say(char text[ENTER_TEXT], const struct enter_batch *batch, int64_t line, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* "12.345678" of an energy in mWh. */
const char *enter_energy_text(char text[40], int64_t mwh);

#endif
