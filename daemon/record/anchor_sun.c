#include "anchor_sun.h"

#include <math.h>

#define HOUR_MS   INT64_C(3600000)
#define GRID_MS   (5 * INT64_C(60000))  /* of the computed shape and of the search */
#define FINE_MS   INT64_C(60000)        /* of the last search */
#define LEAST_MS  (20 * INT64_C(60000)) /* doubt on the fairest day, */
#define HALF_MS   (45 * INT64_C(60000)) /* and where the day's one half is missing */
#define MOST_MS   (75 * INT64_C(60000)) /* a worse one is none */
#define LIGHT_MS  (4 * HOUR_MS)         /* so long it must have produced */
#define SPAN_MS   (48 * HOUR_MS)
#define LEAST_FIT 0.85

enum { GRID = (24 + 24 + 48) * 12 + 3, SHIFTS = 24 * 12 };

struct search {
    const struct sun_slice *slices;
    int32_t count;
    int64_t from_ms;    /* UTC of the first place on the grid */
    double shape[GRID]; /* root of the computed irradiance: a broad shape, that clouds do less to */
    double fit[SHIFTS]; /* with the first slice at from_ms + i * GRID_MS */
};

static void compute(struct search *search, const struct sun_place *place, const struct sun_plane *plane)
{
    for (int i = 0; i < GRID; i++) {
        struct sun sun = sun_position(place, search->from_ms + i * GRID_MS);
        search->shape[i] = sqrt(sun_clear_plane(&sun, plane));
    }
}

static double shape_at(const struct search *search, int64_t after_ms)
{
    int64_t i = after_ms / GRID_MS;
    double rest = (double)(after_ms % GRID_MS) / (double)GRID_MS;
    return search->shape[i] * (1 - rest) + search->shape[i + 1] * rest;
}

/* How well the slices have the computed shape, the first one so long after from_ms: 0 .. 1. */
static double fit_at(const struct search *search, int64_t after_ms)
{
    double both = 0, made = 0, computed = 0;
    for (int32_t i = 0; i < search->count; i++) {
        const struct sun_slice *slice = &search->slices[i];
        double length = (double)slice->length_ms;
        double power = sqrt((double)slice->energy / length);
        double shape = shape_at(search, after_ms + slice->middle_ms - search->slices[0].middle_ms);
        both += length * power * shape;
        made += length * power * power;
        computed += length * shape * shape;
    }
    return made > 0 && computed > 0 ? both / sqrt(made * computed) : 0;
}

/* Do the slices hold a good part of both halves of a day? */
static bool is_whole(const struct search *search, int64_t after_ms)
{
    double rising = 0, falling = 0;
    for (int32_t i = 0; i < search->count; i++) {
        int64_t at_ms = after_ms + search->slices[i].middle_ms - search->slices[0].middle_ms;
        double shape = shape_at(search, at_ms), length = (double)search->slices[i].length_ms;
        bool rises = shape_at(search, at_ms + GRID_MS) > shape;
        rising += rises ? shape * length : 0;
        falling += rises ? 0 : shape * length;
    }
    return rising > falling / 3 && falling > rising / 3;
}

/* Half as wide as the places that fit nearly as well. */
static int64_t doubt(const struct search *search, int best)
{
    double missed = 1 - search->fit[best] * search->fit[best], most = missed * 1.15 + 0.003;
    int wide = 0;
    for (int i = 0; i < SHIFTS; i++)
        wide += 1 - search->fit[i] * search->fit[i] <= most;
    int64_t half_ms = wide * GRID_MS / 2, least_ms = is_whole(search, best * GRID_MS) ? LEAST_MS : HALF_MS;
    return half_ms > least_ms ? half_ms : least_ms;
}

static bool produced_enough(const struct search *search)
{
    int64_t light_ms = 0;
    for (int32_t i = 0; i < search->count; i++)
        light_ms += search->slices[i].energy > 0 ? search->slices[i].length_ms : 0;
    return light_ms >= LIGHT_MS;
}

bool anchor_sun(const struct sun_place *place, const struct sun_plane *plane, const struct sun_slice slices[],
                int32_t count, int64_t near_ms, struct sun_anchor *anchor)
{
    struct search search = { .slices = slices, .from_ms = near_ms - 12 * HOUR_MS };
    while (search.count < count && search.count < ANCHOR_SUN_SLICES &&
           slices[search.count].middle_ms - slices[0].middle_ms <= SPAN_MS)
        search.count++;
    if (search.count == 0 || !produced_enough(&search))
        return false;
    compute(&search, place, plane);
    int best = 0;
    for (int i = 0; i < SHIFTS; i++) {
        search.fit[i] = fit_at(&search, i * GRID_MS);
        best = search.fit[i] > search.fit[best] ? i : best;
    }
    int64_t at_ms = best * GRID_MS;
    double match = search.fit[best];
    for (int64_t fine = -GRID_MS; fine <= GRID_MS; fine += FINE_MS) {
        double fit = best * GRID_MS + fine < 0 ? 0 : fit_at(&search, best * GRID_MS + fine);
        at_ms = fit > match ? best * GRID_MS + fine : at_ms;
        match = fit > match ? fit : match;
    }
    anchor->offset_ms = search.from_ms + at_ms - slices[0].middle_ms;
    anchor->doubt_ms = doubt(&search, best);
    anchor->match = match;
    return match >= LEAST_FIT && anchor->doubt_ms <= MOST_MS;
}
