#include "expected.h"

#include <math.h>
#include <stdlib.h>

#include "calendar.h"

/* A month of the civil calendar and its light. */
struct month {
    int64_t from_day, to_day;
    int32_t index; /* 0: January */
    double light;
};

/* Light of a clear sky, or time. */
static double light_of(const struct plant *plant, int64_t from_s, int64_t to_s)
{
    return plant->has_place ? plant_clear_sky(plant, from_s, to_s) : (double)(to_s - from_s);
}

static struct month month_of(const struct civil *civil, const struct plant *plant, int64_t day)
{
    int32_t year, month, of_month;
    civil_date(day, &year, &month, &of_month);
    struct month of = { day - of_month + 1, period_next_month(day), month - 1, 0 };
    of.light = light_of(plant, civil_day_start(civil, of.from_day), civil_day_start(civil, of.to_day));
    return of;
}

/* kWh of a whole month; NAN where nothing is promised. */
static double promised(const struct plant *plant, int32_t month)
{
    const struct config_expected *expected = &plant->expected;
    double per_kwp = expected->kwh_per_kwp[month] / 1000.0, whole = expected->kwh[month] / 1000.0;
    if (!expected->given || (per_kwp > 0 && !(plant->peak_kw > 0)))
        return NAN;
    return per_kwp > 0 ? per_kwp * plant->peak_kw : whole;
}

/* Share of the month's light that the day's known time had. */
static double known_share(const struct yield_day *day, const struct month *month)
{
    double light = light_of(day->plant, day->from_s, day->from_s + day->length_s);
    if (day->made == UNKNOWN || day->length_s <= 0 || !(month->light > 0))
        return 0;
    return light / month->light * (double)day->known_s / (double)day->length_s;
}

static void begin_row(struct expected_row *row, const struct yield_day *day)
{
    *row = (struct expected_row){
        .from_s = day->from_s, .from_day = day->day, .to_day = day->day + 1, .made = UNKNOWN
    };
}

static void take(struct expected_row *row, const struct yield_day *day, double share, double promise)
{
    row->made = number_sum(row->made, day->made);
    row->expected += share > 0 ? share * promise : 0;
    row->known += share;
    row->to_day = day->day + 1;
}

static bool begins_row(const struct yield_day *days, int32_t at, enum row_unit unit)
{
    int32_t year[2], month[2], day;
    if (at == 0)
        return true;
    for (int i = 0; i < 2; i++)
        civil_date(days[at - i].day, &year[i], &month[i], &day);
    return year[0] != year[1] || (unit == ROW_MONTH && month[0] != month[1]);
}

static void judge(struct expected *expected)
{
    const struct expected_row *total = &expected->total;
    if (!(expected->uncertainty > 0) || !(total->expected > 0) || expected->months < 11.99)
        return;
    double off = (double)total->made / 1e6 / total->expected - 1;
    expected->verdict = off < -expected->uncertainty  ? EXPECTED_BELOW
                        : off > expected->uncertainty ? EXPECTED_ABOVE
                                                      : EXPECTED_WITHIN;
}

/* From shares of months to shares of what the row's months are. */
static void finish(struct expected_row *row)
{
    int32_t from[2], to[2], day;
    civil_date(row->from_day, &from[0], &from[1], &day);
    civil_date(row->to_day - 1, &to[0], &to[1], &day);
    row->known /= (to[0] - from[0]) * 12 + to[1] - from[1] + 1;
}

bool expected_find(struct expected *expected, const struct yield *yield, const struct civil *civil,
                   enum row_unit unit)
{
    struct month month = { 0 };
    *expected = (struct expected){ 0 };
    expected->rows = calloc((size_t)yield->day_count + 1, sizeof *expected->rows);
    if (!expected->rows)
        return false;
    for (int32_t i = 0; i < yield->day_count; i++) {
        const struct yield_day *day = &yield->days[i];
        bool changed = i > 0 && day->plant != day[-1].plant;
        if (day->day >= month.to_day || changed)
            month = month_of(civil, day->plant, day->day);
        if (i == 0)
            begin_row(&expected->total, day);
        if (begins_row(yield->days, i, unit))
            begin_row(&expected->rows[expected->row_count++], day);
        double share = known_share(day, &month), promise = promised(day->plant, month.index);
        take(&expected->rows[expected->row_count - 1], day, share, promise);
        take(&expected->total, day, share, promise);
        expected->uncertainty = day->plant->expected.uncertainty_ppm / 1e6;
    }
    expected->months = expected->total.known;
    for (int32_t i = 0; i < expected->row_count; i++)
        finish(&expected->rows[i]);
    if (expected->row_count > 0)
        finish(&expected->total);
    judge(expected);
    return true;
}

void expected_free(struct expected *expected)
{
    free(expected->rows);
    expected->rows = NULL;
}
