/* One series that is being entered: the counters of one meter that come
 * together, from readings to rows.
 *
 * They go through the same gate, account and book as live readings. Interval
 * energies are summed into a register of their own first. Pure but for the
 * caller's functions; no allocation. Times are UTC ms throughout (the gate
 * takes them for boot time). */
#ifndef METERBOOK_ENTER_SERIES_H
#define METERBOOK_ENTER_SERIES_H

#include "account.h"
#include "book.h"
#include "check.h"
#include "enter.h"
#include "reading.h"

struct enter_series;

/* Whom the series tells. Each returns 0, or a failure that ends the reading. */
struct enter_sink {
    int (*row)(void *self, struct enter_series *series, const struct enter_row *row);
    /* A reading that the gate dropped; its line is in counter[].raw. */
    int (*rejected)(void *self, struct enter_series *series, const struct reading *reading, int32_t counter);
    /* The run of a counter (position) ended: series->runs[i] holds it. */
    int (*ended)(void *self, struct enter_series *series, int32_t i);
    void *self;
};

/* Interval lengths of the record: from_s[0] holds before it too. */
struct enter_grid {
    int32_t count;
    const int64_t *from_s;
    const int64_t *length_s;
};

int64_t enter_grid_length(const struct enter_grid *grid, int64_t at_s);

/* A register run of what is entered. */
struct enter_run {
    int64_t from_ms, first, step;
    int64_t base_s, base; /* base + rows from base_s on = account */
    int64_t to_ms, last;
    const char *ended; /* "entered": the data end here; reset, rise, gap */
};

struct enter_series {
    int32_t meter;
    bool other;    /* reactive and apparent energy: the table `energy` */
    bool energies; /* interval energies, not a counter */
    int32_t count;
    uint8_t counters[COUNTER_COUNT]; /* by position in a row */
    struct enter_grid grid;
    struct enter_sink sink;
    int64_t line; /* of the reading that is being accounted */
    int64_t readings, rejected;
    struct enter_run runs[ENTER_COUNTERS];
    int64_t energy[ENTER_COUNTERS]; /* accounted so far, mWh */
    int64_t unplaced_ms;            /* gaps too long to be filled */
    /* private */
    struct check check;
    struct account account[ENTER_COUNTERS];
    int64_t offset[ENTER_COUNTERS];
    struct book book;
    int64_t last_ms;
    int64_t lacking_ms; /* of the row that is being filled */
};

/* `mask`: bit c is counter c; all of one table. rated_mw 0: no limit known. */
void enter_series_init(struct enter_series *series, int32_t meter, uint32_t mask, bool energies,
                       int64_t rated_mw, struct enter_grid grid, struct enter_sink sink);

/* A reading of all counters, later than the one before; counter[].raw is the
 * line of the file. `begins`: nothing is known of the time since the last one
 * (interval energies that do not join). */
int enter_series_read(struct enter_series *series, const struct reading *reading, bool begins);

/* The data are at their end: the last row, if it is not whole, and the runs. */
int enter_series_finish(struct enter_series *series);

#endif
