/* What a cleaning brought: days before beside days after, each normalised by
 * what else changed (light, peers, clear days). Pure. */
#ifndef METERBOOK_CLEANING_H
#define METERBOOK_CLEANING_H

#include <stdint.h>

enum { CLEANING_LEAST_DAYS = 4, CLEANING_WINDOW_DAYS = 14 }; /* on each side; own choice */

enum cleaning_verdict {
    CLEANING_TOO_FEW,   /* days on one side */
    CLEANING_UNCERTAIN, /* the interval holds zero */
    CLEANING_DETERMINED
};

struct cleaning_gain {
    enum cleaning_verdict verdict;
    int32_t before, after; /* days */
    double gain;           /* relative; NAN */
    double reach;          /* the interval of 95 % is gain +- reach; NAN */
};

/* Values of the days before and after, above 0, in the same unit. The interval is Welch's, with Student's t
 * (unequal spreads, degrees of freedom by Satterthwaite). */
struct cleaning_gain cleaning_find(const double *before, int32_t before_count, const double *after,
                                   int32_t after_count);

#endif
