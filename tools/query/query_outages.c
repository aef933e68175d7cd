/* What the record says of outages: its events, and what rows tell between them. */
#include "query_outages.h"

#include <stdio.h>

#include "query_state.h"

enum { ID_FACTOR = 1024 };

void query_events(struct query *query)
{
    query_prepare(query, SELECT_EVENTS);
}

bool query_next_event(struct query *query, struct event_row *row)
{
    if (!query_fetch(query, SELECT_EVENTS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_EVENTS];
    *row = (struct event_row){ .at_ms = query_column(statement, 0),
                               .boot_ms = sqlite3_column_int64(statement, 2),
                               .doubt_ms = sqlite3_column_int64(statement, 7),
                               .meter = sqlite3_column_int(statement, 4) };
    snprintf(row->boot, sizeof(row->boot), "%s", query_column_text(statement, 1));
    snprintf(row->kind, sizeof(row->kind), "%s", query_column_text(statement, 3));
    snprintf(row->bus, sizeof(row->bus), "%s", query_column_text(statement, 5));
    snprintf(row->text, sizeof(row->text), "%s", query_column_text(statement, 6));
    return true;
}

int32_t query_interval_at(struct query *query, int64_t at_s)
{
    enum { DEFAULT_S = 300 };
    sqlite3_stmt *statement = query_prepare(query, SELECT_INTERVAL_AT);
    int32_t interval_s = 0;
    if (!statement)
        return DEFAULT_S;
    sqlite3_bind_int64(statement, 1, at_s * 1000);
    if (query_fetch(query, SELECT_INTERVAL_AT))
        interval_s = sqlite3_column_int(statement, 0);
    sqlite3_reset(statement);
    return interval_s > 0 ? interval_s : DEFAULT_S;
}

int64_t query_last_sign(struct query *query, int64_t before_s)
{
    int32_t interval_s = query_interval_at(query, before_s);
    sqlite3_stmt *statement = query_prepare(query, SELECT_LAST_SIGN);
    if (!statement)
        return UNKNOWN;
    sqlite3_bind_int64(statement, 1, (before_s - interval_s + 1) * ID_FACTOR);
    sqlite3_bind_int(statement, 2, interval_s);
    int64_t end_s = UNKNOWN;
    if (query_fetch(query, SELECT_LAST_SIGN))
        end_s = sqlite3_column_int64(statement, 0) / ID_FACTOR + interval_s;
    sqlite3_reset(statement);
    return end_s;
}

struct meter_sum query_meter_sum(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    struct meter_sum sum = { 0 };
    sqlite3_stmt *statement = query_prepare(query, SELECT_METER_SUM);
    if (!statement)
        return sum;
    sqlite3_bind_int64(statement, 1, from_s * ID_FACTOR);
    sqlite3_bind_int64(statement, 2, to_s * ID_FACTOR);
    sqlite3_bind_int(statement, 3, meter);
    if (query_fetch(query, SELECT_METER_SUM))
        sum = (struct meter_sum){ .rows = sqlite3_column_int64(statement, 0),
                                  .import = sqlite3_column_int64(statement, 1),
                                  .export = sqlite3_column_int64(statement, 2),
                                  .unobserved_s = sqlite3_column_int64(statement, 3),
                                  .asleep = sqlite3_column_int64(statement, 4) };
    sqlite3_reset(statement);
    return sum;
}
