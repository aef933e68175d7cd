/* What weather meters measured, and one meter's row at one instant; the rest is in query.h. */
#ifndef METERBOOK_QUERY_WEATHER_H
#define METERBOOK_QUERY_WEATHER_H

#include "query.h"

/* Means over an interval; UNKNOWN. */
struct weather_row {
    int64_t start_s;
    int32_t meter;
    int64_t irradiance;                              /* mW/m2 */
    int64_t module_temperature, ambient_temperature; /* m degC */
};

/* Rows that start in [from, to), by time and meter: set, then next until false. */
void query_weather(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_weather(struct query *query, struct weather_row *row);

/* A meter's interval, as it counts, and the voltages of phases 2 and 3, 0.01 V or UNKNOWN. False where there
 * is none. */
bool query_meter_interval(struct query *query, int32_t meter, int64_t start_s, struct interval_row *row,
                          int64_t other_phases[2]);

#endif
