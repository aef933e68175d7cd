#include <stdlib.h>

#include "muldiv.h"
#include "period.h"
#include "spans.h"

struct spans_plant spans_plant(const struct config *config)
{
    struct spans_plant plant = { { config->site.latitude, config->site.longitude }, { 180, 0 } };
    for (int32_t i = 0; i < config->meter_count; i++) {
        const struct config_meter *meter = &config->meters[i];
        bool solar = meter->role == ROLE_PRODUCTION || meter->role == ROLE_PART;
        if (solar && meter->plane_azimuth >= 0 && meter->tilt >= 0) {
            plant.plane = (struct sun_plane){ meter->plane_azimuth, meter->tilt };
            break;
        }
    }
    return plant;
}

static bool makes_any(const struct config *config)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].role == ROLE_PRODUCTION || config->meters[i].role == ROLE_PART)
            return true;
    for (int32_t i = 0; i < config->sealed_count; i++)
        if (config->sealed[i].role == ROLE_PRODUCTION)
            return true;
    return false;
}

bool spans_along_sun(const struct config *config, const struct config_sealed *meter, enum sealed_register reg)
{
    if (meter->role == ROLE_PRODUCTION)
        return reg == (meter->delivers_by_export ? SEALED_EXPORT : SEALED_IMPORT);
    return (reg == SEALED_EXPORT || (reg >= SEALED_EXPORT_T1 && reg <= SEALED_EXPORT_T4)) &&
           makes_any(config);
}

int64_t spans_weight(const struct spans_plant *plant, bool along_sun, int64_t from_s, int64_t to_s)
{
    return along_sun ? sun_weight(&plant->place, &plant->plane, from_s * 1000, to_s * 1000) : to_s - from_s;
}

/* First day of the month that holds an instant. */
static int64_t month_of(const struct civil *civil, int64_t at_s)
{
    int32_t year, month, day;
    civil_date(civil_day_of(civil, at_s), &year, &month, &day);
    return civil_day_number(year, month, 1);
}

/* The month's row of this register; the newest rows are looked at first. */
static struct spans_period *find_month(struct spans *months, const struct spans_period *period,
                                       int64_t from_s, int64_t to_s)
{
    for (int32_t i = months->count - 1; i >= 0; i--) {
        struct spans_period *row = &months->periods[i];
        if (row->sealed == period->sealed && row->reg == period->reg && row->from_s == from_s)
            return row;
    }
    struct spans_period row = *period;
    row.from_s = from_s;
    row.to_s = to_s;
    row.energy = 0;
    row.from_estimated = row.to_estimated = row.rolled = row.exchanged = false;
    row.share = SHARE_WHOLE;
    row.partly = true;
    return spans_add(months, &row);
}

static void add_share(struct spans *months, const struct spans_period *period, int64_t from_s, int64_t to_s,
                      int64_t energy, enum spans_share share)
{
    struct spans_period *row = find_month(months, period, from_s, to_s);
    if (!row)
        return;
    row->energy = row->energy == UNKNOWN || energy == UNKNOWN ? UNKNOWN : row->energy + energy;
    row->share = share > row->share ? share : row->share;
    row->step = period->step > row->step ? period->step : row->step;
    row->from_estimated |= period->from_estimated;
    row->to_estimated |= period->to_estimated;
    row->rolled |= period->rolled;
    row->exchanged |= period->exchanged;
}

static void share_out(struct spans *months, const struct spans_period *period,
                      const struct spans_plant *plant)
{
    const struct civil *civil = months->civil;
    bool along_sun = spans_along_sun(months->config, &months->config->sealed[period->sealed], period->reg);
    int64_t total = spans_weight(plant, along_sun, period->from_s, period->to_s), before = 0, sum = 0;
    if (total == 0) { /* a polar night */
        along_sun = false;
        total = period->to_s - period->from_s;
    }
    for (int64_t at_s = period->from_s; at_s < period->to_s;) {
        int64_t month = month_of(civil, at_s), next = period_next_month(month);
        int64_t from_s = civil_day_start(civil, month), to_s = civil_day_start(civil, next);
        int64_t end_s = to_s < period->to_s ? to_s : period->to_s;
        bool whole = at_s == period->from_s && end_s == period->to_s;
        sum += spans_weight(plant, along_sun, at_s, end_s);
        if (end_s == period->to_s)
            sum = total; /* pieces of the sun's weight may differ in their last digit */
        int64_t account = period->energy == UNKNOWN ? UNKNOWN : mul_div(period->energy, sum, total);
        add_share(months, period, from_s, to_s, account == UNKNOWN ? UNKNOWN : account - before,
                  whole       ? SHARE_WHOLE
                  : along_sun ? SHARE_SUN
                              : SHARE_TIME);
        before = account == UNKNOWN ? 0 : account;
        at_s = end_s;
    }
}

/* Months at the ends and around breaks are known in part only: their rows shrink to what is. */
static void shrink(struct spans *months, const struct spans *spans)
{
    for (int32_t m = 0; m < months->count; m++) {
        struct spans_period *row = &months->periods[m];
        int64_t covered = 0, from_s = INT64_MAX, to_s = INT64_MIN;
        for (int32_t i = 0; i < spans->count; i++) {
            const struct spans_period *period = &spans->periods[i];
            if (period->sealed != row->sealed || period->reg != row->reg || period->to_s <= row->from_s ||
                period->from_s >= row->to_s)
                continue;
            int64_t begin_s = period->from_s > row->from_s ? period->from_s : row->from_s;
            int64_t end_s = period->to_s < row->to_s ? period->to_s : row->to_s;
            covered += end_s - begin_s;
            from_s = begin_s < from_s ? begin_s : from_s;
            to_s = end_s > to_s ? end_s : to_s;
        }
        row->partly = covered < row->to_s - row->from_s;
        if (covered < to_s - from_s)
            row->energy = UNKNOWN; /* a break inside */
        row->from_s = from_s;
        row->to_s = to_s;
    }
}

void spans_by_month(struct spans *months, const struct spans *spans)
{
    struct spans_plant plant = spans_plant(spans->config);
    for (int32_t i = 0; i < spans->count; i++)
        if (spans->periods[i].reg != SEALED_DEMAND)
            share_out(months, &spans->periods[i], &plant);
    shrink(months, spans);
    spans_sort(months);
    months->memory_out |= spans->memory_out;
}
