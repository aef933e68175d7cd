/* links: daemon/bus/bus.c daemon/bus/cycle.c daemon/bus/cycle_answer.c daemon/bus/frame.c daemon/bus/inbox.c daemon/bus/plan.c daemon/bus/port.c daemon/bus/resolve.c daemon/bus/sunspec.c daemon/bus/sunspec_models.c daemon/bus/thread.c daemon/bus/wire_modbus.c daemon/log.c tests/fake/peer.c */
/* Whole buses: machine, thread and wire against misbehaving devices. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "peer.h"
#include "port.h"
#include "thread.h"

enum { BOUND_MS = 8000 };

struct site {
    char directory[64];
    struct peer peer;
    struct config config;
    struct register_map map;
    struct inbox *inbox;
    struct bus_thread *thread;
    int answers, good_cycles, bad_cycles, meters_lost, bus_states;
    int last_bus_state;
    char text[160];
};

static void add_point(struct register_map *map, int32_t address)
{
    map->points[map->point_count++] = (struct point){
        .quantity = Q_POWER,
        .function = 3,
        .type = TYPE_UINT16,
        .read_class = READ_POLL,
        .size = 1,
        .multiplier = 1,
        .divisor = 1,
        .address = address,
        .scale_address = NO_REGISTER,
    };
}

static void site_start(struct site *site, enum peer_kind kind,
                       void (*talk)(struct peer *, const uint8_t *, size_t), int32_t period_ms)
{
    static const enum bus_kind kinds[] = { BUS_RTU, BUS_TCP, BUS_RTU_TCP };
    *site = (struct site){ .directory = "/tmp/meterbook-bus-XXXXXX", .peer = { .kind = kind, .talk = talk } };
    assert_non_null(mkdtemp(site->directory));
    peer_start(&site->peer, site->directory);
    site->map.max_registers = 125;
    add_point(&site->map, 0x10);
    add_point(&site->map, 0x200);
    site->config = (struct config){ .bus_count = 1, .meter_count = 2, .map_count = 1, .maps = &site->map };
    site->config.site.interval_s = 300;
    site->config.site.poll_period_ms = period_ms;
    struct config_bus *bus = &site->config.buses[0];
    *bus = (struct config_bus){ .name = "bus",
                                .kind = kinds[kind],
                                .baud = 115200,
                                .parity = PARITY_NONE,
                                .stop_bits = 1,
                                .port = site->peer.port,
                                .response_timeout_ms = 60 };
    snprintf(bus->device, sizeof bus->device, "%s", kind == PEER_SERIAL ? site->peer.path : "127.0.0.1");
    site->config.meters[0] = (struct config_meter){ .number = 1, .unit_id = 1 };
    site->config.meters[1] = (struct config_meter){ .number = 2, .unit_id = 2 };
    site->inbox = inbox_create(1024);
    site->thread = NULL;
}

static void site_go(struct site *site)
{
    site->thread = bus_thread_start(&site->config, 0, 3, site->inbox, 0);
    assert_non_null(site->thread);
}

static void site_stop(struct site *site)
{
    bus_thread_stop(site->thread);
    peer_stop(&site->peer);
    inbox_destroy(site->inbox);
    assert_int_equal(rmdir(site->directory), 0);
}

static void site_drain(struct site *site)
{
    struct message message;
    while (inbox_take(site->inbox, &message)) {
        assert_int_equal(message.generation, 3);
        switch (message.kind) {
        case MESSAGE_ANSWER:
            site->answers++;
            /* never another request's registers */
            for (uint16_t i = 0; i < message.count; i++)
                assert_int_equal(message.registers[i], message.plan->requests[message.request].address + i);
            break;
        case MESSAGE_CYCLE_END:
            site->good_cycles += message.result == WIRE_OK;
            site->bad_cycles += message.result != WIRE_OK;
            break;
        case MESSAGE_METER_STATE:
            site->meters_lost += message.result != WIRE_OK;
            break;
        default:
            site->bus_states++;
            site->last_bus_state = message.result;
            memcpy(site->text, message.text, sizeof site->text);
        }
    }
}

/* Until `*count` reaches `least`, or fails. */
static void site_wait(struct site *site, const int *count, int least)
{
    for (int i = 0; i < BOUND_MS / 5; i++) {
        site_drain(site);
        if (*count >= least)
            return;
        peer_pause(5);
    }
    fail_msg("%d of %d after %d ms", *count, least, BOUND_MS);
}

static void polls_and_stops(void **state)
{
    (void)state;
    for (int kind = PEER_SERIAL; kind <= PEER_SERIAL_OVER_TCP; kind++) {
        struct site site;
        site_start(&site, (enum peer_kind)kind, NULL, 50);
        site_go(&site);
        int64_t before_us = bus_thread_progress(site.thread);
        site_wait(&site, &site.good_cycles, 10);
        assert_true(bus_thread_progress(site.thread) > before_us);
        assert_int_equal(site.bad_cycles, 0);
        assert_int_equal(site.bus_states, 1);
        bus_thread_set_grid(site.thread, 12345);
        site_wait(&site, &site.good_cycles, 20);
        site_stop(&site);
    }
    bus_thread_stop(NULL);
}

static void stops_at_once_when_idle(void **state)
{
    (void)state;
    struct site site;
    site_start(&site, PEER_TCP, NULL, 60000);
    site_go(&site);
    peer_pause(50);
    int64_t before_us = port_now_us();
    bus_thread_halt(site.thread);
    site_stop(&site);
    assert_true(port_now_us() - before_us < 500000);
}

static void say_nothing(struct peer *peer, const uint8_t *request, size_t length)
{
    (void)peer;
    (void)request;
    (void)length;
}

static void stops_within_a_timeout_when_asking(void **state)
{
    (void)state;
    struct site site;
    site_start(&site, PEER_SERIAL, say_nothing, 10);
    site.config.buses[0].response_timeout_ms = 1000;
    site_go(&site);
    for (int i = 0; i < 400 && site.peer.requests == 0; i++)
        peer_pause(5);
    assert_int_equal(site.peer.requests, 1);
    int64_t before_us = port_now_us();
    site_stop(&site);
    assert_true(port_now_us() - before_us < 1300000);
}

static void answer_and_hang_up(struct peer *peer, const uint8_t *request, size_t length)
{
    peer_answer(peer, request, length);
    peer_hang_up(peer);
}

static void dropped_connections_cost_no_poll(void **state)
{
    (void)state;
    for (int kind = PEER_TCP; kind <= PEER_SERIAL_OVER_TCP; kind++) {
        struct site site;
        site_start(&site, (enum peer_kind)kind, answer_and_hang_up, 50);
        site_go(&site);
        site_wait(&site, &site.good_cycles, 10);
        assert_int_equal(site.bad_cycles, 0);
        assert_int_equal(site.meters_lost, 0);
        assert_int_equal(site.bus_states, 1);
        assert_true(site.peer.connections >= 20);
        site_stop(&site);
    }
}

static void unplugged_and_back(void **state)
{
    (void)state;
    struct site site;
    site_start(&site, PEER_SERIAL, NULL, 20);
    site_go(&site);
    site_wait(&site, &site.good_cycles, 4);
    peer_stop(&site.peer);
    site_wait(&site, &site.bus_states, 2);
    assert_int_equal(site.last_bus_state, WIRE_GONE);
    assert_int_equal(site.meters_lost, 0);
    site.peer = (struct peer){ .kind = PEER_SERIAL };
    peer_start(&site.peer, site.directory);
    site_wait(&site, &site.bus_states, 3);
    assert_int_equal(site.last_bus_state, WIRE_OK);
    int good = site.good_cycles;
    site_wait(&site, &site.good_cycles, good + 4);
    site_stop(&site);
}

static void foreign_bus_is_left_alone(void **state)
{
    (void)state;
    static const uint8_t asked[] = { 0x11, 3, 0, 0x6B, 0, 3, 0x76, 0x87 };
    struct site site;
    site_start(&site, PEER_SERIAL, NULL, 20);
    site.config.buses[0].listen_ms = 3000;
    site_go(&site);
    for (int i = 0; i < 600 && site.bus_states == 0; i++) { /* the other master polls on */
        peer_send(&site.peer, asked, sizeof asked);
        peer_pause(5);
        site_drain(&site);
    }
    assert_int_equal(site.last_bus_state, WIRE_FOREIGN);
    assert_non_null(strstr(site.text, "shared"));
    peer_pause(100);
    assert_int_equal(site.peer.bytes, 0); /* not a byte from us */
    site_stop(&site);
}

/* Every kind of trouble in turn. */
static void answer_by_chance(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    size_t size = peer_build(peer, request, answer);
    switch (peer->requests * 7 % 23) {
    case 0:
        return; /* silent */
    case 1:
        answer[size / 2] ^= 4;
        break;
    case 2:
        peer_exception(peer, request, 6);
        return;
    case 3:
        peer_exception(peer, request, 2);
        return;
    case 4:
        peer_pause(70); /* late */
        break;
    case 5:
        size -= 2;
        break;
    case 6:
        if (peer->kind != PEER_SERIAL) {
            peer_hang_up(peer);
            return;
        }
        break;
    default:
        peer_answer(peer, request, length);
        return;
    }
    peer_send(peer, answer, size);
}

/* And whatever happens, no function code but 03 and 04 leaves, and what arrives is right (site_drain). */
static void nothing_is_ever_written(void **state)
{
    (void)state;
    for (int kind = PEER_SERIAL; kind <= PEER_SERIAL_OVER_TCP; kind++) {
        struct site site;
        site_start(&site, (enum peer_kind)kind, answer_by_chance, 2);
        site.config.buses[0].response_timeout_ms = 20;
        site.config.meter_count = 30;
        for (int32_t i = 0; i < site.config.meter_count; i++)
            site.config.meters[i] = (struct config_meter){ .number = i + 1, .unit_id = i + 1 };
        site_go(&site);
        int64_t until_us = port_now_us() + 1200000;
        while (port_now_us() < until_us) {
            site_drain(&site);
            peer_pause(5);
        }
        bus_thread_stop(site.thread);
        site.thread = NULL;
        site_drain(&site);
        int reads = site.peer.functions[3] + site.peer.functions[4];
        print_message("%s: %d requests, %d answers\n", kind == PEER_SERIAL ? "serial" : "network",
                      (int)site.peer.requests, site.answers);
        assert_true(reads > 50 && site.answers > 0);
        assert_int_equal(reads, site.peer.requests);
        site_stop(&site);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(polls_and_stops),
        cmocka_unit_test(stops_at_once_when_idle),
        cmocka_unit_test(stops_within_a_timeout_when_asking),
        cmocka_unit_test(dropped_connections_cost_no_poll),
        cmocka_unit_test(unplugged_and_back),
        cmocka_unit_test(foreign_bus_is_left_alone),
        cmocka_unit_test(nothing_is_ever_written),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
