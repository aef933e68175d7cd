/* links: tests/fake/tracer.c tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c COLLECTOR */
/* The collector as a process on real files, in virtual time, killed in front of
 * each system call that touches the disk: over a start on nothing, commits, the
 * close of a day, a clean stop. After each: the record is whole, nothing that
 * was committed is lost, and another process goes on to exact energy.
 * METERBOOK_STRIDE=1 tries every call; else one in STRIDE, beginning by chance. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "audit.h"
#include "log.h"
#include "tracer.h"

enum { METERS = 3, INTERVAL_S = 60, STRIDE = 9, BEFORE_MIDNIGHT_S = 200, LIFE_S = 460 };

static struct site site;
static char directory[] = "/tmp/meterbook-calls-XXXXXX";

/* What outlives the child: its meters and clocks, and what it knew to be in the record. */
struct left {
    struct site_meter meters[SITE_METERS];
    int64_t real_ms, boot_ms, committed_end_s;
    uint64_t random;
};
static struct left *left;

static void set_out(void)
{
    static const enum meter_role roles[METERS] = { ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_BRANCH };
    log_set_level(LOG_ERROR - 1);
    site_init(&site, 11, METERS, roles, INTERVAL_S, 1000);
    site.config.meters[1].delivers_by_export = true;
    /* Paris in September: two hours ahead */
    site.real_ms += 86400000 - (site.real_ms + 7200000) % 86400000 - BEFORE_MIDNIGHT_S * 1000;
}

/* Power flows and meters answer; what they know is told before the collector turns. */
static void live(int64_t seconds, bool tell)
{
    for (int64_t s = 0; s < seconds; s++) {
        for (int i = 0; i < METERS && s % 37 == 0; i++)
            site.meters[i].power_mw = (int64_t)(site_random(&site) % 12000000) - 6000000 * (i == 0);
        site.stalled = true;
        site_second(&site);
        if (tell) {
            memcpy(left->meters, site.meters, sizeof left->meters);
            left->real_ms = site.real_ms;
            left->boot_ms = site.boot_ms;
            left->random = site.random;
        }
        collect_turn(site.collect);
        if (tell)
            left->committed_end_s = site.collect->committed_end_s;
    }
}

static int be_killed(void *self)
{
    (void)self;
    set_out();
    if (!site_start(&site))
        return 1;
    live(LIFE_S, true);
    site_stop(&site, true);
    return 0;
}

static void forget(void)
{
    static const char *const files[] = { "record.db", "record.db-wal", "record.db-shm" };
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        unlink(files[i]);
}

static void check_total(int meter, int counter)
{
    const struct site_meter *m = &site.meters[meter];
    int64_t total = audit_total(&site, meter, counter), truth = m->first[counter] + m->truth[counter];
    if (llabs(total - truth) > m->step + 2000)
        fail_msg("meter %d counter %d: account %lld, truth %lld", meter, counter, (long long)total,
                 (long long)truth);
}

/* Killed: the record as it is, then another process. */
static void check_after(void)
{
    struct stat about;
    set_out();
    if (left->real_ms > 0) {
        memcpy(site.meters, left->meters, sizeof site.meters);
        for (int i = 0; i < METERS; i++)
            site.meters[i].plan = NULL;
        site.real_ms = left->real_ms;
        site.boot_ms = left->boot_ms;
        site.random = left->random;
    }
    if (stat("record.db", &about) == 0 && about.st_size > 0)
        assert_int_equal(
            audit_ask("SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'"), 0);
    if (left->committed_end_s > 0)
        assert_int_equal(audit_ask("SELECT count(*) FROM (SELECT max(ts) AS ts FROM interval WHERE meter < "
                                   "1000 GROUP BY meter) WHERE ts + %d >= %lld",
                                   INTERVAL_S, (long long)left->committed_end_s),
                         METERS);
    assert_true(site_start(&site));
    live(200, false);
    audit_conservation(&site);
    audit_days();
    audit_tiling(INTERVAL_S);
    audit_runs();
    for (int i = 0; i < METERS; i++)
        for (int c = 0; c < 2; c++)
            check_total(i, c);
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'rejected'"), 0);
    site_finish(&site);
}

static void test_killed_at_every_call(void **state)
{
    const char *wanted = getenv("METERBOOK_STRIDE");
    int64_t stride = wanted ? strtoll(wanted, NULL, 10) : STRIDE;
    int64_t n = stride > 1 ? 1 + time(NULL) % stride : 1, kills = 0;
    struct tracer tracer = { 0 };
    (void)state;
    print_message("every call of %lld, from %lld\n", (long long)stride, (long long)n);
    for (;; n += stride) {
        forget();
        memset(left, 0, sizeof *left);
        tracer.kill_at = n;
        if (!tracer_fork(&tracer, be_killed, NULL)) {
            print_message("ptrace: %s\n", strerror(errno));
            skip();
        }
        tracer_follow(&tracer);
        if (!tracer.killed)
            break;
        kills++;
        check_after();
    }
    assert_int_equal(tracer.status, 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM day WHERE meter < 1000"), METERS);
    print_message("%lld calls, %lld kills\n", (long long)tracer.calls, (long long)kills);
    assert_true(tracer.calls > 100 && kills >= tracer.calls / stride);
    check_after();
}

static int begin(void **state)
{
    (void)state;
    left = mmap(NULL, sizeof *left, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    return left == MAP_FAILED || !mkdtemp(directory) || chdir(directory) != 0;
}

static int end(void **state)
{
    (void)state;
    forget();
    munmap(left, sizeof *left);
    return chdir("/") != 0 || rmdir(directory) != 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_killed_at_every_call) };
    return cmocka_run_group_tests(tests, begin, end);
}
