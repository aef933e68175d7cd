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

void query_undated(struct query *query)
{
    query_prepare(query, SELECT_UNDATED);
}

bool query_next_undated(struct query *query, int64_t *after_s)
{
    if (!query_fetch(query, SELECT_UNDATED))
        return false;
    *after_s = sqlite3_column_int64(query->statements[SELECT_UNDATED], 0) / 1000;
    return true;
}
