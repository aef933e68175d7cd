/* links: tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* What the record costs on a real file: bytes, syncs and commits a day, and
 * bytes per row, with the real collector and SQLite on eight simulated meters
 * in virtual time.
 *
 *     bench_day FILE INTERVAL_S COMMIT_S DAYS [writeback]
 *
 * Days are counted from midnight to midnight, after a first one that also
 * makes the tables. `writeback` hands the file system's dirty pages on once a
 * simulated minute, as a kernel would: needed where the device is watched. */
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "log.h"
#include "site.h"

enum { DAY_S = 86400 };

/* Between SQLite and the file system: counts. A file's methods are of one of a
 * few kinds (with locks, without). */
struct kind {
    sqlite3_io_methods ours; /* first: a file points to it */
    const sqlite3_io_methods *below;
};

static struct {
    sqlite3_vfs vfs, *below;
    struct kind kinds[4];
    int64_t bytes, writes, syncs;
} count;

static const sqlite3_io_methods *below(const sqlite3_file *file)
{
    return ((const struct kind *)(const void *)file->pMethods)->below;
}

static int count_write(sqlite3_file *file, const void *data, int size, sqlite3_int64 at)
{
    count.bytes += size;
    count.writes++;
    return below(file)->xWrite(file, data, size, at);
}

static int count_sync(sqlite3_file *file, int flags)
{
    count.syncs++;
    return below(file)->xSync(file, flags);
}

static int count_open(sqlite3_vfs *vfs, const char *name, sqlite3_file *file, int flags, int *out)
{
    struct kind *kind = count.kinds;
    (void)vfs;
    int code = count.below->xOpen(count.below, name, file, flags, out);
    if (code != SQLITE_OK || !file->pMethods)
        return code;
    while (kind->below && kind->below != file->pMethods)
        if (++kind == count.kinds + sizeof count.kinds / sizeof count.kinds[0])
            abort();
    if (!kind->below) {
        kind->below = file->pMethods;
        kind->ours = *file->pMethods;
        kind->ours.xWrite = count_write;
        kind->ours.xSync = count_sync;
    }
    file->pMethods = &kind->ours;
    return code;
}

static void count_install(void)
{
    count.below = sqlite3_vfs_find(NULL);
    count.vfs = *count.below;
    count.vfs.zName = "counting";
    count.vfs.xOpen = count_open;
    sqlite3_vfs_register(&count.vfs, 1);
}

/* Sun from 6 to 18 h with clouds, loads that come and go, voltage with the power. */
static void live(struct site *site, int64_t second)
{
    int64_t of_day = second % DAY_S, light = 0;
    if (of_day > 6 * 3600 && of_day < 18 * 3600) {
        int64_t x = of_day - 12 * 3600;
        light = 1000 - x * x / (6 * 3600 * 6 * 3600 / 1000);
    }
    for (int i = 0; i < site->config.meter_count; i++) {
        struct site_meter *meter = &site->meters[i];
        bool sun = site->config.meters[i].role == ROLE_PRODUCTION || site->config.meters[i].role == ROLE_PART;
        if (second % 23 == i && sun)
            meter->power_mw = -light * (2000 + (int64_t)(site_random(site) % 3000));
        else if (second % 41 == i && !sun)
            meter->power_mw = 80000 + (int64_t)(site_random(site) % 400000) +
                              (site_random(site) % 20 == 0 ? 2000000 : 0) - (i == 0 ? light * 2500 : 0);
        if (second % 7 == 0)
            meter->voltage_mv = 229000 + (int64_t)(site_random(site) % 3000) - meter->power_mw / 4000;
    }
}

static int64_t wchar_of_process(void)
{
    char name[32];
    long long value, found = 0;
    FILE *file = fopen("/proc/self/io", "r");
    while (file && fscanf(file, "%31s %lld", name, &value) == 2)
        if (strcmp(name, "wchar:") == 0)
            found = value;
    if (file)
        fclose(file);
    return found;
}

/* Of the record, what still stands in the write-ahead log included. */
static int64_t size_of(const char *path)
{
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;
    int64_t size = 0;
    if (sqlite3_open(path, &db) == SQLITE_OK &&
        sqlite3_prepare_v2(db, "SELECT page_count * page_size FROM pragma_page_count, pragma_page_size", -1,
                           &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        size = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return size;
}

/* Seconds of virtual time; counts those in which something was written. */
static int64_t run(struct site *site, int64_t seconds, int writeback_fd)
{
    int64_t commits = 0;
    for (int64_t s = 0; s < seconds; s++) {
        int64_t before = count.writes;
        live(site, site->real_ms / 1000);
        site_second(site);
        commits += count.writes > before;
        if (writeback_fd >= 0 && s % 60 == 0)
            syncfs(writeback_fd);
    }
    return commits;
}

int main(int argc, char **argv)
{
    static const enum meter_role roles[SITE_METERS] = {
        ROLE_GRID, ROLE_PRODUCTION, ROLE_PART, ROLE_PART, ROLE_BRANCH, ROLE_BRANCH, ROLE_BRANCH, ROLE_BRANCH
    };
    static struct site site;
    int64_t days = argc > 4 ? strtol(argv[4], NULL, 10) : 0;
    if (days < 1)
        return 2;
    log_set_level(LOG_WARN);
    site_init(&site, 1, SITE_METERS, roles, strtol(argv[2], NULL, 10), 1000);
    site.config.site.commit_s = (int32_t)strtol(argv[3], NULL, 10);
    snprintf(site.config.site.time_zone, sizeof site.config.site.time_zone, "Etc/UTC");
    snprintf(site.config.database, sizeof site.config.database, "%s", argv[1]);
    for (int i = 0; i < SITE_METERS; i++) {
        site.config.meters[i].delivers_by_export = true;
        site.meters[i].error_ppm = 3000;
    }
    site.real_ms -= site.real_ms % (DAY_S * INT64_C(1000)); /* midnight */
    count_install();
    if (!site_start(&site))
        return 1;
    int fd = argc > 5 ? open(argv[1], O_RDONLY) : -1;
    run(&site, DAY_S + 600, fd);
    int64_t size = size_of(argv[1]);
    int64_t bytes = count.bytes, syncs = count.syncs, io = wchar_of_process();
    int64_t commits = run(&site, days * DAY_S, fd);
    int64_t rows = days * (DAY_S / site.config.site.interval_s) * SITE_METERS;
    bytes = count.bytes - bytes;
    syncs = count.syncs - syncs;
    io = wchar_of_process() - io;
    printf(
        "bytes_per_day=%lld wchar_per_day=%lld commits_per_day=%lld syncs_per_day=%lld bytes_per_row=%.1f\n",
        (long long)(bytes / days), (long long)(io / days), (long long)(commits / days),
        (long long)(syncs / days), (double)(size_of(argv[1]) - size) / (double)rows);
    site_stop(&site, true);
    site_finish(&site);
    return 0;
}
