/* Rows that a wrong clock dated are taken back and dated anew.
 *
 * All inside the caller's transaction. What is wrong: rows of this boot under a
 * worse clock, rows of earlier boots under the same battery clock (its error is
 * known from this boot), and any row later than now. The clock table says which
 * boot time a row's end was; where that has a right date, it becomes a reading
 * at it again (weave.h). What has none, or one that is taken already, is
 * energy of the next span: a gap whose sum is known. Accounts at both ends,
 * bases and anchors of runs, days, events and settings follow.
 *
 * An error found at the end of a stretch that the network once set is drift:
 * its dates are stretched evenly. A stretch of which only the end is later than
 * now and whose error is not known loses no more than that and as much before
 * it, where its energy finds room. */
#ifndef METERBOOK_REDATE_H
#define METERBOOK_REDATE_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"
#include "store.h"

struct redate_clock {
    const char *boot;   /* this boot */
    const char *source; /* who vouches for it now */
    int64_t boot_ms;    /* now */
    int64_t offset_ms;  /* the right one */
    int64_t doubt_ms;   /* by how much it may be off */
    int64_t limit_ms;   /* UTC: of what another boot held, nothing lies later */
    int64_t interval_s;
    const struct civil *civil;
};

struct redated {
    int64_t from_s;        /* rows from here on were taken back */
    int64_t clock_from_ms; /* boot time from which the right clock holds, */
    int64_t clock_after_s; /* and after which row; for its own row, where that is before now */
    int32_t rows;          /* taken back */
};

/* Is anything wrong? 1, 0 or an enum store_result. Only reads. *stays_s: end of
 * the newest row that is not. */
int redate_due(struct store *store, const struct redate_clock *clock, int64_t *stays_s);

/* Returns 1 when rows were dated anew, 0 when none had to, or an enum
 * store_result: roll back then. */
int redate_run(struct store *store, const struct redate_clock *clock, struct redated *done);

/* What a boot held whose clock was never trusted, once something vouches for it:
 * clock->boot, source, offset_ms and doubt_ms are of that boot. Its readings are
 * placed after all rows, or where they are a gap in which nobody watched: there
 * the sum stays. It gets a clock row. */

/* Can it have been then? Not where the record knows better. 1, 0 or a failure. */
int redate_fits(struct store *store, const struct redate_clock *clock);

/* Returns 1 when rows were placed, 0 when none could be, or a failure: roll back then. */
int redate_place(struct store *store, const struct redate_clock *clock, struct redated *done);

#endif
