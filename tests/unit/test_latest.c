/* links: tools/latest.c tools/balance/balance.c tools/output/number.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "present.h"

enum { NOW_MS = 1000000000 };

static struct present present;

static int begin(void **state)
{
    (void)state;
    memset(&present, 0, sizeof(present));
    present.now_ms = NOW_MS;
    present.site.poll_ms = 1000;
    present.production = present.grid = present.consumption = UNKNOWN;
    return 0;
}

/* Adds a meter with a fresh power. */
static struct present_meter *add(int32_t number, enum meter_role role, int64_t power)
{
    struct arranged_meter *arranged = &present.arrangement.meters[present.arrangement.meter_count++];
    struct present_meter *meter = &present.meters[present.meter_count++];
    arranged->number = number;
    arranged->role = role;
    arranged->delivers_by_export = role == ROLE_PRODUCTION || role == ROLE_STORAGE;
    *meter = (struct present_meter){ .number = number, .state = STATE_FRESH, .power = power };
    arrangement_prepare(&present.arrangement);
    return meter;
}

static bool read_text(const char *text)
{
    char buffer[1024];
    snprintf(buffer, sizeof(buffer), "%s", text);
    return present_read(&present, buffer);
}

#define FIRST "meterbook-latest 1 0123abcd 999999000 1\n"

static void test_reading(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, UNKNOWN);
    add(2, ROLE_GRID, UNKNOWN);
    add(3, ROLE_BRANCH, UNKNOWN);
    assert_true(read_text(FIRST "1 ok 999999500 -3000000 230100 - 5000 - 4000 Roof, south side\n"
                                "2 lost 999000000 10 - 1 2 3 4 House\n"
                                "3 waiting - - - - - - - \n"
                                "9 ok 999999500 1 1 1 1 1 1 not in the record yet\n"
                                "bus 0 up Panel\n"
                                "bus 1 foreign The barn\n"));
    assert_int_equal(present.at_ms, 999999000);
    assert_int_equal(present.meters[0].state, STATE_FRESH);
    assert_int_equal(present.meters[0].at_ms, 999999500);
    assert_int_equal(present.meters[0].power, -3000000);
    assert_int_equal(present.meters[0].voltage, 230100);
    assert_true(present.meters[0].today_import == UNKNOWN);
    assert_int_equal(present.meters[0].today_export, 4000);
    assert_int_equal(present.meters[1].state, STATE_LOST);
    assert_int_equal(present.meters[2].state, STATE_WAITING);
    assert_true(present.meters[2].at_ms == UNKNOWN);
    assert_int_equal(present.bus_count, 2);
    assert_string_equal(present.buses[1].name, "The barn");
    assert_string_equal(present.buses[1].state, "foreign");
}

static void test_old_readings(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, UNKNOWN);
    assert_int_equal(present_stale_ms(&present), 10000);
    assert_true(read_text(FIRST "1 ok 999990000 1 1 1 1 1 1 Roof\n"));
    assert_int_equal(present.meters[0].state, STATE_FRESH);
    assert_true(read_text(FIRST "1 ok 999989999 1 1 1 1 1 1 Roof\n"));
    assert_int_equal(present.meters[0].state, STATE_OLD);
    present.site.poll_ms = 60000;
    assert_int_equal(present_stale_ms(&present), 300000);
}

static void test_damage(void **state)
{
    static const char *const bad[] = {
        "",
        "\n",
        "meterbook-latest\n",
        "meterbook-latest 2 boot 1 1\n",
        "meterbook-latest 1 boot - 1\n",
        "meterbook-latest 1 boot x 1\n",
        "another-file 1 boot 1 1\n",
        FIRST "1\n",
        FIRST "1 ok\n",
        FIRST "1 fine 1 1 1 1 1 1 1 Roof\n",
        FIRST "1 ok 1 1 1 1 1 1 1x Roof\n",
        FIRST "1 ok 1 1 1 1 1 1 99999999999999999999 Roof\n",
        FIRST "1 ok -9223372036854775807 1 1 1 1 1 1 Roof\n",
        FIRST "x ok 1 1 1 1 1 1 1 Roof\n",
        FIRST "bus x up Panel\n",
    };
    (void)state;
    add(1, ROLE_PRODUCTION, UNKNOWN);
    for (size_t i = 0; i < sizeof(bad) / sizeof(bad[0]); i++)
        assert_false(read_text(bad[i]));
    assert_true(read_text(FIRST));
}

static void test_many_buses(void **state)
{
    char text[2048] = FIRST;
    (void)state;
    for (int i = 0; i < CONFIG_MAX_BUSES + 2; i++)
        snprintf(text + strlen(text), sizeof(text) - strlen(text), "bus %d up b\n", i);
    assert_true(present_read(&present, text));
    assert_int_equal(present.bus_count, CONFIG_MAX_BUSES);
}

static void assert_sums(int64_t production, int64_t grid, int64_t consumption)
{
    present_add_up(&present);
    assert_true(present.production == production);
    assert_true(present.grid == grid);
    assert_true(present.consumption == consumption);
}

static void test_production_and_grid(void **state)
{
    (void)state;
    struct present_meter *roof = add(1, ROLE_PRODUCTION, -3000);
    add(2, ROLE_GRID, -1000);
    assert_sums(3000, -1000, 2000);
    roof->state = STATE_OLD;
    assert_sums(UNKNOWN, -1000, UNKNOWN);
}

static void test_grid_alone(void **state)
{
    (void)state;
    add(2, ROLE_GRID, 700);
    assert_sums(UNKNOWN, 700, UNKNOWN);
}

static void test_production_and_consumption(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, -3000);
    struct present_meter *house = add(2, ROLE_CONSUMPTION, 700);
    assert_sums(3000, -2300, 700);
    house->state = STATE_LOST;
    assert_sums(3000, UNKNOWN, UNKNOWN);
}

static void test_gross(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, -3000);
    present.arrangement.meters[0].gross = true;
    add(2, ROLE_CONSUMPTION, 700);
    assert_sums(3000, -2300, 700);
}

static void test_storage_and_generator(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, -3000);
    add(2, ROLE_GRID, -1000);
    add(3, ROLE_STORAGE, 500); /* charging */
    struct present_meter *diesel = add(4, ROLE_GENERATOR, 100);
    assert_sums(3000, -1000, 3000 - 500 + 100 - 1000);
    diesel->power = UNKNOWN;
    assert_sums(3000, -1000, UNKNOWN);
}

#define TEST(function) cmocka_unit_test_setup(function, begin)

/* Caught half-written it is not taken for a page. */
static void test_sequence(void **state)
{
    (void)state;
    static const struct {
        const char *text, *inside;
        bool whole;
    } cases[] = {
        { "sequence 0000000007\nabc\nsequence 0000000007\n", "abc\n", true },
        { "sequence 0000000007\nsequence 0000000007\n", "", true },
        { "abc\n", "abc\n", true },
        { "", "", true },
        { "sequence 0000000007\nabc\nsequence 0000000008\n", "", false },
        { "sequence 0000000000\nabc\nsequence 0000000000\n", "", false },
        { "sequence 0000000007\nabc\n", "", false },
        { "sequence 0000000007\n", "", false },
        { "sequence ", "", false },
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[80];
        snprintf(text, sizeof text, "%s", cases[i].text);
        assert_int_equal(present_unwrap(text), cases[i].whole);
        assert_string_equal(text, cases[i].inside);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sequence),
        TEST(test_reading),
        TEST(test_old_readings),
        TEST(test_damage),
        TEST(test_many_buses),
        TEST(test_production_and_grid),
        TEST(test_grid_alone),
        TEST(test_production_and_consumption),
        TEST(test_gross),
        TEST(test_storage_and_generator),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
