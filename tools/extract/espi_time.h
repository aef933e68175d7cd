/* A zone's summer time as NAESB REQ.21 (ESPI) writes it: pure.
 *
 * A rule is 32 bits: 0-11 seconds in the hour, 12-16 hour, 17-19 weekday (Monday 1), 20-24 day of the
 * month, 25-27 operator (2 to 6: first to fifth such weekday of the month, 7: the last), 28-31 month. The
 * hour is that of the clock before it changes. */
#ifndef METERBOOK_ESPI_TIME_H
#define METERBOOK_ESPI_TIME_H

#include <stdint.h>

#include "civil.h"

#define ESPI_NO_RULE UINT32_C(0xFFFFFFFF)

struct espi_time {
    uint32_t start, end; /* of summer time; ESPI_NO_RULE where there is none, or none that goes on */
    int32_t standard_s;  /* local time less UTC, without summer time */
    int32_t summer_s;    /* what summer time adds; 0 */
};

/* As it is in the year that holds an instant; a rule must hold for the four years after it too. */
struct espi_time espi_time_of(const struct civil *civil, int64_t utc_s);

#endif
