#include "clear_days.h"

#include <math.h>
#include <stdlib.h>

#include "scatter.h"

enum { DAYS_OF_YEAR = 366 };

static const double near_highest = 0.9; /* of the days around */
static const double no_fog = 0.4;       /* of the highest of the season in any year, */
static const double no_gloom = 0.2;     /* and of what a clear sky would bring */
static const double smooth = 1.08;      /* times the smoothest */
static const double roughest = 1.5;
static const double sigma = 1.4826; /* median of distances to standard deviation, of a normal spread */

static bool same_season(const struct clear_day *a, const struct clear_day *b)
{
    int32_t apart = abs(a->season - b->season);
    return apart <= CLEAR_DAYS_AROUND || DAYS_OF_YEAR - apart <= CLEAR_DAYS_AROUND;
}

/* The second highest, so that one wrong day spoils no month; the highest of fewer than five. */
struct highest {
    double first, second;
    int32_t count;
};

static void take(struct highest *highest, double ratio)
{
    highest->count++;
    if (ratio > highest->first) {
        highest->second = highest->first;
        highest->first = ratio;
    } else if (ratio > highest->second) {
        highest->second = ratio;
    }
}

static double envelope(const struct highest *highest)
{
    enum { FEW = 5 };
    return highest->count < FEW ? highest->first : highest->second;
}

void clear_days_candidates(struct clear_day *days, int32_t count)
{
    struct highest seasons[DAYS_OF_YEAR] = { { 0 } };
    for (int32_t i = 0; i < count; i++)
        for (int32_t s = -CLEAR_DAYS_AROUND; days[i].whole && s <= CLEAR_DAYS_AROUND; s++)
            take(&seasons[(days[i].season + s + DAYS_OF_YEAR) % DAYS_OF_YEAR], days[i].ratio);
    for (int32_t i = 0, from = 0; i < count; i++) {
        struct clear_day *day = &days[i];
        struct highest around = { 0 };
        while (days[from].day < day->day - CLEAR_DAYS_AROUND)
            from++;
        for (int32_t j = from; j < count && days[j].day <= day->day + CLEAR_DAYS_AROUND; j++)
            if (days[j].whole)
                take(&around, days[j].ratio);
        day->candidate = day->whole && day->ratio >= near_highest * envelope(&around) &&
                         day->ratio >= no_fog * envelope(&seasons[day->season]) && day->ratio >= no_gloom;
    }
}

double clear_days_roughness(const double *blocks, int32_t count)
{
    double way = 0, before = 0, highest = 0;
    for (int32_t i = 0; i < count; i++) {
        way += fabs(blocks[i] - before);
        highest = fmax(highest, blocks[i]);
        before = blocks[i];
    }
    return highest > 0 ? (way + fabs(before)) / (2 * highest) : INFINITY;
}

void clear_days_choose(struct clear_day *days, int32_t count)
{
    double smoothest[DAYS_OF_YEAR];
    for (int32_t s = 0; s < DAYS_OF_YEAR; s++)
        smoothest[s] = INFINITY;
    for (int32_t i = 0; i < count; i++)
        for (int32_t s = -CLEAR_DAYS_AROUND; days[i].candidate && s <= CLEAR_DAYS_AROUND; s++) {
            double *least = &smoothest[(days[i].season + s + DAYS_OF_YEAR) % DAYS_OF_YEAR];
            *least = fmin(*least, days[i].roughness);
        }
    for (int32_t i = 0; i < count; i++)
        days[i].clear = days[i].candidate && days[i].roughness <= roughest &&
                        days[i].roughness <= smooth * smoothest[days[i].season];
}

double clear_days_index(const struct clear_day *day, const struct clear_day *days, int32_t count,
                        int64_t from_day, int64_t to_day, double *room)
{
    int32_t references = 0;
    for (int32_t i = 0; i < count; i++)
        if (days[i].clear && (days[i].day < from_day || days[i].day >= to_day) && same_season(day, &days[i]))
            room[references++] = days[i].ratio;
    return references < CLEAR_DAYS_REFERENCES ? NAN : day->ratio / scatter_median(room, references);
}

static int32_t count_references(const struct clear_day *days, int32_t count, int64_t from_day, int64_t to_day)
{
    bool seasons[DAYS_OF_YEAR] = { false };
    int32_t references = 0;
    for (int32_t i = 0; i < count; i++)
        for (int32_t s = -CLEAR_DAYS_AROUND; days[i].clear && s <= CLEAR_DAYS_AROUND; s++)
            if (days[i].day >= from_day && days[i].day < to_day)
                seasons[(days[i].season + s + DAYS_OF_YEAR) % DAYS_OF_YEAR] = true;
    for (int32_t i = 0; i < count; i++)
        references +=
            days[i].clear && (days[i].day < from_day || days[i].day >= to_day) && seasons[days[i].season];
    return references;
}

static void summarize(struct clear_index *found, double *indices)
{
    found->index = scatter_median(indices, found->days);
    for (int32_t i = 0; i < found->days; i++)
        indices[i] = fabs(indices[i] - found->index);
    if (found->days < CLEAR_DAYS_REFERENCES)
        return;
    found->spread = sigma * scatter_median(indices, found->days);
    found->error = found->spread / sqrt(found->days);
}

bool clear_days_compare(struct clear_index *found, const struct clear_day *days, int32_t count,
                        int64_t from_day, int64_t to_day)
{
    *found = (struct clear_index){ .index = NAN, .spread = NAN, .error = NAN };
    double *room = calloc(2 * (size_t)count + 1, sizeof *room);
    if (!room)
        return false;
    double *indices = room + count;
    for (int32_t i = 0; i < count; i++) {
        if (!days[i].clear || days[i].day < from_day || days[i].day >= to_day)
            continue;
        double index = clear_days_index(&days[i], days, count, from_day, to_day, room);
        if (!isnan(index))
            indices[found->days++] = index;
    }
    if (found->days > 0) {
        found->references = count_references(days, count, from_day, to_day);
        summarize(found, indices);
    }
    free(room);
    return true;
}
