/* links: daemon/bus/frame.c daemon/bus/port.c daemon/bus/resolve.c daemon/bus/wire_modbus.c daemon/log.c tests/fake/peer.c */
/* The real wire over TCP on the loopback, with MBAP headers and with serial frames. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <netdb.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "peer.h"
#include "port.h"
#include "wire_modbus.h"

enum { TIMEOUT_US = 150000, SLACK_US = 100000 };

struct line {
    struct peer peer;
    struct config_bus bus;
    struct wire_modbus *modbus;
    struct wire wire;
    struct wire_reply reply;
    char why[WIRE_WHY_SIZE];
    int stop_fd;
};

static void line_make(struct line *line, const char *host, int port)
{
    line->bus.name[0] = 't';
    line->bus.port = port;
    line->bus.baud = 9600;
    line->bus.response_timeout_ms = 1000;
    snprintf(line->bus.device, sizeof line->bus.device, "%s", host);
    line->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    line->modbus = wire_modbus_create(&line->bus, line->stop_fd);
    assert_non_null(line->modbus);
    line->wire = wire_modbus_wire(line->modbus);
}

static void line_open(struct line *line, enum peer_kind kind,
                      void (*talk)(struct peer *, const uint8_t *, size_t))
{
    *line = (struct line){ .peer = { .kind = kind, .talk = talk } };
    peer_start(&line->peer, NULL);
    line->bus.kind = kind == PEER_TCP ? BUS_TCP : BUS_RTU_TCP;
    line_make(line, "127.0.0.1", line->peer.port);
    assert_int_equal(line->wire.ops->open(line->wire.self, line->why), WIRE_OK);
}

static void line_close(struct line *line)
{
    wire_modbus_destroy(line->modbus);
    peer_stop(&line->peer);
    close(line->stop_fd);
}

static enum wire_result ask(struct line *line, int unit_id, uint16_t address, uint16_t count)
{
    const struct request request = { .function = 3, .address = address, .count = count };
    return line->wire.ops->ask(line->wire.self, unit_id, &request, TIMEOUT_US, &line->reply);
}

static void expect_registers(struct line *line, int unit_id, uint16_t address, uint16_t count)
{
    assert_int_equal(ask(line, unit_id, address, count), WIRE_OK);
    assert_int_equal(line->reply.count, count);
    for (uint16_t i = 0; i < count; i++)
        assert_int_equal(line->reply.registers[i], address + i);
}

static void reads(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, PEER_TCP, NULL);
    int64_t before_us = port_now_us();
    expect_registers(&line, 255, 100, 125);
    assert_true(line.reply.sent_us >= before_us && line.reply.received_us >= line.reply.sent_us);
    expect_registers(&line, 0, 65535, 1);
    expect_registers(&line, 250, 7, 3);
    line_close(&line);
    line_open(&line, PEER_SERIAL_OVER_TCP, NULL);
    expect_registers(&line, 1, 100, 125);
    expect_registers(&line, 247, 7, 3);
    line_close(&line);
}

static void answer_first_one_late(struct peer *peer, const uint8_t *request, size_t length)
{
    if (peer->requests == 1)
        peer_pause(TIMEOUT_US / 1000 * 4 / 3);
    peer_answer(peer, request, length);
}

/* libmodbus alone would stay one answer behind for ever. */
static void late_answer_is_never_taken(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, PEER_TCP, answer_first_one_late);
    assert_int_equal(ask(&line, 1, 100, 2), WIRE_SILENT);
    for (uint16_t address = 200; address < 210; address++)
        expect_registers(&line, 1, address, 2);
    line_close(&line);

    line_open(&line, PEER_SERIAL_OVER_TCP, answer_first_one_late);
    assert_int_equal(ask(&line, 1, 100, 2), WIRE_SILENT);
    assert_int_equal(line.wire.ops->discard(line.wire.self, TIMEOUT_US, 50000), WIRE_OK);
    expect_registers(&line, 1, 200, 2);
    line_close(&line);
}

static void answer_wrongly(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    size_t size = peer_build(peer, request, answer);
    (void)length;
    switch (request[9]) {
    case 1:
        answer[0] ^= 0x80; /* no transaction of ours */
        break;
    case 2:
        answer[1]++; /* one that is still to come */
        break;
    case 3:
        answer[3] = 1; /* protocol id */
        break;
    case 4:
        answer[5]++; /* MBAP length */
        break;
    case 5:
        answer[5]--;
        break;
    case 6:
        answer[6] = 99; /* unit id: accepted by libmodbus */
        break;
    case 7:
        answer[7] = 4; /* function */
        break;
    case 8:
        answer[8] -= 2; /* byte count */
        break;
    case 9: /* whole, but for fewer registers */
        answer[5] = (uint8_t)(answer[5] - 2);
        answer[8] = (uint8_t)(answer[8] - 2);
        size -= 2;
        break;
    case 10:
        size -= 3; /* torn off */
        break;
    default:
        break;
    }
    peer_send(peer, answer, size);
}

static void wrong_answers_are_garbled(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, PEER_TCP, answer_wrongly);
    for (uint16_t wrong = 1; wrong <= 10; wrong++) {
        expect_registers(&line, 1, 20, 4);
        assert_int_equal(ask(&line, 1, wrong, 4), WIRE_GARBLED);
        line.wire.ops->close(line.wire.self);
        assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_OK);
    }
    line_close(&line);
}

static void answer_with_surplus(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    (void)length;
    size_t size = peer_build(peer, request, answer);
    memcpy(answer + size, "\1\2\3\4\5\6\7\10\11", 9);
    peer_send(peer, answer, size + 9);
}

static void surplus_does_not_poison(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, PEER_TCP, answer_with_surplus);
    expect_registers(&line, 1, 20, 4);
    assert_int_equal(ask(&line, 1, 30, 4), WIRE_GARBLED);
    line_close(&line);
}

static void answer_exception(struct peer *peer, const uint8_t *request, size_t length)
{
    (void)length;
    peer_exception(peer, request, request[peer->kind == PEER_TCP ? 9 : 3]);
}

static void exceptions_are_raw(void **state)
{
    (void)state;
    static const uint16_t codes[] = { 0x02, 0x0A, 0x0B, 0x41 };
    struct line line;
    for (int kind = PEER_TCP; kind <= PEER_SERIAL_OVER_TCP; kind++) {
        line_open(&line, (enum peer_kind)kind, answer_exception);
        for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
            assert_int_equal(ask(&line, 1, codes[i], 20), WIRE_EXCEPTION);
            assert_int_equal(line.reply.exception, codes[i]);
        }
        line_close(&line);
    }
}

static void say_nothing(struct peer *peer, const uint8_t *request, size_t length)
{
    (void)peer;
    (void)request;
    (void)length;
}

static void answer_by_drips(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    size_t size = peer_build(peer, request, answer);
    (void)length;
    for (size_t i = 0; i < size; i++) {
        peer_send(peer, answer + i, 1);
        peer_pause(20);
    }
}

static void waiting_is_bounded(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, PEER_TCP, say_nothing);
    int64_t before_us = port_now_us();
    assert_int_equal(ask(&line, 1, 1, 4), WIRE_SILENT);
    assert_true(port_now_us() - before_us < TIMEOUT_US + SLACK_US);
    line_close(&line);
    line_open(&line, PEER_TCP, answer_by_drips);
    before_us = port_now_us();
    assert_int_equal(ask(&line, 1, 1, 20), WIRE_GARBLED);
    assert_true(port_now_us() - before_us < TIMEOUT_US + SLACK_US);
    line_close(&line);
}

static void answer_and_hang_up(struct peer *peer, const uint8_t *request, size_t length)
{
    peer_answer(peer, request, length);
    peer_hang_up(peer);
}

static void dropped_connection_is_gone(void **state)
{
    (void)state;
    struct line line;
    for (int kind = PEER_TCP; kind <= PEER_SERIAL_OVER_TCP; kind++) {
        line_open(&line, (enum peer_kind)kind, answer_and_hang_up);
        for (int i = 0; i < 5; i++) {
            expect_registers(&line, 1, 7, 3);
            peer_pause(10);
            assert_int_equal(ask(&line, 1, 7, 3), WIRE_GONE);
            assert_int_equal(ask(&line, 1, 7, 3), WIRE_GONE); /* and nothing is killed by the pipe */
            assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_OK);
        }
        line_close(&line);
    }
}

static void refused_connection_says_why(void **state)
{
    (void)state;
    struct line line = { .peer = { .kind = PEER_TCP } };
    peer_start(&line.peer, NULL);
    int port = line.peer.port;
    peer_stop(&line.peer);
    line.bus.kind = BUS_TCP;
    line_make(&line, "127.0.0.1", port);
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_GONE);
    assert_non_null(strstr(line.why, "refused"));
    assert_non_null(strstr(line.why, "127.0.0.1"));
    wire_modbus_destroy(line.modbus);
    close(line.stop_fd);
}

/* Opens until the name is known or known not to be; bounded. */
static enum wire_result open_by_name(struct line *line)
{
    enum wire_result result = WIRE_PENDING;
    for (int i = 0; i < 500 && result == WIRE_PENDING; i++) {
        int64_t before_us = port_now_us();
        result = line->wire.ops->open(line->wire.self, line->why);
        if (i == 0)
            assert_int_equal(result, WIRE_PENDING); /* the poll path never waits for a name */
        assert_true(port_now_us() - before_us < SLACK_US);
        peer_pause(10);
    }
    return result;
}

static void names_are_resolved_aside(void **state)
{
    (void)state;
    struct addrinfo *found;
    if (getaddrinfo("localhost", NULL, NULL, &found) != 0) {
        print_message("no /etc/hosts with a localhost here\n");
        skip();
    }
    freeaddrinfo(found);
    struct line line = { .peer = { .kind = PEER_TCP } };
    peer_start(&line.peer, NULL);
    line.bus.kind = BUS_TCP;
    line_make(&line, "localhost", line.peer.port);
    assert_int_equal(open_by_name(&line), WIRE_OK);
    expect_registers(&line, 1, 7, 3);
    line.wire.ops->close(line.wire.self);
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_OK); /* remembered */
    expect_registers(&line, 1, 7, 3);
    line_close(&line);

    line = (struct line){ .bus = { .kind = BUS_TCP } };
    line_make(&line, "no..such..name", 502);
    assert_int_equal(open_by_name(&line), WIRE_GONE);
    assert_non_null(strstr(line.why, "no..such..name"));
    wire_modbus_destroy(line.modbus);
    close(line.stop_fd);

    line = (struct line){ .bus = { .kind = BUS_TCP } };
    line_make(&line, "localhost", 1); /* given up while the question is under way */
    line.wire.ops->open(line.wire.self, line.why);
    wire_modbus_destroy(line.modbus);
    close(line.stop_fd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads),
        cmocka_unit_test(late_answer_is_never_taken),
        cmocka_unit_test(wrong_answers_are_garbled),
        cmocka_unit_test(surplus_does_not_poison),
        cmocka_unit_test(exceptions_are_raw),
        cmocka_unit_test(waiting_is_bounded),
        cmocka_unit_test(dropped_connection_is_gone),
        cmocka_unit_test(refused_connection_says_why),
        cmocka_unit_test(names_are_resolved_aside),
    };
    signal(SIGPIPE, SIG_IGN); /* as the bus thread has it */
    return cmocka_run_group_tests(tests, NULL, NULL);
}
