/* links: daemon/record/schema.c */
/* Entering 1,000,000 readings of a counter against plain inserts of the same rows.
 *
 *     bench_enter METERBOOK DIRECTORY
 *
 * The same rows go into a record of the same settings by prepared INSERTs, 20 000
 * a transaction, nothing checked and no day closed. Both in one run, on files in
 * DIRECTORY. Exit code 1 where the bars are missed: 10 s, and three times as long. */
#include <sqlite3.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "schema.h"

enum { READINGS = 1000000, FIRST_S = 1500000000, TRANSACTION = 20000, METER = 2 };

static double now_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

/* Processor time of this process, or of its children, s. */
static double cpu_s(int who)
{
    struct rusage used;
    getrusage(who, &used);
    return (double)(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
           (double)(used.ru_utime.tv_usec + used.ru_stime.tv_usec) / 1e6;
}

static void check(int code, sqlite3 *database)
{
    if (code == SQLITE_OK || code == SQLITE_DONE || code == SQLITE_ROW)
        return;
    fprintf(stderr, "bench_enter: %s\n", sqlite3_errmsg(database));
    exit(2);
}

static void remove_record(const char *path)
{
    static const char *const suffixes[] = { "", "-wal", "-shm" };
    char name[512];
    for (size_t i = 0; i < sizeof(suffixes) / sizeof(suffixes[0]); i++) {
        snprintf(name, sizeof(name), "%s%s", path, suffixes[i]);
        unlink(name);
    }
}

static sqlite3 *make_record(const char *path)
{
    sqlite3 *database;
    char identity[300], uri[500];
    remove_record(path);
    snprintf(uri, sizeof(uri), "file:%s?psow=0", path); /* as the record is opened */
    check(sqlite3_open_v2(uri, &database, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE | SQLITE_OPEN_URI, NULL),
          database);
    snprintf(identity, sizeof(identity),
             "PRAGMA page_size = 4096; PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; PRAGMA "
             "cache_size = -256; "
             "PRAGMA application_id = %d; PRAGMA user_version = %d",
             SCHEMA_APPLICATION_ID, SCHEMA_VERSION);
    check(sqlite3_exec(database, identity, NULL, NULL, NULL), database);
    check(sqlite3_exec(database, schema_sql, NULL, NULL, NULL), database);
    check(
        sqlite3_exec(
            database,
            "INSERT INTO setting VALUES(1, 1777888800000, 'b', 0, 'h', 'Mill', 'Europe/Berlin', '2026a', 60, "
            "1000, '0', '');"
            "INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 9000, 0, "
            "NULL, "
            "NULL, '1', '');",
            NULL, NULL, NULL),
        database);
    return database;
}

/* A register that rises by 0 to 19 Wh a minute. */
static int64_t rise(uint32_t *random)
{
    *random = *random * 1664525 + 1013904223;
    return (*random >> 16) % 20;
}

static void write_file(const char *path)
{
    FILE *file = fopen(path, "w");
    uint32_t random = 1;
    int64_t value = 0;
    if (!file)
        exit(2);
    fputs("time,House.import[Wh]\n", file);
    for (int32_t i = 0; i < READINGS; i++) {
        time_t at = (time_t)FIRST_S + (time_t)i * 60;
        struct tm fields;
        char text[32];
        gmtime_r(&at, &fields);
        strftime(text, sizeof(text), "%Y-%m-%dT%H:%M:%SZ", &fields);
        fprintf(file, "%s,%lld\n", text, (long long)value);
        value += rise(&random);
    }
    if (fclose(file) != 0)
        exit(2);
}

static double insert_plainly(const char *path)
{
    sqlite3 *database = make_record(path);
    sqlite3_stmt *insert;
    uint32_t random = 1;
    double begun = now_s();
    check(sqlite3_prepare_v2(database,
                             "INSERT INTO interval(id, import, export, estimated, unobserved, how) "
                             "VALUES(?, ?, NULL, 0, 0, 4)",
                             -1, &insert, NULL),
          database);
    for (int32_t i = 0; i < READINGS - 1; i++) {
        if (i % TRANSACTION == 0)
            check(sqlite3_exec(database, i ? "COMMIT; BEGIN IMMEDIATE" : "BEGIN IMMEDIATE", NULL, NULL, NULL),
                  database);
        sqlite3_bind_int64(insert, 1, row_id((int64_t)FIRST_S + (int64_t)i * 60, METER));
        sqlite3_bind_int64(insert, 2, rise(&random) * 1000);
        check(sqlite3_step(insert), database);
        sqlite3_reset(insert);
    }
    check(sqlite3_exec(database, "COMMIT", NULL, NULL, NULL), database);
    sqlite3_finalize(insert);
    sqlite3_close(database);
    return now_s() - begun;
}

static double enter(const char *meterbook, const char *path, const char *file)
{
    sqlite3_close(make_record(path));
    double begun = now_s();
    pid_t child = fork();
    if (child == 0) {
        if (!freopen("/dev/null", "w", stdout))
            _exit(2);
        execl(meterbook, meterbook, "--database", path, "enter", file, (char *)NULL);
        _exit(2);
    }
    int status = 2;
    if (child < 0 || waitpid(child, &status, 0) != child || status != 0) {
        fprintf(stderr, "bench_enter: %s ended with %d\n", meterbook, status);
        exit(2);
    }
    return now_s() - begun;
}

static int64_t total(const char *path)
{
    sqlite3 *database;
    sqlite3_stmt *sum;
    check(sqlite3_open(path, &database), database);
    check(sqlite3_prepare_v2(database, "SELECT sum(import) + count(*) FROM interval", -1, &sum, NULL),
          database);
    check(sqlite3_step(sum), database);
    int64_t value = sqlite3_column_int64(sum, 0);
    sqlite3_finalize(sum);
    sqlite3_close(database);
    return value;
}

int main(int argc, char **argv)
{
    char file[400], plain[400], entered[400];
    if (argc != 3) {
        fputs("usage: bench_enter METERBOOK DIRECTORY\n", stderr);
        return 2;
    }
    snprintf(file, sizeof(file), "%s/bench_enter.csv", argv[2]);
    snprintf(plain, sizeof(plain), "%s/bench_plain.db", argv[2]);
    snprintf(entered, sizeof(entered), "%s/bench_entered.db", argv[2]);
    write_file(file);
    double cpu = cpu_s(RUSAGE_SELF), plain_s = insert_plainly(plain), plain_cpu = cpu_s(RUSAGE_SELF) - cpu;
    double entered_s = enter(argv[1], entered, file), entered_cpu = cpu_s(RUSAGE_CHILDREN);
    bool same = total(plain) == total(entered);
    printf("entered_s=%.2f plain_s=%.2f ratio=%.2f entered_cpu=%.2f plain_cpu=%.2f cpu_ratio=%.2f "
           "readings=%d same=%s\n",
           entered_s, plain_s, entered_s / plain_s, entered_cpu, plain_cpu, entered_cpu / plain_cpu, READINGS,
           same ? "yes" : "NO");
    unlink(file);
    remove_record(plain);
    remove_record(entered);
    return same && entered_s <= 10 && entered_s <= 3 * plain_s ? 0 : 1;
}
