/* Corrections of what was measured: a wrong ratio, import and export exchanged,
 * two meters swapped, energy that an exchanged meter took with it. Pure.
 *
 * A correction covers a span of time. It is applied to the rows of one interval
 * after the other, oldest first, several of them in their order in the logbook;
 * the rows as measured stay where they are. A row that its edge cuts is split by
 * time and counts as estimated. Rows that were entered from elsewhere did not
 * pass the wiring that was wrong: they are left alone. */
#ifndef METERBOOK_CORRECT_H
#define METERBOOK_CORRECT_H

#include <stdbool.h>
#include <stdint.h>

#include "logbook.h"
#include "quantity.h"

#define CORRECT_NONE INT64_MIN /* no such counter, not known: STORE_NULL */

/* What is known of a meter in one interval; mWh (mvarh, mVAh), s, W, 0.01 V. */
struct correct_row {
    int64_t energy[COUNTER_COUNT];
    int64_t estimated, unobserved_s, how;
    int64_t power, power_min, power_max, voltage;
};

/* An exchanged meter of ours: its last and the next one's first reading were declared, so that
 * what flowed between the readings that the collector got is known. Spread evenly over that time. */
enum { CORRECT_ADDED = CORRECT_SWAPPED + 1, CORRECT_KINDS };

struct correction {
    int64_t id;
    int32_t what;         /* enum logbook_what or CORRECT_ADDED */
    int32_t meter, other; /* numbers; other: of CORRECT_SWAPPED, else 0 */
    int64_t from_s, to_s; /* UTC */
    int64_t up, down;     /* CORRECT_RATIO: energy and power are multiplied by up / down */
    int64_t added[2];     /* CORRECT_ADDED: import and export, mWh; CORRECT_NONE: not declared */
    /* CORRECT_RATIO: what it was applied to so far, by counter. Corrected rows add up
     * to the corrected sum exactly, whatever each of them was rounded to. */
    int64_t seen[COUNTER_COUNT];
};

/* Seconds of [start, start + length) that the correction covers. */
int64_t correct_covers(const struct correction *correction, int64_t start_s, int64_t length_s);

/* Applies it to the row of its meter in the interval and, for two meters swapped, to that
 * of the other. Returns false where nothing was changed: it does not cover the interval,
 * a row was entered, or one of two swapped meters has none (NULL). */
bool correct_apply(struct correction *correction, int64_t start_s, int64_t length_s, struct correct_row *row,
                   struct correct_row *other);

/* The derived grid meter's row after its sides changed: import less export is consumption
 * less production. What was imported and exported in turn within the interval stays, as far
 * as both sides have so much. */
void correct_derive(struct correct_row *grid, int64_t consumption, int64_t production);

#endif
