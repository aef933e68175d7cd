#include "record.h"

#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "curves.h"

static sqlite3_stmt *prepare(struct sim *sim, sqlite3 **db, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    if (sqlite3_open_v2("record.db", db, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK &&
        sqlite3_prepare_v2(*db, sql, -1, &statement, NULL) == SQLITE_OK)
        return statement;
    char why[200];
    snprintf(why, sizeof why, "%s", sqlite3_errmsg(*db));
    sqlite3_close(*db);
    sim_fail(sim, "the record cannot be read: %s (%.100s)", why, sql);
}

int64_t record_ask(struct sim *sim, const char *format, ...)
{
    char sql[1200];
    sqlite3 *db;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sql, sizeof sql, format, arguments);
    va_end(arguments);
    sqlite3_stmt *statement = prepare(sim, &db, sql);
    bool any = sqlite3_step(statement) == SQLITE_ROW;
    int64_t value = any ? sqlite3_column_int64(statement, 0) : 0;
    sqlite3_finalize(statement);
    sqlite3_close(db);
    if (!any)
        sim_fail(sim, "the record cannot be read: %s", sql);
    return value;
}

void record_load(struct sim *sim, struct record *record)
{
    sqlite3 *db;
    sqlite3_stmt *statement =
        prepare(sim, &db, "SELECT id, import, export, estimated, unobserved, how FROM interval ORDER BY id");
    record->count = 0;
    while (sqlite3_step(statement) == SQLITE_ROW) {
        if (record->count == record->room) {
            record->room = record->room * 2 + 1024;
            record->rows = realloc(record->rows, (size_t)record->room * sizeof record->rows[0]);
            if (!record->rows)
                abort();
        }
        struct record_row *row = &record->rows[record->count++];
        row->id = sqlite3_column_int64(statement, 0);
        row->start_s = row->id / 1024;
        row->meter = (int32_t)(row->id % 1024);
        row->energy[0] = sqlite3_column_int64(statement, 1);
        row->energy[1] = sqlite3_column_int64(statement, 2);
        row->estimated = sqlite3_column_int64(statement, 3);
        row->unobserved_s = sqlite3_column_int64(statement, 4);
        row->how = sqlite3_column_int64(statement, 5);
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

void record_check_curves(struct sim *sim)
{
    char why[200];
    sqlite3 *db;
    sqlite3_finalize(prepare(sim, &db, "SELECT 1"));
    bool good = curves_agree(db, why, sizeof why);
    sqlite3_close(db);
    if (!good)
        sim_fail(sim, "invariant 6, days: %s", why);
}
