/* The record: what both programs agree on. The tables themselves, with a
 * comment each, stand in daemon/record/schema.c; DEVELOPERS.md has them as a
 * table. All times are UTC: *_s in seconds, *_ms in milliseconds since 1970.
 * Energies are mWh (mvarh, mVAh), integers, never REAL. */
#ifndef METERBOOK_SCHEMA_H
#define METERBOOK_SCHEMA_H

#include <stdint.h>

enum {
    SCHEMA_APPLICATION_ID = 0x6d626b31, /* "mbk1" */
    SCHEMA_VERSION = 2,
};

/* Key of rows in interval, energy, momentary: start of the interval and meter. */
static inline int64_t row_id(int64_t start_s, int32_t meter)
{
    return start_s * 1024 + meter;
}

/* interval.how, low four bits: how the row's energy was found. */
enum row_method {
    HOW_MEASURED = 0,     /* register differences at both ends */
    HOW_INTERPOLATED = 1, /* a gap of up to two hours, point to point */
    HOW_ESTIMATED = 2,    /* a longer gap, along a shape */
    HOW_ASLEEP = 3,       /* a sleeping production meter: measured zero */
    HOW_ENTERED = 4,      /* a counter entered from elsewhere */
    HOW_ENTERED_ENERGY = 5,
    HOW_METHOD_MASK = 15,
};

/* interval.how, flags above. */
enum row_flag {
    HOW_CLOCK = 16,         /* the clock stepped inside it: kept out of peaks */
    HOW_BACK_DATED = 32,    /* dated after the fact */
    HOW_RE_DATED = 64,      /* moved by a better clock */
    HOW_RUN_CHANGE = 128,   /* a register run ended in it: some energy is unknown */
    HOW_POWER_FAILED = 256, /* the collector was off inside it, not by request: no reference, no end point */
    HOW_CORRECTED = 512,
    HOW_SHAPED = 1024, /* a long gap's row, placed along a shape (else evenly) */
};

/* Days are numbered by the site's civil calendar: days since 1970-01-01. */

extern const char schema_sql[];
/* What a record of version 1 lacks. */
extern const char schema_since_1_sql[];

#endif
