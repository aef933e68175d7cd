#include "duration.h"

#include <string.h>

#include "muldiv.h"
#include "number.h"

enum { HOUR = 3600 };

void duration_init(struct duration *duration)
{
    memset(duration, 0, sizeof(*duration));
    duration->width = DURATION_FINEST;
    duration->least = duration->most = UNKNOWN;
}

/* Two bins into one. */
static void widen(struct duration *duration)
{
    enum { HALF = DURATION_BINS / 2 };
    for (int32_t i = 0; i < HALF; i++) {
        duration->bins[i].seconds = duration->bins[2 * i].seconds + duration->bins[2 * i + 1].seconds;
        duration->bins[i].energy = duration->bins[2 * i].energy + duration->bins[2 * i + 1].energy;
    }
    memset(&duration->bins[HALF], 0, HALF * sizeof(duration->bins[0]));
    duration->width *= 2;
}

void duration_add(struct duration *duration, int64_t energy, int64_t seconds)
{
    int64_t power = mul_div(energy, HOUR, seconds);
    while (power / duration->width >= DURATION_BINS)
        widen(duration);
    int64_t index = power > 0 ? power / duration->width : 0;
    duration->bins[index].seconds += seconds;
    duration->bins[index].energy += energy;
    duration->seconds += seconds;
    duration->energy += energy;
    if (duration->least == UNKNOWN || power < duration->least)
        duration->least = power;
    if (duration->most == UNKNOWN || power > duration->most)
        duration->most = power;
}

/* The highest and the lowest are known exactly. */
static int64_t power_of(const struct duration *duration, int64_t share, int32_t index)
{
    int64_t power = index * duration->width;
    if (share >= SHARE_ONE || power < duration->least)
        return duration->least;
    return share <= 0 ? duration->most : power;
}

void duration_points(const struct duration *duration, int32_t count, const int64_t shares[],
                     struct duration_point points[])
{
    int64_t seconds = 0, energy = 0;
    int32_t index = DURATION_BINS;
    for (int32_t p = 0; p < count; p++) {
        points[p] = (struct duration_point){ .share = shares[p], .power = UNKNOWN };
        if (duration->seconds == 0)
            continue;
        int64_t wanted = mul_div(duration->seconds, shares[p], SHARE_ONE);
        while (index > 0 && (seconds == 0 || seconds < wanted)) {
            index--;
            seconds += duration->bins[index].seconds;
            energy += duration->bins[index].energy;
        }
        int64_t power = power_of(duration, shares[p], index);
        points[p].power = power;
        points[p].seconds = seconds;
        points[p].energy = energy;
        points[p].above = energy - mul_div(power, seconds, HOUR);
    }
}
