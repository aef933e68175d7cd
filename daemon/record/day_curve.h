/* A closed day of one meter, folded into quarter hours: what answers over years of hours read instead of a
 * hundred thousand interval rows each. Pure. The record keeps it packed, in the table `curve`; it follows
 * from the rows, and whoever reads it must find it in agreement with the day's own row or read the rows.
 *
 * mWh, s, UTC. Quarter q begins at from_s + 900 q, from_s being the site's midnight. A day has a curve where
 * its rows are all there, at one length that divides a quarter hour, each counter known in all of them or in
 * none, and nothing negative.
 *
 * Packed, all numbers but the first byte are varints: 7 bits a byte, the lowest first, bit 7 set in all bytes
 * but the last.
 *
 * - one byte: which series follow: 1 import, 2 export, 4 estimated, 8 unobserved. A counter that is not among
 *   them is not known; the other two are then 0 all day.
 * - the length of the rows, s.
 * - each series in that order: its sum of each quarter. A 0 is followed by how many quarters, one or more,
 *   are 0. */
#ifndef METERBOOK_DAY_CURVE_H
#define METERBOOK_DAY_CURVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum curve_series { CURVE_IMPORT, CURVE_EXPORT, CURVE_ESTIMATED, CURVE_UNOBSERVED, CURVE_SERIES };

enum {
    CURVE_QUARTER_S = 900,
    CURVE_QUARTERS = 104,                                /* days of up to 26 h */
    CURVE_BYTES = 6 + CURVE_SERIES * CURVE_QUARTERS * 9, /* the most that one takes */
};

#define CURVE_UNKNOWN INT64_MIN /* a counter that the meter does not have */

struct day_curve {
    int64_t from_s, next_s; /* the day's begin; the end of the rows so far */
    int32_t interval_s;     /* 0: the day has none */
    int32_t quarters;
    bool known[CURVE_SERIES];
    int64_t energy[CURVE_SERIES][CURVE_QUARTERS]; /* of series that are not known: 0 */
    int64_t sums[CURVE_SERIES];                   /* over the day; CURVE_UNKNOWN as in the day's row */
};

/* Folding: begin, then all rows of the day by time, then pack. */
void day_curve_begin(struct day_curve *curve, int64_t from_s, int64_t to_s, int64_t interval_s);
void day_curve_add(struct day_curve *curve, int64_t start_s, const int64_t values[CURVE_SERIES]);
/* Bytes written; 0 where the day has no curve. */
size_t day_curve_pack(const struct day_curve *curve, unsigned char bytes[CURVE_BYTES]);

/* False where these bytes are no curve of such a day; then nothing of `curve` is to be used. That they are
 * its own is for the caller to see, by `sums`. */
bool day_curve_unpack(struct day_curve *curve, const unsigned char *bytes, size_t size, int64_t from_s,
                      int64_t to_s);

#endif
