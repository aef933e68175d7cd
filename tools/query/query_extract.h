/* The part of the query that extracts are made of; the rest is in query.h. */
#ifndef METERBOOK_QUERY_EXTRACT_H
#define METERBOOK_QUERY_EXTRACT_H

#include "quantity.h"
#include "query.h"

enum { WIDE_VALUES = QUANTITY_COUNT };

/* An interval with everything that the record has of it. */
struct wide_row {
    int64_t start_s;
    int32_t meter, how;
    int64_t estimated;            /* mWh */
    int64_t unobserved;           /* s */
    int64_t power_min, power_max; /* thousandths of a W; UNKNOWN */
    int64_t values[WIDE_VALUES];  /* by enum quantity, in thousandths of its unit (energies m.h); UNKNOWN */
};

/* Intervals that start in [from, to) as they count, by time and meter: set, then next until false. */
void query_wide_rows(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_wide_row(struct query *query, struct wide_row *row);

/* What a meter was under a setting, as the record keeps it. */
struct meter_row {
    int32_t setting, meter, phases;
    char name[CONFIG_NAME_SIZE], role[16], delivers[8], phase_method[12], accuracy_class[8];
    bool gross;
    int64_t rated_w, peak_w, azimuth, tilt; /* 0 not known; azimuth and tilt UNKNOWN */
};
void query_meter_rows(struct query *query);
bool query_next_meter_row(struct query *query, struct meter_row *row);

/* A configuration as it was loaded. */
struct loaded_row {
    int32_t id, interval_s, poll_ms;
    int64_t from_ms; /* UNKNOWN: loaded under an untrusted clock */
    char hash[20], zone[CONFIG_NAME_SIZE], zone_edition[16], program[16];
};
void query_loaded(struct query *query);
bool query_next_loaded(struct query *query, struct loaded_row *row);

#endif
