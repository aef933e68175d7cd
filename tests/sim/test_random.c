/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* Everything that can go wrong, mixed by chance; then what must hold, held
 * against the truth. METERBOOK_SEED replays one run, METERBOOK_RUNS sets how many. */
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
#include "disk.h"
#include "log.h"

enum { DEFAULT_RUNS = 150, STEADY_S = 200 };

static struct site site;
static uint64_t seed;
static int64_t runs_done;

/* What a run is like, and what it may be held to at its end. */
static struct {
    int64_t longest_s; /* longest interval used */
    bool resets, turns, maps, steps, telling;
    unsigned lacked;                   /* counter that a map may lose and gain */
    bool clock_stepped;                /* rows may be later than now, or off by the step */
    bool fail_pending;                 /* reading the record would meet the fault */
    int64_t resets_of[SITE_METERS][2]; /* each may cost or give a step */
    bool off[SITE_METERS][2];          /* reset while nobody watched: some is lost */
    bool unknown[SITE_METERS][2];      /* reset before its first run was in the record */
    int64_t disturbed_s[SITE_METERS];  /* of the site's real time */
    int64_t kept;                      /* rows known to be in the record */
    unsigned loads;
    sqlite3 *other; /* another program that reads or writes */
} run;

static int64_t up_to(int64_t n)
{
    return (int64_t)(site_random(&site) % (uint64_t)n);
}

static bool one_in(int64_t n)
{
    return up_to(n) == 0;
}

static struct site_meter *any_meter(int *index)
{
    *index = (int)up_to(site.config.meter_count);
    return &site.meters[*index];
}

static void tell(const char *what, int64_t value)
{
    if (run.telling)
        print_message("%lld +%lld %s %lld\n", (long long)site.real_ms / 1000, (long long)site.boot_ms / 1000,
                      what, (long long)value);
}

static void disturb(int meter)
{
    for (int i = 0; i < site.config.meter_count; i++)
        if (meter < 0 || meter == i)
            run.disturbed_s[i] = site.real_ms / 1000;
}

static void leave_other(void)
{
    sqlite3_close(run.other);
    run.other = NULL;
}

static void look_at_kept(void)
{
    if (disk_is_cut() || (run.fail_pending && !disk_failed()) || !site.collect || !site.collect->store)
        return;
    run.kept = audit_ask("SELECT count(*) FROM interval");
}

/* A reset that is not in the record yet is met again by the next process,
 * which knows the register before it only as of the last commit. */
static void forget_uncommitted(void)
{
    for (int i = 0; site.collect && i < site.config.meter_count; i++)
        for (int c = 0; c < 2; c++)
            if (run.resets_of[i][c] > 0 && (site.collect->meters[i].counters[c].run.id == 0 ||
                                            site.real_ms / 1000 - run.disturbed_s[i] < STEADY_S))
                run.off[i][c] = true;
}

/* ---- what can happen ---- */

static void start(void)
{
    if (site.collect)
        return;
    disk_fail_at(0, 0);
    run.fail_pending = false;
    disk_set_full(false);
    disk_cut_at_write(0);
    if (disk_is_cut()) /* the last commit before the end */
        site_power_off(&site, 1000);
    disturb(-1);
    for (int i = 0; i < site.config.meter_count; i++)
        site.meters[i].back_polls = 0;
    assert_true(site_start(&site));
    tell("start", 0);
    /* Dating anew may take rows back, and makes fewer of them where the clock was ahead. */
    if (!run.clock_stepped)
        assert_true(audit_ask("SELECT count(*) FROM interval") >= run.kept);
}

static void stop(void)
{
    leave_other();
    look_at_kept();
    tell("stop", 0);
    forget_uncommitted();
    site_stop(&site, one_in(2));
    disturb(-1);
}

static void power_off(void)
{
    leave_other();
    disk_cut_at_write(0);
    forget_uncommitted();
    int64_t seconds = one_in(3) ? up_to(4000) : up_to(60);
    tell("power off", seconds);
    site_power_off(&site, seconds * 1000);
    site.synchronised = !one_in(3);
    site.wall_error_ms = site.synchronised ? 0 : -up_to(90000000);
    start();
}

static void fall_silent(void)
{
    int i;
    struct site_meter *meter = any_meter(&i);
    meter->silent = !meter->silent;
    meter->zero_polls = meter->back_polls = 0; /* what a gap ends with is believed */
    disturb(i);
    tell("silent", i * 10 + meter->silent);
}

static void misread(void)
{
    int i;
    struct site_meter *meter = any_meter(&i);
    if (meter->silent || site.real_ms / 1000 - run.disturbed_s[i] < 60)
        return; /* three wrong readings in a row would be a reset */
    if (one_in(2)) {
        meter->zero_polls = 1 + up_to(2);
    } else {
        meter->back_steps = 1 + up_to(4);
        meter->back_polls = meter->back_steps <= 2 ? 1 + up_to(30) : 1 + up_to(2);
        if (meter->shown[0] < 40 * meter->step || meter->shown[1] < 40 * meter->step)
            meter->back_polls = 0; /* zero again and again is no jitter */
    }
    disturb(i);
    tell("misread", i);
}

static void reset(void)
{
    int i, way = (int)up_to(2);
    struct site_meter *meter = any_meter(&i);
    if (!run.resets)
        return;
    bool watched = site.collect && !meter->silent && site.collect->date.trusted && !site.collect->failing &&
                   site.real_ms / 1000 - run.disturbed_s[i] > STEADY_S;
    int64_t shown = meter->first[way] + meter->truth[way] - meter->taken_off[way];
    meter->taken_off[way] += shown - (one_in(2) ? 0 : up_to(1 + shown / 2));
    run.resets_of[i][way]++;
    if (!site.collect || site.collect->meters[i].counters[way].run.id == 0)
        run.unknown[i][way] = true;
    run.off[i][way] = run.off[i][way] || !watched;
    disturb(i);
    tell(watched ? "reset" : "reset unseen", i * 10 + way);
}

static void clock_comes(void)
{
    if (site.synchronised)
        return;
    site.synchronised = true;
    site.wall_error_ms = 0;
    disturb(-1);
    tell("clock comes", 0);
}

static void clock_steps(void)
{
    if (!run.steps || !site.synchronised)
        return;
    site.wall_error_ms = one_in(2) ? 0 : up_to(14400000) - 7200000;
    run.clock_stepped = true;
    disturb(-1);
    tell("clock steps", site.wall_error_ms);
}

static void disk_fails(void)
{
    static const int codes[] = { SQLITE_IOERR_WRITE, SQLITE_FULL, SQLITE_IOERR_FSYNC };
    int64_t n = 1 + up_to(40);
    disk_fail_at(n, codes[up_to(3)]);
    run.fail_pending = true;
    disturb(-1);
    tell("disk fails", n);
}

static void disk_fills(void)
{
    bool full = one_in(2);
    disk_set_full(full);
    tell("disk full", full);
}

static void cut_at_write(void)
{
    disk_cut_at_write(1 + up_to(60));
    tell("power will go", 0);
}

static void reload(void)
{
    static const int32_t lengths[] = { 60, 300, 900 };
    stop();
    if (one_in(2)) {
        site.config.site.interval_s = lengths[up_to(3)];
        if (site.config.site.interval_s > run.longest_s)
            run.longest_s = site.config.site.interval_s;
        tell("interval", site.config.site.interval_s);
    } else if (run.turns) {
        int i;
        any_meter(&i);
        site.config.meters[i].reversed = !site.config.meters[i].reversed;
        tell("direction", i);
    } else {
        site.config.meters[0].role = one_in(2) ? ROLE_GRID : ROLE_CONSUMPTION;
        tell("role", site.config.meters[0].role);
    }
    snprintf(site.config.hash, sizeof site.config.hash, "%016x", (unsigned)++run.loads + 1);
    start();
}

static void map_changes(void)
{
    int i;
    struct site_meter *meter = any_meter(&i);
    if (!run.maps)
        return;
    forget_uncommitted();
    meter->without = one_in(2) ? 0 : run.lacked;
    meter->zero_polls = meter->back_polls = 0;
    site_replan(meter);
    disturb(i);
    tell("map", i * 10 + (int64_t)meter->without);
}

static void other_program(void)
{
    if (run.other) {
        leave_other();
        tell("other leaves", 0);
        return;
    }
    if (disk_is_cut() || run.fail_pending || !site.collect)
        return;
    const char *what = one_in(2) ? "BEGIN IMMEDIATE" : "BEGIN; SELECT count(*) FROM interval";
    if (sqlite3_open_v2("record.db", &run.other, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK)
        sqlite3_exec(run.other, what, NULL, NULL, NULL);
    tell(what, 0);
}

static void stall(void)
{
    site.stalled = true;
    tell("stall", 0);
    site_run(&site, up_to(400));
    site.stalled = false;
    disturb(-1);
}

static void nothing(void)
{
}

static void (*const happenings[])(void) = {
    nothing,     fall_silent, fall_silent, misread,     misread,       reset,      clock_comes,
    clock_comes, clock_steps, disk_fails,  disk_fails,  disk_fills,    disk_fills, cut_at_write,
    stop,        power_off,   reload,      map_changes, other_program, stall,      other_program,
};

/* ---- a run ---- */

static void set_out(void)
{
    static const enum meter_role sites[][3] = {
        { ROLE_GRID, ROLE_PRODUCTION, ROLE_BRANCH },
        { ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_PRODUCTION },
        { ROLE_BRANCH, ROLE_GRID, ROLE_PART },
    };
    static const int64_t steps[] = { 1, 1000, 10000, 100000 }, lengths[] = { 60, 300, 900 };
    bool telling = run.telling;
    memset(&run, 0, sizeof run);
    run.telling = telling;
    disk_install(seed);
    disk_format();
    log_set_level(telling ? LOG_FINE : LOG_ERROR - 1);
    site.random = seed * 2862933555777941757U + 3037000493U;
    for (int i = 0; i < 10; i++)
        site_random(&site);
    run.longest_s = lengths[up_to(3)];
    int kind = (int)up_to(3), count = 1 + (int)up_to(3);
    int64_t step = steps[up_to(4)];
    site_init(&site, seed, count, sites[kind], run.longest_s, step);
    for (int i = 0; i < 10; i++)
        site_random(&site);
    site.real_ms += up_to(86400000); /* a midnight may lie in it */
    site.config.site.commit_s = one_in(2) ? 0 : 900;
    site.config.site.poll_period_ms = one_in(3) ? 5000 : 1000;
    run.resets = one_in(2);
    run.steps = one_in(3);
    run.turns = one_in(3);
    run.maps = !run.turns && one_in(3);
    run.lacked = 1U << up_to(2);
    for (int i = 0; i < count; i++) {
        struct site_meter *meter = &site.meters[i];
        site.config.meters[i].delivers_by_export = one_in(2);
        meter->error_ppm = up_to(40000) - 20000;
        if (run.resets || one_in(2))
            continue;
        meter->modulus = 100000000;
        meter->first[0] = meter->modulus - step - up_to(30) * 100000 / step * step;
        meter->first[1] = meter->modulus - step - up_to(30) * 100000 / step * step;
    }
    site.synchronised = !one_in(4);
    site.wall_error_ms = site.synchronised ? 0 : -up_to(90000000);
}

static void go_on(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        for (int i = 0; i < site.config.meter_count; i++)
            if (one_in(40))
                site.meters[i].power_mw = one_in(5) ? 0 : up_to(12000000) - 6000000;
        site_second(&site);
        if (disk_is_cut())
            power_off();
    }
}

/* All faults end; long enough for all that waits to be written. */
static void calm_down(void)
{
    leave_other();
    disk_cut_at_write(0);
    disk_fail_at(0, 0);
    disk_set_full(false);
    run.fail_pending = false;
    tell("calm", 0);
    clock_comes();
    site.wall_error_ms = 0;
    for (int i = 0; i < site.config.meter_count; i++) {
        site.meters[i].silent = false;
        site.meters[i].zero_polls = site.meters[i].back_polls = 0;
        site.meters[i].without = 0;
    }
    start();
    forget_uncommitted();
    for (int i = 0; i < site.config.meter_count; i++)
        site_replan(&site.meters[i]);
    go_on(300);
    for (int i = 0; i < site.config.meter_count; i++)
        while (site.collect->meters[i].series[0].book.to_ms > site.real_ms)
            go_on(60);
    go_on(2 * site.config.site.interval_s + 900);
}

static void check_total(int meter)
{
    const struct site_meter *m = &site.meters[meter];
    int64_t total[2], truth[2];
    for (int c = 0; c < 2; c++) {
        total[c] = audit_total(&site, meter, c);
        truth[c] = m->first[c] + m->truth[c];
    }
    if (run.turns) { /* energies changed sides: their sum is what holds */
        total[0] += total[1];
        truth[0] += truth[1];
    }
    for (int c = 0; c < (run.turns ? 1 : 2); c++) {
        int64_t sides = run.turns ? 2 : 1;
        int64_t resets = run.resets_of[meter][c] + (run.turns ? run.resets_of[meter][1] : 0);
        /* After a false date a restart may take what has passed since for less time than it was. */
        bool off = run.off[meter][c] || (run.turns && run.off[meter][1]) || run.clock_stepped;
        if (run.unknown[meter][c] || (run.turns && run.unknown[meter][1]))
            continue;
        /* The same where a register rolled over before its first run was in the record. */
        while (m->modulus > 0 && truth[c] - total[c] > m->modulus / 2)
            total[c] += m->modulus;
        int64_t more = (sides + 2 * resets) * m->step + 10, less = more + 10000 + resets * 20000;
        less += m->modulus > 0 ? 25000 : 0; /* a rollover of the last polls is not confirmed yet */
        if (total[c] - truth[c] > more || (!off && truth[c] - total[c] > less))
            fail_msg("meter %d counter %d: account %lld, truth %lld: %lld too much (%lld resets%s)", meter, c,
                     (long long)total[c], (long long)truth[c], (long long)(total[c] - truth[c]),
                     (long long)resets, off ? ", unseen" : "");
    }
}

static void check_derived(void)
{
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE meter = 1023 AND (import < 0 OR export < 0)"), 0);
    for (int c = 0; c < 2; c++)
        if (site.collect->derived.used && site.collect->derived.runs[c].id != 0)
            assert_int_equal(
                audit_ask("SELECT base + coalesce((SELECT sum(%s) FROM interval WHERE meter = 1023 "
                          "AND ts >= base_s), 0) FROM run WHERE id = %lld",
                          c ? "export" : "import", (long long)site.collect->derived.runs[c].id),
                site.collect->derived.account[c]);
}

static void check_all(void)
{
    assert_false(site.collect->failing);
    assert_true(site.collect->date.trusted);
    audit_conservation(&site);
    audit_days();
    if (run.telling)
        tell("first hole", audit_ask("SELECT coalesce((SELECT meter * 10000000000 + ts FROM (SELECT lead(ts) "
                                     "OVER (PARTITION BY meter ORDER BY ts) - ts AS length, ts, meter FROM "
                                     "interval WHERE meter < 1000) WHERE length > %d - ts %% %d), 0)",
                                     (int)run.longest_s, (int)run.longest_s));
    audit_tiling(run.longest_s);
    audit_runs();
    audit_first_runs();
    check_derived();
    for (int i = 0; i < site.config.meter_count; i++)
        check_total(i);
    if (!run.clock_stepped)
        assert_true(audit_ask("SELECT max(ts) FROM interval WHERE meter < 1000") <= site.real_ms / 1000);
    assert_int_equal(audit_ask("SELECT count(*) FROM held WHERE boot = '%s'", site.boot), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'"),
                     0);
}

static void one_run(void)
{
    set_out();
    start();
    for (int64_t k = 12 + up_to(20); k > 0; k--) {
        go_on(one_in(3) ? up_to(900) : up_to(120));
        look_at_kept();
        happenings[up_to((int64_t)(sizeof happenings / sizeof happenings[0]))]();
        if (!site.collect) {
            go_on(up_to(400));
            start();
        }
    }
    calm_down();
    check_all();
    site_finish(&site);
}

static void test_random_faults(void **state)
{
    (void)state;
    const char *one = getenv("METERBOOK_SEED"), *many = getenv("METERBOOK_RUNS");
    int64_t runs = one ? 1 : many ? strtoll(many, NULL, 10) : DEFAULT_RUNS;
    seed = one ? strtoull(one, NULL, 10) : (uint64_t)time(NULL) * 1000;
    run.telling = one != NULL;
    print_message("seeds %llu to %llu\n", (unsigned long long)seed,
                  (unsigned long long)seed + (uint64_t)runs - 1);
    for (; runs_done < runs; runs_done++, seed++)
        one_run();
}

static int say_seed(void **state)
{
    (void)state;
    const char *one = getenv("METERBOOK_SEED"), *many = getenv("METERBOOK_RUNS");
    int64_t runs = one ? 1 : many ? strtoll(many, NULL, 10) : DEFAULT_RUNS;
    if (runs_done < runs)
        print_message("METERBOOK_SEED=%llu replays it\n", (unsigned long long)seed);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test_teardown(test_random_faults, say_seed) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
