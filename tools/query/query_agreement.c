#include "query_agreement.h"

#include "query_state.h"

int64_t query_derived_doubt(struct query *query, int64_t from_s, int64_t to_s)
{
    enum { MOST = 1000 };
    sqlite3_stmt *statement = query_prepare(query, SELECT_DERIVED_DOUBT);
    int64_t doubt = 0;
    if (!statement)
        return 0;
    sqlite3_bind_int(statement, 1, METER_DERIVED);
    sqlite3_bind_int64(statement, 2, from_s);
    sqlite3_bind_int64(statement, 3, to_s);
    if (query_fetch(query, SELECT_DERIVED_DOUBT))
        doubt = sqlite3_column_int64(statement, 0); /* 0 for NULL */
    sqlite3_reset(statement);
    return doubt < 0 ? 0 : doubt > MOST ? MOST : doubt;
}
