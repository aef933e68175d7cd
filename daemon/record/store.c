#include "store.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "schema.h"
#include "store_private.h"

void store_limit_memory(int64_t bytes)
{
    sqlite3_hard_heap_limit64(bytes);
}

static int map_code(int code)
{
    switch (code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return STORE_BUSY;
    case SQLITE_FULL:
        return STORE_FULL;
    case SQLITE_IOERR:
        return STORE_IO;
    case SQLITE_CORRUPT:
        return STORE_CORRUPT;
    case SQLITE_NOTADB:
        return STORE_ALIEN;
    case SQLITE_READONLY:
    case SQLITE_PERM:
        return STORE_READONLY;
    case SQLITE_CANTOPEN:
        return STORE_MISSING;
    default:
        return STORE_FAILED;
    }
}

int store_fail(struct store *store, int code)
{
    snprintf(store->why, sizeof store->why, "%s (%d)", sqlite3_errmsg(store->db),
             sqlite3_extended_errcode(store->db));
    return map_code(code);
}

const char *store_why(const struct store *store)
{
    return store->why;
}

sqlite3_stmt *store_statement(struct store *store, enum statement which)
{
    sqlite3_stmt *statement = store->statements[which];
    sqlite3_reset(statement);
    return statement;
}

void store_bind(sqlite3_stmt *statement, int at, int64_t value)
{
    if (value == STORE_NULL)
        sqlite3_bind_null(statement, at);
    else
        sqlite3_bind_int64(statement, at, value);
}

const char *store_text(sqlite3_stmt *statement, int column)
{
    const unsigned char *text = sqlite3_column_text(statement, column);
    return text ? (const char *)text : "";
}

int store_run_statement(struct store *store, sqlite3_stmt *statement)
{
    int code = sqlite3_step(statement);
    int result = code == SQLITE_DONE ? STORE_OK : store_fail(store, code);
    sqlite3_reset(statement);
    return result;
}

int store_fetch(struct store *store, sqlite3_stmt *statement)
{
    int code = sqlite3_step(statement);
    if (code == SQLITE_ROW)
        return 1;
    int result = code == SQLITE_DONE ? 0 : store_fail(store, code);
    sqlite3_reset(statement);
    return result;
}

static int execute(struct store *store, const char *sql)
{
    int code = sqlite3_exec(store->db, sql, NULL, NULL, NULL);
    return code == SQLITE_OK ? STORE_OK : store_fail(store, code);
}

static int read_integer(struct store *store, const char *sql, int64_t *value)
{
    sqlite3_stmt *statement = NULL;
    int code = sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL);
    if (code == SQLITE_OK)
        code = sqlite3_step(statement);
    int result = code == SQLITE_ROW ? STORE_OK : store_fail(store, code);
    if (code == SQLITE_ROW)
        *value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return result;
}

/* Runs the statements and states the version, all or nothing. */
static int make_tables(struct store *store, const char *statements)
{
    char sql[96];
    int result = execute(store, "BEGIN IMMEDIATE");
    if (result == STORE_OK)
        result = execute(store, statements);
    snprintf(sql, sizeof sql, "PRAGMA application_id = %d; PRAGMA user_version = %d", SCHEMA_APPLICATION_ID,
             SCHEMA_VERSION);
    if (result == STORE_OK)
        result = execute(store, sql);
    if (result == STORE_OK)
        result = execute(store, "COMMIT");
    if (result != STORE_OK)
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
    return result;
}

/* An empty file becomes a record; anything else must be one of our version. */
static int make_or_check(struct store *store)
{
    int64_t application = 0, version = 0, tables = 0;
    int result = read_integer(store, "PRAGMA application_id", &application);
    if (result == STORE_OK)
        result = read_integer(store, "PRAGMA user_version", &version);
    if (result == STORE_OK)
        result = read_integer(store, "SELECT count(*) FROM sqlite_schema", &tables);
    if (result != STORE_OK)
        return result;
    if (application == 0 && version == 0 && tables == 0)
        return make_tables(store, schema_sql);
    if (application != SCHEMA_APPLICATION_ID) {
        snprintf(store->why, sizeof store->why,
                 "the file is an SQLite database but not a record of this program");
        return STORE_ALIEN;
    }
    if (version > SCHEMA_VERSION) {
        snprintf(store->why, sizeof store->why,
                 "the record has version %lld, this program knows versions up to %d", (long long)version,
                 SCHEMA_VERSION);
        return STORE_NEWER;
    }
    return STORE_OK;
}

/* A record of an earlier version gets what came since; its days have no curves until they are closed anew. */
static int migrate(struct store *store)
{
    int64_t version = SCHEMA_VERSION;
    int result = read_integer(store, "PRAGMA user_version", &version);
    return result == STORE_OK && version < SCHEMA_VERSION ? make_tables(store, schema_since_1_sql) : result;
}

static const char pragmas_before[] =
    "PRAGMA page_size = 4096; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; "
    "PRAGMA cache_size = -128; PRAGMA secure_delete = OFF; PRAGMA temp_store = MEMORY; "
    "PRAGMA journal_size_limit = 0;";

static int prepare(struct store *store)
{
    for (int i = 0; i < STATEMENT_COUNT; i++) {
        int code = sqlite3_prepare_v3(store->db, store_sql[i], -1, SQLITE_PREPARE_PERSISTENT,
                                      &store->statements[i], NULL);
        if (code != SQLITE_OK)
            return store_fail(store, code);
    }
    return STORE_OK;
}

/* psow=0: a power cut may damage what lies beside a write (rules of SD cards);
 * the log's frames are then padded to whole sectors. */
static bool make_uri(char *uri, size_t size, const char *path)
{
    static const char hex[] = "0123456789ABCDEF";
    size_t n = (size_t)snprintf(uri, size, "file:");
    for (const char *p = path; *p; p++) {
        if (n + 12 > size)
            return false;
        if (*p == '?' || *p == '#' || *p == '%') {
            uri[n++] = '%';
            uri[n++] = hex[(unsigned char)*p >> 4];
            uri[n++] = hex[(unsigned char)*p & 15];
        } else {
            uri[n++] = *p;
        }
    }
    snprintf(uri + n, size - n, "?psow=0");
    return true;
}

static int open_and_prepare(struct store *store, const char *path)
{
    char uri[1024];
    if (!make_uri(uri, sizeof uri, path)) {
        snprintf(store->why, sizeof store->why, "path too long");
        return STORE_MISSING;
    }
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX;
    int code = sqlite3_open_v2(uri, &store->db, flags, NULL);
    if (code != SQLITE_OK)
        return store_fail(store, code);
    sqlite3_extended_result_codes(store->db, 1);
    sqlite3_busy_timeout(store->db, 5000);
    int persist = 1;
    sqlite3_file_control(store->db, "main", SQLITE_FCNTL_PERSIST_WAL, &persist);
    /* Look before touching: an alien file must stay as it is. */
    int64_t tables = 0;
    int result = read_integer(store, "SELECT count(*) FROM sqlite_schema", &tables);
    if (result == STORE_OK && tables > 0)
        result = make_or_check(store);
    if (result == STORE_OK)
        result = execute(store, pragmas_before);
    if (result == STORE_OK && sqlite3_db_readonly(store->db, "main")) {
        snprintf(store->why, sizeof store->why, "the file or its directory cannot be written");
        result = STORE_READONLY;
    }
    if (result == STORE_OK)
        result = make_or_check(store);
    if (result == STORE_OK)
        result = migrate(store);
    return result == STORE_OK ? prepare(store) : result;
}

int store_open(struct store **out, const char *path, char why[256])
{
    *out = NULL;
    struct store *store = calloc(1, sizeof *store);
    if (!store) {
        snprintf(why, 256, "out of memory");
        return STORE_FAILED;
    }
    int result = open_and_prepare(store, path);
    if (result != STORE_OK) {
        snprintf(why, 256, "%s", store->why);
        store_close(store);
        return result;
    }
    *out = store;
    return STORE_OK;
}

void store_close(struct store *store)
{
    if (!store)
        return;
    for (int i = 0; i < STATEMENT_COUNT; i++)
        sqlite3_finalize(store->statements[i]);
    sqlite3_close(store->db);
    free(store);
}

/* SQLite itself leaves the log of a file that moved as it is. */
void store_detach(struct store *store)
{
    store_rollback(store);
    sqlite3_wal_checkpoint_v2(store->db, NULL, SQLITE_CHECKPOINT_TRUNCATE, NULL, NULL);
}

int store_begin(struct store *store)
{
    return execute(store, "BEGIN IMMEDIATE");
}

int store_commit(struct store *store)
{
    int result = execute(store, "COMMIT");
    if (result != STORE_OK)
        store_rollback(store);
    return result;
}

bool store_is_begun(const struct store *store)
{
    return sqlite3_get_autocommit(store->db) == 0;
}

/* An error may have rolled back already. */
void store_rollback(struct store *store)
{
    if (store_is_begun(store))
        sqlite3_exec(store->db, "ROLLBACK", NULL, NULL, NULL);
}
