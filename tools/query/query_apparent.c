#include "query_apparent.h"

#include "query_state.h"
#include "schema.h"

void query_apparent(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_APPARENT);
    if (!statement)
        return;
    sqlite3_bind_int(statement, 1, meter);
    sqlite3_bind_int64(statement, 2, row_id(from_s, 0));
    sqlite3_bind_int64(statement, 3, row_id(to_s, 0));
}

bool query_next_apparent(struct query *query, struct interval_row *row)
{
    if (!query_fetch(query, SELECT_APPARENT))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_APPARENT];
    *row = (struct interval_row){
        .start_s = sqlite3_column_int64(statement, 0),
        .meter = sqlite3_column_int(statement, 1),
        .import = query_column(statement, 2),
        .export = query_column(statement, 6),
        .reactive = query_column(statement, 3),
        .unobserved = sqlite3_column_int64(statement, 4),
        .how = sqlite3_column_int(statement, 5),
        .power = UNKNOWN,
        .voltage = UNKNOWN,
    };
    return true;
}
