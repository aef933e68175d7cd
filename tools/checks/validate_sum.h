/* Sum check: intervals against the accounts of register runs and against
 * closed days. Pure; everything is exact but the register's own step.
 *
 * A run's account at a boundary is base + the intervals from base_s to there.
 * It must be the anchor at the anchor's boundary. Where the run ends, what its
 * last reading, the next run's first reading and base say must be the same
 * account: energy over a reset is none, over a rollover not negative. */
#ifndef METERBOOK_VALIDATE_SUM_H
#define METERBOOK_VALIDATE_SUM_H

#include "query_checks.h"
#include "validate.h"

struct run_check {
    const struct run_row *run, *next; /* the caller's; the next of the same counter, NULL: none */
    bool anchored;                    /* is its anchor to be checked? */
    int64_t to_anchor, to_next;       /* energy of its intervals up to either */
};

/* An interval's energy; one that is not the run's does nothing. */
void run_check_add(struct run_check *check, int64_t start_s, int64_t energy);

/* All intervals were added. */
void run_check_end(const struct run_check *check, struct tally tallies[ITEM_COUNT]);

/* What the register showed at the run's last reading, and how far that may be off for being worked
 * out from its bits; false where it cannot be. */
bool run_last_shown(const struct run_row *run, int64_t *shown, int64_t *doubt);

/* One meter's intervals of one civil day. */
struct day_check {
    int64_t import, export; /* UNKNOWN: no interval has such a counter */
    int64_t estimated, unobserved;
    int32_t rows;
};

void day_check_add(struct day_check *check, const struct interval_row *row);
/* Against the closed day, NULL: there is none. Sets *check back. */
void day_check_end(struct day_check *check, const struct day_row *closed, struct tally *tally, int64_t from_s,
                   int64_t to_s);

extern const struct day_check day_check_empty;

#endif
