#include "degradation.h"

#include <math.h>
#include <stdlib.h>

#include "scatter.h"

struct line line_fit(const double *x, const double *y, const double *weight, int32_t count)
{
    struct line line = { .slope_error = NAN, .scatter = NAN };
    double all = 0, mean_x = 0, mean_y = 0, xx = 0, xy = 0, squares = 0;
    for (int32_t i = 0; i < count; i++) {
        double w = weight ? weight[i] : 1;
        all += w;
        mean_x += w * x[i];
        mean_y += w * y[i];
    }
    mean_x /= all;
    mean_y /= all;
    for (int32_t i = 0; i < count; i++) {
        double w = weight ? weight[i] : 1;
        xx += w * (x[i] - mean_x) * (x[i] - mean_x);
        xy += w * (x[i] - mean_x) * (y[i] - mean_y);
    }
    if (count < 3 || !(xx > 0))
        return line;
    line.known = true;
    line.slope = xy / xx;
    line.intercept = mean_y - line.slope * mean_x;
    for (int32_t i = 0; i < count; i++) {
        double off = y[i] - line.intercept - line.slope * x[i];
        squares += (weight ? weight[i] : 1) * off * off;
    }
    line.scatter = sqrt(squares / (count - 2));
    line.slope_error = line.scatter / sqrt(xx);
    return line;
}

double degradation_least_error(double scatter, double years)
{
    return scatter / sqrt(years * (years * years - 1) / 12);
}

void plane_fit_add(struct plane_fit *fit, double irradiance, double temperature, double power)
{
    const double row[3] = { 1, irradiance, temperature };
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++)
            fit->sum[i][j] += row[i] * row[j];
        fit->right[i] += row[i] * power;
    }
    fit->square += power * power;
    fit->brightest = fit->count == 0 ? irradiance : fmax(fit->brightest, irradiance);
    fit->count++;
}

/* Takes the column out of the rows below its largest element. */
static bool eliminate(double m[3][4], int column)
{
    int best = column;
    for (int i = column + 1; i < 3; i++)
        if (fabs(m[i][column]) > fabs(m[best][column]))
            best = i;
    for (int j = 0; j < 4; j++) {
        double held = m[column][j];
        m[column][j] = m[best][j];
        m[best][j] = held;
    }
    if (!(fabs(m[column][column]) > 1e-9))
        return false;
    for (int i = column + 1; i < 3; i++) {
        double factor = m[i][column] / m[column][column];
        for (int j = column; j < 4; j++)
            m[i][j] -= factor * m[column][j];
    }
    return true;
}

bool plane_fit_solve(const struct plane_fit *fit, double b[3], double *scatter)
{
    double m[3][4], squares = fit->square;
    if (fit->count < 4)
        return false;
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++)
            m[i][j] = fit->sum[i][j];
        m[i][3] = fit->right[i];
    }
    for (int column = 0; column < 3; column++)
        if (!eliminate(m, column))
            return false;
    for (int i = 2; i >= 0; i--) {
        b[i] = m[i][3];
        for (int j = i + 1; j < 3; j++)
            b[i] -= m[i][j] * b[j];
        b[i] /= m[i][i];
    }
    for (int i = 0; i < 3; i++)
        squares -= b[i] * fit->right[i];
    *scatter = sqrt(fmax(squares, 0) / (fit->count - 3));
    return true;
}

double plane_fit_at(const double b[3], double irradiance, double temperature)
{
    return b[0] + b[1] * irradiance + b[2] * temperature;
}

bool year_on_year_find(struct year_on_year *found, const double *x, const double *y, int32_t count,
                       double apart)
{
    *found = (struct year_on_year){ .rate = NAN, .deviation = NAN };
    double *slopes = calloc((size_t)count + 1, sizeof *slopes);
    double *starts = calloc((size_t)count + 1, sizeof *starts);
    bool good = slopes && starts;
    int32_t pairs = 0;
    for (int32_t i = 0, j = 0; good && i < count; i++) {
        while (j < count && x[j] < x[i] + apart - 1e-9)
            j++;
        if (j == count || x[j] > x[i] + apart + 1e-9)
            continue;
        slopes[pairs] = (y[j] - y[i]) / apart;
        starts[pairs] = y[i] - slopes[pairs] * x[i];
        pairs++;
    }
    if (good && pairs > 0) {
        double start = scatter_median(starts, pairs);
        found->pairs = pairs;
        found->deviation = scatter_deviation(slopes, pairs) / start * apart;
        found->rate = scatter_median(slopes, pairs) / start * apart;
    }
    free(slopes);
    free(starts);
    return good;
}

/* The values as the regression sees them: logarithms, less those of their season. */
struct seasonal {
    double *x, *y, *weight, *at; /* at: years since the first value */
    int32_t count, seasons;
};

/* Seasons with a single value drop out: it is its own mean. */
static void take_seasons(struct seasonal *of, const struct degradation_value *values, int32_t count)
{
    double all[DEGRADATION_SEASONS] = { 0 }, x[DEGRADATION_SEASONS] = { 0 }, y[DEGRADATION_SEASONS] = { 0 };
    int32_t have[DEGRADATION_SEASONS] = { 0 };
    for (int32_t i = 0; i < count; i++) {
        const struct degradation_value *v = &values[i];
        all[v->season] += v->weight;
        x[v->season] += v->weight * v->years;
        y[v->season] += v->weight * log(v->value);
        of->seasons += ++have[v->season] == 2;
    }
    for (int32_t i = 0; i < count; i++) {
        const struct degradation_value *v = &values[i];
        int32_t s = v->season;
        if (have[s] < 2)
            continue;
        of->at[of->count] = v->years - values[0].years;
        of->x[of->count] = v->years - x[s] / all[s];
        of->y[of->count] = log(v->value) - y[s] / all[s];
        of->weight[of->count++] = v->weight;
    }
}

/* Correlation of the residuals that follow each other: weather, dirt and sensors go on for a while. */
static double neighbours(const struct seasonal *of, double slope)
{
    double product = 0, squares = 0, before = 0;
    for (int32_t i = 0; i < of->count; i++) {
        double off = sqrt(of->weight[i]) * (of->y[i] - slope * of->x[i]);
        product += i > 0 ? off * before : 0;
        squares += off * off;
        before = off;
    }
    double alike = squares > 0 ? product / squares : 0;
    return alike < 0 ? 0 : alike > 0.9 ? 0.9 : alike;
}

/* Two years are two years though the first and last clear day are not their first and last. */
static const double few_days = 0.02;

/* Standard deviation of the years' own means from the trend: what is alike all year (weather, dirt, a
 * sensor), single values do not show. 0 where the years are too few to tell. */
static double between_years(const struct seasonal *of, double slope, int32_t years)
{
    double squares = 0;
    int32_t told = 0;
    for (int32_t year = 0; year < years; year++) {
        double sum = 0, all = 0;
        for (int32_t i = 0; i < of->count; i++) {
            double w = of->at[i] >= year && of->at[i] < year + 1 ? of->weight[i] : 0;
            sum += w * (of->y[i] - slope * of->x[i]);
            all += w;
        }
        squares += all > 0 ? sum / all * sum / all : 0;
        told += all > 0;
    }
    return told > 2 ? sqrt(squares / (told - 2)) : 0;
}

/* The error that single values leave, or that whole years do, whichever reaches further. */
static void judge(struct degradation *found, const struct seasonal *of, double yearly_scatter, double freedom)
{
    enum { YEARS_THAT_TELL = 5 };
    int32_t years = (int32_t)floor(found->years + few_days);
    bool told = years >= YEARS_THAT_TELL;
    double scatter = told ? between_years(of, found->rate, years) : yearly_scatter;
    double error = degradation_least_error(scatter, told ? years : fmax(found->years, 2));
    double reach = error * (told ? scatter_reach(years - 2) : scatter_reach(freedom));
    found->reach = found->error * scatter_reach(freedom);
    if (reach > found->reach) {
        found->reach = reach;
        found->error = error;
    }
    if (years >= DEGRADATION_LEAST_YEARS)
        found->verdict = fabs(found->rate) > found->reach ? DEGRADATION_DETERMINED : DEGRADATION_UNCERTAIN;
}

static void regress(struct degradation *found, const struct seasonal *of, double yearly_scatter)
{
    double xx = 0, xy = 0, squares = 0, all = 0;
    double freedom = of->count - of->seasons - 1;
    for (int32_t i = 0; i < of->count; i++) {
        xx += of->weight[i] * of->x[i] * of->x[i];
        xy += of->weight[i] * of->x[i] * of->y[i];
        all += of->weight[i];
    }
    if (!(freedom >= 1) || !(xx > 0))
        return;
    found->rate = xy / xx;
    for (int32_t i = 0; i < of->count; i++) {
        double off = of->y[i] - found->rate * of->x[i];
        squares += of->weight[i] * off * off;
    }
    found->alike = neighbours(of, found->rate);
    found->scatter = sqrt(squares / freedom * of->count / all);
    found->error = sqrt(squares / freedom / xx * (1 + found->alike) / (1 - found->alike));
    /* neighbours that are alike are fewer than they look */
    judge(found, of, yearly_scatter, fmax(1, (freedom + 1) * (1 - found->alike) / (1 + found->alike) - 1));
}

bool degradation_find(struct degradation *found, const struct degradation_value *values, int32_t count,
                      double length, double yearly_scatter)
{
    *found = (struct degradation){ .rate = NAN, .error = NAN, .reach = NAN, .scatter = NAN };
    double *room = calloc(4 * (size_t)count + 1, sizeof *room);
    if (!room)
        return false;
    struct seasonal of = {
        .x = room, .y = room + count, .weight = room + 2 * (size_t)count, .at = room + 3 * (size_t)count
    };
    take_seasons(&of, values, count);
    found->count = of.count;
    if (count > 0)
        found->years = values[count - 1].years - values[0].years + length;
    regress(found, &of, yearly_scatter);
    free(room);
    return true;
}
