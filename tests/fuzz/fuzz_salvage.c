/* links: tools/salvage/salvage.c tools/salvage/salvage_days.c tools/salvage/salvage_mend.c tools/salvage/salvage_factors.c tools/salvage/salvage_record.c tools/salvage/salvage_rows.c tools/salvage/pages.c tools/salvage/btree.c tools/salvage/shape.c tools/output/text.c daemon/log.c daemon/record/?*.c */
/* A record and its log with patches written over them: refused with a reason,
 * or a new record that passes its check and that the collector can open.
 *
 * Input: patches of place (0: the log), page, offset / 2, length and so many bytes; a length of
 * 255 cuts the file at the page. The log's checksums are made good after it. libFuzzer. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "salvage.h"
#include "schema.h"
#include "store.h"

enum { PAGE = 512, MOST = 1 << 18, LOG_HEADER = 32, FRAME_HEADER = 24, CUT = 255 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct image {
    uint8_t bytes[MOST];
    size_t size;
};

static struct image whole[2];                               /* log, file */
static char directory[] = "/dev/shm/meterbook-fuzz-XXXXXX"; /* in memory: salvage syncs */

/* A meter with a closed day, a text that goes on over other pages; what is in the log comes after it. */
static const char rows[] =
    "INSERT INTO setting VALUES(1, 0, 'b', 0, 'h', 'Mill', 'UTC', '2026a', 3600, 1000, '0', "
    "printf('%.*c', 1500, '#'));"
    "INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 9000, 0, NULL, NULL, "
    "'', '');"
    "INSERT INTO factor VALUES(1, 2, 1, 1, 1, 1, 1, 0);"
    "INSERT INTO run SELECT NULL, 2, value, 1, 0, 5000000, 5000, 1000, 0, 5000000, 86400, 5024000, NULL, '', "
    "'first reading', NULL, NULL, NULL, NULL FROM json_each('[0,1]');"
    "WITH RECURSIVE t(s) AS (SELECT 0 UNION ALL SELECT s + 3600 FROM t WHERE s < 90000) "
    "INSERT INTO interval(id, import, export, estimated, unobserved, how) SELECT s * 1024 + 2, 1000, 1000, "
    "0, 0, 0 FROM t;"
    "INSERT INTO event(at_ms, boot, boot_ms, kind, count, text) SELECT value, 'b', 0, 'start', 1, '' FROM "
    "json_each('[1,2,3]');";
static const char more_rows[] =
    "INSERT INTO interval(id, import, export, estimated, unobserved, how) VALUES(93600 * 1024 + 2, 1000, "
    "1000, 0, 0, 0);"
    "UPDATE run SET ended = 'reset', last = 5027000, last_raw = 5027, to_ms = 97200000 WHERE counter = 1;"
    "DELETE FROM event";

static void check(bool holds)
{
    if (!holds)
        abort();
}

static void path_of(char path[64], const char *name)
{
    snprintf(path, 64, "%s/%s", directory, name);
}

static void read_image(struct image *image, const char *name)
{
    char path[64];
    path_of(path, name);
    FILE *file = fopen(path, "rb");
    check(file != NULL);
    image->size = fread(image->bytes, 1, MOST, file);
    check(image->size < MOST);
    fclose(file);
}

static void write_image(const struct image *image, const char *name)
{
    char path[64];
    path_of(path, name);
    FILE *file = fopen(path, "wb");
    check(file && fwrite(image->bytes, 1, image->size, file) == image->size);
    check(fclose(file) == 0);
}

static void forget(const char *name)
{
    static const char *const tails[] = { "", "-wal", "-shm" };
    char path[80];
    for (size_t i = 0; i < sizeof tails / sizeof tails[0]; i++) {
        snprintf(path, sizeof path, "%s/%s%s", directory, name, tails[i]);
        unlink(path);
    }
}

static void leave(void)
{
    forget("old.db");
    forget("new.db");
    rmdir(directory);
}

static void make_record(void)
{
    sqlite3 *db;
    char path[64];
    check(mkdtemp(directory) && atexit(leave) == 0);
    path_of(path, "old.db");
    check(sqlite3_open(path, &db) == SQLITE_OK);
    check(sqlite3_exec(db, "PRAGMA page_size = 512; PRAGMA journal_mode = WAL", NULL, NULL, NULL) ==
          SQLITE_OK);
    check(sqlite3_exec(db, schema_sql, NULL, NULL, NULL) == SQLITE_OK);
    check(sqlite3_exec(db, rows, NULL, NULL, NULL) == SQLITE_OK);
    check(sqlite3_exec(db, "PRAGMA wal_checkpoint(TRUNCATE)", NULL, NULL, NULL) == SQLITE_OK);
    check(sqlite3_exec(db, more_rows, NULL, NULL, NULL) == SQLITE_OK);
    read_image(&whole[0], "old.db-wal");
    read_image(&whole[1], "old.db");
    check(whole[0].size > LOG_HEADER + PAGE);
    sqlite3_close(db);
    forget("old.db");
}

static void patch(struct image images[2], const uint8_t *data, size_t size)
{
    while (size >= 4) {
        struct image *image = &images[data[0] & 1];
        size_t length = data[3] == CUT ? 0 : data[3];
        size_t at = (size_t)data[1] * PAGE + (size_t)data[2] * 2;
        bool cut = data[3] == CUT;
        data += 4;
        size -= 4;
        length = length < size ? length : size;
        if (cut && at < image->size)
            image->size = at;
        if (at + length <= image->size)
            memcpy(image->bytes + at, data, length);
        data += length;
        size -= length;
    }
}

static uint32_t word(const uint8_t *bytes)
{
    return (uint32_t)bytes[3] << 24 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[1] << 8 | bytes[0];
}

static void add(uint32_t sums[2], const uint8_t *bytes, size_t size)
{
    for (size_t i = 0; i + 8 <= size; i += 8) {
        sums[0] += word(bytes + i) + sums[1];
        sums[1] += word(bytes + i + 4) + sums[0];
    }
}

static void put(uint8_t *bytes, const uint32_t sums[2])
{
    for (int i = 0; i < 8; i++)
        bytes[i] = (uint8_t)(sums[i / 4] >> (24 - i % 4 * 8));
}

/* https://www.sqlite.org/fileformat2.html, "WAL File Format": sums of little-endian words */
static void mend_sums(struct image *log)
{
    uint32_t sums[2] = { 0, 0 };
    if (log->size < LOG_HEADER)
        return;
    add(sums, log->bytes, LOG_HEADER - 8);
    put(log->bytes + LOG_HEADER - 8, sums);
    for (size_t at = LOG_HEADER; at + FRAME_HEADER + PAGE <= log->size; at += FRAME_HEADER + PAGE) {
        add(sums, log->bytes + at, 8);
        add(sums, log->bytes + at + FRAME_HEADER, PAGE);
        put(log->bytes + at + 16, sums);
    }
}

static void check_new(const char *path)
{
    struct store *store;
    char why[256];
    check(store_open(&store, path, why) == STORE_OK);
    store_close(store);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct image images[2];
    static struct salvage salvage;
    char from[64], to[64];
    if (whole[1].size == 0)
        make_record();
    memcpy(images, whole, sizeof images);
    patch(images, data, size);
    mend_sums(&images[0]);
    write_image(&images[0], "old.db-wal");
    write_image(&images[1], "old.db");
    path_of(from, "old.db");
    path_of(to, "new.db");
    memset(&salvage, 0, sizeof salvage);
    bool good = salvage_record(&salvage, from, to, NULL, 100000);
    check(good ? salvage.why[0] == '\0' : salvage.why[0] != '\0' && access(to, F_OK) != 0);
    check(size > 0 || salvage.counts[0].damaged == 0);
    if (good)
        check_new(to);
    salvage_finish(&salvage);
    forget("new.db");
    return 0;
}
