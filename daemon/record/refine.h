/* Places the energy of a long gap along a better shape than a straight line.
 *
 * The collector closes every gap at once, evenly. Gaps of over two hours are
 * then taken up here: production along a clear sky, consumption along days of
 * the same kind, import and export of a grid meter from both. What is known
 * stays: the sum of every counter over the gap, so accounts at its ends,
 * anchors and resuming never change. One gap, one transaction: its rows, the
 * derived grid meter's rows over it, the days it touches. Rows so placed carry
 * HOW_SHAPED.
 *
 * The rows at a gap's two ends are partly measured and stay as they are. A gap
 * is taken up when an hour after it is in the record too: its shape is to meet
 * what was measured at both ends. */
#ifndef METERBOOK_REFINE_H
#define METERBOOK_REFINE_H

#include <stdint.h>

#include "civil.h"
#include "config.h"
#include "store.h"

enum { REFINE_STATEMENTS = 11, REFINE_SEEN = 2048 };

/* A row that was looked at. */
struct refine_seen {
    int64_t start_s, energy;
    int what; /* 0: nothing yet */
};

struct refine {
    struct store *store;
    const struct config *config;
    const struct civil *civil;
    int32_t looked_at; /* meter and counter whose rows are the reference */
    int counter;
    struct sqlite3_stmt *statements[REFINE_STATEMENTS];
    struct refine_seen seen[REFINE_SEEN];
};

/* On memory of the caller; store, configuration and calendar must outlive it.
 * Returns 0, or an enum store_result; refine_finish() is needed after either,
 * and before the store is closed. */
int refine_init(struct refine *refine, struct store *store, const struct config *config,
                const struct civil *civil);
void refine_finish(struct refine *refine);

struct refined {
    int64_t from_s, to_s; /* the gap's whole rows */
    int64_t derived[2];   /* by how much the derived meter's import and export changed, mWh */
};

/* Takes up the oldest gap of a meter (its index) that starts at *from_s or
 * later and is over, and moves *from_s past what need not be looked at again.
 * A grid meter's gap waits until the production over it is placed. Returns 1
 * after a transaction, 0 when there is nothing to do, or a failure: nothing
 * was written then. */
int refine_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct refined *done);

/* The same of the whole intervals [from_s, to_s) over which only the sum was
 * entered: in each of them, or it is left as it is. Production first: a grid
 * meter follows it. Returns 1, 0 or a failure. */
int refine_entered(struct refine *refine, int32_t meter, int64_t from_s, int64_t to_s);

#endif
