/* What scattered values say: middle, spread, and how sure that is. Pure. */
#ifndef METERBOOK_SCATTER_H
#define METERBOOK_SCATTER_H

#include <stdint.h>

/* The middle of the values, which are put into order; NAN without any. */
double scatter_median(double *values, int32_t count);

/* A share (0 .. 1) of the values, which must be in order, lies below it: between two values evenly, as
 * spreadsheets do; NAN without any. */
double scatter_quantile(const double *ordered, int32_t count, double share);

/* Mean and standard deviation (of count - 1); NAN where there are too few. */
double scatter_mean(const double *values, int32_t count);
double scatter_deviation(const double *values, int32_t count);

/* How many standard errors an interval of 95 % reaches to each side with so many degrees of freedom:
 * Student's t, by the expansion of Abramowitz & Stegun 26.7.5 (from memory, within 0.001 from 7 on, proved
 * by test); INFINITY below 1. */
double scatter_reach(double freedom);

#endif
