#include "query_extract.h"

#include <stdio.h>

#include "query_state.h"

enum { ID_FACTOR = 1024, FIRST_VALUE = 6 };

/* The order of SELECT_WIDE_ROWS behind its first columns. */
static const enum quantity columns[] = {
    Q_ACTIVE_IMPORT,
    Q_ACTIVE_EXPORT,
    Q_POWER,
    Q_VOLTAGE_L1,
    Q_REACTIVE_IMPORT,
    Q_REACTIVE_EXPORT,
    Q_APPARENT_IMPORT,
    Q_APPARENT_EXPORT,
    Q_POWER_L1,
    Q_POWER_L2,
    Q_POWER_L3,
    Q_REACTIVE_POWER,
    Q_APPARENT_POWER,
    Q_VOLTAGE_L2,
    Q_VOLTAGE_L3,
    Q_CURRENT_L1,
    Q_CURRENT_L2,
    Q_CURRENT_L3,
    Q_FREQUENCY,
    Q_POWER_FACTOR,
    Q_DC_POWER,
    Q_DC_VOLTAGE,
    Q_IRRADIANCE,
    Q_TEMPERATURE,
    Q_MODULE_TEMPERATURE,
    Q_AMBIENT_TEMPERATURE,
};

enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]) };

static int64_t scaled(int64_t value, int64_t factor)
{
    return value == UNKNOWN ? UNKNOWN : value * factor;
}

void query_wide_rows(struct query *query, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_WIDE_ROWS);
    if (!statement)
        return;
    sqlite3_bind_int64(statement, 1, from_s * ID_FACTOR);
    sqlite3_bind_int64(statement, 2, to_s * ID_FACTOR);
}

bool query_next_wide_row(struct query *query, struct wide_row *row)
{
    if (!query_fetch(query, SELECT_WIDE_ROWS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_WIDE_ROWS];
    int64_t id = sqlite3_column_int64(statement, 0);
    row->start_s = id / ID_FACTOR;
    row->meter = (int32_t)(id % ID_FACTOR);
    row->estimated = sqlite3_column_int64(statement, 1);
    row->unobserved = sqlite3_column_int64(statement, 2);
    row->how = sqlite3_column_int(statement, 3);
    row->power_min = scaled(query_column(statement, 4), 1000);
    row->power_max = scaled(query_column(statement, 5), 1000);
    for (int32_t q = 0; q < WIDE_VALUES; q++)
        row->values[q] = UNKNOWN;
    for (int32_t c = 0; c < COLUMN_COUNT; c++)
        row->values[columns[c]] = query_column(statement, FIRST_VALUE + c);
    /* the account keeps W and 0.01 V */
    row->values[Q_POWER] = scaled(row->values[Q_POWER], 1000);
    row->values[Q_VOLTAGE_L1] = scaled(row->values[Q_VOLTAGE_L1], 10);
    return true;
}

void query_meter_rows(struct query *query)
{
    query_prepare(query, SELECT_METER_ROWS);
}

bool query_next_meter_row(struct query *query, struct meter_row *row)
{
    if (!query_fetch(query, SELECT_METER_ROWS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_METER_ROWS];
    *row = (struct meter_row){
        .setting = sqlite3_column_int(statement, 0),
        .meter = sqlite3_column_int(statement, 1),
        .gross = sqlite3_column_int(statement, 5) != 0,
        .phases = sqlite3_column_int(statement, 7),
        .rated_w = sqlite3_column_int64(statement, 8),
        .peak_w = sqlite3_column_int64(statement, 9),
        .azimuth = query_column(statement, 10),
        .tilt = query_column(statement, 11),
    };
    snprintf(row->name, sizeof(row->name), "%s", query_column_text(statement, 2));
    snprintf(row->role, sizeof(row->role), "%s", query_column_text(statement, 3));
    snprintf(row->delivers, sizeof(row->delivers), "%s", query_column_text(statement, 4));
    snprintf(row->phase_method, sizeof(row->phase_method), "%s", query_column_text(statement, 6));
    snprintf(row->accuracy_class, sizeof(row->accuracy_class), "%s", query_column_text(statement, 12));
    return true;
}

void query_loaded(struct query *query)
{
    query_prepare(query, SELECT_LOADED);
}

bool query_next_loaded(struct query *query, struct loaded_row *row)
{
    if (!query_fetch(query, SELECT_LOADED))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_LOADED];
    *row = (struct loaded_row){
        .id = sqlite3_column_int(statement, 0),
        .from_ms = query_column(statement, 1),
        .interval_s = sqlite3_column_int(statement, 2),
        .poll_ms = sqlite3_column_int(statement, 3),
    };
    snprintf(row->hash, sizeof(row->hash), "%s", query_column_text(statement, 4));
    snprintf(row->zone, sizeof(row->zone), "%s", query_column_text(statement, 5));
    snprintf(row->zone_edition, sizeof(row->zone_edition), "%s", query_column_text(statement, 6));
    snprintf(row->program, sizeof(row->program), "%s", query_column_text(statement, 7));
    return true;
}
