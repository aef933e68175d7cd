/* What store_enter*.c share: the statements. */
#ifndef METERBOOK_STORE_ENTER_PRIVATE_H
#define METERBOOK_STORE_ENTER_PRIVATE_H

#include "store_enter.h"
#include "store_private.h"

enum enter_statement {
    ENTER_READ_ROWS, /* of interval, of energy, and both newest first */
    ENTER_INSERT_ROW = ENTER_READ_ROWS + 4,
    ENTER_UPDATE_ROW = ENTER_INSERT_ROW + 2,
    ENTER_NEWEST = ENTER_UPDATE_ROW + 2,
    ENTER_LIVE_START = ENTER_NEWEST + 2,
    ENTER_FIRST_RUN,
    ENTER_OPEN_STEP,
    ENTER_TAKEN_OVER,
    ENTER_OLDEST_LIVE,
    ENTER_READ_GRID,
    ENTER_METER_BY_NAME,
    ENTER_METER_BY_NUMBER,
    ENTER_METER_NAMES,
    ENTER_FIND_RUN,
    ENTER_EXTEND_RUN,
    ENTER_LOWER_BASE,
    ENTER_RUNS_INSIDE,
    ENTER_MOVE_RUN,
    ENTER_DERIVE,
    ENTER_STATEMENT_COUNT
};

struct store_enter {
    struct store *store;
    sqlite3_stmt *statements[ENTER_STATEMENT_COUNT];
};

/* A statement to be bound and run anew. */
sqlite3_stmt *store_enter_statement(struct store_enter *enter, int which);

#endif
