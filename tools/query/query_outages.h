/* The part of the query that outages are found in; the rest is in query.h. */
#ifndef METERBOOK_QUERY_OUTAGES_H
#define METERBOOK_QUERY_OUTAGES_H

#include "query.h"

struct event_row {
    int64_t at_ms; /* UTC; UNKNOWN: its boot has no clock */
    int64_t boot_ms;
    int64_t doubt_ms; /* of its clock */
    int32_t meter;    /* number, 0 none */
    char boot[40], kind[24];
    char bus[CONFIG_NAME_SIZE]; /* "" none */
    char text[160];
};

/* Rows of one meter that start in a span. */
struct meter_sum {
    int64_t rows, asleep;   /* how many there are, and how many of them of a sleeping inverter */
    int64_t import, export; /* mWh; 0 where the meter has no such counter */
    int64_t unobserved_s;
};

/* All events, as they were noted: set, then next until false. */
void query_events(struct query *query);
bool query_next_event(struct query *query, struct event_row *row);

/* End of the newest interval before an instant in which the collector was
 * seen alive: with momentary values, or with measured energy. UNKNOWN: none.
 * Rows of a gap do not count, nor entered ones, nor a sleeping inverter's. */
int64_t query_last_sign(struct query *query, int64_t before_s);

/* Length of the intervals by the settings in force at an instant, the oldest ones before. */
int32_t query_interval_at(struct query *query, int64_t at_s);

struct meter_sum query_meter_sum(struct query *query, int32_t meter, int64_t from_s, int64_t to_s);

#endif
