/* What time it was, by the sun: production held in boot time against what a
 * clear sky would have brought.
 *
 * Slid along a day, the computed shape fits best where the clock is right; on a
 * fair day the middle of what was produced falls on the computed one to a
 * quarter of an hour or so. The day itself is not seen: the caller says near
 * when to look. How broad the best fit is gives the doubt, and a broad one is
 * none. Pure; boot time and UTC in ms, energy in mWh. */
#ifndef METERBOOK_ANCHOR_SUN_H
#define METERBOOK_ANCHOR_SUN_H

#include <stdbool.h>
#include <stdint.h>

#include "sun.h"

enum { ANCHOR_SUN_SLICES = 600 }; /* more are not looked at */

struct sun_slice {
    int64_t middle_ms; /* boot time */
    int64_t length_ms;
    int64_t energy;
};

struct sun_anchor {
    int64_t offset_ms; /* UTC = boot time + offset */
    int64_t doubt_ms;
    double match; /* 1: the shape of a clear sky */
};

/* The first slice lies in [near - 12 h, near + 12 h). False where the slices do
 * not say. They must span two days at most, oldest first. */
bool anchor_sun(const struct sun_place *place, const struct sun_plane *plane, const struct sun_slice slices[],
                int32_t count, int64_t near_ms, struct sun_anchor *anchor);

#endif
