#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>

#include "meter_names.h"

enum { BUSY_MS = 5000 };

static const char out_of_memory[] = "out of memory";

static void say(char why[METER_NAMES_WHY], const char *reason)
{
    snprintf(why, METER_NAMES_WHY, "%s", reason);
}

/* NULL, or why not. A damaged record may lack a name in spite of its schema. */
static const char *take_row(struct meter_names *names, sqlite3_stmt *statement)
{
    bool dated = sqlite3_column_type(statement, 2) != SQLITE_NULL;
    int64_t since_s = dated ? sqlite3_column_int64(statement, 2) / 1000 : INT64_MAX;
    if (sqlite3_column_type(statement, 1) == SQLITE_NULL)
        return "it is damaged: a meter has no name";
    const char *name = (const char *)sqlite3_column_text(statement, 1);
    bool added = name && meter_names_add(names, sqlite3_column_int(statement, 0), name, since_s);
    return added ? NULL : out_of_memory;
}

static struct meter_names *read_names(sqlite3 *record, char why[METER_NAMES_WHY])
{
    sqlite3_stmt *statement = NULL;
    struct meter_names *names = calloc(1, sizeof *names);
    const char *reason = names ? NULL : out_of_memory;
    int code = sqlite3_prepare_v2(record, METER_NAMES_SELECT, -1, &statement, NULL);
    while (!reason && statement && (code = sqlite3_step(statement)) == SQLITE_ROW)
        reason = take_row(names, statement);
    if (!reason && code != SQLITE_DONE && code != SQLITE_ERROR) /* an error: no such table yet */
        reason = sqlite3_errmsg(record);
    if (reason)
        say(why, reason);
    sqlite3_finalize(statement);
    if (!reason)
        return names;
    meter_names_free(names);
    return NULL;
}

struct meter_names *meter_names_load(const char *path, char why[METER_NAMES_WHY])
{
    sqlite3 *record = NULL;
    struct meter_names *names = NULL;
    int code = sqlite3_open_v2(path, &record, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL);
    if (code == SQLITE_CANTOPEN) {
        names = calloc(1, sizeof *names); /* there is no record yet */
    } else if (code == SQLITE_OK) {
        sqlite3_busy_timeout(record, BUSY_MS);
        names = read_names(record, why);
    } else {
        say(why, record ? sqlite3_errmsg(record) : out_of_memory);
    }
    sqlite3_close(record);
    return names;
}
