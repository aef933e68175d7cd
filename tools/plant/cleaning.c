#include "cleaning.h"

#include <math.h>

#include "scatter.h"

/* Variance of a mean, and what it adds to the degrees of freedom. */
static double variance_of(const double *values, int32_t count)
{
    double deviation = scatter_deviation(values, count);
    return deviation * deviation / count;
}

struct cleaning_gain cleaning_find(const double *before, int32_t before_count, const double *after,
                                   int32_t after_count)
{
    struct cleaning_gain found = { .before = before_count, .after = after_count, .gain = NAN, .reach = NAN };
    if (before_count < CLEANING_LEAST_DAYS || after_count < CLEANING_LEAST_DAYS)
        return found;
    double was = scatter_mean(before, before_count), is = scatter_mean(after, after_count), ratio = is / was;
    double a = variance_of(before, before_count) * ratio * ratio, b = variance_of(after, after_count);
    double freedom = (a + b) * (a + b) / (a * a / (before_count - 1) + b * b / (after_count - 1));
    found.gain = ratio - 1;
    found.reach = a + b > 0 ? sqrt(a + b) / was * scatter_reach(freedom) : 0;
    found.verdict = fabs(found.gain) > found.reach ? CLEANING_DETERMINED : CLEANING_UNCERTAIN;
    return found;
}
