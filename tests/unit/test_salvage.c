/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c tools/salvage/salvage.c tools/salvage/salvage_days.c tools/salvage/salvage_mend.c tools/salvage/salvage_factors.c tools/salvage/salvage_record.c tools/salvage/salvage_rows.c tools/salvage/pages.c tools/salvage/btree.c tools/salvage/shape.c tools/output/text.c COLLECTOR */
/* Records that the real collector wrote, damaged and salvaged: every row of a
 * whole page is there, and the collector goes on from it with exact energy.
 * On real files in a directory of their own. METERBOOK_SEED begins elsewhere. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <fcntl.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "audit.h"
#include "log.h"
#include "salvage.h"
#include "schema.h"

enum { PAGE = 4096, METERS = 4, SEEDS = 20 };

static struct site site, kept;
static char directory[] = "/tmp/meterbook-salvage-XXXXXX";
static uint64_t random_state;

static uint32_t pick(uint32_t below)
{
    random_state = random_state * 6364136223846793005U + 1442695040888963407U;
    return (uint32_t)(random_state >> 33) % below;
}

static void copy(const char *from, const char *to)
{
    static char buffer[1 << 16];
    FILE *in = fopen(from, "rb"), *out = fopen(to, "wb");
    size_t size;
    assert_true(in && out);
    while ((size = fread(buffer, 1, sizeof buffer, in)) > 0)
        assert_int_equal(fwrite(buffer, 1, size, out), size);
    fclose(in);
    assert_int_equal(fclose(out), 0);
}

static void forget(const char *path)
{
    char name[64];
    unlink(path);
    snprintf(name, sizeof name, "%s-wal", path);
    unlink(name);
    snprintf(name, sizeof name, "%s-shm", path);
    unlink(name);
}

static int64_t ask_of(const char *path, const char *sql)
{
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open_v2(path, &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    sqlite3_close(db);
    return value;
}

static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        if (s % 300 == 0)
            for (int i = 0; i < METERS; i++)
                site.meters[i].power_mw = (int64_t)pick(6000000) * (i == 1 ? -1 : 1) - (i == 0 ? 2000000 : 0);
        site_second(&site);
    }
}

/* Two days and a bit; `whole.db` as it was closed, `live.db` with its log as it lay on the disk before. */
static int make(void **state)
{
    static const enum meter_role roles[METERS] = { ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_BRANCH,
                                                   ROLE_BRANCH };
    const char *seed = getenv("METERBOOK_SEED");
    (void)state;
    if (!mkdtemp(directory) || chdir(directory) != 0)
        return -1;
    random_state = seed ? strtoull(seed, NULL, 10) : 1;
    print_message("METERBOOK_SEED=%llu in %s\n", (unsigned long long)random_state, directory);
    log_set_level(LOG_ERROR - 1);
    site_init(&site, 7, METERS, roles, 60, 1000);
    site.config.site.commit_s = 300;
    site.config.meters[1].delivers_by_export = true;
    if (!site_start(&site))
        return -1;
    live(2 * 86400 + 70000);
    copy("record.db", "live.db");
    copy("record.db-wal", "live.db-wal");
    site_stop(&site, true);
    copy("record.db", "whole.db");
    kept = site;
    return 0;
}

static int clear(void **state)
{
    static const char *const files[] = { "record.db", "live.db", "whole.db", "old.db",
                                         "new.db",    "same.db", "lost.db",  "record.db.lock" };
    (void)state;
    site_stop(&site, false);
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        forget(files[i]);
    return chdir("/") != 0 || rmdir(directory) != 0;
}

/* Salvages old.db to new.db; false, where nothing was found. */
static bool salvage(struct salvage **out)
{
    struct salvage *salvage = calloc(1, sizeof *salvage);
    assert_non_null(salvage);
    forget("new.db");
    bool good = salvage_record(salvage, "old.db", "new.db", &site.config, site.real_ms / 1000);
    if (good)
        assert_int_equal(ask_of("new.db", "SELECT quick_check = 'ok' FROM pragma_quick_check"), 1);
    else
        assert_true(salvage->why[0] != '\0' && access("new.db", F_OK) != 0);
    *out = salvage;
    return good;
}

static void finish(struct salvage *salvage)
{
    salvage_finish(salvage);
    free(salvage);
}

static void assert_same(const char *table, const char *with, const char *but)
{
    char sql[400], attach[64];
    snprintf(attach, sizeof attach, "ATTACH '%s' AS old", with);
    snprintf(sql, sizeof sql,
             "SELECT (SELECT count(*) FROM (SELECT * FROM old.%s EXCEPT SELECT * FROM main.%s)) + (SELECT "
             "count(*) FROM (SELECT * FROM main.%s EXCEPT SELECT * FROM old.%s)) %s",
             table, table, table, table, but);
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open("new.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, attach, NULL, NULL, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
    if (sqlite3_column_int(statement, 0) != 0)
        fail_msg("%d rows of %s differ", sqlite3_column_int(statement, 0), table);
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

static void test_whole_record_stays_as_it_is(void **state)
{
    static const char *const tables[] = { "setting", "map",      "meter_setting", "factor",
                                          "run",     "interval", "energy",        "momentary",
                                          "day",     "curve",    "clock",         "held" };
    struct salvage *salvaged;
    (void)state;
    for (int live_file = 0; live_file < 2; live_file++) {
        forget("old.db");
        copy(live_file ? "live.db" : "whole.db", "old.db");
        if (live_file)
            copy("live.db-wal", "old.db-wal");
        copy("old.db", "same.db"); /* as SQLite reads it, with its log */
        copy(live_file ? "live.db-wal" : "/dev/null", "same.db-wal");
        assert_true(salvage(&salvaged));
        assert_false(salvaged->lossy);
        assert_int_equal(salvaged->span_count, 0);
        for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++)
            assert_same(tables[i], "same.db", "");
        assert_same("event", "same.db", "- 1"); /* it says that it was salvaged */
        finish(salvaged);
    }
}

/* ---- damage ---- */

static void damage_page(const char *path, uint32_t number, bool noise)
{
    unsigned char page[PAGE] = { 0 };
    for (int i = 0; noise && i < PAGE; i++)
        page[i] = (unsigned char)pick(256);
    int file = open(path, O_WRONLY);
    assert_int_equal(pwrite(file, page, PAGE, (int64_t)(number - 1) * PAGE), PAGE);
    close(file);
}

/* Rows of a table on damaged pages, as a list of keys in `lost`. */
static void note_rows(const char *path, const char *table, const bool *damaged)
{
    struct shape shapes[SHAPE_TABLES];
    struct pages pages;
    static unsigned char bytes[PAGE_MOST];
    int32_t count, which = 0;
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open("lost.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, schema_sql, NULL, NULL, NULL), SQLITE_OK);
    assert_true(shapes_read(db, shapes, &count));
    while (strcmp(shapes[which].name, table) != 0)
        which++;
    assert_int_equal(sqlite3_exec(db, "CREATE TABLE lost(id INTEGER PRIMARY KEY); BEGIN", NULL, NULL, NULL),
                     SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, "INSERT INTO lost VALUES(?)", -1, &statement, NULL), SQLITE_OK);
    assert_null(pages_open(&pages, path));
    for (uint32_t n = 1; n <= pages.count; n++) {
        struct btree_page page;
        struct record_value values[RECORD_COLUMNS];
        assert_true(pages_read(&pages, n, bytes));
        btree_read(&page, bytes, pages.usable, n, pages.count);
        for (int32_t i = 0; damaged[n] && page.kind == BTREE_LEAF && i < page.cells; i++) {
            struct btree_cell cell = btree_cell(&page, i);
            int32_t columns = record_read(cell.bytes, cell.size, cell.local, values);
            if (!shape_fits(&shapes[which], values, columns))
                break;
            sqlite3_bind_int64(statement, 1, cell.key);
            assert_int_equal(sqlite3_step(statement), SQLITE_DONE);
            sqlite3_reset(statement);
        }
    }
    pages_close(&pages);
    sqlite3_finalize(statement);
    assert_int_equal(sqlite3_exec(db, "COMMIT", NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(db);
}

/* Rows of whole pages that new.db lacks or has otherwise. Those of the open day
 * that the collector is to fill are counted apart. */
static void check_rows(const struct salvage *salvaged, const char *table, int64_t *taken_back)
{
    char sql[400];
    sqlite3 *db;
    sqlite3_stmt *statement;
    assert_int_equal(sqlite3_open("new.db", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, "ATTACH 'whole.db' AS old; ATTACH 'lost.db' AS lost", NULL, NULL, NULL),
                     SQLITE_OK);
    snprintf(sql, sizeof sql,
             "SELECT id %% 1024, id / 1024 FROM (SELECT * FROM old.%s WHERE id NOT IN (SELECT id FROM "
             "lost.lost) EXCEPT SELECT * FROM main.%s)",
             table, table);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
    while (sqlite3_step(statement) == SQLITE_ROW) {
        bool open = false;
        for (int64_t i = 0; i < salvaged->span_count; i++)
            open |= salvaged->spans[i].fate == FATE_OPEN &&
                    salvaged->spans[i].meter == sqlite3_column_int(statement, 0) &&
                    salvaged->spans[i].from_s <= sqlite3_column_int64(statement, 1);
        if (!open)
            fail_msg("a row of %s, meter %d at %lld, lay on a whole page and is missing", table,
                     sqlite3_column_int(statement, 0), (long long)sqlite3_column_int64(statement, 1));
        (*taken_back)++;
    }
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

static bool has_all_runs(void)
{
    return ask_of("new.db", "SELECT count(*) FROM run WHERE ended IS NULL AND meter < 1023") == 2 * METERS;
}

/* The collector goes on from new.db: its accounts are those of the meters. */
static void go_on(void)
{
    site = kept;
    site.collect = NULL;
    forget("record.db");
    copy("new.db", "record.db");
    assert_true(site_start(&site));
    live(1000);
    audit_conservation(&site);
    audit_days();
    audit_runs();
    for (int i = 0; i < METERS; i++)
        for (int c = 0; c < 2; c++) {
            int64_t truth = site.meters[i].first[c] + site.meters[i].truth[c];
            int64_t off = audit_total(&site, i, c) - truth;
            if (off > 2000 || off < -2000)
                fail_msg("meter %d counter %d: %lld mWh off the truth", i, c, (long long)off);
            assert_int_equal(
                audit_ask("SELECT count(*) FROM run WHERE meter = %d AND counter = %d", i + 1, c), 1);
        }
    site_stop(&site, true);
}

static void test_damaged_pages(void **state)
{
    static bool damaged[100000];
    int exact = 0;
    (void)state;
    for (int round = 0; round < SEEDS; round++) {
        uint64_t seed = random_state;
        int64_t taken_back = 0;
        struct salvage *salvaged;
        struct stat about;
        memset(damaged, 0, sizeof damaged);
        forget("old.db");
        forget("lost.db");
        copy("whole.db", "old.db");
        assert_int_equal(stat("old.db", &about), 0);
        uint32_t pages = (uint32_t)(about.st_size / PAGE), kept_pages = pages, hits = 1 + pick(4);
        for (uint32_t i = 0; i < hits; i++) {
            uint32_t number = 1 + pick(round % 4 == 3 ? 9 : pages);
            damaged[number] = true;
            damage_page("old.db", number, pick(3) > 0);
        }
        if (round % 5 == 4) {
            kept_pages = pages - 1 - pick(pages / 3);
            for (uint32_t n = kept_pages + 1; n <= pages; n++)
                damaged[n] = true;
            assert_int_equal(truncate("old.db", (int64_t)kept_pages * PAGE - (int64_t)pick(2) * 1000), 0);
            damaged[kept_pages] = true;
        }
        if (!salvage(&salvaged))
            fail_msg("seed %llu: nothing salvaged: %s", (unsigned long long)seed, salvaged->why);
        audit_curves("new.db");
        note_rows("whole.db", "interval", damaged);
        check_rows(salvaged, "interval", &taken_back);
        bool runs = has_all_runs();
        print_message("seed %llu: %u of %u pages damaged, cut to %u: %lld spans, %lld rows taken back%s\n",
                      (unsigned long long)seed, hits, pages, kept_pages, (long long)salvaged->span_count,
                      (long long)taken_back, runs ? ", goes on" : ", register runs lost");
        finish(salvaged);
        if (runs) {
            go_on();
            exact++;
        }
    }
    assert_true(exact >= SEEDS / 2);
}

static void test_header_destroyed(void **state)
{
    struct salvage *salvaged;
    (void)state;
    forget("old.db");
    copy("whole.db", "old.db");
    damage_page("old.db", 1, true);
    assert_true(salvage(&salvaged));
    assert_false(salvaged->pages.headed);
    finish(salvaged);
    assert_same("interval", "whole.db", "");
    assert_same("run", "whole.db", "");
    assert_same("day", "whole.db", "");
    go_on();
}

/* A log that breaks off: the record as it was at its last whole commit. */
static void test_damaged_log(void **state)
{
    struct salvage *salvaged;
    struct stat about;
    (void)state;
    forget("old.db");
    copy("live.db", "old.db");
    copy("live.db-wal", "old.db-wal");
    assert_int_equal(stat("old.db-wal", &about), 0);
    assert_true(about.st_size > 3 * PAGE);
    damage_page("old.db-wal", (uint32_t)(about.st_size / PAGE / 2), true);
    assert_true(salvage(&salvaged));
    finish(salvaged);
    go_on();
}

static void test_noise_and_nothing(void **state)
{
    struct salvage *salvaged;
    (void)state;
    for (int round = 0; round < 40; round++) {
        forget("old.db");
        copy("whole.db", "old.db");
        int file = open("old.db", O_WRONLY);
        /* single bytes everywhere: whatever is believed must not crash */
        for (int i = 0; i < 3000; i++) {
            unsigned char byte = (unsigned char)pick(256);
            assert_int_equal(pwrite(file, &byte, 1, pick(1 << 20)), 1);
        }
        close(file);
        salvage(&salvaged);
        finish(salvaged);
    }
    forget("old.db");
    FILE *empty = fopen("old.db", "w");
    fclose(empty);
    assert_false(salvage(&salvaged));
    finish(salvaged);
}

/* Tables must be told apart by their rows alone. */
/* What corrections made of rows is left out, and comes again. */
static void test_corrections_come_anew(void **state)
{
    struct salvage *salvaged;
    (void)state;
    site = kept;
    site.collect = NULL;
    forget("record.db");
    forget("old.db");
    copy("whole.db", "record.db");
    snprintf(site.config.meters[0].name, sizeof site.config.meters[0].name, "house");
    site.logbook = "2026-09-23 correct house what=ratio from=2026-09-21T20:00 to=2026-09-23T05:00 old=100/5 "
                   "new=150/7\n";
    assert_true(site_start(&site));
    for (int i = 0; i < 20; i++)
        collect_turn(site.collect);
    site_stop(&site, true);
    copy("record.db", "old.db");
    assert_int_equal(ask_of("old.db", "SELECT count(*) FROM corrected WHERE meter = 1"), 33 * 60);
    assert_true(salvage(&salvaged));
    assert_true(salvaged->note_count > 0);
    finish(salvaged);
    assert_int_equal(ask_of("new.db",
                            "SELECT (SELECT count(*) FROM correction) + (SELECT count(*) FROM corrected) "
                            "+ (SELECT count(*) FROM corrected_day) + (SELECT count(*) FROM "
                            "correction_sum) + (SELECT count(*) FROM correction_due)"),
                     0);
    assert_same("interval", "old.db", "");
    assert_same("day", "old.db", "");
    forget("record.db");
    copy("new.db", "record.db");
    assert_true(site_start(&site));
    for (int i = 0; i < 20; i++)
        collect_turn(site.collect);
    site_stop(&site, true);
    copy("record.db", "new.db");
    assert_same("corrected", "old.db", "");
    assert_same("corrected_day", "old.db", "");
}

static void test_shapes_differ(void **state)
{
    static struct shape shapes[SHAPE_TABLES];
    int32_t count, alike = 0;
    sqlite3 *db;
    (void)state;
    assert_int_equal(sqlite3_open(":memory:", &db), SQLITE_OK);
    assert_int_equal(sqlite3_exec(db, schema_sql, NULL, NULL, NULL), SQLITE_OK);
    assert_true(shapes_read(db, shapes, &count));
    assert_true(count > 12);
    sqlite3_close(db);
    for (int32_t a = 0; a < count; a++)
        for (int32_t b = a + 1; b < count; b++) {
            bool same =
                shapes[a].keyed == shapes[b].keyed && shapes[a].column_count == shapes[b].column_count;
            for (int32_t i = 0; same && i < shapes[a].column_count; i++)
                same = shapes[a].columns[i].type == shapes[b].columns[i].type;
            if (!same)
                continue;
            print_message("alike: %s, %s\n", shapes[a].name, shapes[b].name);
            alike++;
        }
    assert_int_equal(alike, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shapes_differ),         cmocka_unit_test(test_whole_record_stays_as_it_is),
        cmocka_unit_test(test_damaged_pages),         cmocka_unit_test(test_header_destroyed),
        cmocka_unit_test(test_damaged_log),           cmocka_unit_test(test_noise_and_nothing),
        cmocka_unit_test(test_corrections_come_anew),
    };
    return cmocka_run_group_tests(tests, make, clear);
}
