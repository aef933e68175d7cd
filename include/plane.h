/* Which modules look the same way: only their parts are compared. */
#ifndef METERBOOK_PLANE_H
#define METERBOOK_PLANE_H

#include <stdbool.h>
#include <stdint.h>

enum {
    PLANE_AZIMUTH = 5, /* degrees by which planes that are one may differ: */
    PLANE_TILT = 3,    /* 3 degrees are 5 % of a December noon at 50 degrees north */
    PLANE_LEAST = 3,   /* parts in it that tell which of them lags */
};

/* Degrees from north, clockwise, and from horizontal. What lies flat looks nowhere. */
static inline bool plane_is_one(int64_t azimuth, int64_t tilt, int64_t other_azimuth, int64_t other_tilt)
{
    int64_t turn = (azimuth > other_azimuth ? azimuth - other_azimuth : other_azimuth - azimuth) % 360;
    int64_t lean = tilt > other_tilt ? tilt - other_tilt : other_tilt - tilt;
    turn = turn > 180 ? 360 - turn : turn;
    return lean <= PLANE_TILT && (turn <= PLANE_AZIMUTH || (tilt <= PLANE_TILT && other_tilt <= PLANE_TILT));
}

#endif
