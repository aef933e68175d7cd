/* Resources of NAESB REQ.21 (ESPI 3.3, namespace http://naesb.org/espi) in an Atom feed
 * (RFC 4287), written as they come. Energies are values in Wh with a multiplier of -3: integers of mWh,
 * exactly as the record has them. Intervals are named by their start.
 *
 * Each function writes to `out` and leaves its errors there (ferror). */
#ifndef METERBOOK_ESPI_H
#define METERBOOK_ESPI_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "espi_time.h"

/* flowDirection: delivered to the customer, received from the customer. */
enum espi_flow { ESPI_FORWARD = 1, ESPI_REVERSE = 19 };

/* QualityOfReading, as far as it is used here. */
enum espi_quality {
    ESPI_VALID = 0,
    ESPI_EDITED = 7,       /* manually: corrected by the logbook */
    ESPI_BY_REFERENCE = 8, /* estimated using a reference day */
    ESPI_INTERPOLATED = 9,
    ESPI_QUESTIONABLE = 10, /* the clock stepped inside it, or a register run ended */
    ESPI_DERIVED = 11,
    ESPI_MIXED = 13, /* part measured, part estimated */
    ESPI_OTHER = 16, /* entered from elsewhere */
};
enum { ESPI_MOST_QUALITIES = 4 };

struct espi_feed {
    const char *title;
    const char *site;  /* goes into the identifiers */
    int64_t updated_s; /* UTC */
};

/* A series: what one counter of a meter counted. */
struct espi_series {
    int32_t meter;
    enum espi_flow flow;
    const char *name, *role;
    int32_t interval_s;
};

struct espi_reading {
    int64_t start_s, duration_s;
    int64_t value; /* mWh */
    int32_t quality_count;
    enum espi_quality quality[ESPI_MOST_QUALITIES]; /* none: valid */
};

void espi_begin(FILE *out, const struct espi_feed *feed);
void espi_end(FILE *out);

void espi_local_time(FILE *out, const struct espi_feed *feed, const struct espi_time *time);
/* A meter: before its series. */
void espi_usage_point(FILE *out, const struct espi_feed *feed, int32_t meter, const char *name,
                      const char *role);
/* The meter reading and the reading type: before its blocks. A meter whose intervals change their length has
 * a series for each. */
void espi_series(FILE *out, const struct espi_feed *feed, const struct espi_series *series);

/* A block of readings of a series, in time: begin, readings, end. */
void espi_block_begin(FILE *out, const struct espi_feed *feed, const struct espi_series *series,
                      int64_t start_s, int64_t end_s);
void espi_reading(FILE *out, const struct espi_reading *reading);
void espi_block_end(FILE *out);

#endif
