#include "query_curve.h"

#include "query_state.h"
#include "schema.h"

/* Curves follow from the rows: whoever likes may drop them all. */
static bool has_curves(struct query *query)
{
    if (query->curves == CURVES_NOT_ASKED) {
        query_prepare(query, SELECT_CURVES);
        query->curves = query_fetch(query, SELECT_CURVES) ? CURVES_KEPT : CURVES_NONE;
        sqlite3_reset(query->statements[SELECT_CURVES]);
    }
    return query->curves == CURVES_KEPT;
}

/* What is damaged, or was left behind, adds up to something else than the day. */
static bool agrees(const struct day_curve *curve, sqlite3_stmt *statement)
{
    bool good =
        sqlite3_column_int64(statement, 2) * curve->interval_s == (int64_t)curve->quarters * CURVE_QUARTER_S;
    for (int s = 0; s < CURVE_SERIES; s++)
        good = good && curve->sums[s] == query_column(statement, 3 + s);
    return good;
}

bool query_curve(struct query *query, int32_t meter, int64_t day, struct day_curve *curve, int32_t *flags)
{
    sqlite3_stmt *statement = has_curves(query) ? query_prepare(query, SELECT_CURVE) : NULL;
    if (!statement)
        return false;
    sqlite3_bind_int64(statement, 1, row_id(day, meter));
    if (!query_fetch(query, SELECT_CURVE))
        return false;
    const unsigned char *bytes = sqlite3_column_blob(statement, 8);
    bool good = day_curve_unpack(curve, bytes, (size_t)sqlite3_column_bytes(statement, 8),
                                 sqlite3_column_int64(statement, 0), sqlite3_column_int64(statement, 1)) &&
                agrees(curve, statement);
    *flags = sqlite3_column_int(statement, 7);
    sqlite3_reset(statement);
    return good;
}
