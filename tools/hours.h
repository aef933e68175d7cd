/* The balance by hours of the day: a raster of columns (a day or several) by the 24 hours of the site's
 * clock, and the same by month of the year. Pure: intervals are given to it. */
#ifndef METERBOOK_HOURS_H
#define METERBOOK_HOURS_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"
#include "number.h"

enum { HOURS_A_DAY = 24, MONTHS_A_YEAR = 12 };

enum hours_term {
    HOURS_PRODUCTION,
    HOURS_IMPORT,
    HOURS_EXPORT,
    HOURS_CONSUMPTION,
    HOURS_SELF_CONSUMPTION,
    HOURS_TERMS
};

struct hours_cell {
    int64_t energy[HOURS_TERMS]; /* mWh; of the seconds of which it is known */
    int32_t known_s[HOURS_TERMS];
    int64_t estimated; /* mWh that filling gaps placed, of all meters */
    bool skipped;      /* the clock was put forward over this hour: there was none */
};

struct hours {
    int64_t first_day;
    int32_t days_a_column, column_count;
    struct hours_cell (*columns)[HOURS_A_DAY]; /* heap */
    struct hours_cell months[MONTHS_A_YEAR][HOURS_A_DAY];
    struct hours_cell all[HOURS_A_DAY];
};

/* Room for [from_day, to_day), in at most `most` columns of whole days; longer spans than that take whole
 * weeks. False without memory; hours_free() takes it in any case. */
bool hours_init(struct hours *hours, int64_t from_day, int64_t to_day, int32_t most);
void hours_free(struct hours *hours);

/* Adds an interval, of an hour at most; energies mWh, UNKNOWN. */
void hours_add(struct hours *hours, const struct civil *civil, int64_t from_s, int32_t length_s,
               const int64_t energy[HOURS_TERMS], int64_t estimated);

/* Is a tenth or more of the cell's energy an estimate? */
bool hours_estimated(const struct hours_cell *cell);

/* Mean power in mW; UNKNOWN where nothing is known. */
int64_t hours_power(const struct hours_cell *cell, enum hours_term term);

/* Is the term known anywhere? */
bool hours_has(const struct hours *hours, enum hours_term term);

/* The largest mean power of any cell, mW, and where it is; UNKNOWN without any. */
int64_t hours_highest(const struct hours *hours, enum hours_term term, int32_t *column, int32_t *hour);

/* The hour of the day with the most energy of the term and its share of all, in millionths. */
int32_t hours_most(const struct hours *hours, enum hours_term term, int64_t *share);

#endif
