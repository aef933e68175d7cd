/* Corrections in the record: which are in force, and the rows that stand for
 * those they cover. What was measured is never touched: a correction that is
 * withdrawn leaves the record as if it had never been.
 *
 * Rows are corrected by blocks (UTC days). Triggers of the schema note the
 * blocks that a correction covers and somebody changed, so that whoever stores,
 * enters, places or dates rows anew need not know of corrections. All functions
 * but the first run inside the caller's transaction; failures as in store.h. */
#ifndef METERBOOK_STORE_CORRECT_H
#define METERBOOK_STORE_CORRECT_H

#include "correct.h"
#include "store.h"

/* A correction as the logbook has it. */
struct store_correction {
    struct correction correction; /* id and seen: not used */
    int64_t at_s;                 /* date of the entry */
    char hash[17];                /* of what it says */
    char entry[240];              /* its keys and values */
};

/* As in the column `what`; ends with NULL. */
extern const char *const correction_names[CORRECT_KINDS + 1];

/* A register that did not go on: the old run's last reading, the new one's first. Without factors:
 * above / below is what its readings were multiplied by. */
struct store_change {
    int64_t last_ms, last, first_ms, first, step;
    int64_t last_above, last_below, first_above, first_below;
};
/* The change of a counter's run nearest to an instant. 1, 0 or a failure. */
int store_nearest_change(struct store *store, int32_t meter, int32_t counter, int64_t at_ms,
                         struct store_change *change);

/* Are these, in this order, the corrections in force? 1, 0 or a failure. */
int store_corrections_are(struct store *store, const struct store_correction wanted[], int32_t count);

/* Puts these in force, in this order, and withdraws all others. `told` is called for each
 * that is new (taken) or withdrawn, with its meter and entry. Blocks become due. */
int store_put_corrections(struct store *store, const struct store_correction wanted[], int32_t count,
                          int64_t now_ms,
                          int (*told)(void *self, bool taken, int32_t meter, const char *entry), void *self);

/* Does a block wait for its corrections? *block gets the oldest. 1, 0 or a failure. */
int store_correction_due(struct store *store, int64_t *block);

/* Applies what is in force to the rows of a block and its days. */
int store_correct_block(struct store *store, int64_t number);

/* Corrects up to `most` blocks within the transaction under way. Where that fails the
 * transaction stays good and the blocks due. Returns how many, or a failure. */
int store_correct_some(struct store *store, int32_t most);

#endif
