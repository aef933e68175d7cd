/* Private to answer*.c: where the build of an answer stands. */
#ifndef METERBOOK_ANSWER_BUILD_H
#define METERBOOK_ANSWER_BUILD_H

#include "answer.h"
#include "query.h"

enum { HOUR = 3600 };

/* What is gathered for one instant (or one closed day) before it becomes a balance. */
struct cell {
    const struct arrangement *arrangement;
    struct answer_piece *piece;
    int64_t start_s;
    int32_t used; /* meters of the balance seen in it */
    struct meter_energy energy[ARRANGEMENT_MAX_METERS];
    int64_t observed_s[ARRANGEMENT_MAX_METERS];
    int32_t flags;
    bool placed; /* some of it is interpolated or estimated */
};

struct build {
    struct answer *answer;
    struct query *query;
    struct meter_range meters; /* that the balance is made of */
    int32_t room;              /* rows that fit */
    int32_t piece;             /* the piece being filled */
    int32_t arrangement;       /* hint for history_at() */
    int32_t cells;
    int64_t entered_from_s, entered_to_s; /* where intervals may be entered ones: closed days do not tell */
    struct day_row day;                   /* the next closed one, where has_day */
    bool has_day;
    struct cell cell;
};

static inline int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Lays out rows and pieces, from where something is known to where it ends; 0, or -1 without memory. */
int rows_make(struct build *build, int64_t first_day);

/* Adds what sealed meters say, then makes the total. */
void rows_add_up(struct build *build);

#endif
