/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c daemon/collect.c daemon/answers.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* Nights of sleeping inverters, and long gaps placed along their shape: with
 * the real collector and store on simulated meters. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "disk.h"
#include "log.h"
#include "schema.h"
#include "site.h"
#include "sun.h"

static struct site site;
static const struct sun_place place = { 48.85, 2.35 };

static void begin(uint64_t seed, int count, const enum meter_role roles[])
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, count, roles, 300, 1000);
    site.config.site.latitude = place.latitude;
    site.config.site.longitude = place.longitude;
    for (int i = 0; i < count; i++) {
        site.config.meters[i].delivers_by_export = true;
        site.config.meters[i].plane_azimuth = 180;
        site.config.meters[i].tilt = 30;
    }
}

static int64_t sunshine_mw(void)
{
    struct sun sun = sun_position(&place, site.real_ms);
    return sun.elevation > 0 ? (int64_t)(5000000 * sin(sun.elevation * 0.0174533)) : 0;
}

/* A household's day by the site's clock: more in the evening. */
static int64_t household_mw(void)
{
    int64_t hour = site.real_ms / 3600000 % 24;
    return hour >= 17 && hour < 21 ? 1800000 : hour >= 5 && hour < 7 ? 900000 : 250000;
}

static void live(int64_t seconds, bool asleep_at_night)
{
    for (int64_t s = 0; s < seconds; s++) {
        int64_t made = sunshine_mw(), used = household_mw();
        for (int i = 0; i < site.config.meter_count; i++) {
            enum meter_role role = site.config.meters[i].role;
            site.meters[i].power_mw = role == ROLE_PRODUCTION    ? -made
                                      : role == ROLE_CONSUMPTION ? used
                                                                 : used - made;
        }
        for (int i = 0; asleep_at_night && i < site.config.meter_count; i++)
            if (site.config.meters[i].role == ROLE_PRODUCTION)
                site.meters[i].silent = made == 0;
        site_second(&site);
    }
}

static void check_sums(void)
{
    assert_int_equal(
        audit_ask(
            "SELECT count(*) FROM day WHERE import IS NOT (SELECT sum(import) FROM interval AS i WHERE "
            "i.meter = day.meter AND ts >= from_s AND ts < to_s) OR export IS NOT (SELECT sum(export) FROM "
            "interval AS i WHERE i.meter = day.meter AND ts >= from_s AND ts < to_s)"),
        0);
    assert_int_equal(audit_ask("SELECT count(*) FROM run WHERE ended IS NULL AND base + coalesce((SELECT "
                               "sum(CASE counter WHEN 0 "
                               "THEN import ELSE export END) FROM interval AS i WHERE i.meter = run.meter "
                               "AND ts >= base_s), 0) <> "
                               "anchor + coalesce((SELECT sum(CASE counter WHEN 0 THEN import ELSE export "
                               "END) FROM interval AS i "
                               "WHERE i.meter = run.meter AND ts >= anchor_s), 0)"),
                     0);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE import < 0 OR export < 0 OR estimated < 0"), 0);
}

static void test_night_is_no_gap(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    begin(3, 2, roles);
    assert_true(site_start(&site));
    live(8 * 3600, true); /* from 13:33 UTC into the night */
    int64_t newest = audit_ask("SELECT max(ts) FROM interval WHERE meter = 2");
    assert_true(site.real_ms / 1000 - newest < 900); /* rows come on time */
    live(20 * 3600, true);
    assert_int_equal(audit_ask("SELECT count(*) FROM day WHERE meter = 2"), 1);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE meter = 2 AND how & 15 = 3") > 100);
    assert_int_equal(audit_ask("SELECT sum(export) FROM interval WHERE meter = 2 AND how & 15 = 3"), 0);
    assert_int_equal(
        audit_ask("SELECT (max(ts) - min(ts)) / 300 + 1 - count(*) FROM interval WHERE meter = 2"), 0);
    /* what is not observed: dusk and dawn, at most */
    assert_true(audit_ask("SELECT sum(unobserved) FROM interval WHERE meter = 2") < 3600);
    int64_t total = audit_ask("SELECT base + (SELECT sum(export) FROM interval WHERE meter = 2) FROM run "
                              "WHERE meter = 2 AND counter = 1");
    assert_true(llabs(total - site.meters[1].first[1] - site.meters[1].truth[1]) < 500000);
    check_sums();
    site_finish(&site);
}

/* A meter that answers with another map while the disk is full is not read yet: that is no sleep. */
static void test_unread_is_not_asleep(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    begin(3, 2, roles);
    assert_true(site_start(&site));
    live(8 * 3600, true); /* from 13:33 UTC into the night */
    int64_t from_s = site.real_ms / 1000;
    assert_true(site.meters[1].silent);
    disk_set_full(true);
    site.meters[1].silent = false;
    site.meters[1].without = 1;
    site_replan(&site.meters[1]);
    live(3600, false);
    disk_set_full(false);
    live(900, false);
    assert_true(audit_ask("SELECT max(ts) FROM interval WHERE meter = 2") >= from_s + 3600);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE meter = 2 AND how & 15 = 3 AND ts > %lld",
                               (long long)from_s),
                     0);
    site_finish(&site);
}

/* A process that begins on a full disk reads a meter from its first answer on, whatever waits of others. */
static void test_first_heard_on_a_full_disk(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    begin(5, 2, roles);
    assert_true(site_start(&site));
    live(3600, false);
    site_stop(&site, true);
    disk_set_full(true);
    assert_true(site_start(&site));
    site.meters[1].silent = true;
    live(1200, false); /* rows of the other wait */
    int64_t from_s = site.real_ms / 300000 * 300 + 300;
    site.meters[1].silent = false;
    live(3600, false);
    disk_set_full(false);
    live(900, false);
    assert_true(
        audit_ask("SELECT count(*) FROM interval WHERE meter = 2 AND ts >= %lld", (long long)from_s) >= 12);
    assert_int_equal(
        audit_ask("SELECT sum(unobserved) FROM interval WHERE meter = 2 AND ts >= %lld", (long long)from_s),
        0);
    audit_conservation(&site);
    check_sums();
    site_finish(&site);
}

/* A meter that is silent in the evening and all through the next day is out of order, not asleep:
 * that day gets no zeros, and its production is placed on it. */
static void test_silent_day_is_a_gap(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    begin(3, 2, roles);
    assert_true(site_start(&site));
    live(8 * 3600, true); /* from 13:33 UTC into the night */
    int64_t noon = sun_noon_ms(&place, site.real_ms + 14 * 3600000) / 300000 * 300;
    site.meters[1].silent = true;
    live(26 * 3600, false); /* to the next but one night */
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE meter = 2 AND ts >= %lld", (long long)noon), 0);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE meter = 2 AND how & 15 = 3") > 50);
    live(9 * 3600, true);
    int64_t made = audit_ask("SELECT sum(export) FROM interval WHERE meter = 2 AND abs(ts - %lld) <= 3600",
                             (long long)noon);
    assert_true(made > 5000000); /* of the 5 kW that the sun makes at most */
    check_sums();
    site_finish(&site);
}

/* The interval's length is changed while an inverter sleeps: rows go on where the last one ends, and the
 * morning's energy is not too much for the night. */
static void test_interval_changes_in_the_night(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_PRODUCTION };
    static const int32_t lengths[] = { 60, 300 };
    begin(6, 1, roles);
    site.config.site.interval_s = 900;
    assert_true(site_start(&site));
    live(8 * 3600, true); /* from 13:33 UTC into the night */
    int64_t last_s = audit_ask("SELECT max(ts) FROM interval");
    assert_int_equal(audit_ask("SELECT how & 15 FROM interval WHERE ts = %lld", (long long)last_s), 3);
    for (int i = 0; i < 2; i++) {
        site_stop(&site, true);
        site.config.site.interval_s = lengths[i];
        snprintf(site.config.hash, sizeof site.config.hash, "%016d", i + 2);
        assert_true(site_start(&site));
        live(2000, true);
    }
    site_stop(&site, true);
    live(12 * 3600, true);
    assert_true(site_start(&site));
    live(3600, true);
    assert_int_equal(audit_ask("SELECT min(ts) FROM interval WHERE ts > %lld", (long long)last_s),
                     last_s + 900);
    assert_int_equal(audit_ask("SELECT count(*) FROM run"), 2);
    int64_t total = audit_ask("SELECT base + (SELECT sum(export) FROM interval) FROM run WHERE counter = 1");
    assert_true(llabs(total - site.meters[0].first[1] - site.meters[0].truth[1]) < 500000);
    check_sums();
    site_finish(&site);
}

/* The collector is away for some of the night, and the meter awake: what it counted meanwhile is a gap's,
 * though a turn comes between the answers of its first reading. */
static void test_awake_at_the_first_answer(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_PRODUCTION };
    begin(7, 1, roles);
    assert_true(site_start(&site));
    live(8 * 3600, false); /* from 13:33 UTC into the night */
    site_stop(&site, true);
    site.meters[0].power_mw = 100000;
    site_run(&site, 3 * 3600);
    assert_true(site_start(&site));
    const struct message part = { .kind = MESSAGE_ANSWER,
                                  .generation = 1,
                                  .boot_us = site.boot_ms * 1000,
                                  .plan = site.meters[0].plan,
                                  .count = site.meters[0].plan->requests[0].count };
    inbox_put(site.inbox, &part);
    collect_turn(site.collect);
    site_run(&site, 900);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE how & 15 = 3"), 0);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 15 IN (1, 2) AND import > 8000") > 30);
    check_sums();
    site_finish(&site);
}

/* Ten hours without a collector, over noon: production lies along the sun. */
static void test_production_gap_follows_the_sun(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_PRODUCTION };
    begin(4, 1, roles);
    assert_true(site_start(&site));
    live(13 * 3600, true);
    site_stop(&site, true);
    live(14 * 3600, false); /* 02:33 to 16:33 UTC */
    assert_true(site_start(&site));
    site.meters[0].silent = false;
    live(2 * 3600, true);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 1024") > 100);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 15 = 2 AND NOT how & 1024") <=
                2); /* the gap's two ends */
    /* an hour after sunrise little, at noon much */
    int64_t noon = sun_noon_ms(&place, site.real_ms - 5 * 3600000) / 300000 * 300, dawn = noon - 5 * 3600;
    int64_t at_noon = audit_ask("SELECT export FROM interval WHERE ts = %lld", (long long)noon);
    int64_t at_dawn = audit_ask("SELECT export FROM interval WHERE ts = %lld", (long long)dawn);
    assert_true(at_noon > 5 * at_dawn && at_noon > 200000);
    check_sums();
    site_finish(&site);
}

/* The supply fails each night from 02 to 05 UTC, and the collector with it. What it missed is a measured
 * zero, but all that it touched is marked, and such a night is no reference for a gap. */
static void test_power_failures_are_no_reference(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID };
    begin(9, 1, roles);
    site.meters[0].power_mw = 1000000;
    assert_true(site_start(&site));
    int64_t first_ms = 0;
    for (int day = 0; day < 5; day++) {
        site_run(&site, (86400 * 2 + 2 * 3600 - 100 - site.real_ms / 1000 % 86400) % 86400);
        site.meters[0].power_mw = 0;
        site_run(&site, 600); /* nothing is left to be written */
        first_ms = day == 0 ? site.real_ms : first_ms;
        site_power_off(&site, 3 * 3600 * 1000);
        assert_true(site_start(&site));
        site_run(&site, 60);
        site.meters[0].power_mw = 1000000;
        site_run(&site, 600);
    }
    long long from = first_ms / 1000 / 300 * 300;
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE ts BETWEEN %lld AND %lld AND how = 256 AND "
                  "unobserved = 0 AND import < 20000",
                  from, from + 3 * 3600),
        37);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE how & 256"), 5 * 37);
    site_run(&site, 18 * 3600);
    site_stop(&site, true); /* by request: nothing is marked */
    site_run(&site, 20 * 3600);
    assert_true(site_start(&site));
    site_run(&site, 2 * 3600);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE how & 256"), 5 * 37);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 1024") > 200);
    assert_true(audit_ask("SELECT min(import) FROM interval WHERE how & 1024") > 70000);
    check_sums();
    site_finish(&site);
}

/* What was not committed when the supply failed flowed before the outage, not through it. A process that
 * dies in a boot that goes on says nothing of the supply. */
static void test_outage_is_no_gap(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID };
    for (int reboot = 0; reboot < 2; reboot++) {
        begin(9, 1, roles);
        site.meters[0].power_mw = 1000000;
        assert_true(site_start(&site));
        site_run(&site, 7 * 3600 - site.real_ms / 1000 % 300 + 200); /* 200 s into an interval */
        int64_t from_s = site.real_ms / 1000 / 300 * 300;
        site.meters[0].power_mw = 0;
        if (reboot) {
            site_power_off(&site, 4 * 3600 * 1000);
        } else {
            site_stop(&site, false);
            site_run(&site, 4 * 3600);
        }
        assert_true(site_start(&site));
        site.meters[0].power_mw = 1000000;
        site_run(&site, 5000);
        int64_t first = audit_ask("SELECT import FROM interval WHERE ts = %lld", (long long)from_s);
        int64_t inside = audit_ask("SELECT sum(import) FROM interval WHERE ts > %lld AND ts < %lld",
                                   (long long)from_s, (long long)from_s + 4 * 3600 - 300);
        assert_true(audit_ask("SELECT min(unobserved) FROM interval WHERE ts > %lld AND ts < %lld",
                              (long long)from_s, (long long)from_s + 4 * 3600 - 300) == 300);
        if (reboot)
            assert_true(first > 55000 && first < 60000 && inside == 0);
        else
            assert_true(first < 5000 && inside > 50000);
        audit_conservation(&site);
        check_sums();
        site_finish(&site);
    }
}

/* Two days of history, then a gap of a day: consumption follows days of its
 * kind, the grid meter follows both, the derived meter follows them. */
static void test_site_gap(void **state)
{
    (void)state;
    static const enum meter_role with_grid[] = { ROLE_GRID, ROLE_PRODUCTION };
    static const enum meter_role derived[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION };
    for (int k = 0; k < 2; k++) {
        begin(5, 2, k == 0 ? with_grid : derived);
        assert_true(site_start(&site));
        live(6 * 86400, false);
        int64_t before = audit_ask("SELECT max(ts) FROM interval");
        site_stop(&site, true);
        live(86400, false);
        assert_true(site_start(&site));
        live(2 * 3600, false);
        int grid = k == 0 ? 1 : 1023;
        long long since = (long long)before + 600;
        /* at night nothing is sold, at noon hardly anything bought: the household uses less than the sun
         * brings */
        assert_int_equal(
            audit_ask("SELECT coalesce(sum(export), 0) FROM interval WHERE meter = %d AND ts > %lld AND "
                      "(ts / 3600) %% 24 IN (20, 21, 22, 23, 0, 1, 2)",
                      grid, since),
            0);
        int64_t bought =
            audit_ask("SELECT sum(import) FROM interval WHERE meter = %d AND ts > %lld AND (ts / 3600) %% 24 "
                      "IN (10, 11, 12)",
                      grid, since);
        int64_t sold =
            audit_ask("SELECT sum(export) FROM interval WHERE meter = %d AND ts > %lld AND (ts / 3600) %% 24 "
                      "IN (10, 11, 12)",
                      grid, since);
        assert_true(bought * 20 < sold);
        assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 1024") > 500);
        check_sums();
        if (k == 1) {
            assert_int_equal(audit_ask("SELECT count(*) FROM interval AS g JOIN interval AS c ON c.id = g.id "
                                       "- 1022 JOIN interval AS p "
                                       "ON p.id = g.id - 1021 WHERE g.meter = 1023 AND g.import - g.export "
                                       "<> c.import - p.export"),
                             0);
            /* what follows from rows that were placed along a shape says so itself */
            assert_int_equal(audit_ask("SELECT count(*) FROM interval AS d JOIN interval AS m ON m.ts = d.ts "
                                       "AND m.meter < 1023 AND m.how & 1024 WHERE d.meter = 1023 AND NOT "
                                       "d.how & 1024"),
                             0);
            assert_int_equal(
                audit_ask(
                    "SELECT base + (SELECT sum(import) FROM interval WHERE meter = 1023) FROM run WHERE "
                    "meter = 1023 AND counter = 0"),
                site.collect->derived.account[0]);
        }
        site_finish(&site);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_night_is_no_gap),
        cmocka_unit_test(test_unread_is_not_asleep),
        cmocka_unit_test(test_first_heard_on_a_full_disk),
        cmocka_unit_test(test_silent_day_is_a_gap),
        cmocka_unit_test(test_interval_changes_in_the_night),
        cmocka_unit_test(test_awake_at_the_first_answer),
        cmocka_unit_test(test_production_gap_follows_the_sun),
        cmocka_unit_test(test_power_failures_are_no_reference),
        cmocka_unit_test(test_outage_is_no_gap),
        cmocka_unit_test(test_site_gap),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
