/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c tests/fake/told.c tools/outages/outages.c tools/outages/outages_cut.c tools/outages/outages_infer.c tools/outages/outages_inverter.c tools/outages/outages_made.c tools/outages/stretch.c tools/query/query.c tools/query/query_rows.c tools/query/query_outages.c tools/query/query_sql.c tools/output/number.c tools/balance/balance.c COLLECTOR */
/* Outages as the real collector notes them in the real record, and as the
 * query tells them apart afterwards. */
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
#include "outages.h"
#include "schema.h"
#include "site.h"
#include "sun.h"
#include "told.h"
#include "wire.h"

enum { GRID, ROOF, L = 300, MINUTE = 60, HOUR = 3600, DAY = 86400 };

static struct site site;
static struct outages outages;
static bool grid_on; /* in the invented world */
static const struct sun_place place = { 48.85, 2.35 };

static void begin(uint64_t seed)
{
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, 2, roles, L, 1000);
    site.config.site.latitude = place.latitude;
    site.config.site.longitude = place.longitude;
    site.config.site.voltage_min = 80;
    site.config.site.outage_voltage = 23;
    snprintf(site.config.buses[0].name, sizeof site.config.buses[0].name, "panel");
    snprintf(site.config.meters[GRID].name, sizeof site.config.meters[GRID].name, "House");
    snprintf(site.config.meters[ROOF].name, sizeof site.config.meters[ROOF].name, "Roof");
    site.config.meters[ROOF].delivers_by_export = true;
    grid_on = true;
    assert_true(site_start(&site));
}

static void end(void)
{
    outages_free(&outages);
    site_finish(&site);
}

static int64_t sunshine_mw(void)
{
    struct sun sun = sun_position(&place, site.real_ms);
    return sun.elevation > 0 ? (int64_t)(5000000 * sin(sun.elevation * 0.0174533)) : 0;
}

/* Without a grid the inverter stops, and the house is dark. */
static void flow(void)
{
    int64_t made = grid_on ? sunshine_mw() : 0;
    site.meters[ROOF].power_mw = -made;
    site.meters[GRID].power_mw = grid_on ? 400000 - made : 0;
}

static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        flow();
        site_second(&site);
    }
}

static void switch_grid(bool on)
{
    grid_on = on;
    site.meters[GRID].voltage_mv = on ? 230000 : 300;
    flow();
}

static void tell(enum message_kind kind, int meter, bool lost)
{
    struct message message = { .kind = kind,
                               .meter = (int16_t)meter,
                               .generation = 1,
                               .result = (int8_t)(lost ? WIRE_SILENT : WIRE_OK) };
    if (meter >= 0)
        site.meters[meter].silent = lost;
    inbox_put(site.inbox, &message);
}

static void power_off(int64_t seconds)
{
    flow();
    site_power_off(&site, seconds * 1000);
    assert_true(site_start(&site));
}

/* Everything that the record says. */
static const struct outage *look(int32_t expected)
{
    if (site.collect)
        commit_now(site.collect);
    outages_free(&outages);
    told_outages(&outages, site.real_ms);
    if (outages.count != expected)
        for (int32_t i = 0; i < outages.count; i++)
            print_message("%s meter %d bus '%s' %lld to %lld: %s\n", outage_kind_words[outages.list[i].kind],
                          (int)outages.list[i].meter, outages.list[i].bus,
                          (long long)outages.list[i].from_ms / 1000, (long long)outages.list[i].to_ms / 1000,
                          outages.list[i].known);
    assert_int_equal(outages.count, expected);
    return outages.list;
}

static void expect(const struct outage *outage, enum outage_kind kind, int64_t from_ms, int64_t to_ms,
                   const char *known)
{
    assert_string_equal(outage_kind_words[outage->kind], outage_kind_words[kind]);
    assert_in_range(llabs(outage->from_ms - from_ms), 0, 5000);
    if (to_ms == UNKNOWN)
        assert_true(outage->to_ms == UNKNOWN);
    else
        assert_in_range(llabs(outage->to_ms - to_ms), 0, 5000);
    assert_string_equal(outage->known, known);
}

/* The computer lives on: the voltage tells. */
static void test_voltage(void **state)
{
    (void)state;
    begin(1);
    live(20 * MINUTE);
    switch_grid(false);
    live(2); /* two readings are none */
    switch_grid(true);
    live(10 * MINUTE);
    look(0);
    int64_t from_ms = site.real_ms;
    switch_grid(false);
    live(40 * MINUTE);
    expect(look(1), OUTAGE_GRID, from_ms, UNKNOWN, "voltage measured: 0.3 V");
    site.meters[GRID].voltage_mv = 30000; /* over the limit, but not back */
    live(20 * MINUTE);
    int64_t to_ms = site.real_ms;
    switch_grid(true);
    live(30 * MINUTE);
    expect(look(1), OUTAGE_GRID, from_ms, to_ms, "voltage measured: 0.3 V");
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind IN ('grid_lost', 'grid_back')"), 2);
    /* no value to reject, as 30 V are */
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE text LIKE '%% read 300 thousandths%%'"), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE text LIKE '%% read 30000 thousandths%%'"),
                     1);
    /* The voltage of nothing is no value of the record, and its energy is measured. */
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE voltage < 8000"), 0);
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND ts >= %lld AND ts < %lld AND "
                  "how = 0 AND estimated = 0 AND import = 0 AND export = 0",
                  (long long)from_ms / 1000 + L, (long long)to_ms / 1000 - L),
        10);
    end();
}

/* The meter falls silent with its supply, the inverter answers and makes nothing. */
static void test_silent_with_production(void **state)
{
    (void)state;
    begin(2);
    live(30 * MINUTE); /* in the afternoon */
    int64_t from_ms = site.real_ms;
    switch_grid(false);
    site.meters[GRID].silent = true;
    live(3);
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    int64_t to_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, false);
    switch_grid(true);
    live(30 * MINUTE);
    expect(look(1), OUTAGE_GRID, from_ms, to_ms, "meter silent, and production fell to zero with it");
    assert_int_equal(
        audit_ask("SELECT count(*) FROM interval WHERE meter = 1 AND ts >= %lld AND ts < %lld AND "
                  "how = 0 AND estimated = 0 AND unobserved = 0 AND import = 0 AND export = 0",
                  (long long)from_ms / 1000 + L, (long long)to_ms / 1000 - L),
        10);
    end();
}

/* One meter silent: the inverter goes on, or was at rest all the time. */
static void test_meter(void **state)
{
    (void)state;
    begin(3);
    live(30 * MINUTE);
    int64_t from_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    int64_t to_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, false);
    live(10 * HOUR); /* into the night */
    const struct outage *list = look(1);
    expect(list, OUTAGE_METER, from_ms, to_ms, "no answer");
    assert_int_equal(list->meter, 1);
    assert_string_equal(list->bus, "panel");
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    assert_int_equal(look(2)[1].kind, OUTAGE_METER);
    end();
}

/* All meters of a bus are lost with it, a little earlier or later. */
static void test_bus(void **state)
{
    (void)state;
    begin(4);
    live(30 * MINUTE);
    int64_t from_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, ROOF, true);
    live(2);
    tell(MESSAGE_BUS_STATE, -1, true);
    site.meters[GRID].silent = true;
    live(30);
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    int64_t to_ms = site.real_ms;
    tell(MESSAGE_BUS_STATE, -1, false);
    live(20);
    tell(MESSAGE_METER_STATE, GRID, false);
    tell(MESSAGE_METER_STATE, ROOF, false);
    live(10 * MINUTE);
    const struct outage *list = look(1);
    expect(list, OUTAGE_BUS, from_ms, to_ms, "");
    assert_string_equal(list->bus, "panel");
    end();
}

/* What the next process finds lost at once was lost in between. */
static void test_restart_inside(void **state)
{
    (void)state;
    begin(5);
    live(30 * MINUTE);
    int64_t from_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    site_stop(&site, true);
    live(10);
    assert_true(site_start(&site));
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    int64_t to_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, false);
    live(10 * MINUTE);
    expect(look(1), OUTAGE_METER, from_ms, to_ms, "no answer");
    /* and what it does not find lost was lost at least until its end */
    from_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    to_ms = site.real_ms;
    site_stop(&site, true);
    live(10);
    assert_true(site_start(&site));
    site.meters[GRID].silent = false;
    live(HOUR);
    expect(&look(2)[1], OUTAGE_METER, from_ms, to_ms, "no answer");
    end();
}

/* Three nights: told lost at dusk and back at dawn, and still no outage. */
static void test_sleeping_inverter(void **state)
{
    (void)state;
    begin(6);
    for (int64_t s = 0; s < 3 * DAY; s++) {
        bool asleep = sun_position(&place, site.real_ms).elevation < 2;
        if (asleep != site.meters[ROOF].silent)
            tell(MESSAGE_METER_STATE, ROOF, asleep);
        live(1);
    }
    assert_int_equal(audit_ask("SELECT count(*) FROM event WHERE kind = 'meter_lost'"), 3);
    look(0);
    /* by day it is one */
    while (sun_position(&place, site.real_ms).elevation < 30)
        live(1);
    int64_t from_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, ROOF, true);
    live(2 * HOUR);
    int64_t to_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, ROOF, false);
    live(20 * MINUTE);
    expect(look(1), OUTAGE_METER, from_ms, to_ms, "no answer");
    end();
}

static void test_process(void **state)
{
    (void)state;
    begin(7);
    live(31 * MINUTE);
    int64_t from_ms = site.real_ms;
    site_stop(&site, false);
    live(10 * MINUTE);
    assert_true(site_start(&site));
    int64_t to_ms = site.real_ms;
    live(30 * MINUTE);
    const struct outage *list = look(1);
    assert_true(list->from_ms <= from_ms && from_ms <= list->from_ms + list->doubt_ms);
    expect(list, OUTAGE_COMPUTER, list->from_ms, to_ms, "the process ended without notice");
    from_ms = site.real_ms;
    site_stop(&site, true);
    live(20 * MINUTE);
    expect(&look(2)[1], OUTAGE_COMPUTER, from_ms, UNKNOWN, "stopped by request");
    assert_true(site_start(&site));
    to_ms = site.real_ms;
    live(30 * MINUTE);
    list = look(2);
    expect(&list[1], OUTAGE_COMPUTER, from_ms, to_ms, "stopped by request");
    assert_int_equal(list[1].doubt_ms, 0);
    site_stop(&site, true); /* loaded anew: no outage */
    live(1);
    assert_true(site_start(&site));
    live(30 * MINUTE);
    look(2);
    end();
}

/* The computer goes down with the grid, or alone. */
static void test_power_off(void **state)
{
    (void)state;
    begin(8);
    live(2 * HOUR);
    switch_grid(false);
    power_off(2 * HOUR); /* no days to compare with yet */
    switch_grid(true);
    live(5 * DAY);
    const struct outage *list = look(1);
    expect(list, OUTAGE_COMPUTER, list->from_ms, list->to_ms,
           "no stop noted, then a new boot; whether the grid failed cannot be told");
    int64_t from_ms = site.real_ms;
    switch_grid(false);
    power_off(2 * HOUR);
    switch_grid(true);
    int64_t to_ms = site.real_ms;
    live(DAY);
    list = look(3);
    assert_int_equal(list[1].kind, OUTAGE_GRID);
    assert_true(list[1].from_ms <= from_ms && from_ms <= list[1].from_ms + list[1].doubt_ms);
    expect(&list[1], OUTAGE_GRID, list[1].from_ms, to_ms - 5000,
           "counters stood still while the computer was off");
    expect(&list[2], OUTAGE_COMPUTER, list[1].from_ms, to_ms,
           "no stop noted, then a new boot; the grid was out");
    power_off(2 * HOUR);
    live(DAY);
    list = look(4);
    expect(&list[3], OUTAGE_COMPUTER, list[3].from_ms, list[3].to_ms,
           "no stop noted, then a new boot; the grid was there: counters went on");
    end();
}

/* A boot that no clock came for is a part of the outage. */
static void test_without_clock(void **state)
{
    (void)state;
    begin(9);
    live(HOUR);
    int64_t from_ms = site.real_ms;
    site.synchronised = false;
    site.wall_error_ms = -DAY * INT64_C(1000);
    power_off(10 * MINUTE);
    live(3 * HOUR);
    const struct outage *list = look(1);
    assert_true(list->to_ms == UNKNOWN && list->kind == OUTAGE_COMPUTER);
    site.synchronised = true;
    site.wall_error_ms = 0;
    power_off(10 * MINUTE);
    int64_t to_ms = site.real_ms;
    live(HOUR);
    list = look(1);
    assert_true(list->from_ms <= from_ms && from_ms <= list->from_ms + list->doubt_ms);
    expect(list, OUTAGE_COMPUTER, list->from_ms, to_ms,
           "no stop noted, then a new boot; ran without a clock meanwhile; "
           "the grid was there: counters went on");
    end();
}

/* A clock that was wrong is put right: outages move with the rows. */
static void test_dated_anew(void **state)
{
    (void)state;
    begin(10);
    site_stop(&site, true);
    site.wall_error_ms = 3 * HOUR * INT64_C(1000);
    power_off(MINUTE);
    live(2 * HOUR);
    int64_t from_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, true);
    live(HOUR);
    int64_t to_ms = site.real_ms;
    tell(MESSAGE_METER_STATE, GRID, false);
    live(HOUR);
    expect(look(1), OUTAGE_METER, from_ms + site.wall_error_ms, to_ms + site.wall_error_ms, "no answer");
    site.wall_error_ms = 0;
    live(HOUR);
    assert_true(audit_ask("SELECT count(*) FROM interval WHERE how & 64") > 0);
    expect(look(1), OUTAGE_METER, from_ms, to_ms, "no answer");
    end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_voltage),        cmocka_unit_test(test_silent_with_production),
        cmocka_unit_test(test_meter),          cmocka_unit_test(test_bus),
        cmocka_unit_test(test_restart_inside), cmocka_unit_test(test_sleeping_inverter),
        cmocka_unit_test(test_process),        cmocka_unit_test(test_power_off),
        cmocka_unit_test(test_without_clock),  cmocka_unit_test(test_dated_anew),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
