/* Shared by store.c (writing) and store_read.c (reading) only. */
#ifndef METERBOOK_STORE_PRIVATE_H
#define METERBOOK_STORE_PRIVATE_H

#include <sqlite3.h>

#include "store.h"

enum statement {
    ADD_INTERVAL,
    ADD_ENERGY,
    ADD_MOMENTARY,
    ADD_RUN,
    END_RUN,
    MOVE_ANCHOR,
    CLOSE_DAY,
    ADD_EVENT,
    ADD_CLOCK,
    ADD_HELD,
    DROP_HELD,
    ADD_SETTING,
    NEWEST_SETTING,
    DATE_SETTINGS,
    DATE_EVENTS,
    ADD_MAP,
    ADD_METER_SETTING,
    ADD_FACTOR,
    NEWEST_FACTOR,
    READ_RUN,
    SUM_ACTIVE,
    SUM_OTHER,
    NEWEST_ROW,
    NEWEST_OF_METER,
    READ_CLOCK,
    READ_HELD,
    HAS_ROW,
    OLDEST_OF_METER,
    MARK_UNDATED,
    FIND_STORED_RUN,
    NEXT_OPEN_RUN,
    LAST_EVENT,
    LAST_END,
    LAST_HELD,
    FORGET_HELD,
    STATEMENT_COUNT
};

struct store {
    sqlite3 *db;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    char why[256];
};

extern const char *const store_sql[STATEMENT_COUNT];

/* Maps an SQLite code and keeps its text. */
int store_fail(struct store *store, int code);

/* Resets and hands out a statement. */
sqlite3_stmt *store_statement(struct store *store, enum statement which);

/* NULL for STORE_NULL. */
void store_bind(sqlite3_stmt *statement, int at, int64_t value);

/* Steps a statement that returns no row, then resets it. */
int store_run_statement(struct store *store, sqlite3_stmt *statement);

/* Steps a statement that returns at most one row. Returns 1, 0 or a failure;
 * after 1 the caller resets it. */
int store_fetch(struct store *store, sqlite3_stmt *statement);

#endif
