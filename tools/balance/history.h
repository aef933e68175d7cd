/* Which arrangement was in force when: the dated settings of the record. */
#ifndef METERBOOK_HISTORY_H
#define METERBOOK_HISTORY_H

#include <stdint.h>

#include "balance.h"
#include "query.h"

enum { HISTORY_MAX_METERS = 2 * ARRANGEMENT_MAX_METERS };

struct history {
    struct arrangement *arrangements; /* heap; in order, without holes */
    int32_t count;
    /* Every meter that a figure uses, by slot: observed time is kept per meter. */
    int32_t slot_count;
    int32_t slots[HISTORY_MAX_METERS]; /* meter numbers */
};

/* The arrangements that intervals starting in [from, to) fall under. The first
 * reaches back and the last forward without end. Settings that change nothing
 * in the balance are joined, under the newest names. Returns 0, or -1 where
 * the query failed, memory is out or there is no setting. */
int history_read(struct history *history, struct query *query, int64_t from_s, int64_t to_s);
void history_free(struct history *history);

/* Leaves one meter's own counters, as those of a grid meter: its import is the figure import, its
 * export the figure export, whatever its role. */
void history_keep(struct history *history, int32_t meter);

/* The arrangement that an interval falls under; `hint` is where to look first
 * and moves along (start with 0). */
const struct arrangement *history_at(const struct history *history, int64_t start_s, int32_t *hint);

/* The numbers between which all meters of the balance lie: rows of others need not be read. */
struct meter_range history_range(const struct history *history);

/* Is the meter used in figures beside sealed meters that speak for these terms (one bit each)? */
bool history_uses(const struct arranged_meter *meter, unsigned sealed);

/* Seconds of [from, to) in which an arrangement used the meter of this slot so in a figure. */
int64_t history_used_s(const struct history *history, int32_t slot, unsigned sealed, int64_t from_s,
                       int64_t to_s);

#endif
