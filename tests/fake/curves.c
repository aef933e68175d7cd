#include "curves.h"

#include <stdio.h>
#include <string.h>

#include "day_curve.h"

static const char days_sql[] =
    "SELECT d.id, d.from_s, d.to_s, d.expected, c.quarters FROM day AS d LEFT JOIN curve AS c "
    "ON c.id = d.id UNION ALL SELECT id, 0, 0, 1, quarters FROM curve WHERE id NOT IN "
    "(SELECT id FROM day)";
static const char rows_sql[] =
    "SELECT id / 1024, import, export, estimated, unobserved FROM interval WHERE id >= "
    "?1 * 1024 AND id < ?2 * 1024 AND id % 1024 = ?3 ORDER BY id";

static void fold(struct day_curve *curve, sqlite3_stmt *rows)
{
    while (sqlite3_step(rows) == SQLITE_ROW) {
        int64_t values[CURVE_SERIES];
        for (int s = 0; s < CURVE_SERIES; s++)
            values[s] = sqlite3_column_type(rows, 1 + s) == SQLITE_NULL ? CURVE_UNKNOWN
                                                                        : sqlite3_column_int64(rows, 1 + s);
        day_curve_add(curve, sqlite3_column_int64(rows, 0), values);
    }
    sqlite3_reset(rows);
}

/* Is what is kept of the day what its rows give? */
static bool is_same(sqlite3_stmt *day, sqlite3_stmt *rows)
{
    struct day_curve curve;
    unsigned char bytes[CURVE_BYTES];
    int64_t from_s = sqlite3_column_int64(day, 1), to_s = sqlite3_column_int64(day, 2);
    int64_t expected = sqlite3_column_int64(day, 3);
    sqlite3_bind_int64(rows, 1, from_s);
    sqlite3_bind_int64(rows, 2, to_s);
    sqlite3_bind_int64(rows, 3, sqlite3_column_int64(day, 0) % 1024);
    day_curve_begin(&curve, from_s, to_s, expected > 0 ? (to_s - from_s) / expected : 0);
    fold(&curve, rows);
    size_t size = day_curve_pack(&curve, bytes);
    const void *kept = sqlite3_column_blob(day, 4);
    return (size_t)sqlite3_column_bytes(day, 4) == size && (size == 0 || memcmp(kept, bytes, size) == 0);
}

bool curves_agree(sqlite3 *db, char *why, size_t size)
{
    sqlite3_stmt *days = NULL, *rows = NULL;
    bool good = sqlite3_prepare_v2(db, days_sql, -1, &days, NULL) == SQLITE_OK &&
                sqlite3_prepare_v2(db, rows_sql, -1, &rows, NULL) == SQLITE_OK;
    if (!good)
        snprintf(why, size, "%s", sqlite3_errmsg(db));
    while (good && sqlite3_step(days) == SQLITE_ROW) {
        int64_t id = sqlite3_column_int64(days, 0);
        good = is_same(days, rows);
        if (!good)
            snprintf(why, size, "the curve of day %lld of meter %d is not that of its rows",
                     (long long)(id / 1024), (int)(id % 1024));
    }
    sqlite3_finalize(days);
    sqlite3_finalize(rows);
    return good;
}
