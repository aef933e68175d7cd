/* The record as `meterbook enter` reads and writes it: rows before the
 * collector's frontier, register runs of what was entered. Statements of its
 * own on an open store; failures as in store.h. */
#ifndef METERBOOK_STORE_ENTER_H
#define METERBOOK_STORE_ENTER_H

#include "enter.h"
#include "enter_series.h"
#include "store.h"

struct store_enter;

int store_enter_open(struct store_enter **out, struct store *store);
void store_enter_close(struct store_enter *enter);

/* Interval lengths under the settings, oldest first, on the caller's arrays of
 * `most`; more settings than that are joined to the last. Returns how many. */
int32_t store_enter_grid(struct store_enter *enter, int64_t *from_s, int64_t *length_s, int32_t most);

/* What a meter is. Looked up by name, else by number, in the newest setting that
 * has it. Returns 1, 0 (unknown) or a failure. */
struct enter_meter {
    int32_t number;
    char name[CONFIG_NAME_SIZE];
    int64_t rated_w;
};
int store_enter_meter(struct store_enter *enter, const char *name, int32_t number, struct enter_meter *meter);

/* Calls `say` with each meter's name, oldest name first. */
int store_enter_names(struct store_enter *enter, void (*say)(void *self, const char *name), void *self);

/* How far one may write for a meter's table, to be asked inside the
 * transaction that writes. */
struct enter_limits {
    int64_t live_s;     /* start of the collector's first row; INT64_MAX without */
    int64_t frontier_s; /* end of its newest; without one, when it took over; INT64_MIN: not known */
    int64_t step[ENTER_COUNTERS]; /* of its registers, 0 without */
};
int store_enter_limits(struct store_enter *enter, int32_t meter, bool other, const struct enter_grid *grid,
                       struct enter_limits *limits);

/* The first reading of the collector's first run of a counter. Returns 1, 0 or a failure. */
struct enter_join {
    int64_t run, from_ms, first, step, base;
};
int store_enter_join(struct store_enter *enter, int32_t meter, int32_t counter, struct enter_join *join);

/* The collector's rows changed, but not what its registers say at the end of
 * them: where the base or the anchor of one of its runs lies behind the first of
 * these rows, it moves by what the rows before it changed. `stored` and `result`
 * are the rows before and after, oldest first; `place` is the counter's. */
int store_enter_settle(struct store_enter *enter, int32_t meter, int32_t counter, int place,
                       const struct enter_row *stored, const struct enter_row *result, int32_t count);

/* What its registers say at the first row's end stays, the row got more by
 * `added`: the account at its start is lower by that. */
int store_enter_lower(struct store_enter *enter, int64_t run, int64_t added);

/* Up to `most` rows that start in [from_s, to_s), oldest first (`back`: newest first). */
int store_enter_rows(struct store_enter *enter, int32_t meter, bool other, int64_t from_s, int64_t to_s,
                     bool back, struct enter_row *rows, int32_t most, int32_t *count);

int store_enter_insert(struct store_enter *enter, int32_t meter, bool other, const struct enter_row *row);
int store_enter_update(struct store_enter *enter, int32_t meter, bool other, const struct enter_row *row);

/* Stores a run, or what is new of one that began with the same reading. */
int store_enter_run(struct store_enter *enter, int32_t meter, int32_t counter, const struct enter_run *run);

/* Rows of the derived grid meter that start in [from_s, to_s): netted over each
 * interval from the rows of production and consumption, where all have one; marked
 * as estimated. Does nothing at a site whose grid meter is not derived. *count gets
 * how many there are. */
int store_enter_derive(struct store_enter *enter, int64_t from_s, int64_t to_s, int64_t *count);

#endif
