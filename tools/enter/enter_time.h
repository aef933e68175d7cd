/* Stamps of a file that is entered: RFC 3339, or the clock of the site where
 * the offset is left out. The order of day, month and year is declared. */
#ifndef METERBOOK_ENTER_TIME_H
#define METERBOOK_ENTER_TIME_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"

enum date_order { DATES_YMD, DATES_DMY, DATES_MDY };

struct enter_clock {
    const struct civil *civil;
    enum date_order order;
    bool dates; /* a date alone is allowed: its midnight */
    bool seen;
    int64_t last_ms; /* the stamp before; tells the passes of a repeated hour apart */
};

/* Reads a stamp to UTC ms. Returns NULL, or what is wrong and what is allowed
 * (in `why` where it must be put together). */
const char *enter_clock_read(struct enter_clock *clock, const char *text, int64_t *utc_ms, char why[160]);

/* How long the intervals of a file are. */
struct enter_length {
    int64_t seconds; /* 0: days or months of the site */
    bool months;
};

/* "900", "900s", "15min", "1h", "day", "month"; false for anything else. */
bool enter_length_read(struct enter_length *length, const char *text);
/* The other end of an interval; `back`: the stamp is its end. */
int64_t enter_length_from(const struct enter_length *length, const struct civil *civil, int64_t at_ms,
                          bool back);

#endif
