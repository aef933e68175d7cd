#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "query_state.h"
#include "schema.h"

enum {
    BUSY_MS = 5000,
    BUSY_PAUSE_MS = 50,
};

const char *query_error(const struct query *query)
{
    if (!query)
        return "out of memory";
    return query->failed ? query->error : NULL;
}

static void fail(struct query *query, const char *what)
{
    if (query->failed)
        return;
    query->failed = true;
    snprintf(query->error, sizeof(query->error), "cannot read the record '%s': %s", query->path, what);
}

static void fail_sqlite(struct query *query)
{
    if (sqlite3_errcode(query->database) == SQLITE_NOTADB)
        fail(query, "it is not a database");
    else if (sqlite3_errcode(query->database) == SQLITE_CORRUPT)
        fail(query, "it is damaged; 'meterbook salvage' makes a new one of what is readable");
    else if ((sqlite3_errcode(query->database) == SQLITE_READONLY ||
              sqlite3_errcode(query->database) == SQLITE_CANTOPEN) &&
             access(query->path, R_OK) == 0)
        fail(query,
             "its '-wal' and '-shm' files cannot be read or made; who reads it must be in the record's "
             "group, and both files are moved along with it");
    else
        fail(query, sqlite3_errmsg(query->database));
}

sqlite3_stmt *query_prepare(struct query *query, enum query_statement which)
{
    if (query->failed)
        return NULL;
    sqlite3_stmt **place = &query->statements[which];
    if (!*place && sqlite3_prepare_v2(query->database, query_sql[which], -1, place, NULL) != SQLITE_OK)
        fail_sqlite(query);
    else
        sqlite3_reset(*place);
    return query->failed ? NULL : *place;
}

bool query_fetch(struct query *query, enum query_statement which)
{
    sqlite3_stmt *statement = query->statements[which];
    if (query->failed || !statement)
        return false;
    int result = sqlite3_step(statement);
    if (result == SQLITE_ROW)
        return true;
    if (result != SQLITE_DONE)
        fail_sqlite(query);
    sqlite3_reset(statement);
    return false;
}

bool query_has(struct query *query, enum query_any which)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_ANY);
    bool any = query_fetch(query, SELECT_ANY) && sqlite3_column_int(statement, (int)which) != 0;
    sqlite3_reset(statement);
    return any;
}

int64_t query_column(sqlite3_stmt *statement, int index)
{
    int64_t value = sqlite3_column_int64(statement, index); /* 0 for NULL */
    return value == 0 && sqlite3_column_type(statement, index) == SQLITE_NULL ? UNKNOWN : value;
}

const char *query_column_text(sqlite3_stmt *statement, int index)
{
    const unsigned char *text = sqlite3_column_text(statement, index);
    return text ? (const char *)text : "";
}

/* A number that the file itself carries, as application_id; -1 on failure. */
static int64_t read_pragma(struct query *query, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    int64_t value = -1;
    if (sqlite3_prepare_v2(query->database, sql, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        value = sqlite3_column_int64(statement, 0);
    else
        fail_sqlite(query);
    sqlite3_finalize(statement);
    return value;
}

static int64_t boot_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* In WAL mode only the first read of a transaction can find the record busy
 * (its log is being recovered); the busy timeout does not cover all of that. */
static bool first_read(struct query *query)
{
    for (int64_t deadline = boot_ms() + BUSY_MS;;) {
        int result = sqlite3_exec(query->database, "SELECT 1 FROM sqlite_schema LIMIT 1", NULL, NULL, NULL);
        if (result == SQLITE_OK)
            return true;
        if (result != SQLITE_BUSY || boot_ms() >= deadline)
            break;
        usleep(BUSY_PAUSE_MS * 1000);
    }
    fail_sqlite(query);
    return false;
}

static void check_identity(struct query *query)
{
    if (read_pragma(query, "PRAGMA application_id") != SCHEMA_APPLICATION_ID) {
        fail(query, "it is a database, but not a record of meterbookd");
        return;
    }
    int64_t version = read_pragma(query, "PRAGMA user_version");
    char text[120];
    if (version > SCHEMA_VERSION) {
        snprintf(text, sizeof(text),
                 "a newer meterbookd wrote it (version %lld, this program knows up to %d)",
                 (long long)version, SCHEMA_VERSION);
        fail(query, text);
    } else if (version < 1) {
        fail(query, "it states no version");
    }
}

static void open_database(struct query *query)
{
    struct stat about;
    if (strlen(query->path) + 1 >= sizeof(query->path)) {
        fail(query, "the path is too long");
    } else if (stat(query->path, &about) != 0 || access(query->path, R_OK) != 0) {
        fail(query, strerror(errno));
    } else if (!S_ISREG(about.st_mode)) {
        fail(query, "it is not a file");
    } else if (sqlite3_open_v2(query->path, &query->database, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX,
                               NULL) != SQLITE_OK) {
        fail_sqlite(query);
    } else {
        sqlite3_busy_timeout(query->database, BUSY_MS);
        query_begin(query);
        if (!query->failed)
            check_identity(query);
        query_end(query);
    }
}

struct query *query_open(const char *path)
{
    struct query *query = calloc(1, sizeof(*query));
    if (!query)
        return NULL;
    snprintf(query->path, sizeof(query->path), "%s", path);
    /* This program has one thread and asks for no statistics: no locks and sums around each small thing. */
    sqlite3_config(SQLITE_CONFIG_SINGLETHREAD);
    sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
    open_database(query);
    return query;
}

void query_close(struct query *query)
{
    if (!query)
        return;
    for (int i = 0; i < STATEMENT_COUNT; i++)
        sqlite3_finalize(query->statements[i]);
    sqlite3_close(query->database);
    free(query);
}

void query_begin(struct query *query)
{
    if (query->depth++ > 0 || query->failed)
        return;
    if (sqlite3_exec(query->database, "BEGIN", NULL, NULL, NULL) != SQLITE_OK)
        fail_sqlite(query);
    else
        first_read(query);
}

void query_end(struct query *query)
{
    if (--query->depth > 0)
        return;
    for (int i = 0; i < STATEMENT_COUNT; i++)
        sqlite3_reset(query->statements[i]);
    if (query->database && !sqlite3_get_autocommit(query->database))
        sqlite3_exec(query->database, "COMMIT", NULL, NULL, NULL);
}
