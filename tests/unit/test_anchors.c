/* links: tests/fake/audit.c tests/fake/curves.c tests/fake/site.c tests/fake/disk.c COLLECTOR */
/* A site without network time, with power cuts: dated by people, by the sun:
 * with the real collector and store on simulated meters, clocks and disk. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "audit.h"
#include "civil.h"
#include "disk.h"
#include "log.h"
#include "logbook.h"
#include "schema.h"
#include "site.h"
#include "sun.h"

#define HOUR INT64_C(3600)
#define DAY  INT64_C(86400)

enum { LENGTH = 300, PEOPLE_DAYS = 12, MARKS = 12000 };

static struct site site;
static const enum meter_role sides[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };
static const struct sun_place place = { 48.85, 2.35 };
static int64_t marks[2][MARKS], marks_from_s;
static char written[20000];
static double through;

static void begin(uint64_t seed)
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, 2, sides, LENGTH, 1000);
    site.config.site.latitude = place.latitude;
    site.config.site.longitude = place.longitude;
    site.config.site.poll_period_ms = 20000;
    site.config.meters[1].delivers_by_export = true;
    site.config.meters[1].plane_azimuth = 180;
    site.config.meters[1].tilt = 30;
    marks_from_s = site.real_ms / 1000 / LENGTH * LENGTH;
    memset(marks, 0, sizeof marks);
    written[0] = '\0';
    through = 1;
}

static void mark(void)
{
    int64_t at = (site.real_ms / 1000 - marks_from_s) / LENGTH;
    for (int m = 0; m < 2 && at >= 0 && at < MARKS; m++)
        marks[m][at] = site.meters[m].truth[m];
}

/* A plant under a changing sky and a household. */
static void set_powers(void)
{
    static const struct sun_plane plane = { 180, 30 };
    if (site.real_ms / 1000 % 300 != 0)
        return;
    if (site_random(&site) % 4 == 0)
        through = 1 - (double)(site_random(&site) % 60) / 100;
    struct sun sun = sun_position(&place, site.real_ms);
    site.meters[1].power_mw = -(int64_t)(sun_clear_plane(&sun, &plane) * 5000 * through);
    int64_t hour = site.real_ms / 3600000 % 24;
    site.meters[0].power_mw = hour >= 17 && hour < 21 ? 1800000 : 250000;
}

static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        set_powers();
        site_second(&site);
        mark();
    }
}

static void use_logbook(void)
{
    struct civil *civil = civil_open("Europe/Paris");
    struct logbook_site at = { .civil = civil };
    struct problems problems = { 0 };
    struct logbook *logbook = logbook_read(written, strlen(written), "logbook", &at, &problems);
    assert_int_equal(problems.errors, 0);
    logbook_sort(logbook);
    collect_use_logbook(site.collect, logbook);
    civil_close(civil);
}

/* A person looks at a clock that is right to half a minute. */
static void note_clock(const char *boot, int64_t boot_ms, int64_t real_ms)
{
    time_t s = real_ms / 1000;
    struct tm t;
    char line[160];
    gmtime_r(&s, &t);
    strftime(line, sizeof line, "%Y-%m-%dT%H:%M:%SZ clock", &t);
    size_t size = strlen(written);
    snprintf(written + size, sizeof written - size, "%s boot=%s boot_ms=%lld\n", line, boot,
             (long long)boot_ms);
}

/* Power is off for so long; the machine comes up with a clock that shows wall_ms. */
static void boot(int64_t off_s, int64_t wall_ms, bool synchronised)
{
    site_stop(&site, false);
    for (int64_t s = 0; s < off_s; s += 60) {
        set_powers();
        site_power_off(&site, 60000);
        mark();
    }
    site.wall_error_ms = synchronised ? 0 : wall_ms - site.real_ms;
    site.synchronised = synchronised;
    assert_true(site_start(&site));
    use_logbook();
}

static int64_t truth_at(int m, int64_t at_s)
{
    int64_t at = (at_s - marks_from_s) / LENGTH;
    while (at > 0 && marks[m][at] == 0)
        at--;
    return marks[m][at];
}

static void check_all(void)
{
    audit_conservation(&site);
    audit_days();
    audit_tiling(LENGTH);
    audit_runs();
    for (int m = 0; m < 2; m++) {
        int64_t truth = site.meters[m].first[m] + site.meters[m].truth[m], total = audit_total(&site, m, m);
        if (total > truth + 1000 || total < truth - 40000)
            fail_msg("meter %d: account %lld, truth %lld", m, (long long)total, (long long)truth);
    }
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval AS d JOIN interval AS c ON c.id = d.id - 1022 "
                  "JOIN interval AS p ON p.id = d.id - 1021 WHERE d.meter = 1023 AND (d.import - "
                  "d.export <> c.import - p.export OR d.import < 0 OR d.export < 0)"),
        0);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE id < 0 OR unobserved > 300"), 0);
}

/* Each day's energy, to what flows within the doubt at its two ends. Returns the worst, mWh. */
static int64_t worst_day(int m, int64_t from_day, int64_t to_day)
{
    struct civil *civil = civil_open("Europe/Paris");
    int64_t worst = 0;
    for (int64_t day = from_day; day <= to_day; day++) {
        int64_t from_s = civil_day_start(civil, day), to_s = civil_day_start(civil, day + 1);
        int64_t sum =
            audit_ask("SELECT coalesce(sum(%s), 0) FROM interval WHERE meter = %d AND ts >= %lld AND "
                      "ts < %lld",
                      m ? "export" : "import", m + 1, (long long)from_s, (long long)to_s);
        int64_t off = llabs(sum - (truth_at(m, to_s) - truth_at(m, from_s)));
        worst = off > worst ? off : worst;
    }
    civil_close(civil);
    return worst;
}

/* 30 days, a cut on each, at any hour; the battery is dead: it is 1970 at each boot. */
static void test_month_by_the_sun(void **state)
{
    (void)state;
    begin(7);
    boot(0, 0, true);
    live(6 * HOUR);
    int64_t first_day = site.real_ms / 1000 / DAY + 1;
    int64_t cuts = 0;
    for (int day = 0; day < 30; day++) {
        boot(1200 + (int64_t)(site_random(&site) % 9000), 100000, false);
        live(DAY - 9 * HOUR + (int64_t)(site_random(&site) % (18 * HOUR)));
        cuts++;
    }
    int64_t last_day = site.real_ms / 1000 / DAY - 2;
    check_all();
    print_message("%lld of %lld boots dated by the sun, %lld left\n",
                  (long long)audit_ask("SELECT count(*) FROM clock WHERE source = 'sun'"), (long long)cuts,
                  (long long)audit_ask("SELECT count(DISTINCT boot) FROM held"));
    assert_true(audit_ask("SELECT count(*) FROM clock WHERE source = 'sun'") >= 25);
    int64_t used = worst_day(0, first_day, last_day), made = worst_day(1, first_day, last_day);
    print_message("worst day: %.3f kWh of consumption, %.3f kWh of production off\n", (double)used / 1e6,
                  (double)made / 1e6);
    assert_true(used < 500000 && made < 300000);
    /* September, from the first whole day on: one end that the sun's doubt blurs */
    int64_t october_s = INT64_C(1790805600), september_s = first_day * DAY;
    int64_t sum = audit_ask("SELECT sum(import) FROM interval WHERE meter = 1 AND ts >= %lld AND ts < %lld",
                            (long long)september_s, (long long)october_s);
    int64_t off = sum - (truth_at(0, october_s) - truth_at(0, september_s));
    print_message("September: %.3f kWh, %.3f off\n", (double)sum / 1e6, (double)off / 1e6);
    assert_true(llabs(off) < 200000);
    boot(600, 0, true);
    live(HOUR);
    check_all();
    site_finish(&site);
}

/* The same by people: on every third day only, some of them told the day after. */
static void test_month_by_people(void **state)
{
    (void)state;
    begin(8);
    site.config.meters[1].role = ROLE_BRANCH; /* no sun to look at */
    boot(0, 0, true);
    live(6 * HOUR);
    int64_t told = 0, first_day = site.real_ms / 1000 / DAY + 1;
    for (int day = 0; day < PEOPLE_DAYS; day++) {
        boot(1200 + (int64_t)(site_random(&site) % 9000), 100000, false);
        live(5 * HOUR);
        if (day % 3 != 1) {
            note_clock(site.boot, site.boot_ms, site.real_ms + 20000 - (int64_t)(site_random(&site) % 40000));
            told++;
            if (day % 2)
                use_logbook(); /* else at the next boot */
        }
        live(DAY - 14 * HOUR + (int64_t)(site_random(&site) % (18 * HOUR)));
    }
    int64_t last_day = site.real_ms / 1000 / DAY - 3;
    boot(600, 0, true);
    live(2 * HOUR);
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'hand'"), told);
    assert_int_equal(audit_ask("SELECT count(DISTINCT boot) FROM held WHERE state = 'undated'"),
                     PEOPLE_DAYS - told);
    print_message("worst day %.3f kWh off\n", (double)worst_day(0, first_day, last_day) / 1e6);
    site_finish(&site);
}

/* What a boot held is placed years.. hours after the network came back: into the gap. */
static void test_told_afterwards(void **state)
{
    (void)state;
    begin(9);
    boot(0, 0, true);
    live(6 * HOUR);
    boot(2 * HOUR, 100000, false);
    char then[BOOT_ID_SIZE];
    memcpy(then, site.boot, sizeof then);
    live(5 * HOUR);
    int64_t boot_ms = site.boot_ms, real_ms = site.real_ms;
    boot(3 * HOUR, 0, true);
    live(30 * HOUR);
    int64_t import = audit_ask("SELECT sum(import) FROM interval WHERE meter = 1");
    int64_t undated = audit_ask("SELECT count(*) FROM held WHERE state = 'undated'");
    assert_true(undated > 100);
    note_clock(then, boot_ms, real_ms);
    use_logbook();
    live(600);
    check_all();
    assert_int_equal(audit_ask("SELECT count(*) FROM held"), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'hand'"), 1);
    assert_true(audit_ask("SELECT sum(import) FROM interval WHERE meter = 1") >= import);
    int64_t watched =
        audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND how & 32 AND unobserved < 60");
    assert_in_range(watched, 58, 61);
    /* what each of these hours had */
    for (int h = 1; h < 5; h++) {
        int64_t to_s = (real_ms / 1000 / LENGTH - h * 12 + 11) * LENGTH, from_s = to_s - HOUR;
        int64_t sum =
            audit_ask("SELECT sum(import) FROM interval WHERE meter = 1 AND ts >= %lld AND ts < %lld",
                      (long long)from_s, (long long)to_s);
        assert_true(llabs(sum - (truth_at(0, to_s) - truth_at(0, from_s))) < 30000);
    }
    live(DAY);
    check_all();
    /* said of a time at which somebody watched: not believed */
    boot(HOUR, 100000, false);
    memcpy(then, site.boot, sizeof then);
    live(2 * HOUR);
    note_clock(then, site.boot_ms, site.real_ms + 100 * 60 * 1000);
    boot(HOUR, 0, true);
    live(HOUR);
    check_all();
    assert_int_equal(audit_ask("SELECT count(DISTINCT boot) FROM held WHERE state = 'undated'"), 1);
    assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'hand'"), 1);
    site_finish(&site);
}

/* A person says what cannot be, then what can; then the network says better. */
static void test_a_person_errs(void **state)
{
    (void)state;
    begin(10);
    boot(0, 0, true);
    live(6 * HOUR);
    boot(HOUR, 100000, false);
    live(HOUR);
    note_clock(site.boot, site.boot_ms, site.real_ms - 5 * HOUR * 1000);
    use_logbook();
    live(60);
    assert_false(site.collect->date.trusted);
    note_clock(site.boot, site.boot_ms, site.real_ms + 20 * HOUR * 1000);
    use_logbook();
    live(4 * HOUR);
    assert_true(site.collect->date.trusted);
    note_clock(site.boot, site.boot_ms, site.real_ms + 10000);
    use_logbook();
    live(4 * HOUR);
    assert_true(llabs(site.collect->date.offset_ms - (site.real_ms - site.boot_ms)) <= 11000);
    check_all();
    site.wall_error_ms = 0;
    site.synchronised = true;
    live(4 * HOUR);
    check_all();
    assert_string_equal(site.collect->date.source, "network");
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE ts > %lld", (long long)(site.real_ms / 1000)), 0);
    site_finish(&site);
}

/* A meter that has a clock, in UTC or in the site's time, right or not. */
static void test_clock_of_a_meter(void **state)
{
    (void)state;
    static const struct {
        int64_t error_s; /* of what it shows, against UTC */
        bool local, believed;
    } cases[] = {
        { 40, false, true },
        { 7200 - 25, true, true },              /* summer time in September */
        { -20 * DAY, false, false },            /* before rows that are in the record */
        { 400 * DAY, false, false },            /* ages after them */
        { -INT64_C(1789000000), false, false }, /* it counts from its first day */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        begin(20 + i);
        site.meters[0].clock = true;
        site.meters[0].clock_error_s = cases[i].error_s;
        site.map.clock_is_local = cases[i].local;
        site.map.clock_doubt_s = 60;
        boot(0, 0, true);
        live(6 * HOUR);
        boot(HOUR, 100000, false);
        live(3 * HOUR);
        assert_int_equal(site.collect->date.trusted, cases[i].believed);
        if (cases[i].believed)
            check_all();
        assert_int_equal(audit_ask("SELECT count(*) FROM clock WHERE source = 'meter' AND doubt_ms = 60000"),
                         cases[i].believed);
        if (cases[i].believed)
            assert_true(llabs(site.collect->date.offset_ms - (site.real_ms - site.boot_ms)) <= 41000);
        site.wall_error_ms = 0;
        site.synchronised = true;
        live(HOUR);
        check_all();
        assert_string_equal(site.collect->date.source, "network");
        assert_int_equal(audit_ask("SELECT count(*) FROM held"), 0);
        site_finish(&site);
    }
}

/* A battery clock that says what cannot be: dead, behind the record, ages ahead. */
static void test_battery_that_is_not_believed(void **state)
{
    (void)state;
    static const int64_t errors[] = { -INT64_C(1789900000), -3 * HOUR, 401 * DAY };
    for (int i = 0; i < 3; i++) {
        begin(30 + (uint64_t)i);
        site.config.site.clock_trust = TRUST_BATTERY;
        boot(0, 0, true);
        live(6 * HOUR);
        boot(HOUR, site.real_ms + (HOUR + errors[i]) * 1000, false);
        live(HOUR);
        assert_false(site.collect->date.trusted);
        assert_true(audit_ask("SELECT count(*) FROM held") > 0);
        boot(HOUR, site.real_ms + (HOUR + 20) * 1000, false);
        live(HOUR);
        assert_true(site.collect->date.trusted);
        check_all();
        site_finish(&site);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_told_afterwards),  cmocka_unit_test(test_a_person_errs),
        cmocka_unit_test(test_clock_of_a_meter), cmocka_unit_test(test_battery_that_is_not_believed),
        cmocka_unit_test(test_month_by_people),  cmocka_unit_test(test_month_by_the_sun),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
