/* Does the quotient of ours and theirs change with time? A straight line through the rows, each weighted by
 * what the registers' steps and the reading times let its quotient be off: what a class allows is an offset
 * and stays. Where the rows scatter by more than that, the line's uncertainty grows with their scatter. */
#include <math.h>
#include <stdlib.h>

#include "agreement.h"

#define YEAR_S               31556952.0
#define LEAST_SPAN_S         (182 * INT64_C(86400)) /* own choice: seasons load a meter differently */
#define NO_DRIFT             1000 /* millionths a year; own choice: ten years of it stay within class 1 */
#define BAD_FIT              4.0  /* own choice: chi square by degree of freedom that no line has */
#define LEAST_QUOTIENT_DOUBT 1e-9

struct sums {
    double weight, time, ratio; /* weighted means of the last two once `weight` is known */
};

static bool is_point(const struct agreement_row *row)
{
    return row->verdict != VERDICT_NONE && row->theirs > 0 && !row->alone;
}

static double ratio_of(const struct agreement_row *row)
{
    return (double)row->ours / (double)row->theirs;
}

static double middle_of(const struct agreement_row *row)
{
    return ((double)row->from_s + (double)(row->to_s - row->from_s) / 2) / YEAR_S;
}

static double weight_of(const struct agreement_row *row)
{
    double square = 0;
    for (int32_t i = PART_THEIR_STEP; i < AGREEMENT_PARTS; i++)
        square += pow((double)row->allowance.likely[i] / (double)row->theirs, 2);
    return 1 / (square > LEAST_QUOTIENT_DOUBT * LEAST_QUOTIENT_DOUBT
                    ? square
                    : LEAST_QUOTIENT_DOUBT * LEAST_QUOTIENT_DOUBT);
}

static struct sums means(const struct agreement_row *rows, int32_t from, int32_t to)
{
    struct sums sums = { 0, 0, 0 };
    for (int32_t i = from; i < to; i++)
        if (is_point(&rows[i])) {
            double weight = weight_of(&rows[i]);
            sums.weight += weight;
            sums.time += weight * middle_of(&rows[i]);
            sums.ratio += weight * ratio_of(&rows[i]);
        }
    if (sums.weight > 0) {
        sums.time /= sums.weight;
        sums.ratio /= sums.weight;
    }
    return sums;
}

/* Weighted squares of what a line through the means with this slope leaves over. */
static double chi_square(const struct agreement_row *rows, int32_t from, int32_t to, struct sums at,
                         double slope)
{
    double sum = 0;
    for (int32_t i = from; i < to; i++)
        if (is_point(&rows[i]))
            sum += weight_of(&rows[i]) *
                   pow(ratio_of(&rows[i]) - at.ratio - slope * (middle_of(&rows[i]) - at.time), 2);
    return sum;
}

/* 97.5 % of Student's distribution [from memory]; beyond the table 2.0 is within 2 %. */
static double student(int32_t freedom)
{
    static const double table[] = { 12.71, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228,
                                    2.201, 2.179, 2.160, 2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086 };
    return freedom <= (int32_t)(sizeof(table) / sizeof(table[0])) ? table[freedom - 1] : 2.0;
}

/* The split that leaves least, of those with two points at least on each side; its chi square. */
static double find_step(const struct agreement_row *rows, int32_t count, int32_t points, int32_t *at)
{
    double best = INFINITY;
    int32_t passed = 0;
    for (int32_t i = 0; i < count; i++) {
        if (passed >= 2 && points - passed >= 2) {
            struct sums before = means(rows, 0, i), after = means(rows, i, count);
            double left = chi_square(rows, 0, i, before, 0) + chi_square(rows, i, count, after, 0);
            *at = left < best ? i : *at;
            best = fmin(left, best);
        }
        passed += is_point(&rows[i]);
    }
    return best;
}

static int64_t millionths(double value)
{
    return llround(fmax(fmin(value, 1e9), -1e9) * 1e6);
}

struct agreement_drift agreement_drift(const struct agreement_row *rows, int32_t count)
{
    struct agreement_drift drift = { .state = DRIFT_FEW };
    int32_t first = -1, last = -1, step = 0;
    for (int32_t i = 0; i < count; i++)
        if (is_point(&rows[i])) {
            first = first < 0 ? i : first;
            last = i;
            drift.rows++;
        }
    if (drift.rows > 0)
        drift.span_s = rows[last].to_s - rows[first].from_s;
    if (drift.rows < 3 || drift.span_s < LEAST_SPAN_S)
        return drift;
    struct sums all = means(rows, 0, count);
    if (all.ratio <= 0)
        return drift;
    double across = 0, along = 0;
    for (int32_t i = 0; i < count; i++)
        if (is_point(&rows[i])) {
            double time = middle_of(&rows[i]) - all.time, weight = weight_of(&rows[i]);
            across += weight * time * time;
            along += weight * time * (ratio_of(&rows[i]) - all.ratio);
        }
    double slope = along / across, left = chi_square(rows, 0, count, all, slope);
    double scatter = left / (drift.rows - 2);
    drift.slope = millionths(slope / all.ratio);
    drift.uncertainty = millionths(student(drift.rows - 2) * sqrt(fmax(scatter, 1) / across) / all.ratio);
    drift.state = llabs(drift.slope) > drift.uncertainty               ? DRIFT_SEEN
                  : llabs(drift.slope) + drift.uncertainty <= NO_DRIFT ? DRIFT_NONE
                                                                       : DRIFT_OPEN;
    if (scatter > BAD_FIT && find_step(rows, count, drift.rows, &step) < left / 2) {
        drift.state = DRIFT_STEP;
        drift.step_s = rows[step].from_s;
        drift.step = millionths((means(rows, step, count).ratio - means(rows, 0, step).ratio) / all.ratio);
    }
    return drift;
}
