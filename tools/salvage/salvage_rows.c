#include "salvage_rows.h"

#include <stdio.h>
#include <stdlib.h>

#include "muldiv.h"
#include "schema.h"

const struct salvage_series salvage_series[SALVAGE_SERIES] = {
    { "interval", 0, 2, { "import", "export" }, true },
    { "energy", 2, 4, { "reactive_import", "reactive_export", "apparent_import", "apparent_export" }, false },
};

enum { TWO_HOURS = 7200 };

int64_t salvage_ask(struct salvage *salvage, const char *sql, int64_t a, int64_t b, int64_t c,
                    int64_t otherwise)
{
    sqlite3_stmt *statement;
    int64_t value = otherwise;
    if (sqlite3_prepare_v2(salvage->into, sql, -1, &statement, NULL) != SQLITE_OK) {
        salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
        return otherwise;
    }
    const int64_t values[] = { a, b, c };
    for (int32_t i = 0; i < sqlite3_bind_parameter_count(statement) && i < 3; i++)
        sqlite3_bind_int64(statement, i + 1, values[i]);
    int result = sqlite3_step(statement);
    if (result == SQLITE_ROW && sqlite3_column_type(statement, 0) != SQLITE_NULL)
        value = sqlite3_column_int64(statement, 0);
    else if (result != SQLITE_ROW && result != SQLITE_DONE)
        salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
    sqlite3_finalize(statement);
    return value;
}

int32_t salvage_interval(struct salvage *salvage, int64_t at_s)
{
    int64_t length = salvage_ask(salvage,
                                 "SELECT interval_s FROM setting WHERE from_ms <= ?1 * 1000 ORDER BY id DESC "
                                 "LIMIT 1",
                                 at_s, 0, 0, salvage->interval_s);
    return length >= 1 && length <= 86400 ? (int32_t)length : salvage->interval_s;
}

static void add_hole(struct salvage_holes *holes, int64_t from_s, int64_t to_s, int32_t interval_s)
{
    if (holes->count == SERIES_HOLES)
        holes->more = true;
    else if (to_s - from_s >= interval_s)
        holes->holes[holes->count++] = (struct salvage_hole){ from_s, to_s, interval_s };
}

void salvage_find_holes(struct salvage *salvage, const struct salvage_series *series, int32_t meter,
                        int64_t from_s, int64_t to_s, struct salvage_holes *holes)
{
    char sql[160];
    sqlite3_stmt *statement;
    holes->count = 0;
    holes->more = false;
    holes->end_s = from_s;
    snprintf(sql, sizeof(sql),
             "SELECT id / 1024 FROM %s WHERE id >= ?1 * 1024 AND id < ?2 * 1024 AND id %% 1024 = ?3 "
             "ORDER BY id",
             series->table);
    if (sqlite3_prepare_v2(salvage->into, sql, -1, &statement, NULL) != SQLITE_OK) {
        salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
        return;
    }
    sqlite3_bind_int64(statement, 1, from_s);
    sqlite3_bind_int64(statement, 2, to_s);
    sqlite3_bind_int(statement, 3, meter);
    int32_t length = salvage_interval(salvage, from_s);
    while (sqlite3_step(statement) == SQLITE_ROW) {
        int64_t start_s = sqlite3_column_int64(statement, 0);
        if (start_s != holes->end_s)
            length = salvage_interval(salvage, start_s);
        if (start_s > holes->end_s)
            add_hole(holes, holes->end_s, start_s, length);
        holes->end_s = start_s + length;
    }
    sqlite3_finalize(statement);
}

int64_t salvage_sum(struct salvage *salvage, const struct salvage_series *series, int32_t counter,
                    int32_t meter, int64_t from_s, int64_t to_s)
{
    char sql[160];
    snprintf(sql, sizeof(sql),
             "SELECT sum(%s) FROM %s WHERE id >= ?1 * 1024 AND id < ?2 * 1024 AND id %% 1024 = ?3",
             series->columns[counter], series->table);
    return salvage_ask(salvage, sql, from_s, to_s, meter, 0);
}

void salvage_span(struct salvage *salvage, int32_t meter, int64_t from_s, int64_t to_s, int64_t rows,
                  enum salvage_fate fate)
{
    if (salvage->span_count++ < SALVAGE_SPANS)
        salvage->spans[salvage->span_count - 1] = (struct salvage_span){ meter, from_s, to_s, rows, fate };
}

static bool prepare_row(struct salvage *salvage, const struct salvage_series *series,
                        sqlite3_stmt **statement)
{
    const char *sql = series->estimates
                          ? "INSERT INTO interval(id, import, export, estimated, unobserved, how) "
                            "VALUES(?1, ?2, ?3, ?6, ?7, ?8)"
                          : "INSERT INTO energy(id, reactive_import, reactive_export, apparent_import, "
                            "apparent_export, unobserved, how) VALUES(?1, ?2, ?3, ?4, ?5, ?7, ?8)";
    if (sqlite3_prepare_v2(salvage->into, sql, -1, statement, NULL) == SQLITE_OK)
        return true;
    return salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
}

/* The k-th of `count` equal shares; the shares of all k add up exactly. */
static int64_t share(int64_t energy, int64_t k, int64_t count)
{
    return mul_div(energy, k + 1, count) - mul_div(energy, k, count);
}

bool salvage_fill(struct salvage *salvage, const struct salvage_series *series, int32_t meter,
                  const struct salvage_holes *holes, const int64_t energy[SERIES_COUNTERS])
{
    sqlite3_stmt *statement;
    int64_t total = 0, at = 0;
    if (!prepare_row(salvage, series, &statement))
        return false;
    for (int32_t h = 0; h < holes->count; h++)
        total += (holes->holes[h].to_s - holes->holes[h].from_s) / holes->holes[h].interval_s;
    for (int32_t h = 0; h < holes->count; h++) {
        const struct salvage_hole *hole = &holes->holes[h];
        int64_t rows = (hole->to_s - hole->from_s) / hole->interval_s;
        for (int64_t k = 0; k < rows; k++, at++) {
            int64_t placed = 0;
            for (int32_t c = 0; c < series->count; c++) {
                int64_t part = energy[c] == INT64_MIN ? 0 : share(energy[c], at, total);
                placed += llabs(part);
                if (energy[c] == INT64_MIN)
                    sqlite3_bind_null(statement, 2 + c);
                else
                    sqlite3_bind_int64(statement, 2 + c, part);
            }
            sqlite3_bind_int64(statement, 1, row_id(hole->from_s + k * hole->interval_s, meter));
            if (series->estimates)
                sqlite3_bind_int64(statement, 6, placed);
            sqlite3_bind_int64(statement, 7, hole->interval_s);
            sqlite3_bind_int(statement, 8,
                             hole->to_s - hole->from_s <= TWO_HOURS ? HOW_INTERPOLATED : HOW_ESTIMATED);
            if (sqlite3_step(statement) != SQLITE_DONE)
                salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
            sqlite3_reset(statement);
        }
        if (series->estimates)
            salvage_span(salvage, meter, hole->from_s, hole->to_s, rows, FATE_FILLED);
    }
    sqlite3_finalize(statement);
    return !salvage->why[0];
}
