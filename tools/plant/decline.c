#include "decline.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "calendar.h"
#include "light.h"
#include "scatter.h"

/* As in the published way that tests/unit/test_degradation.c holds against its digits, but carried to
 * common light that every week is near to. */
static const double least_light = 100, most_light = 1500; /* W/m2 */
static const double least_power = 0.01;                   /* of the peak power */
static const double brightness = 0.8;                     /* of the middle of the weeks' brightest */
static const double yearly_weather = 0.04;                /* of a year's sum: common practice, no source */
static const double yearly_dirt = 0.01; /* of a year's middle, corrected for weather: own choice */
static const double year_days = 365.25;
enum { WEEK_INTERVALS = 30, WEEK_DAYS = 7, YEAR_WEEKS = 52, YEAR_MONTHS = 12 };

struct week {
    int64_t day; /* Monday */
    struct performance sum;
    struct plane_fit fit;
    double heat; /* sum of temperatures */
    double gamma;
};

struct weeks {
    const struct civil *civil;
    struct week *list; /* heap */
    int32_t count;
    int64_t first;  /* Monday of the first */
    bool corrected; /* all by a stated coefficient */
};

/* Values of a trend, and for pairs their number in weeks or months. */
struct values {
    struct degradation_value *list; /* heap */
    double *x, *y;                  /* heap */
    int32_t count;
};

static bool values_make(struct values *values, int32_t room)
{
    *values = (struct values){ 0 };
    values->list = calloc((size_t)room + 1, sizeof *values->list);
    values->x = calloc((size_t)room + 1, sizeof *values->x);
    values->y = calloc((size_t)room + 1, sizeof *values->y);
    return values->list && values->x && values->y;
}

static void values_free(struct values *values)
{
    free(values->list);
    free(values->x);
    free(values->y);
}

static int32_t month_of(int64_t day)
{
    int32_t year, month, of_month;
    civil_date(day, &year, &month, &of_month);
    return month - 1;
}

static void values_add(struct values *values, int64_t day, double middle, double number, double value)
{
    values->x[values->count] = number;
    values->y[values->count] = value;
    values->list[values->count++] = (struct degradation_value){ .years = ((double)day + middle) / year_days,
                                                                .season = month_of(day + (int64_t)middle),
                                                                .value = value,
                                                                .weight = 1 };
}

static void take_light(void *self, const struct light *light)
{
    struct weeks *weeks = self;
    double hours = (double)light->length_s / 3600, irradiance = light->light / hours * 1000;
    double power = light->made / hours / light->plant->peak_kw;
    int64_t monday = period_week_start(civil_day_of(weeks->civil, light->start_s));
    int64_t index = (monday - weeks->first) / WEEK_DAYS;
    if (light->outage || light->throttled || light->warmth != WARMTH_MEASURED || index < 0 ||
        index >= weeks->count || !(irradiance >= least_light && irradiance <= most_light) ||
        !(power >= least_power))
        return;
    struct week *week = &weeks->list[index];
    week->day = monday;
    week->gamma = light->plant->gamma;
    weeks->corrected = weeks->corrected && week->gamma < 0;
    performance_add(&week->sum, light->length_s, light->made, light->reference, light->light,
                    light->temperature);
    week->heat += light->temperature;
    plane_fit_add(&week->fit, irradiance, light->temperature, power);
}

/* The light and warmth that all weeks are carried to. False where there are too few weeks. */
static bool find_conditions(struct decline *decline, const struct weeks *weeks)
{
    double *brightest = calloc((size_t)weeks->count + 1, sizeof *brightest), heat = 0;
    int32_t count = 0;
    int64_t intervals = 0;
    for (int32_t i = 0; brightest && i < weeks->count; i++) {
        if (weeks->list[i].fit.count <= WEEK_INTERVALS)
            continue;
        brightest[count++] = weeks->list[i].fit.brightest;
        heat += weeks->list[i].heat;
        intervals += weeks->list[i].fit.count;
    }
    if (count > 0) {
        decline->irradiance = brightness * scatter_median(brightest, count);
        decline->temperature = heat / (double)intervals;
    }
    free(brightest);
    return count > 0;
}

static void finish_trend(struct decline_trend *trend, const struct inquiry *inquiry, int64_t from_day,
                         int64_t to_day)
{
    const struct civil *civil = inquiry->session.civil;
    trend->present = true;
    trend->from_s = civil_day_start(civil, from_day);
    trend->to_s = civil_day_start(civil, to_day);
    trend->from_s = trend->from_s > inquiry->from_s ? trend->from_s : inquiry->from_s;
    trend->to_s = trend->to_s < inquiry->to_s ? trend->to_s : inquiry->to_s;
}

/* The performance ratio at 25 degC; without a coefficient the power at light and warmth that all weeks are
 * carried to, which a part's shade at some hours may bend. NAN for a week that is too dark for that. */
static double value_of(const struct decline *decline, const struct weeks *weeks, const struct week *week)
{
    double b[3], scatter;
    if (weeks->corrected)
        return performance_ratio_at(&week->sum, week->gamma, 25);
    if (week->fit.brightest < decline->irradiance || !plane_fit_solve(&week->fit, b, &scatter))
        return NAN;
    return plane_fit_at(b, decline->irradiance, decline->temperature);
}

static bool follow_weeks(struct decline *decline, const struct weeks *weeks, const struct inquiry *inquiry)
{
    struct decline_trend *trend = &decline->trends[DECLINE_LIGHT];
    struct values values;
    bool good = values_make(&values, weeks->count);
    int64_t from = 0, to = 0;
    for (int32_t i = 0; good && i < weeks->count; i++) {
        const struct week *week = &weeks->list[i];
        double value = week->fit.count > WEEK_INTERVALS ? value_of(decline, weeks, week) : NAN;
        if (!(value > 0))
            continue;
        from = values.count == 0 ? week->day : from;
        to = week->day + WEEK_DAYS;
        values_add(&values, week->day, WEEK_DAYS / 2.0, i, value);
    }
    if (good && values.count > 0) {
        good =
            degradation_find(&trend->found, values.list, values.count, WEEK_DAYS / year_days, yearly_dirt) &&
            year_on_year_find(&trend->pairs, values.x, values.y, values.count, YEAR_WEEKS);
        finish_trend(trend, inquiry, from, to);
    }
    values_free(&values);
    return good;
}

static bool read_light(struct decline *decline, const struct yield *yield, const struct inquiry *inquiry)
{
    struct weeks weeks = { .civil = inquiry->session.civil, .corrected = true };
    if (yield->day_count == 0)
        return true;
    weeks.first = period_week_start(yield->days[0].day);
    weeks.count = (int32_t)((yield->days[yield->day_count - 1].day - weeks.first) / WEEK_DAYS) + 1;
    weeks.list = calloc((size_t)weeks.count, sizeof *weeks.list);
    bool good = weeks.list && light_walk(&inquiry->session, &yield->plants, inquiry->from_s,
                                         inquiry->head.reach_s, take_light, &weeks);
    if (good && find_conditions(decline, &weeks))
        good = follow_weeks(decline, &weeks, inquiry);
    decline->corrected = weeks.corrected;
    free(weeks.list);
    return good;
}

static bool follow_clear(struct decline *decline, const struct yield *yield, const struct inquiry *inquiry)
{
    struct decline_trend *trend = &decline->trends[DECLINE_CLEAR];
    struct clear_day *days = NULL;
    struct values values = { 0 };
    int32_t count = 0;
    bool good = yield_read_clear(&inquiry->session, &yield->plants, inquiry->period, &days, &count) &&
                values_make(&values, count);
    int64_t from = 0, to = 0;
    for (int32_t i = 0; good && i < count; i++) {
        if (!days[i].clear || days[i].day < inquiry->period.from_day || days[i].day >= inquiry->period.to_day)
            continue;
        from = values.count == 0 ? days[i].day : from;
        to = days[i].day + 1;
        values_add(&values, days[i].day, 0.5, 0, days[i].ratio);
    }
    if (good && values.count > 0) {
        good = degradation_find(&trend->found, values.list, values.count, 1 / year_days, yearly_dirt);
        finish_trend(trend, inquiry, from, to);
    }
    values_free(&values);
    free(days);
    return good;
}

/* A month of yields per kWp, while all of it is known. */
struct month_sum {
    int64_t from_day, to_day;
    double per_kwp;
    bool whole;
};

static void add_month(struct values *values, const struct month_sum *month)
{
    int32_t year, number, day;
    civil_date(month->from_day, &year, &number, &day);
    bool all = day == 1 && month->to_day == period_next_month(month->from_day);
    if (month->whole && all && month->per_kwp > 0)
        values_add(values, month->from_day, (double)(month->to_day - month->from_day) / 2,
                   year * YEAR_MONTHS + number, month->per_kwp);
}

/* A bright month says more than a dark one, of which weather leaves anything. */
static void weigh_months(struct values *values)
{
    double sum[YEAR_MONTHS] = { 0 };
    int32_t count[YEAR_MONTHS] = { 0 };
    for (int32_t i = 0; i < values->count; i++) {
        sum[values->list[i].season] += values->list[i].value;
        count[values->list[i].season]++;
    }
    for (int32_t i = 0; i < values->count; i++)
        values->list[i].weight = sum[values->list[i].season] / count[values->list[i].season];
}

static bool follow_months(struct decline *decline, const struct yield *yield, const struct inquiry *inquiry)
{
    struct decline_trend *trend = &decline->trends[DECLINE_MONTHS];
    struct month_sum month = { 0 };
    struct values values;
    bool good = values_make(&values, yield->day_count);
    for (int32_t i = 0; good && i < yield->day_count; i++) {
        const struct yield_day *day = &yield->days[i];
        if (i > 0 && (day->day != day[-1].day + 1 || month_of(day->day) != month_of(day[-1].day)))
            add_month(&values, &month);
        if (i == 0 || day->day != day[-1].day + 1 || month_of(day->day) != month_of(day[-1].day))
            month = (struct month_sum){ .from_day = day->day, .whole = true };
        month.to_day = day->day + 1;
        month.whole = month.whole && day->made != UNKNOWN && day->known_s == day->to_s - day->from_s &&
                      day->plant->peak_kw > 0;
        month.per_kwp += month.whole ? (double)day->made / 1e6 / day->plant->peak_kw : 0;
    }
    if (good && yield->day_count > 0)
        add_month(&values, &month);
    if (good && values.count > 0) {
        weigh_months(&values);
        good =
            degradation_find(&trend->found, values.list, values.count, 1.0 / YEAR_MONTHS, yearly_weather) &&
            year_on_year_find(&trend->pairs, values.x, values.y, values.count, YEAR_MONTHS);
        finish_trend(trend, inquiry, yield->days[0].day, yield->days[yield->day_count - 1].day + 1);
    }
    values_free(&values);
    return good;
}

bool decline_read(struct decline *decline, const struct yield *yield, const struct inquiry *inquiry)
{
    *decline = (struct decline){ .irradiance = NAN, .temperature = NAN };
    if (read_light(decline, yield, inquiry) && follow_months(decline, yield, inquiry))
        return follow_clear(decline, yield, inquiry);
    if (query_error(inquiry->session.query))
        session_failed(&inquiry->session);
    else
        fputs("meterbook: out of memory\n", stderr);
    return false;
}
