#include "scatter.h"

#include <math.h>
#include <stdlib.h>

static int compare(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

double scatter_quantile(const double *ordered, int32_t count, double share)
{
    if (count < 1)
        return NAN;
    double place = share * (count - 1);
    int32_t below = (int32_t)floor(place);
    int32_t above = below + 1 < count ? below + 1 : below;
    return ordered[below] + (place - below) * (ordered[above] - ordered[below]);
}

double scatter_median(double *values, int32_t count)
{
    if (count > 1)
        qsort(values, (size_t)count, sizeof *values, compare);
    return scatter_quantile(values, count, 0.5);
}

double scatter_mean(const double *values, int32_t count)
{
    double sum = 0;
    for (int32_t i = 0; i < count; i++)
        sum += values[i];
    return count > 0 ? sum / count : NAN;
}

double scatter_deviation(const double *values, int32_t count)
{
    double mean = scatter_mean(values, count), squares = 0;
    for (int32_t i = 0; i < count; i++)
        squares += (values[i] - mean) * (values[i] - mean);
    return count > 1 ? sqrt(squares / (count - 1)) : NAN;
}

double scatter_reach(double freedom)
{
    /* exact where the expansion is not good enough; printed in every table of the distribution */
    static const double few[] = { 12.7062, 4.3027, 3.1824, 2.7764, 2.5706, 2.4469 };
    const double z = 1.959964, z2 = z * z, v = freedom;
    if (!(freedom >= 1))
        return INFINITY;
    if (freedom < 7)
        return few[(int32_t)freedom - 1];
    return z * (1 + (z2 + 1) / (4 * v) + ((5 * z2 + 16) * z2 + 3) / (96 * v * v) +
                (((3 * z2 + 19) * z2 + 17) * z2 - 15) / (384 * v * v * v));
}
