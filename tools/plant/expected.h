/* What a plant was promised to make beside what it made, month by month.
 *
 * The promise is by calendar month; a month that is known in part only is
 * held against its share, which follows a clear sky on the plant's planes day
 * by day (evenly by time where the site is not known). */
#ifndef METERBOOK_EXPECTED_H
#define METERBOOK_EXPECTED_H

#include "yield.h"

struct expected_row {
    int64_t from_s;
    int64_t from_day, to_day;
    int64_t made;    /* mWh, of the days that are known; UNKNOWN: none is */
    double expected; /* kWh, of the same days; NAN: no promise holds for one of them, or no peak power */
    double known;    /* share of the promise's time that this is, 0 .. 1, by the light of a clear sky */
};

enum expected_verdict {
    EXPECTED_NO_VERDICT, /* less than a full year is known, or the promise states no uncertainty */
    EXPECTED_BELOW,      /* by more than the promise's own uncertainty */
    EXPECTED_WITHIN,
    EXPECTED_ABOVE
};

struct expected {
    struct expected_row *rows; /* heap */
    int32_t row_count;
    struct expected_row total;
    double months;                 /* that are known in the span, parts counted as such */
    double uncertainty;            /* of a year, relative; 0: not stated */
    enum expected_verdict verdict; /* of the total */
};

/* From the days of a yield_read(); rows of ROW_MONTH or ROW_YEAR. False without memory. */
bool expected_find(struct expected *expected, const struct yield *yield, const struct civil *civil,
                   enum row_unit unit);
void expected_free(struct expected *expected);

#endif
