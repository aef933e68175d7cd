/* links: tests/fake/site.c tests/fake/disk.c tests/fake/audit.c tests/fake/curves.c tests/fake/told.c tools/outages/outages.c tools/outages/outages_cut.c tools/outages/outages_infer.c tools/outages/outages_inverter.c tools/outages/outages_made.c tools/outages/stretch.c tools/query/query.c tools/query/query_rows.c tools/query/query_outages.c tools/query/query_sql.c tools/output/number.c tools/balance/balance.c COLLECTOR */
/* Inverters that stop by day, production that was not made, lost phases, and
 * sums: over invented weather that changes from hour to hour and day to day. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audit.h"
#include "disk.h"
#include "log.h"
#include "site.h"
#include "sun.h"
#include "told.h"
#include "wire.h"

enum { GRID, ROOF, BARN, L = 300, MINUTE = 60, HOUR = 3600, DAY = 86400 };

static struct site site;
static struct outages outages;
static const struct sun_place place = { 48.85, 2.35 };
static bool grid_on, stopped[SITE_METERS];
static int64_t day_share, hour_share; /* of a clear sky, per mille */
static int64_t not_made;              /* truth, mW s */

static void begin(uint64_t seed, int count, const enum meter_role roles[])
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(&site, seed, count, roles, L, 1000);
    site.config.site.latitude = place.latitude;
    site.config.site.longitude = place.longitude;
    site.config.site.outage_voltage = 23;
    site.config.site.poll_period_ms = 10000;
    for (int i = 0; i < count; i++)
        site.config.meters[i].delivers_by_export = roles[i] == ROLE_PRODUCTION;
    grid_on = true;
    day_share = hour_share = 1000;
    not_made = 0;
    memset(stopped, 0, sizeof stopped);
    assert_true(site_start(&site));
}

static void end(void)
{
    outages_free(&outages);
    site_finish(&site);
}

static bool is_roof(int i)
{
    return site.config.meters[i].role == ROLE_PRODUCTION;
}

static void flow(void)
{
    struct sun sun = sun_position(&place, site.real_ms);
    int64_t clear = sun.elevation > 3 ? (int64_t)(5000000 * sin(sun.elevation * 0.0174533)) : 0;
    int64_t made = clear * day_share / 1000 * hour_share / 1000, sum = 0;
    for (int i = 0; i < site.config.meter_count; i++) {
        if (!is_roof(i))
            continue;
        bool stands = !grid_on || stopped[i];
        site.meters[i].power_mw = stands ? 0 : -made;
        not_made += stands ? made : 0;
        sum += stands ? 0 : made;
    }
    for (int i = 0; i < site.config.meter_count; i++)
        if (!is_roof(i))
            site.meters[i].power_mw = grid_on ? 400000 - sum : 0;
}

/* Days between a fifth and all of a clear sky, hours a fifth up and down. */
static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        if (site.real_ms / 1000 % DAY == 0)
            day_share = 200 + (int64_t)(site_random(&site) % 800);
        if (site.real_ms / 1000 % HOUR == 0)
            hour_share = 800 + (int64_t)(site_random(&site) % 400);
        flow();
        site_second(&site);
    }
}

static void live_until(int hour)
{
    int64_t now_s = site.real_ms / 1000;
    live(((int64_t)hour * HOUR - now_s % DAY + DAY) % DAY);
}

static void switch_grid(bool on)
{
    grid_on = on;
    for (int i = 0; i < site.config.meter_count; i++)
        site.meters[i].voltage_mv = on ? 230000 : 0;
}

static void tell_lost(int meter, bool lost)
{
    struct message message = { .kind = MESSAGE_METER_STATE,
                               .meter = (int16_t)meter,
                               .generation = 1,
                               .result = (int8_t)(lost ? WIRE_SILENT : WIRE_OK) };
    site.meters[meter].silent = lost;
    inbox_put(site.inbox, &message);
}

static const struct outage *look(int32_t expected)
{
    commit_now(site.collect);
    outages_free(&outages);
    told_outages(&outages, site.real_ms);
    if (outages.count != expected)
        for (int32_t i = 0; i < outages.count; i++)
            print_message("%s meter %d %lld to %lld: %s\n", outage_kind_words[outages.list[i].kind],
                          (int)outages.list[i].meter, (long long)outages.list[i].from_ms / 1000,
                          (long long)outages.list[i].to_ms / 1000, outages.list[i].known);
    assert_int_equal(outages.count, expected);
    return outages.list;
}

static void test_grid_outages(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    int64_t error = 0, total = 0;
    for (uint64_t seed = 1; seed <= 2; seed++) {
        begin(seed, 2, roles);
        live(6 * DAY);
        live_until(9 + (int)seed % 3);
        switch_grid(false);
        live(2 * HOUR + 20 * MINUTE);
        switch_grid(true);
        live(4 * DAY);
        const struct outage *list = look(1);
        assert_int_equal(list->kind, OUTAGE_GRID);
        int64_t truth = not_made / 3600;
        print_message("seed %d: %lld Wh were not made, estimated %lld\n", (int)seed,
                      (long long)(truth / 1000), (long long)(list->not_made / 1000));
        assert_true(llabs(list->not_made - truth) < truth / 2);
        error += llabs(list->not_made - truth);
        total += truth;
        assert_int_equal(audit_ask("SELECT sum(export) FROM interval WHERE meter = 2 AND ts >= %lld AND ts < "
                                   "%lld",
                                   (long long)list->from_ms / 1000 + L,
                                   (long long)list->to_ms / 1000 - 2 * L),
                         0);
        end();
    }
    assert_true(error * 5 < total); /* a fifth, over all */
}

/* Of two inverters one stops while the other goes on; with both it may be snow. */
static void test_inverter_beside_another(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION, ROLE_PRODUCTION };
    begin(11, 3, roles);
    live(6 * DAY);
    live_until(10);
    look(0);
    int64_t from_ms = site.real_ms;
    stopped[BARN] = true;
    live(4 * HOUR);
    stopped[BARN] = false;
    int64_t to_ms = site.real_ms, truth = not_made / 3600;
    live(4 * DAY);
    const struct outage *list = look(1);
    assert_int_equal(list->kind, OUTAGE_INVERTER);
    assert_int_equal(list->meter, 3);
    assert_in_range(llabs(list->from_ms - from_ms), 0, 2 * L * 1000);
    assert_in_range(llabs(list->to_ms - to_ms), 0, 2 * L * 1000);
    assert_true(strstr(list->known, "made nothing while others did; ") == list->known);
    assert_true(llabs(list->not_made - truth) < truth / 3);
    /* One that falls silent as well, and has counted nothing when it is back, is no meter's outage. */
    live_until(9);
    stopped[BARN] = true;
    tell_lost(BARN, true);
    live(4 * HOUR);
    stopped[BARN] = false;
    tell_lost(BARN, false);
    live(2 * DAY);
    assert_int_equal(look(2)[1].kind, OUTAGE_INVERTER);
    live_until(9);
    stopped[ROOF] = stopped[BARN] = true;
    live(5 * HOUR);
    stopped[ROOF] = stopped[BARN] = false;
    live(3 * DAY);
    look(2);
    end();
}

/* Alone it is compared with its own days; a dull day is none. */
static void test_inverter_alone(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_PRODUCTION };
    begin(12, 2, roles);
    live(6 * DAY);
    live_until(0);
    day_share = 20;
    for (int64_t s = 0; s < DAY - 1; s++) {
        flow();
        site_second(&site);
    }
    live(2 * DAY);
    look(0);
    live_until(13);
    int64_t from_ms = site.real_ms;
    stopped[ROOF] = true; /* into the night, which is none of it */
    live(8 * HOUR);
    stopped[ROOF] = false;
    live(3 * DAY);
    const struct outage *list = look(1);
    assert_int_equal(list->kind, OUTAGE_INVERTER);
    assert_in_range(llabs(list->from_ms - from_ms), 0, 2 * L * 1000);
    /* three degrees above the horizon the inverter of flow() stops of itself */
    assert_true(sun_position(&place, list->to_ms - 3 * L * 1000).elevation > 3);
    assert_true(sun_position(&place, list->to_ms + 3 * L * 1000).elevation < 3);
    /* a short one in an evening is below what days differ by */
    live_until(15);
    stopped[ROOF] = true;
    live(50 * MINUTE);
    stopped[ROOF] = false;
    live(3 * DAY);
    look(1);
    end();
}

/* Three meters of one phase each: one goes, then all. */
static void test_phases(void **state)
{
    (void)state;
    static const enum meter_role roles[] = { ROLE_GRID, ROLE_GRID, ROLE_GRID };
    begin(13, 3, roles);
    live(HOUR);
    int64_t lost_ms = site.real_ms;
    site.meters[1].voltage_mv = 4200;
    live(20 * MINUTE);
    int64_t dark_ms = site.real_ms;
    switch_grid(false);
    live(20 * MINUTE);
    int64_t back_ms = site.real_ms;
    switch_grid(true);
    live(20 * MINUTE);
    const struct outage *list = look(2);
    assert_int_equal(list[0].kind, OUTAGE_PHASE);
    assert_int_equal(list[0].meter, 2);
    assert_string_equal(list[0].phase, "L1");
    assert_string_equal(list[0].known, "L1: 4.2 V");
    assert_in_range(llabs(list[0].from_ms - lost_ms), 0, 11000);
    assert_in_range(llabs(list[0].to_ms - dark_ms), 0, 41000);
    assert_int_equal(list[1].kind, OUTAGE_GRID);
    assert_in_range(llabs(list[1].from_ms - dark_ms), 0, 11000);
    assert_in_range(llabs(list[1].to_ms - back_ms), 0, 11000);
    end();
}

static void test_sums(void **state)
{
    (void)state;
    static const struct outage list[] = {
        { .kind = OUTAGE_METER, .from_ms = 1000, .to_ms = 5000, .not_made = UNKNOWN },
        { .kind = OUTAGE_METER, .from_ms = 3000, .to_ms = 7000, .not_made = UNKNOWN },
        { .kind = OUTAGE_GRID, .from_ms = 3500, .to_ms = 6500, .not_made = 7 },
        { .kind = OUTAGE_METER, .from_ms = 4000, .to_ms = 4500, .not_made = UNKNOWN },
        { .kind = OUTAGE_METER, .from_ms = 9000, .to_ms = UNKNOWN, .not_made = UNKNOWN },
    };
    struct outages all = { .list = (struct outage *)(uintptr_t)list, .count = 5, .now_ms = 12000 };
    struct outage_sum sum = outages_sum(&all, OUTAGE_METER, 0, 20000);
    assert_int_equal(sum.count, 4);
    assert_int_equal(sum.ms, 6000 + 3000);
    assert_true(sum.not_made == UNKNOWN);
    /* cut at 4200: both sides together are the whole */
    struct outage_sum first = outages_sum(&all, OUTAGE_METER, 0, 4200);
    struct outage_sum second = outages_sum(&all, OUTAGE_METER, 4200, 20000);
    assert_int_equal(first.ms + second.ms, sum.ms);
    assert_int_equal(first.count, 3);
    assert_int_equal(second.count, 1);
    assert_int_equal(outages_sum(&all, OUTAGE_GRID, 0, 4200).not_made, 7);
    assert_true(outages_sum(&all, OUTAGE_GRID, 4200, 9000).not_made == UNKNOWN);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_grid_outages),   cmocka_unit_test(test_inverter_beside_another),
        cmocka_unit_test(test_inverter_alone), cmocka_unit_test(test_phases),
        cmocka_unit_test(test_sums),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
