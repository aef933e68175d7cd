/* The rows of one meter in a salvaged record, as a row of intervals with holes. */
#ifndef METERBOOK_SALVAGE_ROWS_H
#define METERBOOK_SALVAGE_ROWS_H

#include "salvage.h"

enum { SERIES_COUNTERS = 4, SERIES_HOLES = 2048 };

/* A table whose rows continue the accounts of counters. */
struct salvage_series {
    const char *table;
    int32_t first, count; /* its counters, as numbered in `run` */
    const char *columns[SERIES_COUNTERS];
    bool estimates; /* has a column for what was placed */
};
enum { SALVAGE_SERIES = 2 };
extern const struct salvage_series salvage_series[SALVAGE_SERIES];

struct salvage_hole {
    int64_t from_s, to_s;
    int32_t interval_s;
};

struct salvage_holes {
    int32_t count;
    bool more; /* than there is room for */
    struct salvage_hole holes[SERIES_HOLES];
    int64_t end_s; /* of the newest row; from_s without any */
};

/* Length of an interval at an instant. */
int32_t salvage_interval(struct salvage *salvage, int64_t at_s);

/* One value of a query with up to three numbers; `otherwise` where it is NULL or fails. */
int64_t salvage_ask(struct salvage *salvage, const char *sql, int64_t a, int64_t b, int64_t c,
                    int64_t otherwise);

/* Intervals without a row in [from, to), or up to the newest row where that is earlier. */
void salvage_find_holes(struct salvage *salvage, const struct salvage_series *series, int32_t meter,
                        int64_t from_s, int64_t to_s, struct salvage_holes *holes);

/* Sum of a counter's rows in [from, to). */
int64_t salvage_sum(struct salvage *salvage, const struct salvage_series *series, int32_t counter,
                    int32_t meter, int64_t from_s, int64_t to_s);

/* Spreads energies (mWh, INT64_MIN: the meter has no such counter) evenly over the
 * holes; adds a row per interval. */
bool salvage_fill(struct salvage *salvage, const struct salvage_series *series, int32_t meter,
                  const struct salvage_holes *holes, const int64_t energy[SERIES_COUNTERS]);

/* A run whose ratio was lost goes on where `config` (NULL: none) knows the meter, else it ends. */
bool salvage_factors(struct salvage *salvage, const struct config *config);

void salvage_span(struct salvage *salvage, int32_t meter, int64_t from_s, int64_t to_s, int64_t rows,
                  enum salvage_fate fate);

#endif
