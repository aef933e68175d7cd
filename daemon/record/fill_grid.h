/* Import and export of a gap in which production and consumption were filled.
 *
 * Filled apart, import and export would make hours that never existed (buying
 * at noon under full sun). So they follow from production p and consumption c
 * of each piece, and are fitted to what their own counters say of the gap:
 *
 *   1. Where c > p a piece buys c - p, else it sells p - c.
 *   2. A side that comes out above its counter is scaled down.
 *   3. Import below its counter: more is bought where buying is, in proportion
 *      to it. Where no piece buys: along c, else evenly.
 *   4. Export below its counter: more is sold where selling is, in proportion
 *      to what was kept there and at most all of it; only then likewise where
 *      buying is; only then (sold more than made: the meters disagree) along
 *      p, else evenly.
 *
 * Sums are exact, no piece is negative, and as far as the totals allow none
 * sells more than it makes and none buys under surplus. Pure; mWh; two
 * passes over the same pieces, no buffer, no allocation. */
#ifndef METERBOOK_FILL_GRID_H
#define METERBOOK_FILL_GRID_H

#include <stdint.h>

/* An amount shared out by weights. */
struct fill_spread {
    int64_t amount, total; /* of energy; of weights */
    int64_t sum;           /* weights so far */
};

enum { FILL_GRID_WAYS = 5 };

struct fill_grid {
    struct fill_spread import[FILL_GRID_WAYS], export[FILL_GRID_WAYS];
};

void fill_grid_init(struct fill_grid *grid);

/* First pass: every piece's production and consumption, each >= 0. */
void fill_grid_add(struct fill_grid *grid, int64_t production, int64_t consumption);

/* What the counters say of the gap, each >= 0. */
void fill_grid_fit(struct fill_grid *grid, int64_t import, int64_t export);

/* Second pass, the same pieces in the same order: what each buys and sells. */
void fill_grid_take(struct fill_grid *grid, int64_t production, int64_t consumption, int64_t *import,
                    int64_t *export);

#endif
