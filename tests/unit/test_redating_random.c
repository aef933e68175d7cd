/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c COLLECTOR */
/* Clocks that do anything, by chance: whatever they show, sums stay, days are the sums
 * of their rows, and nothing lies ahead of a network clock. METERBOOK_SEED=N
 * replays one run, METERBOOK_RUNS=N makes more of them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "audit.h"
#include "civil.h"
#include "disk.h"
#include "log.h"
#include "logbook.h"
#include "site.h"

enum { LENGTH = 300, RUNS = 12, STEPS = 30 };

static struct site site;
static bool telling;
static char written[16000];
static int64_t lost; /* what resets may have taken along */
/* The network itself was wrong. A boot after that may take what has passed since its last row for less
 * time than it was, and what flowed for more than can have. */
static bool misled;

static int64_t up_to(int64_t most)
{
    return (int64_t)(site_random(&site) % (uint64_t)most);
}

static void tell(const char *what, int64_t how_much)
{
    if (telling)
        print_message("%lld %s %lld (boot %s, %s)\n", (long long)(site.real_ms / 1000), what,
                      (long long)how_much, site.boot, site.collect ? site.collect->date.source : "off");
}

static void use_logbook(void)
{
    struct civil *civil = civil_open("Europe/Paris");
    struct logbook_site at = { .civil = civil };
    struct problems problems = { 0 };
    struct logbook *logbook = logbook_read(written, strlen(written), "logbook", &at, &problems);
    logbook_sort(logbook);
    if (site.collect)
        collect_use_logbook(site.collect, logbook);
    else
        logbook_free(logbook);
    civil_close(civil);
}

static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        if (s % 600 == 0) {
            site.meters[0].power_mw = up_to(3000000);
            site.meters[1].power_mw = -up_to(4) * 900000;
        }
        site_second(&site);
    }
}

static void start(void)
{
    assert_true(site_start(&site));
    use_logbook();
}

static void reboot(void)
{
    int64_t off_s = 30 + up_to(up_to(3) ? 3600 : 90000);
    tell("power off for", off_s);
    site_power_off(&site, off_s * 1000);
    site.synchronised = up_to(3) == 0;
    if (site.synchronised)
        site.wall_error_ms = 0;
    else if (up_to(3) == 0)
        site.wall_error_ms = (up_to(4) - 1) * up_to(INT64_C(100000000));
    start();
}

static void restart(void)
{
    tell("restart", 0);
    site_stop(&site, up_to(2));
    live(up_to(900));
    start();
}

static void network(void)
{
    tell("network", -site.wall_error_ms);
    site.synchronised = true;
    site.wall_error_ms = 0;
}

static void no_network(void)
{
    tell("no network", 0);
    site.synchronised = false;
}

static void step(void)
{
    misled = misled || site.synchronised;
    site.wall_error_ms += up_to(2) ? up_to(600000) - 300000 : up_to(20000000) - 10000000;
    tell("step to", site.wall_error_ms);
}

static void note(void)
{
    int64_t error_s = up_to(3) ? up_to(100) - 50 : up_to(40000) - 20000;
    time_t s = site.real_ms / 1000 + error_s;
    struct tm t;
    char line[100];
    size_t size = strlen(written);
    if (size + 200 > sizeof written)
        return;
    gmtime_r(&s, &t);
    strftime(line, sizeof line, "%Y-%m-%dT%H:%M:%SZ clock", &t);
    snprintf(written + size, sizeof written - size, "%s boot=%s boot_ms=%lld\n", line, site.boot,
             (long long)site.boot_ms);
    tell("note", error_s);
    if (up_to(2))
        use_logbook();
}

static void reset(void)
{
    if (up_to(3) != 0)
        return;
    int m = (int)up_to(2);
    tell("reset", m);
    site.meters[m].taken_off[m] = site.meters[m].first[m] + site.meters[m].truth[m];
    lost += 4000000;
}

static void silent(void)
{
    site.meters[1].silent = !site.meters[1].silent;
    tell("silent", site.meters[1].silent);
}

static void disk_fails(void)
{
    int64_t n = 1 + up_to(60);
    tell("disk fails at", n);
    disk_fail_at(n, up_to(2) ? SQLITE_IOERR_FSYNC : SQLITE_FULL);
}

static void check(void)
{
    audit_conservation(&site);
    audit_days();
    audit_runs();
    audit_first_runs();
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE id < 0 OR unobserved > 300"), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM energy WHERE id < 0"), 0);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval AS d JOIN interval AS c ON c.id = d.id - 1022 JOIN "
                  "interval AS p ON p.id = d.id - 1021 WHERE d.meter = 1023 AND d.import - d.export "
                  "<> c.import - p.export"),
        0);
}

static void run(uint64_t seed)
{
    static const enum meter_role roles[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };
    static void (*const events[])(void) = { reboot, reboot, restart, network, network, no_network, step,
                                            step,   note,   note,    reset,   silent,  disk_fails };
    disk_install(seed);
    disk_format();
    log_set_level(telling ? LOG_INFO : LOG_ERROR - 1);
    site_init(&site, seed, 2, roles, LENGTH, 1000);
    site.config.site.clock_trust = up_to(3) ? TRUST_BATTERY : TRUST_NETWORK;
    site.config.site.poll_period_ms = 20000;
    site.config.meters[1].delivers_by_export = true;
    written[0] = '\0';
    lost = 0;
    misled = false;
    site.synchronised = up_to(2);
    site_power_off(&site, 1000);
    start();
    for (int i = 0; i < STEPS; i++) {
        live(60 + up_to(up_to(4) ? 1500 : 9000));
        events[up_to((int64_t)(sizeof events / sizeof events[0]))]();
        if (site.collect->store && !site.collect->failing && telling) {
            check();
            tell("mWh missing", site.meters[0].first[0] + site.meters[0].truth[0] - audit_total(&site, 0, 0));
        }
    }
    disk_fail_at(0, 0);
    site.meters[1].silent = false;
    network();
    live(3000);
    check();
    for (int m = 0; m < 2; m++) {
        int64_t truth = site.meters[m].first[m] + site.meters[m].truth[m], total = audit_total(&site, m, m);
        if (lost == 0 && (total > truth + 1000 || (!misled && total < truth - 60000)))
            fail_msg("meter %d: account %lld, truth %lld", m, (long long)total, (long long)truth);
    }
    int64_t last_s = audit_ask("SELECT max(ts) + 300 FROM interval");
    if (last_s * 1000 > site.real_ms + LENGTH * 1000)
        fail_msg("a row ends %lld s later than now", (long long)(last_s - site.real_ms / 1000));
    site_finish(&site);
}

static void test_clocks_by_chance(void **state)
{
    (void)state;
    const char *one = getenv("METERBOOK_SEED"), *many = getenv("METERBOOK_RUNS");
    uint64_t seed = one ? strtoull(one, NULL, 10) : (uint64_t)time(NULL) * 1000;
    int runs = one ? 1 : many ? (int)strtol(many, NULL, 10) : RUNS;
    telling = one != NULL;
    print_message("seeds %llu to %llu\n", (unsigned long long)seed,
                  (unsigned long long)seed + (unsigned)runs - 1);
    for (int i = 0; i < runs; i++) {
        if (many)
            print_message("seed %llu\n", (unsigned long long)seed + (unsigned)i);
        run(seed + (unsigned)i);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_clocks_by_chance) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
