#include "query_dating.h"

#include <stdio.h>

#include "query_state.h"

void query_dated(struct query *query)
{
    query_prepare(query, SELECT_DATED);
}

bool query_next_dated(struct query *query, struct dated_row *row)
{
    if (!query_fetch(query, SELECT_DATED))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_DATED];
    row->from_ms = sqlite3_column_int64(statement, 0);
    row->doubt_ms = sqlite3_column_int64(statement, 1);
    snprintf(row->source, sizeof(row->source), "%s", query_column_text(statement, 2));
    row->first = sqlite3_column_int(statement, 3) != 0;
    return true;
}

bool query_dating_doubt(struct query *query)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_ANY);
    if (statement)
        sqlite3_bind_int(statement, 1, DATING_DOUBT_S * 1000);
    return query_has(query, ANY_DATING_DOUBT);
}

void query_undated(struct query *query)
{
    query->any_held = query_has(query, ANY_HELD);
    if (query->any_held)
        query_prepare(query, SELECT_UNDATED);
}

bool query_next_undated(struct query *query, int64_t *after_s)
{
    bool held = false;
    while (query->any_held && query_fetch(query, SELECT_UNDATED)) {
        int64_t at_ms = query_column(query->statements[SELECT_UNDATED], 0);
        if (at_ms == UNKNOWN) {
            held |= sqlite3_column_int(query->statements[SELECT_UNDATED], 1) != 0;
        } else if (held) {
            *after_s = at_ms / 1000;
            return true;
        }
    }
    return false;
}

bool query_clock_offset(struct query *query, const char *boot, int64_t *offset_ms)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_CLOCK_OFFSET);
    if (!statement || sqlite3_bind_text(statement, 1, boot, -1, SQLITE_STATIC) != SQLITE_OK ||
        !query_fetch(query, SELECT_CLOCK_OFFSET))
        return false;
    *offset_ms = sqlite3_column_int64(statement, 0);
    while (query_fetch(query, SELECT_CLOCK_OFFSET))
        ;
    return true;
}

bool query_waits(struct query *query)
{
    bool waits = false;
    if (!query_has(query, ANY_HELD))
        return false;
    query_prepare(query, SELECT_WAITS);
    while (query_fetch(query, SELECT_WAITS))
        waits = true;
    return waits;
}
