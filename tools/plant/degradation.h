/* How a plant's output changes from year to year, and how sure that is. Pure
 * statistics on doubles; nothing here knows the record.
 *
 * line_fit() is ordinary weighted regression. plane_fit_*() finds power as a
 * linear function of irradiance and module temperature in a week of intervals,
 * so that a week becomes one value at fixed conditions. degradation_find() is
 * the answer: values are compared with those of the same season of other years
 * only, in logarithms, so that neither summer and winter nor where a series
 * begins and ends makes a trend. */
#ifndef METERBOOK_DEGRADATION_H
#define METERBOOK_DEGRADATION_H

#include <stdbool.h>
#include <stdint.h>

/* y = intercept + slope x */
struct line {
    bool known; /* false: fewer than three points, or all at one x */
    double intercept, slope;
    double slope_error; /* standard error */
    double scatter;     /* standard deviation of the residuals, of weight 1 */
};

/* Weighted least squares; weight NULL: all 1. */
struct line line_fit(const double *x, const double *y, const double *weight, int32_t count);

/* Standard error of the slope through one value a year for `years` years, in the unit in which their
 * scatter is given: s / sqrt(n (n^2 - 1) / 12). */
double degradation_least_error(double scatter, double years);

/* p = b[0] + b[1] irradiance + b[2] temperature. Zero it, add, solve. */
struct plane_fit {
    int32_t count;
    double sum[3][3], right[3], square; /* normal equations: of products of (1, g, t), with p, p with p */
    double brightest;                   /* highest irradiance */
};
void plane_fit_add(struct plane_fit *fit, double irradiance, double temperature, double power);
/* False where the points do not span a plane. *scatter is the residual standard error. */
bool plane_fit_solve(const struct plane_fit *fit, double b[3], double *scatter);
double plane_fit_at(const double b[3], double irradiance, double temperature);

/* The median of the slopes between all two values that are `apart` apart in x, relative to the median of
 * what these lines say for x = 0, times `apart`: change per `apart`. */
struct year_on_year {
    int32_t pairs;
    double rate, deviation; /* deviation: of the single pairs' rates */
};
/* False without memory. */
bool year_on_year_find(struct year_on_year *found, const double *x, const double *y, int32_t count,
                       double apart);

enum { DEGRADATION_SEASONS = 12, DEGRADATION_LEAST_YEARS = 2 };

struct degradation_value {
    double years;   /* when, from any instant on */
    int32_t season; /* 0 .. 11: compared with the same of other years only */
    double value;   /* above 0 */
    double weight;  /* above 0 */
};

enum degradation_verdict {
    DEGRADATION_TOO_SHORT,  /* less than two full years */
    DEGRADATION_UNCERTAIN,  /* the interval holds zero */
    DEGRADATION_DETERMINED, /* it does not */
};

struct degradation {
    enum degradation_verdict verdict;
    int32_t count;  /* of values used: seasons that came once tell nothing */
    double years;   /* from the first to the last of them, and one value's length */
    double rate;    /* per year, relative: -0.005 is half a per cent less each year; NAN: not known */
    double error;   /* standard error */
    double reach;   /* the interval of 95 % is rate +- reach */
    double scatter; /* standard deviation of a single value from its season and the trend */
    double alike;   /* correlation of neighbouring residuals, which widens the interval; 0 and above */
};

/* Values in order of time, each `length` years long. What is alike for a whole year widens the interval: from
 * five years on it is taken from the years' own means; before that, `yearly_scatter` is taken for it. False
 * without memory. */
bool degradation_find(struct degradation *found, const struct degradation_value *values, int32_t count,
                      double length, double yearly_scatter);

#endif
