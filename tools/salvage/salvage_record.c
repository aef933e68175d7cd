#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "civil.h"
#include "config.h"
#include "salvage_rows.h"
#include "schema.h"

static void remove_new(const char *to)
{
    static const char *const tails[] = { "", "-wal", "-shm" };
    char path[CONFIG_PATH_SIZE + 8];
    for (size_t i = 0; i < sizeof(tails) / sizeof(tails[0]); i++)
        if ((size_t)snprintf(path, sizeof(path), "%s%s", to, tails[i]) < sizeof(path))
            unlink(path);
}

/* While the collector has a record open it holds a lock on its '-shm'
 * (SQLite's "dead man's switch", os_unix.c): reading on would see half a commit. */
static bool is_in_use(const char *path)
{
    enum { SWITCH = 128 };
    char shared[CONFIG_PATH_SIZE + 8];
    struct flock lock = { .l_type = F_WRLCK, .l_whence = SEEK_SET, .l_start = SWITCH, .l_len = 1 };
    if ((size_t)snprintf(shared, sizeof(shared), "%s-shm", path) >= sizeof(shared))
        return false;
    int file = open(shared, O_RDONLY | O_CLOEXEC);
    if (file < 0)
        return false;
    bool used = fcntl(file, F_GETLK, &lock) == 0 && lock.l_type != F_UNLCK;
    close(file);
    return used;
}

static bool make_tables(struct salvage *salvage, const char *to)
{
    if (sqlite3_open_v2(to, &salvage->into, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) != SQLITE_OK)
        return salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
    /* it gets its identity last: what a power cut leaves is no record */
    return salvage_run(salvage, "PRAGMA page_size = 4096; PRAGMA journal_mode = MEMORY; "
                                "PRAGMA synchronous = OFF; PRAGMA secure_delete = OFF;") &&
           salvage_run(salvage, schema_sql) &&
           (shapes_read(salvage->into, salvage->shapes, &salvage->shape_count) ||
            salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into)));
}

static bool has_rows(struct salvage *salvage)
{
    for (int32_t t = 1; t < salvage->shape_count; t++)
        if (salvage->counts[t].rows > 0)
            return true;
    return salvage_fail(salvage, "it holds no row of a record");
}

/* What corrections made of rows follows from the rows and the logbook: the collector makes it anew. Curves
 * are drawn again when the days are closed. */
static bool drop_what_follows(struct salvage *salvage)
{
    if (salvage_ask(salvage, "SELECT count(*) FROM correction", 0, 0, 0, 0) > 0)
        salvage_note(salvage, "the collector applies the logbook's corrections anew at its next start");
    return salvage_run(salvage, "DELETE FROM correction; DELETE FROM corrected; DELETE FROM corrected_day; "
                                "DELETE FROM correction_sum; DELETE FROM correction_due; DELETE FROM curve;");
}

/* Meters' settings without the settings that they belong to: those are put in as far as
 * they are known, or the collector would give their number to others. */
static bool mend_settings(struct salvage *salvage, const struct config *config, bool *known)
{
    sqlite3_stmt *statement;
    static const char sql[] =
        "INSERT INTO setting(id, from_ms, boot, boot_ms, hash, site, zone, zone_edition, interval_s, "
        "poll_ms, "
        "program, text) SELECT s, CASE WHEN s = min(s) OVER () THEN (SELECT min(id) / 1024 FROM interval) * "
        "1000 "
        "END, '', 0, '', ?1, ?2, '', ?3, 1000, '', '# lost' FROM (SELECT DISTINCT setting AS s FROM "
        "meter_setting WHERE setting NOT IN (SELECT id FROM setting)) ORDER BY s";
    if (sqlite3_prepare_v2(salvage->into, sql, -1, &statement, NULL) != SQLITE_OK)
        return salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
    sqlite3_bind_text(statement, 1, config ? config->site.name : "unknown", -1, SQLITE_STATIC);
    sqlite3_bind_text(statement, 2, config ? config->site.time_zone : "UTC", -1, SQLITE_STATIC);
    sqlite3_bind_int(statement, 3, salvage->interval_s);
    bool good = sqlite3_step(statement) == SQLITE_DONE;
    *known = config || sqlite3_changes(salvage->into) == 0;
    sqlite3_finalize(statement);
    if (!*known)
        salvage_note(salvage,
                     "the settings were lost: stamps are UTC; the configuration, given with --config, "
                     "knows the zone");
    return good || salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
}

static bool open_calendar(struct salvage *salvage)
{
    sqlite3_stmt *statement;
    char zone[CONFIG_NAME_SIZE] = "UTC";
    if (sqlite3_prepare_v2(salvage->into, "SELECT zone FROM setting ORDER BY id DESC LIMIT 1", -1, &statement,
                           NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        snprintf(zone, sizeof(zone), "%s", (const char *)sqlite3_column_text(statement, 0));
    sqlite3_finalize(statement);
    salvage->civil = civil_open(zone);
    if (!salvage->civil)
        return salvage_fail(salvage, "this computer's zone data has no '%s'", zone);
    return true;
}

/* The record itself says that it was salvaged. */
static bool add_event(struct salvage *salvage, int64_t now_s)
{
    char sql[320];
    snprintf(sql, sizeof(sql),
             "INSERT INTO event(at_ms, boot, boot_ms, kind, count, text) VALUES(%lld, '', 0, 'salvage', 1, "
             "'the record was salvaged from a damaged one; spans filled or missing: %lld')",
             (long long)now_s * 1000, (long long)salvage->span_count);
    return salvage_run(salvage, sql);
}

static bool check(struct salvage *salvage)
{
    sqlite3_stmt *statement;
    bool good = sqlite3_prepare_v2(salvage->into, "PRAGMA quick_check", -1, &statement, NULL) == SQLITE_OK &&
                sqlite3_step(statement) == SQLITE_ROW &&
                strcmp((const char *)sqlite3_column_text(statement, 0), "ok") == 0;
    sqlite3_finalize(statement);
    return good || salvage_fail(salvage, "the new record does not pass its check");
}

static bool give_identity(struct salvage *salvage)
{
    char sql[120];
    snprintf(sql, sizeof(sql),
             "PRAGMA synchronous = FULL; PRAGMA user_version = %d; PRAGMA application_id = %d",
             SCHEMA_VERSION, SCHEMA_APPLICATION_ID);
    return salvage_run(salvage, sql);
}

static bool make_new(struct salvage *salvage, const char *to, const struct config *config, int64_t now_s)
{
    struct day_list *days = NULL;
    bool known = false; /* where midnight is */
    bool good = make_tables(salvage, to) && salvage_rows(salvage) && has_rows(salvage) &&
                drop_what_follows(salvage) && salvage_mend(salvage, config) &&
                mend_settings(salvage, config, &known) && open_calendar(salvage) &&
                add_event(salvage, now_s) &&
                salvage_find_days(salvage, known ? salvage->civil : NULL, &days) && check(salvage) &&
                give_identity(salvage);
    sqlite3_close(salvage->into);
    salvage->into = NULL;
    return salvage_close_days(salvage, good ? to : NULL, days) && good;
}

bool salvage_record(struct salvage *salvage, const char *from, const char *to, const struct config *config,
                    int64_t now_s)
{
    const char *problem = pages_open(&salvage->pages, from);
    if (problem)
        return salvage_fail(salvage, "%s", problem);
    if (is_in_use(from))
        return salvage_fail(salvage, "it is in use, stop the collector first");
    int file = open(to, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0640);
    if (file < 0)
        return salvage_fail(salvage, "'%.120s' cannot be written: %s", to, strerror(errno));
    bool good = make_new(salvage, to, config, now_s);
    if (good && fsync(file) != 0)
        good = salvage_fail(salvage, "'%.120s' cannot be written: %s", to, strerror(errno));
    close(file);
    if (!good)
        remove_new(to);
    return good;
}

void salvage_finish(struct salvage *salvage)
{
    pages_close(&salvage->pages);
    civil_close(salvage->civil);
}
