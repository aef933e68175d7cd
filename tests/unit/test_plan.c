/* links: daemon/bus/plan.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "plan.h"

static const struct line_cost line_9600 = { .request_us = 27918, .register_us = 2292 };
static const struct line_cost over_tcp = { .request_us = 1 };

static void add_point(struct register_map *map, int function, int address, int size, enum read_class class,
                      int scale)
{
    map->points[map->point_count++] = (struct point){ .quantity = Q_POWER,
                                                      .function = (uint8_t)function,
                                                      .type = TYPE_UINT16,
                                                      .size = (uint8_t)size,
                                                      .read_class = (uint8_t) class,
                                                      .multiplier = 1,
                                                      .divisor = 1,
                                                      .address = address,
                                                      .scale_address = scale };
}

static void add_range(struct register_map *map, int function, int from, int to)
{
    map->ranges[map->range_count++] =
        (struct readable_range){ .function = (uint8_t)function, .from = from, .to = to };
}

static void assert_request(const struct plan *plan, int index, int function, int address, int count,
                           int points)
{
    assert_true(index < plan->request_count);
    const struct request *request = &plan->requests[index];
    assert_int_equal(request->function, function);
    assert_int_equal(request->address, address);
    assert_int_equal(request->count, count);
    assert_int_equal(request->point_count, points);
}

/* MODBUS over Serial Line V1.02, 2.5.1: 11 bits a character; t3.5 computed up
 * to 19200 bit/s, 1750 us above. The microseconds are computed from that. */
static void cost_of_a_line(void **state)
{
    static const struct {
        int baud, gap_us;
        int64_t request_us, register_us;
    } rows[] = {
        { 1200, 0, 13 * 9167 + 2 * 32084, 18333 }, { 9600, 0, 14896 + 2 * 4011, 2292 },
        { 19200, 0, 7448 + 2 * 2006, 1146 },       { 38400, 0, 3724 + 2 * 1750, 573 },
        { 115200, 0, 1241 + 2 * 1750, 191 },       { 9600, 20000, 14896 + 4011 + 20000, 2292 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct config_bus bus = { .kind = BUS_RTU, .baud = rows[i].baud, .gap_us = rows[i].gap_us };
        struct line_cost cost = line_cost_of(&bus, 5000);
        assert_in_range(cost.request_us, rows[i].request_us + 5000 - 6, rows[i].request_us + 5000 + 2);
        assert_int_equal(cost.register_us, rows[i].register_us);
    }
    struct config_bus tcp = { .kind = BUS_TCP, .baud = 9600 }, gateway = { .kind = BUS_RTU_TCP };
    assert_int_equal(line_cost_of(&tcp, 5000).request_us, 1);
    assert_int_equal(line_cost_of(&tcp, 5000).register_us, 0);
    assert_int_equal(line_cost_of(&gateway, 5000).register_us, 0);
}

static void three_scattered_blocks(void **state)
{
    struct register_map map = { 0 };
    struct plan plan;
    (void)state;
    for (int i = 0; i < 6; i++) {
        add_point(&map, 4, 2 * (5 - i), 2, READ_POLL, NO_REGISTER);
    }
    add_point(&map, 4, 0x46, 2, READ_POLL, NO_REGISTER);
    for (int i = 0; i < 4; i++) {
        add_point(&map, 4, 342 + 2 * i, 2, READ_POLL, NO_REGISTER);
    }
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 3);
    assert_request(&plan, 0, 4, 0, 12, 6);
    assert_request(&plan, 1, 4, 0x46, 2, 1);
    assert_request(&plan, 2, 4, 342, 8, 4);
    assert_int_equal(plan_cost(&plan, line_9600, READ_POLL), 3 * 27918 + 22 * 2292);
    for (int i = 1; i < 6; i++) {
        assert_true(plan.points[i].address > plan.points[i - 1].address);
    }
    /* one declared range over all: worth bridging where a request costs more than the hole */
    add_range(&map, 4, 0, 400);
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 3); /* 58 and 270 registers of hole cost more */
    assert_int_equal(plan_make(&plan, &map, 125, over_tcp), 0);
    assert_int_equal(plan.request_count, 2);
    assert_request(&plan, 0, 4, 0, 72, 7);
}

static void bridging(void **state)
{
    struct register_map map = { 0 };
    struct plan plan;
    (void)state;
    add_point(&map, 3, 10, 2, READ_POLL, NO_REGISTER);
    add_point(&map, 3, 22, 2, READ_POLL, NO_REGISTER); /* hole of 10 registers: 22.9 ms, a request 27.9 */
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 2);
    add_range(&map, 4, 0, 100); /* the other function's registers say nothing */
    add_range(&map, 3, 0, 20);  /* ends before the hole does */
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 2);
    add_range(&map, 3, 12, 21);
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 1);
    assert_request(&plan, 0, 3, 10, 14, 2);
    assert_int_equal(plan_make(&plan, &map, 13, line_9600), 0); /* the meter takes fewer registers at once */
    assert_int_equal(plan.request_count, 2);
}

static void scale_registers_stay_with_their_point(void **state)
{
    struct register_map map = { 0 };
    struct plan plan;
    (void)state;
    add_point(&map, 3, 10, 1, READ_POLL, 60);
    add_point(&map, 3, 20, 4, READ_POLL, 61);
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 1);
    assert_request(&plan, 0, 3, 10, 52, 2);
    assert_int_equal(plan_make(&plan, &map, 51, line_9600), 0);
    assert_int_equal(plan.request_count, 2);
    assert_request(&plan, 0, 3, 10, 51, 1);
    assert_request(&plan, 1, 3, 20, 42, 1);
    assert_int_equal(plan_make(&plan, &map, 50, line_9600), -1);
    map.points[1].scale_address = NO_REGISTER; /* inside the other's reach */
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 1);
    assert_request(&plan, 0, 3, 10, 51, 2);
    map.points[1].scale_address = 61;
    map.points[0].scale_address = 5; /* before the value */
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_request(&plan, 0, 3, 5, 6, 1); /* 11..19 are a hole */
    assert_request(&plan, 1, 3, 20, 42, 1);
}

static void classes(void **state)
{
    struct register_map map = { .counter_modulus = 1000000 };
    struct plan plan;
    (void)state;
    add_point(&map, 3, 50, 16, READ_START, NO_REGISTER);
    add_point(&map, 3, 0, 2, READ_POLL, NO_REGISTER);
    add_point(&map, 3, 2, 2, READ_INTERVAL, NO_REGISTER); /* between two polled ones: rides */
    add_point(&map, 3, 4, 2, READ_POLL, NO_REGISTER);
    add_point(&map, 3, 6, 2, READ_INTERVAL, NO_REGISTER); /* beside: would make the poll longer */
    add_point(&map, 3, 8, 2, READ_INTERVAL, NO_REGISTER);
    add_point(&map, 3, 4, 1, READ_START, NO_REGISTER); /* rides with a poll */
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, 3);
    assert_request(&plan, 0, 3, 0, 6, 4);
    assert_request(&plan, 1, 3, 6, 4, 2);
    assert_request(&plan, 2, 3, 50, 16, 1);
    assert_int_equal(plan.requests[0].read_class, READ_POLL);
    assert_int_equal(plan.requests[1].read_class, READ_INTERVAL);
    assert_int_equal(plan.requests[2].read_class, READ_START);
    assert_int_equal(plan.points[0].modulus, 1000000);
    assert_int_equal(plan_cost(&plan, line_9600, READ_POLL), 27918 + 6 * 2292);
    assert_int_equal(plan_cost(&plan, line_9600, READ_INTERVAL), 2 * 27918 + 10 * 2292);
    assert_int_equal(plan_cost(&plan, line_9600, READ_START), 3 * 27918 + 26 * 2292);
    /* the two functions are never mixed */
    map.points[1].function = 4;
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    for (int i = 0; i < plan.request_count; i++) {
        for (int p = 0; p < plan.requests[i].point_count; p++) {
            assert_int_equal(plan.points[plan.requests[i].first_point + p].function,
                             plan.requests[i].function);
        }
    }
}

static void different_counts(void **state)
{
    struct register_map map = { 0 };
    struct plan plan;
    (void)state;
    add_point(&map, 3, 0, 2, READ_POLL, NO_REGISTER);
    add_point(&map, 3, 100, 2, READ_POLL, NO_REGISTER);
    map.point_count = 2;
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0); /* nothing declared: alike they stay */
    assert_int_equal(plan.requests[0].count, plan.requests[1].count);
    add_range(&map, 3, 0, 10);
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0); /* by whole values of two registers */
    assert_request(&plan, 0, 3, 0, 4, 1);
    assert_request(&plan, 1, 3, 100, 2, 1);
    map.ranges[0] = (struct readable_range){ .function = 3, .from = 90, .to = 101 };
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0); /* downwards */
    assert_request(&plan, 0, 3, 0, 2, 1);
    assert_request(&plan, 1, 3, 98, 4, 1);
    assert_int_equal(plan_make(&plan, &map, 2, line_9600), 0); /* no room */
    assert_request(&plan, 1, 3, 100, 2, 1);
    /* never into half of a value of the map */
    add_point(&map, 3, 96, 3, READ_POLL, NO_REGISTER);
    assert_int_equal(plan_make(&plan, &map, 4, line_9600), 0);
    for (int i = 0; i < plan.request_count; i++) {
        int from = plan.requests[i].address, to = from + plan.requests[i].count - 1;
        assert_true(to < 96 || from > 98 || (from <= 96 && to >= 98));
    }
    /* another function fails by its code already */
    map.point_count = 2;
    map.points[1].function = 4;
    add_range(&map, 3, 0, 50);
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.requests[0].count, plan.requests[1].count);
}

static void limits(void **state)
{
    struct register_map map = { 0 };
    struct plan plan;
    (void)state;
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0); /* a map to be walked has no points yet */
    assert_int_equal(plan.request_count, 0);
    for (int i = 0; i < PLAN_MAX_REQUESTS; i++) {
        add_point(&map, 3, 10 * i, 1, READ_POLL, NO_REGISTER);
    }
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), 0);
    assert_int_equal(plan.request_count, PLAN_MAX_REQUESTS);
    add_point(&map, 3, 65535, 1, READ_POLL, NO_REGISTER);
    assert_int_equal(plan_make(&plan, &map, 125, line_9600), -1);
    map.point_count = 0;
    add_point(&map, 3, 0, 16, READ_START, NO_REGISTER);
    assert_int_equal(plan_make(&plan, &map, 15, line_9600), -1);
    assert_int_equal(plan_make(&plan, &map, 16, line_9600), 0);
    /* 125 registers pass, a gap to the 126th is not bridged (application protocol V1.1b3, 6.3) */
    map.point_count = 0;
    add_range(&map, 3, 0, 1000);
    add_point(&map, 3, 0, 1, READ_POLL, NO_REGISTER);
    add_point(&map, 3, 124, 1, READ_POLL, NO_REGISTER);
    assert_int_equal(plan_make(&plan, &map, 125, over_tcp), 0);
    assert_int_equal(plan.request_count, 1);
    map.points[1].address = 125;
    assert_int_equal(plan_make(&plan, &map, 125, over_tcp), 0);
    assert_int_equal(plan.request_count, 2);
}

/* --- random maps against the best of all partitions --- */

static uint64_t seed = 12345;

static uint32_t below(uint32_t limit)
{
    seed = seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(seed >> 33) % limit;
}

static void random_map(struct register_map *map, int points, int class_count)
{
    int address = (int)below(20);
    memset(map, 0, sizeof *map);
    for (int i = 0; i < points; i++) {
        int size = 1 << below(3), scale = NO_REGISTER, end = address + size;
        if (below(4) == 0) {
            scale = end + (int)below(3);
            end = scale + 1;
        }
        add_point(map, 3, address, size, (enum read_class)below((uint32_t)class_count), scale);
        address = end + (below(2) ? 0 : (int)below(25));
    }
    for (int i = (int)below(5); i > 0; i--) {
        int from = (int)below((uint32_t)address + 10);
        add_range(map, 3, from, from + (int)below(60));
    }
}

static bool readable(const struct register_map *map, int from, int to)
{
    for (int i = 0; i < map->range_count; i++) {
        if (map->ranges[i].from <= from && to <= map->ranges[i].to) {
            return true;
        }
    }
    return from > to;
}

static int span_end(const struct point *point)
{
    int end = point->address + point->size;
    return point->scale_address >= end ? point->scale_address + 1 : end;
}

/* Cost of the points chosen by `set` in one request, or -1 where that may not be. */
static int64_t cost_of_set(const struct register_map *map, unsigned set, int limit, struct line_cost cost)
{
    int from = -1, end = -1;
    for (int i = 0; i < map->point_count; i++) { /* in ascending order, not overlapping */
        if (set >> i & 1) {
            if (from >= 0 && !readable(map, end, map->points[i].address - 1)) {
                return -1;
            }
            from = from < 0 ? map->points[i].address : from;
            end = span_end(&map->points[i]);
        }
    }
    return end - from > limit ? -1 : cost.request_us + cost.register_us * (end - from);
}

/* Over all partitions of the points, not only runs: best[set] by its subsets. */
static int64_t brute_force(const struct register_map *map, int limit, struct line_cost cost)
{
    static int64_t best[1 << 9], single[1 << 9];
    best[0] = 0;
    for (unsigned set = 1; set < 1u << map->point_count; set++) {
        single[set] = cost_of_set(map, set, limit, cost);
        best[set] = INT64_MAX;
        for (unsigned part = set; part != 0; part = (part - 1) & set) {
            if (single[part] >= 0 && best[set ^ part] < INT64_MAX &&
                best[set ^ part] + single[part] < best[set]) {
                best[set] = best[set ^ part] + single[part];
            }
        }
    }
    return best[(1u << map->point_count) - 1];
}

static void as_cheap_as_any_partition(void **state)
{
    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    for (int round = 0; round < 3000; round++) {
        struct register_map map;
        struct plan plan;
        int limit = 10 + (int)below(116);
        random_map(&map, 1 + (int)below(8), 1);
        struct line_cost cost = { .request_us = 1 + below(30000), .register_us = below(3000) };
        assert_int_equal(plan_make(&plan, &map, limit, cost), 0);
        int64_t planned = plan_cost(&plan, cost, READ_POLL), best = brute_force(&map, limit, cost);
        int64_t longer = 0; /* what different counts cost on top */
        for (int i = 0; i < plan.request_count; i++) {
            const struct request *request = &plan.requests[i];
            int from = plan.points[request->first_point].address, end = from;
            for (int p = 0; p < request->point_count; p++) {
                int to = span_end(&plan.points[request->first_point + p]);
                end = to > end ? to : end;
            }
            longer += cost.register_us * (request->count - (end - from));
        }
        assert_int_equal(planned - longer, best);
    }
}

static void assert_sound(const struct register_map *map, const struct plan *plan, int limit)
{
    int seen = 0;
    for (int r = 0; r < plan->request_count; r++) {
        const struct request *request = &plan->requests[r];
        int end = request->address + request->count, reach = request->address;
        assert_in_range(request->count, 1, limit);
        assert_int_equal(request->first_point, seen);
        assert_true(request->point_count > 0);
        seen += request->point_count;
        for (int p = request->first_point; p < seen; p++) {
            const struct point *point = &plan->points[p];
            assert_true(point->address >= request->address && span_end(point) <= end);
            assert_true(point->read_class >= request->read_class);
        }
        for (int i = 0; i < map->point_count; i++) { /* no value cut, no hole bridged */
            const struct point *point = &map->points[i];
            bool starts = point->address >= request->address && point->address < end;
            bool ends =
                point->address + point->size > request->address && point->address + point->size <= end;
            assert_int_equal(starts, ends);
            if (starts) {
                assert_true(readable(map, reach, point->address - 1));
                reach = span_end(point) > reach ? span_end(point) : reach;
            }
        }
        assert_true(reach >= end || readable(map, reach, end - 1));
    }
    assert_int_equal(seen, map->point_count);
    assert_int_equal(plan->point_count, map->point_count);
    for (int i = 0; i < map->point_count; i++) {
        int found = 0;
        for (int p = 0; p < plan->point_count; p++) {
            found += plan->points[p].address == map->points[i].address;
        }
        assert_int_equal(found, 1);
    }
}

static void sound_on_random_maps(void **state)
{
    int alike = 0, requests = 0;
    (void)state;
    print_message("seed %llu\n", (unsigned long long)seed);
    for (int round = 0; round < 3000; round++) {
        struct register_map map;
        struct plan plan;
        int limit = 10 + (int)below(116);
        random_map(&map, 1 + (int)below(40), READ_CLASS_COUNT);
        struct line_cost cost = below(2) ? line_9600 : over_tcp;
        if (plan_make(&plan, &map, limit, cost) != 0) {
            fail_msg("no plan in round %d", round);
        }
        assert_sound(&map, &plan, limit);
        requests += plan.request_count;
        for (int i = 0; i < plan.request_count; i++) {
            for (int j = 0; j < i; j++) {
                alike += plan.requests[i].count == plan.requests[j].count;
            }
        }
    }
    assert_true(requests > 3000);
    print_message("%d requests, %d pairs of equal counts\n", requests, alike);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cost_of_a_line),
        cmocka_unit_test(three_scattered_blocks),
        cmocka_unit_test(bridging),
        cmocka_unit_test(scale_registers_stay_with_their_point),
        cmocka_unit_test(classes),
        cmocka_unit_test(different_counts),
        cmocka_unit_test(limits),
        cmocka_unit_test(as_cheap_as_any_partition),
        cmocka_unit_test(sound_on_random_maps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
