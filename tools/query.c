#include "query.h"

#include <errno.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "schema.h"

enum statement {
    SELECT_SITE,
    SELECT_REACH,
    SELECT_SETTINGS,
    SELECT_METERS,
    SELECT_INTERVALS,
    SELECT_INTERVALS_BACK,
    SELECT_DAY,
    SELECT_STEP,
    STATEMENT_COUNT
};

#define INTERVAL_COLUMNS                                                                                     \
    "SELECT id, import, export, estimated, unobserved, how, power, voltage FROM interval "

static const char *const statements[STATEMENT_COUNT] = {
    [SELECT_SITE] = "SELECT site, zone, interval_s, poll_ms, id FROM setting ORDER BY id DESC LIMIT 1",
    [SELECT_REACH] = "SELECT (SELECT min(id) FROM interval), (SELECT max(id) FROM interval)",
    [SELECT_SETTINGS] = "SELECT id, from_ms, interval_s FROM setting ORDER BY id",
    [SELECT_METERS] = "SELECT meter, name, role, delivers, gross, phase_method FROM meter_setting "
                      "WHERE setting = ? ORDER BY meter",
    [SELECT_INTERVALS] = INTERVAL_COLUMNS "WHERE id >= ? AND id < ? ORDER BY id",
    [SELECT_INTERVALS_BACK] = INTERVAL_COLUMNS "WHERE id >= ? AND id < ? ORDER BY id DESC",
    [SELECT_DAY] = "SELECT id, from_s, to_s, import, export, estimated, unobserved, rows, expected, flags "
                   "FROM day WHERE id >= ? AND id < ? ORDER BY id",
    [SELECT_STEP] = "SELECT max(step) FROM run WHERE meter = ? AND counter < 2 AND from_ms < ? "
                    "AND (to_ms IS NULL OR to_ms > ?)",
};

enum {
    BUSY_MS = 5000,
    BUSY_PAUSE_MS = 50,
    ID_FACTOR = 1024, /* row_id(): time or day, then meter */
};

struct query {
    sqlite3 *database;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    bool failed;
    char path[CONFIG_PATH_SIZE];
    char error[CONFIG_PATH_SIZE + 200];
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
    else if ((sqlite3_errcode(query->database) == SQLITE_READONLY ||
              sqlite3_errcode(query->database) == SQLITE_CANTOPEN) &&
             access(query->path, R_OK) == 0)
        fail(query,
             "its '-wal' and '-shm' files cannot be read or made; who reads it must be in the record's "
             "group, and both files are moved along with it");
    else
        fail(query, sqlite3_errmsg(query->database));
}

/* A statement ready to bind; NULL after a failure. */
static sqlite3_stmt *prepare(struct query *query, enum statement which)
{
    if (query->failed)
        return NULL;
    sqlite3_stmt **place = &query->statements[which];
    if (!*place && sqlite3_prepare_v2(query->database, statements[which], -1, place, NULL) != SQLITE_OK)
        fail_sqlite(query);
    else
        sqlite3_reset(*place);
    return query->failed ? NULL : *place;
}

/* True while there is a row; resets at the end, so that no read stays open. */
static bool step(struct query *query, enum statement which)
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

static int64_t column(sqlite3_stmt *statement, int index)
{
    return sqlite3_column_type(statement, index) == SQLITE_NULL ? UNKNOWN
                                                                : sqlite3_column_int64(statement, index);
}

static const char *column_text(sqlite3_stmt *statement, int index)
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
    if (!first_read(query))
        return;
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
        if (sqlite3_exec(query->database, "PRAGMA query_only = ON", NULL, NULL, NULL) != SQLITE_OK)
            fail_sqlite(query);
        else
            check_identity(query);
    }
}

struct query *query_open(const char *path)
{
    struct query *query = calloc(1, sizeof(*query));
    if (!query)
        return NULL;
    snprintf(query->path, sizeof(query->path), "%s", path);
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
    if (query->failed)
        return;
    if (sqlite3_exec(query->database, "BEGIN", NULL, NULL, NULL) != SQLITE_OK)
        fail_sqlite(query);
    else
        first_read(query);
}

void query_end(struct query *query)
{
    for (int i = 0; i < STATEMENT_COUNT; i++)
        sqlite3_reset(query->statements[i]);
    if (query->database && !sqlite3_get_autocommit(query->database))
        sqlite3_exec(query->database, "COMMIT", NULL, NULL, NULL);
}

bool query_site(struct query *query, struct site *site)
{
    *site = (struct site){ 0 };
    sqlite3_stmt *statement = prepare(query, SELECT_SITE);
    if (!step(query, SELECT_SITE))
        return false;
    snprintf(site->name, sizeof(site->name), "%s", column_text(statement, 0));
    snprintf(site->zone, sizeof(site->zone), "%s", column_text(statement, 1));
    site->interval_s = sqlite3_column_int(statement, 2);
    site->poll_ms = sqlite3_column_int(statement, 3);
    site->setting = sqlite3_column_int(statement, 4);
    sqlite3_reset(statement);

    statement = prepare(query, SELECT_REACH);
    if (!step(query, SELECT_REACH))
        return false;
    site->has_rows = sqlite3_column_type(statement, 0) != SQLITE_NULL;
    site->first_s = sqlite3_column_int64(statement, 0) / ID_FACTOR;
    site->last_s = sqlite3_column_int64(statement, 1) / ID_FACTOR;
    sqlite3_reset(statement);
    return true;
}

void query_settings(struct query *query)
{
    prepare(query, SELECT_SETTINGS);
}

bool query_next_setting(struct query *query, struct setting_row *row)
{
    if (!step(query, SELECT_SETTINGS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_SETTINGS];
    row->id = sqlite3_column_int(statement, 0);
    row->from_ms = column(statement, 1);
    row->interval_s = sqlite3_column_int(statement, 2);
    return true;
}

/* ROLE_COUNT for a role that this program does not know: it is left out of every figure. */
static enum meter_role role_of(const char *name)
{
    int role = 0;
    while (role < ROLE_COUNT && strcmp(role_name((enum meter_role)role), name) != 0)
        role++;
    return (enum meter_role)role;
}

bool query_meters(struct query *query, const struct setting_row *setting, struct arrangement *arrangement)
{
    sqlite3_stmt *statement = prepare(query, SELECT_METERS);
    *arrangement = (struct arrangement){
        .from_s = INT64_MIN,
        .to_s = INT64_MAX,
        .interval_s = setting->interval_s > 0 ? setting->interval_s : 300,
    };
    if (statement)
        sqlite3_bind_int(statement, 1, setting->id);
    while (step(query, SELECT_METERS)) {
        if (arrangement->meter_count == ARRANGEMENT_MAX_METERS)
            continue;
        struct arranged_meter *meter = &arrangement->meters[arrangement->meter_count++];
        meter->number = sqlite3_column_int(statement, 0);
        snprintf(meter->name, sizeof(meter->name), "%s", column_text(statement, 1));
        meter->role = role_of(column_text(statement, 2));
        meter->delivers_by_export = strcmp(column_text(statement, 3), "export") == 0;
        meter->gross = sqlite3_column_int(statement, 4) != 0;
        meter->phases_apart = strcmp(column_text(statement, 5), "apart") == 0;
        meter->slot = -1;
    }
    arrangement_prepare(arrangement);
    return !query->failed;
}

static void bind_range(struct query *query, enum statement which, int64_t from, int64_t to)
{
    sqlite3_stmt *statement = prepare(query, which);
    if (!statement)
        return;
    sqlite3_bind_int64(statement, 1, from * ID_FACTOR);
    sqlite3_bind_int64(statement, 2, to * ID_FACTOR);
}

static bool next_interval(struct query *query, enum statement which, struct interval_row *row)
{
    if (!step(query, which))
        return false;
    sqlite3_stmt *statement = query->statements[which];
    int64_t id = sqlite3_column_int64(statement, 0);
    *row = (struct interval_row){
        .start_s = id / ID_FACTOR,
        .meter = (int32_t)(id % ID_FACTOR),
        .import = column(statement, 1),
        .export = column(statement, 2),
        .estimated = sqlite3_column_int64(statement, 3),
        .unobserved = sqlite3_column_int64(statement, 4),
        .how = sqlite3_column_int(statement, 5),
        .power = column(statement, 6),
        .voltage = column(statement, 7),
    };
    return true;
}

void query_intervals(struct query *query, int64_t from_s, int64_t to_s)
{
    bind_range(query, SELECT_INTERVALS, from_s, to_s);
}

bool query_next_interval(struct query *query, struct interval_row *row)
{
    return next_interval(query, SELECT_INTERVALS, row);
}

void query_intervals_back(struct query *query, int64_t from_s, int64_t to_s)
{
    bind_range(query, SELECT_INTERVALS_BACK, from_s, to_s);
}

bool query_next_interval_back(struct query *query, struct interval_row *row)
{
    return next_interval(query, SELECT_INTERVALS_BACK, row);
}

void query_day(struct query *query, int64_t day)
{
    bind_range(query, SELECT_DAY, day, day + 1);
}

bool query_next_day(struct query *query, struct day_row *row)
{
    if (!step(query, SELECT_DAY))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_DAY];
    int64_t id = sqlite3_column_int64(statement, 0);
    *row = (struct day_row){
        .day = id / ID_FACTOR,
        .meter = (int32_t)(id % ID_FACTOR),
        .from_s = sqlite3_column_int64(statement, 1),
        .to_s = sqlite3_column_int64(statement, 2),
        .import = column(statement, 3),
        .export = column(statement, 4),
        .estimated = sqlite3_column_int64(statement, 5),
        .unobserved = sqlite3_column_int64(statement, 6),
        .rows = sqlite3_column_int(statement, 7),
        .expected = sqlite3_column_int(statement, 8),
        .flags = sqlite3_column_int(statement, 9),
    };
    return true;
}

int64_t query_step(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = prepare(query, SELECT_STEP);
    if (!statement)
        return 1;
    sqlite3_bind_int(statement, 1, meter);
    sqlite3_bind_int64(statement, 2, to_s * 1000);
    sqlite3_bind_int64(statement, 3, from_s * 1000);
    int64_t coarsest = step(query, SELECT_STEP) ? sqlite3_column_int64(statement, 0) : 1;
    sqlite3_reset(statement);
    return coarsest > 1 ? coarsest : 1;
}
