#include "query_supply.h"

#include "query_state.h"
#include "schema.h"

enum { METERS = 1024, MV_OF_ROW = 10 };
#define MOST_MV  INT64_C(10000000) /* a damaged record may say anything */
#define MOST_MHZ INT64_C(1000000)
#define MOST_MWH INT64_C(1000000000000) /* ten times what 100 MW make in an hour */

static void bind(struct query *query, enum query_statement which, int32_t meter, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = query_prepare(query, which);
    if (!statement)
        return;
    sqlite3_bind_int(statement, 1, meter);
    sqlite3_bind_int64(statement, 2, row_id(from_s, 0));
    sqlite3_bind_int64(statement, 3, row_id(to_s, 0));
}

void query_supply(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    query->supply = query_has(query, ANY_CORRECTED) ? SELECT_SUPPLY_CORRECTED : SELECT_SUPPLY;
    bind(query, query->supply, meter, from_s, to_s);
}

/* UNKNOWN beyond (0, most]. */
static int64_t sensible(int64_t value, int64_t most)
{
    return value > 0 && value <= most ? value : UNKNOWN;
}

static int64_t energy(int64_t value)
{
    return value == UNKNOWN || (value >= -MOST_MWH && value <= MOST_MWH) ? value : UNKNOWN;
}

bool query_next_supply(struct query *query, struct supply_reading *row)
{
    if (!query_fetch(query, query->supply))
        return false;
    sqlite3_stmt *statement = query->statements[query->supply];
    *row = (struct supply_reading){
        .start_s = sqlite3_column_int64(statement, 0) / METERS,
        .voltage = { sensible(query_column(statement, 1), MOST_MV / MV_OF_ROW),
                     sensible(query_column(statement, 2), MOST_MV),
                     sensible(query_column(statement, 3), MOST_MV) },
        .frequency = sensible(query_column(statement, 4), MOST_MHZ),
        .import = energy(query_column(statement, 5)),
        .export = energy(query_column(statement, 6)),
        .estimated = sqlite3_column_int64(statement, 7),
        .unobserved = sqlite3_column_int64(statement, 8),
        .how = sqlite3_column_int(statement, 9),
    };
    if (row->voltage[0] != UNKNOWN)
        row->voltage[0] *= MV_OF_ROW;
    return true;
}

void query_momentary(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    bind(query, SELECT_MOMENTARY, meter, from_s, to_s);
}

bool query_next_momentary(struct query *query, int64_t *start_s)
{
    if (!query_fetch(query, SELECT_MOMENTARY))
        return false;
    *start_s = sqlite3_column_int64(query->statements[SELECT_MOMENTARY], 0) / METERS;
    return true;
}

bool query_has_voltage(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    bind(query, SELECT_HAS_VOLTAGE, meter, from_s, to_s);
    bool found = query_fetch(query, SELECT_HAS_VOLTAGE);
    if (found)
        sqlite3_reset(query->statements[SELECT_HAS_VOLTAGE]);
    return found;
}
