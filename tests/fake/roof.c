#include "roof.h"

#include <math.h>
#include <stdio.h>

#include "sun.h"

enum { DAY_S = 86400, HOUR_MS = 3600000 };

#define FIRST_S INT64_C(1743465600) /* 2025-04-01 */

/* splitmix64 (G. L. Steele, D. Lea, C. H. Flood 2014; constants from memory) */
static uint64_t next(uint64_t *seed)
{
    uint64_t z = *seed += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ z >> 30) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ z >> 27) * UINT64_C(0x94d049bb133111eb);
    return z ^ z >> 31;
}

double roof_chance(uint64_t *seed)
{
    return (double)(next(seed) >> 11) / 9007199254740992.0;
}

double roof_normal(uint64_t *seed)
{
    double u = roof_chance(seed), v = roof_chance(seed);
    return sqrt(-2 * log(u + 1e-300)) * cos(6.283185307179586 * v);
}

void roof_init(struct roof *roof, uint64_t seed)
{
    *roof = (struct roof){ .seed = seed, .extended = -1, .sky = roof_normal(&seed) };
    uint64_t *s = &roof->seed;
    roof->count = 3 + (int32_t)(roof_chance(s) * (ROOF_PARTS - 2));
    roof->latitude = 10 + roof_chance(s) * 45;
    for (int32_t p = 0; p < roof->count; p++) {
        roof->offset[p] = 1 + 0.015 * roof_normal(s);
        roof->tilt[p] = 30 + 0.7 * roof_normal(s);
        roof->peak_w[p] = 2000 + (int64_t)(roof_chance(s) * 80) * 100;
        roof->rated_w[p] = roof->peak_w[p] * 3 / 2;
        roof->noise[p] = 0.03 + 0.06 * roof_chance(s);
    }
    if (roof_chance(s) < 0.25)
        roof->rated_w[0] = roof->peak_w[0] * 7 / 10;
    if (roof_chance(s) < 0.2) {
        roof->extended = 1;
        roof->extended_from = 60 + (int32_t)(roof_chance(s) * 240);
    }
}

void roof_facts(const struct roof *roof, struct parts *parts)
{
    for (int32_t p = 0; p < roof->count; p++) {
        struct part *part = &parts->part[p];
        struct part_facts facts = { 0, true, roof->peak_w[p], 180, 30 };
        part->number = p + 1;
        snprintf(part->name, sizeof part->name, "part %d", (int)p + 1);
        parts_set_facts(part, &facts);
        facts.from_day = roof->extended_from;
        facts.peak_w = roof->peak_w[p] * 4 / 3;
        if (p == roof->extended)
            parts_set_facts(part, &facts);
    }
}

/* What the defect takes of an hour, as a share. */
static double defect_share(const struct roof_defect *defect, int32_t part, int32_t day, int32_t hour,
                           double beam)
{
    if (defect->kind == DEFECT_NONE || part != defect->part || day < defect->from || day >= defect->to)
        return 0;
    switch (defect->kind) {
    case DEFECT_FAILURE:
        return defect->loss;
    case DEFECT_SOILING:
        return fmin(0.3, defect->loss * (day - defect->from));
    default:
        return hour >= defect->hour_from && hour < defect->hour_to ? defect->loss * beam : 0;
    }
}

/* Snow lies on all, and slides off one after the other; gaps come when they like. */
static void begin_day(struct roof *roof, int32_t day)
{
    uint64_t *s = &roof->seed;
    bool winter = day > 240 && day < 330 && roof->latitude > 35;
    roof->sky = 0.6 * roof->sky + 0.8 * roof_normal(s);
    bool snows = winter && roof_chance(s) < 0.05;
    int32_t lies = 1 + (int32_t)(roof_chance(s) * 4);
    for (int32_t p = 0; p < roof->count; p++) {
        int32_t more = (int32_t)(roof_chance(s) * 3);
        if (snows)
            roof->snow_until[p] = day + lies + more;
        double gap = roof_chance(s), length = roof_chance(s);
        if (gap < 0.012)
            roof->gap_until[p] = day + 1 + (int32_t)(length * length * 20);
        roof->wander[p] = 0.95 * roof->wander[p] + 0.001 * roof_normal(s);
    }
}

static void make_hour(struct roof *roof, int32_t p, int32_t day, int32_t hour, double clear, double cloud,
                      struct part_hour *out)
{
    double peak = (double)roof->peak_w[p] * (p == roof->extended && day >= roof->extended_from ? 4 / 3.0 : 1);
    double patchy = 4 * cloud * (1 - cloud);
    double noise = 1 + (0.004 + roof->noise[p] * patchy) * roof_normal(&roof->seed);
    double watts =
        peak * clear / 1000 * cloud * 0.9 * fmax(0, noise) * roof->offset[p] * (1 + roof->wander[p]);
    if (day < roof->snow_until[p])
        watts *= 0.03;
    double share = defect_share(&roof->defect, p, day, hour, cloud * cloud * 0.9);
    double without = fmin(watts, (double)roof->rated_w[p]);
    double with = fmin(watts * (1 - share), (double)roof->rated_w[p]);
    roof->lost_mwh += (without - with) * 1000;
    out->energy = (int64_t)(with * 1000);
    bool limited = with >= 0.98 * (double)roof->rated_w[p];
    bool gap = day < roof->gap_until[p] || roof_chance(&roof->seed) < 0.002;
    out->state = gap ? HOUR_UNSEEN : limited ? HOUR_LIMITED : HOUR_SEEN;
}

void roof_day(struct roof *roof, int32_t day, struct part_hour (*hours)[PARTS_HOURS])
{
    const struct sun_place place = { roof->latitude, 0 };
    begin_day(roof, day);
    double mean = 1 / (1 + exp(-1.6 * roof->sky - 0.8)); /* of the day's clearness */
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        struct sun sun =
            sun_position(&place, (FIRST_S + (int64_t)day * DAY_S) * 1000 + h * HOUR_MS + HOUR_MS / 2);
        double swing = 0.25 * roof_normal(&roof->seed) * 4 * mean * (1 - mean);
        double cloud = fmin(1, fmax(0.05, mean > 0.85 ? 1 : mean + swing));
        for (int32_t p = 0; p < roof->count; p++) {
            struct sun_plane plane = { 180, roof->tilt[p] };
            double clear = sun.elevation > 0 ? sun_clear_plane(&sun, &plane) : 0;
            make_hour(roof, p, day, h, clear, cloud, &hours[p][h]);
        }
    }
}
