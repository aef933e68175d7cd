#include "query_weather.h"

#include "query_state.h"
#include "schema.h"

void query_weather(struct query *query, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_WEATHER);
    if (!statement)
        return;
    sqlite3_bind_int64(statement, 1, row_id(from_s, 0));
    sqlite3_bind_int64(statement, 2, row_id(to_s, 0));
}

bool query_next_weather(struct query *query, struct weather_row *row)
{
    if (!query_fetch(query, SELECT_WEATHER))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_WEATHER];
    int64_t id = sqlite3_column_int64(statement, 0);
    *row = (struct weather_row){
        .start_s = id / 1024,
        .meter = (int32_t)(id % 1024),
        .irradiance = query_column(statement, 1),
        .module_temperature = query_column(statement, 2),
        .ambient_temperature = query_column(statement, 3),
    };
    return true;
}

/* mV in the table. */
static int64_t hundredths(sqlite3_stmt *statement, int index)
{
    int64_t value = query_column(statement, index);
    return value == UNKNOWN ? UNKNOWN : value / 10;
}

bool query_meter_interval(struct query *query, int32_t meter, int64_t start_s, struct interval_row *row,
                          int64_t other_phases[2])
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_METER_INTERVAL);
    if (!statement)
        return false;
    sqlite3_bind_int64(statement, 1, row_id(start_s, meter));
    if (!query_fetch(query, SELECT_METER_INTERVAL))
        return false;
    *row = (struct interval_row){
        .start_s = start_s,
        .meter = meter,
        .import = query_column(statement, 0),
        .export = query_column(statement, 1),
        .estimated = sqlite3_column_int64(statement, 2),
        .unobserved = sqlite3_column_int64(statement, 3),
        .how = sqlite3_column_int(statement, 4),
        .power = query_column(statement, 5),
        .voltage = query_column(statement, 6),
    };
    other_phases[0] = hundredths(statement, 7);
    other_phases[1] = hundredths(statement, 8);
    sqlite3_reset(statement);
    return true;
}
