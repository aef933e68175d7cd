/* The part of the query that reads voltages, frequencies and where there are other momentary values;
 * the rest is in query.h. */
#ifndef METERBOOK_QUERY_SUPPLY_H
#define METERBOOK_QUERY_SUPPLY_H

#include "query.h"

enum { QUERY_PHASES = 3 };

/* An interval of one meter. Voltages are as measured: corrections of the logbook are of energies. */
struct supply_reading {
    int64_t start_s;
    int64_t voltage[QUERY_PHASES]; /* mV, UNKNOWN: none, or beyond what can be */
    int64_t frequency;             /* mHz, the same */
    int64_t import, export;        /* mWh as they count; UNKNOWN: no such counter */
    int64_t estimated;             /* mWh */
    int64_t unobserved;            /* s */
    int32_t how;
};

/* Of a meter, that start in [from, to): set, then next until false. */
void query_supply(struct query *query, int32_t meter, int64_t from_s, int64_t to_s);
bool query_next_supply(struct query *query, struct supply_reading *row);

/* Starts of the intervals in [from, to) of which only momentary values are kept, as of a weather station. */
void query_momentary(struct query *query, int32_t meter, int64_t from_s, int64_t to_s);
bool query_next_momentary(struct query *query, int64_t *start_s);

/* Has it a voltage in [from, to)? */
bool query_has_voltage(struct query *query, int32_t meter, int64_t from_s, int64_t to_s);

#endif
