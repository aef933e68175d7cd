/* links: daemon/record/net.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdint.h>

#include "net.h"

#define L 300000

static struct net net;

static void set_out(void)
{
    struct net_row row;
    net_init(&net, L);
    assert_int_equal(net_add(&net, 1, false), 0);
    assert_int_equal(net_add(&net, 2, true), 1);
    assert_false(net_cross(&net, 0, L, 1000, &row));
    assert_false(net_cross(&net, 1, L, 500, &row));
    assert_true(net.live);
}

static void step(int64_t consumption, int64_t production)
{
    net_now(&net, 0, consumption);
    net_now(&net, 1, production);
    net_step(&net);
}

/* Never net over an interval: what was bought and sold in it are both kept. */
static void test_both_directions_in_one_interval(void **state)
{
    (void)state;
    struct net_row row;
    set_out();
    step(1100, 500); /* used 100: bought */
    step(1100, 700); /* made 200: sold */
    step(1150, 720);
    assert_false(net_cross(&net, 0, 2 * L, 1160, &row));
    step(1170, 720); /* one side is past the boundary: no step */
    assert_true(net_cross(&net, 1, 2 * L, 725, &row));
    assert_int_equal(row.start_ms, L);
    assert_int_equal(row.import, 100 + 30 + 5);
    assert_int_equal(row.export, 200);
    assert_int_equal(row.import - row.export, (1160 - 1000) - (725 - 500));
}

/* A side that falls silent ends the live netting; it begins again where both meet. */
static void test_silent_side(void **state)
{
    (void)state;
    struct net_row row;
    set_out();
    assert_false(net_cross(&net, 0, 2 * L, 1200, &row));
    assert_false(net_cross(&net, 0, 3 * L, 1300, &row));
    assert_false(net.live);
    assert_false(net_cross(&net, 1, 2 * L, 600, &row));
    assert_false(net.live);
    assert_false(net_cross(&net, 1, 3 * L, 700, &row));
    assert_true(net.live);
    step(1310, 700);
    assert_false(net_cross(&net, 0, 4 * L, 1310, &row));
    assert_true(net_cross(&net, 1, 4 * L, 705, &row));
    assert_int_equal(row.start_ms, 3 * L);
    assert_int_equal(row.import, 10);
    assert_int_equal(row.export, 5);
}

static void test_too_many(void **state)
{
    (void)state;
    net_init(&net, L);
    for (int i = 0; i < NET_MAX_METERS; i++)
        assert_int_equal(net_add(&net, i, false), i);
    assert_int_equal(net_add(&net, 99, false), -1);
}

/* In every row: I - E = dC - dP, 0 <= I <= dC, 0 <= E <= dP, whatever the order of answers. */
static void test_random_walk(void **state)
{
    (void)state;
    uint64_t random = 88172645463325252U;
    struct net_row row;
    set_out();
    int64_t consumption = 1000, production = 500;
    for (int64_t i = 2; i < 20000; i++) {
        int64_t from_c = consumption, from_p = production;
        for (int k = 0; k < 20; k++) {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            consumption += (int64_t)(random % 100);
            production += (int64_t)(random >> 32) % 100;
            if (random % 3)
                net_now(&net, 0, consumption);
            if (random % 5)
                net_now(&net, 1, production);
            /* a step sees both as they stood last */
            net_step(&net);
        }
        int first = (int)(random % 2);
        assert_false(net_cross(&net, first, i * L, first ? production : consumption, &row));
        net_step(&net);
        assert_true(net_cross(&net, !first, i * L, first ? consumption : production, &row));
        assert_int_equal(row.import - row.export, consumption - from_c - (production - from_p));
        assert_true(row.import >= 0 && row.import <= consumption - from_c);
        assert_true(row.export >= 0 && row.export <= production - from_p);
        net_now(&net, 0, consumption);
        net_now(&net, 1, production);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_both_directions_in_one_interval),
        cmocka_unit_test(test_silent_side),
        cmocka_unit_test(test_too_many),
        cmocka_unit_test(test_random_walk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
