/* Entering: rows of several series, judged against the record and written in
 * transactions of at most ENTER_BATCH entered rows.
 *
 * The collector writes from each counter's frontier on, this before it, each
 * under SQLite's lock; the frontier is read inside the transaction. A gap of
 * the collector's account that entered rows fall into is rewritten whole in
 * the transaction, whatever its length, so that no committed state has another
 * sum. A trial run judges all and writes nothing. */
#ifndef METERBOOK_ENTER_BATCH_H
#define METERBOOK_ENTER_BATCH_H

#include "civil.h"
#include "store_enter.h"

enum { ENTER_BATCH = 20000, ENTER_MAX_SERIES = 64, ENTER_MAX_ENDED = 64 };

enum enter_result {
    ENTER_OK = 0,
    ENTER_FAILED = 1,  /* the record: see store_why() */
    ENTER_REFUSED = 2, /* the data: see enter_batch_why() */
};

/* What became of a series' rows. */
struct enter_counts {
    int64_t rows[ENTER_VERDICT_COUNT];
    int64_t spread; /* rows beside them in a gap whose energy was spread anew */
    int64_t beyond; /* at or after the frontier: the collector's */
    int64_t absent; /* inside the collector's account, where it has no row */
    int64_t days;   /* closed days that changed */
};

struct enter_batch;

struct enter_setup {
    struct store *store;
    struct store_enter *enter;
    const struct civil *civil;
    struct enter_grid grid;
    bool trial, replace, fit;
    /* Says where a text about a line comes from: "file:line" */
    const char *name;
};

/* Whole intervals of one meter over which only their sum was entered. */
struct enter_span {
    int32_t meter;
    int64_t from_s, to_s;
};

/* NULL without memory. */
struct enter_batch *enter_batch_create(const struct enter_setup *setup);
void enter_batch_destroy(struct enter_batch *batch);

/* Adds a series; `same_register`: the collector's first reading is the next of
 * its register. NULL when there are too many. The series lives in the batch. */
struct enter_series *enter_batch_series(struct enter_batch *batch, int32_t meter, uint32_t mask,
                                        bool energies, int64_t rated_mw, bool same_register);

/* A reading as for enter_series_read(). */
int enter_batch_read(struct enter_batch *batch, struct enter_series *series, const struct reading *reading,
                     bool begins);

/* The end of the data: all that waits is written. */
int enter_batch_finish(struct enter_batch *batch);

const struct enter_counts *enter_batch_counts(const struct enter_batch *batch,
                                              const struct enter_series *series);

/* The long spans that rows were placed in evenly, in the order of the file. */
const struct enter_span *enter_batch_spans(const struct enter_batch *batch, int32_t *count);

/* Rows that an equal one with other energies refused so far, in a trial run. */
int64_t enter_batch_differing(const struct enter_batch *batch);
/* The first refusal; "" without. */
const char *enter_batch_why(const struct enter_batch *batch);
/* The first reading that the gate dropped; "" without. */
const char *enter_batch_rejected(const struct enter_batch *batch);

#endif
