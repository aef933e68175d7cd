/* The powers of a day in steps: of one day interval by interval, or of the average day by the hour. */
#ifndef METERBOOK_CURVE_H
#define METERBOOK_CURVE_H

#include "hours.h"
#include "inquiry.h"

enum { CURVE_HOUR_S = 3600, CURVE_ROOM = 1600 };

/* Mean powers of a stretch, mW; UNKNOWN. */
struct curve_point {
    int32_t from_s, to_s; /* from the day's begin on */
    int64_t power[HOURS_TERMS];
    bool estimated;
};

/* Large: for the heap. */
struct curve {
    int64_t from_s;   /* UTC of the day's begin; UNKNOWN of an average day */
    int32_t length_s; /* of the day */
    int32_t count;
    struct curve_point points[CURVE_ROOM]; /* a day of minutes has 1500 at most */
};

/* Reads a day. False, said on stderr, where reading failed. */
bool curve_read_day(struct curve *curve, const struct inquiry *inquiry, int64_t day);

/* The mean of all days. */
void curve_average(struct curve *curve, const struct hours *hours);

#endif
