/* Anchors moved to where every run stands. */
#include "store_private.h"

int store_move_anchors(struct store *store, int64_t interval_s)
{
    for (int64_t id = 0;;) {
        struct store_open_run run;
        sqlite3_stmt *s = store_statement(store, NEXT_OPEN_RUN);
        sqlite3_bind_int64(s, 1, id);
        int result = store_fetch(store, s);
        if (result != 1)
            return result;
        id = sqlite3_column_int64(s, 0);
        int32_t meter = sqlite3_column_int(s, 1), counter = sqlite3_column_int(s, 2);
        sqlite3_reset(s);
        result = store_read_run(store, meter, counter, interval_s, &run);
        if (result == 1 && run.id == id)
            result = store_move_anchor(store, id, run.frontier_s, run.account);
        if (result < 0)
            return result;
    }
}
