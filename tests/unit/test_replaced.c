/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c COLLECTOR */
/* A record that is removed or replaced while the collector has it
 * open: real files in a directory of their own, virtual time. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "audit.h"
#include "log.h"

enum { METERS = 3, INTERVAL_S = 60 };

static struct site site;
static char directory[] = "/tmp/meterbook-replaced-XXXXXX";

static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        for (int i = 0; i < METERS && s % 37 == 0; i++)
            site.meters[i].power_mw = (int64_t)(site_random(&site) % 12000000) - 6000000 * (i == 0);
        site_second(&site);
    }
}

/* Ends right behind a commit. */
static void begin(void)
{
    static const enum meter_role roles[METERS] = { ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_BRANCH };
    log_set_level(LOG_ERROR - 1);
    site_init(&site, 5, METERS, roles, INTERVAL_S, 1000);
    site.config.meters[1].delivers_by_export = true;
    assert_true(site_start(&site));
    live(1200);
    while (site.collect->outbox.row_count + site.collect->outbox.event_count > 0)
        live(1);
}

static void execute(const char *path, const char *sql)
{
    sqlite3 *db;
    assert_int_equal(sqlite3_open(path, &db), SQLITE_OK);
    if (sqlite3_exec(db, sql, NULL, NULL, NULL) != SQLITE_OK)
        fail_msg("%s: %s", sql, sqlite3_errmsg(db));
    sqlite3_close(db);
}

static int64_t rows(void)
{
    return audit_ask("SELECT count(*) FROM interval WHERE meter < 1000");
}

static int64_t events(void)
{
    return audit_ask("SELECT count(*) FROM event WHERE kind = 'record'");
}

/* The account is the meters', from where this record begins. */
static void check(void)
{
    assert_false(site.collect->failing);
    audit_conservation(&site);
    audit_days();
    audit_tiling(INTERVAL_S);
    audit_runs();
    for (int i = 0; i < METERS; i++)
        for (int c = 0; c < 2; c++) {
            int64_t shown = site.meters[i].first[c] + site.meters[i].truth[c];
            int64_t account = audit_ask("SELECT base + coalesce((SELECT sum(%s) FROM interval WHERE meter = "
                                        "%d AND ts >= base_s), 0) FROM run WHERE meter = %d AND counter = %d",
                                        c ? "export" : "import", i + 1, i + 1, c);
            const struct series *series = &site.collect->meters[i].series[0];
            for (int32_t r = 0; r < site.collect->outbox.row_count; r++)
                if (site.collect->outbox.rows[r].meter == i)
                    account += site.collect->outbox.rows[r].row.energy[c];
            account += series->book.to[c] - series->book.fixed[c];
            if (llabs(account - shown) > 3000)
                fail_msg("meter %d counter %d: %lld, shown %lld", i, c, (long long)account, (long long)shown);
        }
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'rejected'"), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'"),
                     0);
}

static int leave(void **state)
{
    static const char *const files[] = { "record.db", "old.db", "copy.db" };
    static const char *const tails[] = { "", "-wal", "-shm" };
    char path[32];
    (void)state;
    if (site.inbox)
        site_finish(&site);
    site.inbox = NULL;
    for (size_t i = 0; i < 9; i++) {
        snprintf(path, sizeof path, "%s%s", files[i / 3], tails[i % 3]);
        unlink(path);
    }
    return 0;
}

/* All three files, or the first alone, whose log and index then stand beside the new one. */
static void remove_record(bool all)
{
    begin();
    int64_t before = rows();
    assert_int_equal(link("record.db", "old.db"), 0);
    unlink("record.db");
    if (all) {
        unlink("record.db-wal");
        unlink("record.db-shm");
    }
    live(1200);
    assert_int_equal(events(), 1);
    assert_true(rows() > METERS * 17 && rows() < before + METERS * 2);
    check();
    site_stop(&site, true);
    /* what was in its log is in the file that was removed */
    assert_int_equal(rename("record.db", "copy.db"), 0);
    unlink("record.db-wal");
    unlink("record.db-shm");
    assert_int_equal(rename("old.db", "record.db"), 0);
    assert_int_equal(rows(), before);
    assert_int_equal(audit_ask("SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'"),
                     0);
}

static void test_removed(void **state)
{
    (void)state;
    remove_record(true);
}

/* Nothing holds the old file: the new one may get its number. */
static void test_removed_for_good(void **state)
{
    (void)state;
    begin();
    unlink("record.db");
    unlink("record.db-wal");
    unlink("record.db-shm");
    live(600);
    assert_int_equal(events(), 1);
    assert_int_equal(audit_ask("SELECT count(*) FROM setting"), 1);
    check();
}

static void test_removed_alone(void **state)
{
    (void)state;
    remove_record(false);
}

/* A copy of half an hour ago: what it lacks is filled from the registers. */
static void test_old_copy_put_back(void **state)
{
    (void)state;
    begin();
    execute("record.db", "VACUUM INTO 'copy.db'");
    live(1800);
    assert_int_equal(rename("record.db", "old.db"), 0);
    assert_int_equal(rename("copy.db", "record.db"), 0);
    live(300);
    assert_int_equal(events(), 1);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE unobserved = 60 AND meter < 1000") >=
                METERS * 28);
    check();
}

/* Writing fails, what comes waits; a copy on another disk that is up to date gets all of it as it was
 * measured. */
static void test_failing_then_salvaged(void **state)
{
    struct rlimit limit, none = { .rlim_cur = 0, .rlim_max = RLIM_INFINITY };
    (void)state;
    begin();
    execute("record.db", "VACUUM INTO 'copy.db'");
    assert_int_equal(getrlimit(RLIMIT_FSIZE, &limit), 0);
    signal(SIGXFSZ, SIG_IGN);
    none.rlim_max = limit.rlim_max;
    setrlimit(RLIMIT_FSIZE, &none);
    live(3 * 3600);
    setrlimit(RLIMIT_FSIZE, &limit);
    assert_true(site.collect->failing);
    unlink("record.db-wal");
    unlink("record.db-shm");
    assert_int_equal(rename("copy.db", "record.db"), 0);
    live(300);
    assert_int_equal(events(), 1);
    /* but for the interval in which it was taken up */
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE unobserved > 0 AND meter < 1000 AND ts > "
                               "(SELECT min(ts) FROM interval)"),
                     METERS);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE unobserved = 60 AND meter < 1000"), 0);
    check();
}

/* A file of somebody else's is not touched; when ours is back it goes on. */
static void test_foreign_file_for_a_while(void **state)
{
    (void)state;
    begin();
    assert_int_equal(rename("record.db", "old.db"), 0);
    execute("copy.db", "CREATE TABLE t(x)");
    assert_int_equal(rename("copy.db", "record.db"), 0);
    live(1800);
    assert_true(site.collect->failing);
    assert_int_equal(audit_ask("SELECT count(*) FROM sqlite_schema"), 1);
    assert_int_equal(rename("old.db", "record.db"), 0);
    live(300);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE unobserved > 0 AND meter < 1000 AND ts > "
                               "(SELECT min(ts) FROM interval)"),
                     0);
    check();
}

static int set_up(void **state)
{
    (void)state;
    return !mkdtemp(directory) || chdir(directory) != 0;
}

static int tear_down(void **state)
{
    (void)state;
    return chdir("/") != 0 || rmdir(directory) != 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_removed, leave),
        cmocka_unit_test_teardown(test_removed_for_good, leave),
        cmocka_unit_test_teardown(test_removed_alone, leave),
        cmocka_unit_test_teardown(test_old_copy_put_back, leave),
        cmocka_unit_test_teardown(test_failing_then_salvaged, leave),
        cmocka_unit_test_teardown(test_foreign_file_for_a_while, leave),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
