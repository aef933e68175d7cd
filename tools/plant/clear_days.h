/* A plant beside its own clear days, where no irradiance is measured.
 *
 * A computed clear sky is no reference for a roof. Days are compared with other
 * clear days of the same plant instead, at the same season, so that sun, horizon
 * and usual warmth are the same; a clear sky only carries a day to the days
 * beside it, over a fortnight at most. Which days were clear is told by the
 * plant's own curve: near the highest days around it, and smooth.
 *
 * Pure; a list of days in order. First clear_days_candidates(), then the
 * caller looks at the curves of the candidates, then clear_days_choose(). All
 * thresholds are our own choice. */
#ifndef METERBOOK_CLEAR_DAYS_H
#define METERBOOK_CLEAR_DAYS_H

#include <stdbool.h>
#include <stdint.h>

enum { CLEAR_DAYS_AROUND = 15, CLEAR_DAYS_REFERENCES = 3, CLEAR_DAYS_BLOCK_S = 1800 };

struct clear_day {
    int64_t day;    /* civil */
    int32_t season; /* day of the year, 0 .. 365 */
    bool whole;     /* all of it was observed: others are never clear */
    double ratio;   /* what was made over the shape of a clear sky, both per kWp; 0 where one is not known */
    double roughness; /* clear_days_roughness() of a candidate */
    bool candidate, clear;
};

/* Marks days within a tenth of the highest around them that are no fog either. */
void clear_days_candidates(struct clear_day *days, int32_t count);

/* How far a day's energies, by half hours, go up and down, over a single rise and fall to the highest of
 * them: 1 and above; INFINITY for a day of nothing. */
double clear_days_roughness(const double *blocks, int32_t count);

/* Candidates about as smooth as the smoothest of their season are clear. */
void clear_days_choose(struct clear_day *days, int32_t count);

struct clear_index {
    int32_t days;       /* clear ones in the span that have references */
    int32_t references; /* clear days of the same seasons outside it */
    double index;       /* 1: made as much as these; NAN */
    double spread;      /* between the span's days: standard deviation from the median of distances */
    double error;       /* standard error of the index */
};

/* A day's ratio over the median of the clear days of its season outside [from, to); NAN where they are too
 * few. `room`: for `count` numbers. */
double clear_days_index(const struct clear_day *day, const struct clear_day *days, int32_t count,
                        int64_t from_day, int64_t to_day, double *room);

/* How the clear days of [from, to) compare with those outside it. False without memory. */
bool clear_days_compare(struct clear_index *found, const struct clear_day *days, int32_t count,
                        int64_t from_day, int64_t to_day);

#endif
