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
    DAY_ROWS,
    PUT_DAY,
    PUT_CURVE,
    DROP_CURVE,
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
    KNOWN_ACTIVE,
    KNOWN_OTHER,
    NEWEST_ROW,
    NEWEST_OF_METER,
    READ_CLOCK,
    READ_HELD,
    READ_HELD_OF,
    HAS_ROW,
    OLDEST_OF_METER,
    MARK_UNDATED,
    FIND_STORED_RUN,
    NEXT_OPEN_RUN,
    LAST_EVENT,
    LAST_END,
    LAST_HELD,
    CLOCK_BEFORE,
    BOOT_AFTER,
    NEXT_UNDATED,
    FORGET_HELD,
    CORRECTION_AT,
    CORRECTION_ORDER,
    CORRECTION_OF_HASH,
    ADD_CORRECTION,
    MOVE_CORRECTION,
    UNPLACE_CORRECTIONS,
    NEXT_UNPLACED,
    DROP_CORRECTION,
    DROP_CORRECTION_SUMS,
    MARK_DUE,
    NEXT_DUE,
    DROP_DUE,
    BLOCK_CORRECTIONS,
    BLOCK_ROWS,
    LENGTH_AT,
    DERIVED_SIDES,
    PUT_CORRECTED,
    NEAREST_CHANGE,
    DROP_CORRECTED,
    DROP_ORPHANS,
    DROP_BLOCK,
    SEEN_BEFORE,
    SEEN_IN,
    PUT_SEEN,
    MARK_LATER,
    PUT_CORRECTED_DAYS,
    DROP_CORRECTED_DAYS,
    STATEMENT_COUNT
};

struct store {
    sqlite3 *db;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    char why[256];
};

extern const char *const store_sql[STATEMENT_COUNT];

/* The sides of a derived grid meter under the newest setting that has one: consumption, less what is
 * produced behind the house meter (arrangement.c has the rule). */
#define STORE_SIDES                                                                                          \
    "WITH m AS (SELECT * FROM meter_setting WHERE setting = "                                                \
    "  (SELECT max(setting) FROM meter_setting WHERE meter = 1023)), "                                       \
    "side AS (SELECT meter AS of, 1 AS sign, 'import' AS counter FROM m WHERE role = 'consumption' "         \
    "  UNION ALL SELECT meter, -1, delivers FROM m WHERE gross = 0 AND role = "                              \
    "  iif((SELECT count(*) FROM m WHERE role = 'production') > 0, 'production', 'part')) "

/* What the sides say of an interval, from ?1 on, where all have a row: consumption c, production p. */
#define STORE_SIDE_SUMS                                                                                      \
    "SELECT id / 1024 AS start, sum(iif(sign > 0, iif(counter = 'import', import, export), 0)) AS c, "       \
    "sum(iif(sign < 0, iif(counter = 'import', import, export), 0)) AS p "                                   \
    "FROM interval JOIN side ON side.of = id % 1024 WHERE id >= ?1 * 1024 GROUP BY id / 1024 "               \
    "HAVING count(iif(counter = 'import', import, export)) = (SELECT count(*) FROM side)"

/* Maps an SQLite code and keeps its text. */
int store_fail(struct store *store, int code);

/* Resets and hands out a statement. */
sqlite3_stmt *store_statement(struct store *store, enum statement which);

/* NULL for STORE_NULL. */
void store_bind(sqlite3_stmt *statement, int at, int64_t value);

/* A column's text; "" where a damaged record has none. Valid until the statement is stepped or reset. */
const char *store_text(sqlite3_stmt *statement, int column);

/* Steps a statement that returns no row, then resets it. */
int store_run_statement(struct store *store, sqlite3_stmt *statement);

/* Steps a statement that returns at most one row. Returns 1, 0 or a failure;
 * after 1 the caller resets it. */
int store_fetch(struct store *store, sqlite3_stmt *statement);

#endif
