/* links: daemon/record/day_curve.c daemon/record/schema.c daemon/record/store.c daemon/record/store_day.c daemon/record/store_sql.c */
/* Closes every day of a test's record anew, after its rows were changed by SQL.
 *
 *     close_days RECORD */
#include <sqlite3.h>
#include <stdio.h>

#include "store_private.h"

static int fail(const char *why)
{
    fprintf(stderr, "close_days: %s\n", why);
    return 1;
}

int main(int argc, char **argv)
{
    struct store *store;
    sqlite3 *days;
    sqlite3_stmt *s;
    char why[256];
    int result = STORE_OK;
    if (argc != 2)
        return fail("usage: close_days RECORD");
    if (store_open(&store, argv[1], why) != STORE_OK)
        return fail(why);
    if (sqlite3_open_v2(argv[1], &days, SQLITE_OPEN_READONLY, NULL) != SQLITE_OK ||
        sqlite3_prepare_v2(days, "SELECT meter, day, from_s, to_s, expected FROM day", -1, &s, NULL) !=
            SQLITE_OK)
        return fail(sqlite3_errmsg(days));
    result = store_begin(store);
    while (result == STORE_OK && sqlite3_step(s) == SQLITE_ROW) {
        int64_t from_s = sqlite3_column_int64(s, 2), to_s = sqlite3_column_int64(s, 3);
        result = store_close_day(store, sqlite3_column_int(s, 0), sqlite3_column_int64(s, 1), from_s, to_s,
                                 (to_s - from_s) / sqlite3_column_int64(s, 4));
    }
    if (result == STORE_OK)
        result = store_commit(store);
    sqlite3_finalize(s);
    sqlite3_close(days);
    if (result != STORE_OK)
        return fail(store_why(store));
    store_close(store);
    return 0;
}
