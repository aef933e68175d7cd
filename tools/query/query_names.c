#include "query_names.h"

#include <stdlib.h>

#include "query_state.h"

struct meter_names *query_meter_names(struct query *query)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_METER_NAMES);
    struct meter_names *names = statement ? calloc(1, sizeof(*names)) : NULL;
    bool room = names != NULL;
    while (room && query_fetch(query, SELECT_METER_NAMES)) {
        int64_t from_ms = query_column(statement, 2);
        room = meter_names_add(names, sqlite3_column_int(statement, 0), query_column_text(statement, 1),
                               from_ms == UNKNOWN ? INT64_MAX : from_ms / 1000);
    }
    if (statement)
        sqlite3_reset(statement);
    if (room && !query_error(query))
        return names;
    meter_names_free(names);
    return NULL;
}
