/* links: daemon/bus/frame.c daemon/bus/port.c daemon/bus/resolve.c daemon/bus/wire_modbus.c daemon/log.c tests/fake/peer.c */
/* The real wire on pseudo-terminals: what bytes do. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "peer.h"
#include "port.h"
#include "wire_modbus.h"

enum { TIMEOUT_US = 100000, SLACK_US = 100000 };

struct line {
    char directory[64];
    struct peer peer;
    struct config_bus bus;
    struct wire_modbus *modbus;
    struct wire wire;
    struct wire_reply reply;
    char why[WIRE_WHY_SIZE];
    int stop_fd;
};

static void line_open(struct line *line, void (*talk)(struct peer *, const uint8_t *, size_t))
{
    *line = (struct line){ .directory = "/tmp/meterbook-wire-XXXXXX" };
    assert_non_null(mkdtemp(line->directory));
    line->peer.kind = PEER_SERIAL;
    line->peer.talk = talk;
    peer_start(&line->peer, line->directory);
    line->bus = (struct config_bus){
        .name = "line", .kind = BUS_RTU, .baud = 115200, .parity = PARITY_EVEN, .stop_bits = 1
    };
    snprintf(line->bus.device, sizeof line->bus.device, "%s", line->peer.path);
    line->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    line->modbus = wire_modbus_create(&line->bus, line->stop_fd);
    assert_non_null(line->modbus);
    line->wire = wire_modbus_wire(line->modbus);
    assert_int_equal(line->wire.ops->open(line->wire.self, line->why), WIRE_OK);
    assert_string_equal(line->why, "");
}

static void line_close(struct line *line)
{
    wire_modbus_destroy(line->modbus);
    peer_stop(&line->peer);
    close(line->stop_fd);
    assert_int_equal(rmdir(line->directory), 0);
}

static enum wire_result ask(struct line *line, int unit_id, uint16_t address, uint16_t count)
{
    const struct request request = { .function = 4, .address = address, .count = count };
    return line->wire.ops->ask(line->wire.self, unit_id, &request, TIMEOUT_US, &line->reply);
}

static void expect_registers(struct line *line, uint16_t address, uint16_t count)
{
    assert_int_equal(ask(line, 1, address, count), WIRE_OK);
    assert_int_equal(line->reply.count, count);
    for (uint16_t i = 0; i < count; i++)
        assert_int_equal(line->reply.registers[i], address + i);
}

static enum wire_result settle(struct line *line)
{
    return line->wire.ops->discard(line->wire.self, TIMEOUT_US, 50000);
}

static void reads(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, NULL);
    int64_t before_us = port_now_us();
    expect_registers(&line, 342, 8);
    assert_true(line.reply.sent_us > before_us && line.reply.received_us >= line.reply.sent_us);
    assert_true(line.reply.received_us <= port_now_us());
    expect_registers(&line, 0, 125);
    expect_registers(&line, 65535, 1);
    line_close(&line);
}

static void answer_first_one_late(struct peer *peer, const uint8_t *request, size_t length)
{
    if (peer->requests == 1)
        peer_pause(TIMEOUT_US / 1000 * 3 / 2);
    peer_answer(peer, request, length);
}

static void late_answer_is_never_taken(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, answer_first_one_late);
    assert_int_equal(ask(&line, 1, 100, 2), WIRE_SILENT);
    assert_int_equal(settle(&line), WIRE_OK);
    expect_registers(&line, 200, 2); /* the same length: nothing but settling tells them apart */
    line_close(&line);
}

static void answer_twice(struct peer *peer, const uint8_t *request, size_t length)
{
    peer_answer(peer, request, length);
    peer_answer(peer, request, length);
}

static void stale_input_is_drained(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, answer_twice);
    for (uint16_t address = 100; address < 120; address++) {
        expect_registers(&line, address, 2);
        peer_pause(5); /* the second copy arrives meanwhile */
    }
    line_close(&line);
}

static void answer_wrongly(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    size_t size = peer_build(peer, request, answer);
    (void)length;
    switch (request[3]) {
    case 1: /* another unit's answer */
        answer[0]++;
        size = peer_seal(peer, answer, size - 2);
        break;
    case 2: /* another function's */
        answer[1] = 3;
        size = peer_seal(peer, answer, size - 2);
        break;
    case 3: /* a bit lost */
        answer[4] ^= 0x10;
        break;
    case 4: /* fewer registers than asked for, whole */
        answer[2] -= 2;
        size = peer_seal(peer, answer, size - 4);
        break;
    case 5: /* more */
        answer[2] += 2;
        answer[size - 2] = answer[size - 1] = 0;
        size = peer_seal(peer, answer, size);
        break;
    case 6: /* torn off */
        size -= 3;
        break;
    case 7: /* noise before it */
        peer_send(peer, "\xFE\x00\x55", 3);
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
    line_open(&line, answer_wrongly);
    for (uint16_t wrong = 1; wrong <= 7; wrong++) {
        assert_int_equal(ask(&line, 1, wrong, 4), WIRE_GARBLED);
        assert_int_equal(settle(&line), WIRE_OK);
        expect_registers(&line, 20, 4);
    }
    line_close(&line);
}

static void answer_by_drips(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    size_t size = peer_build(peer, request, answer);
    (void)length;
    for (size_t i = 0; i < size; i++) {
        peer_send(peer, answer + i, 1);
        peer_pause(30);
    }
}

static void drips_are_bounded(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, answer_by_drips);
    int64_t before_us = port_now_us();
    assert_int_equal(ask(&line, 1, 100, 10), WIRE_GARBLED); /* would take 0.75 s */
    assert_true(port_now_us() - before_us < TIMEOUT_US + SLACK_US);
    before_us = port_now_us();
    assert_int_equal(settle(&line), WIRE_OK); /* and however long it drips, settling ends */
    assert_true(port_now_us() - before_us < 2 * TIMEOUT_US + SLACK_US);
    line_close(&line);
}

static void answer_exception(struct peer *peer, const uint8_t *request, size_t length)
{
    (void)length;
    peer_exception(peer, request, request[3]);
}

static void exceptions_are_raw(void **state)
{
    (void)state;
    static const uint16_t codes[] = { 0x02, 0x06, 0x0B, 0x41, 0xFE };
    struct line line;
    line_open(&line, answer_exception);
    for (size_t i = 0; i < sizeof codes / sizeof codes[0]; i++) {
        assert_int_equal(ask(&line, 1, codes[i], 20), WIRE_EXCEPTION);
        assert_int_equal(line.reply.exception, codes[i]);
    }
    line_close(&line);
}

static void answer_after_echo(struct peer *peer, const uint8_t *request, size_t length)
{
    peer_send(peer, request, length);
    peer_answer(peer, request, length);
}

static void answer_after_bad_echo(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t echo[8];
    memcpy(echo, request, sizeof echo);
    echo[4] ^= 1;
    peer_send(peer, echo, sizeof echo);
    peer_answer(peer, request, length);
}

static void echo_is_taken_off(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, answer_after_echo);
    /* not told: never taken for an answer, whatever the address looks like as a byte count */
    static const uint16_t addresses[] = { 0x0001, 0x0801, 0x1801 };
    for (size_t i = 0; i < 3; i++) {
        assert_int_not_equal(ask(&line, 1, addresses[i], 4), WIRE_OK);
        assert_int_equal(settle(&line), WIRE_OK);
    }
    line.bus.echo = true;
    for (size_t i = 0; i < 3; i++)
        expect_registers(&line, addresses[i], 4);
    line_close(&line);

    line_open(&line, answer_after_bad_echo);
    line.bus.echo = true;
    assert_int_equal(ask(&line, 1, 1, 4), WIRE_GARBLED);
    line_close(&line);

    line_open(&line, NULL);
    line.bus.echo = true; /* told of an echo that is none */
    assert_int_equal(ask(&line, 1, 1, 4), WIRE_GARBLED);
    line_close(&line);
}

static void hang_up(struct peer *peer, const uint8_t *request, size_t length)
{
    (void)request;
    (void)length;
    peer_hang_up(peer);
}

static void pulled_out_and_put_back(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, hang_up);
    assert_int_equal(ask(&line, 1, 1, 4), WIRE_GONE);
    line.wire.ops->close(line.wire.self);
    peer_stop(&line.peer); /* takes the name away too */
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_GONE);
    assert_non_null(strstr(line.why, "No such file"));
    line.peer = (struct peer){ .kind = PEER_SERIAL };
    peer_start(&line.peer, line.directory); /* another terminal, the same stable name */
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_OK);
    expect_registers(&line, 7, 3);
    line_close(&line);
}

static void gone_while_settling(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, hang_up);
    ask(&line, 1, 1, 4);
    assert_int_equal(settle(&line), WIRE_GONE);
    assert_int_equal(line.wire.ops->listen(line.wire.self, TIMEOUT_US), WIRE_GONE);
    line_close(&line);
}

static void second_opener_is_refused(void **state)
{
    (void)state;
    struct line line;
    char why[WIRE_WHY_SIZE];
    line_open(&line, NULL);
    struct wire_modbus *second = wire_modbus_create(&line.bus, line.stop_fd);
    struct wire wire = wire_modbus_wire(second);
    assert_int_equal(wire.ops->open(wire.self, why), WIRE_BUSY);
    assert_non_null(strstr(why, "in use"));
    expect_registers(&line, 7, 3); /* the first one felt nothing */
    line.wire.ops->close(line.wire.self);
    assert_int_equal(wire.ops->open(wire.self, why), WIRE_OK); /* also the second open with parity on a pty */
    wire_modbus_destroy(second);
    line_close(&line);
}

static void settings_are_checked(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, NULL);
    line.wire.ops->close(line.wire.self);
    line.bus.baud = 12345;
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_GONE);
    assert_non_null(strstr(line.why, "12345"));
    line.bus.baud = 9600;
    line.bus.rs485 = true;
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_GONE); /* a pty has no such mode */
    assert_non_null(strstr(line.why, "RS-485"));
    line.bus.rs485 = false;
    snprintf(line.bus.device, sizeof line.bus.device, "/dev/null");
    assert_int_equal(line.wire.ops->open(line.wire.self, line.why), WIRE_GONE);
    line_close(&line);
}

static void another_master_is_heard(void **state)
{
    (void)state;
    static const uint8_t asked[] = { 0x11, 3, 0, 0x6B, 0, 3, 0x76, 0x87 }; /* published, APP 6.3 */
    struct line line;
    line_open(&line, NULL);
    assert_int_equal(line.wire.ops->listen(line.wire.self, 20000), WIRE_OK);
    peer_send(&line.peer, "\x55\xAA\x01\x03", 4); /* noise */
    assert_int_equal(line.wire.ops->listen(line.wire.self, 20000), WIRE_OK);
    peer_send(&line.peer, "\x55", 1);
    peer_send(&line.peer, asked, sizeof asked);
    int64_t before_us = port_now_us();
    assert_int_equal(line.wire.ops->listen(line.wire.self, 5000000), WIRE_FOREIGN);
    assert_true(port_now_us() - before_us < 1000000);
    assert_int_equal(line.peer.bytes, 0);
    line_close(&line);
}

static void stop_ends_waiting(void **state)
{
    (void)state;
    struct line line;
    line_open(&line, NULL);
    eventfd_write(line.stop_fd, 1);
    int64_t before_us = port_now_us();
    line.wire.ops->listen(line.wire.self, 60000000);
    line.wire.ops->discard(line.wire.self, 60000000, 50000);
    assert_true(port_now_us() - before_us < 1000000);
    line_close(&line);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads),
        cmocka_unit_test(late_answer_is_never_taken),
        cmocka_unit_test(stale_input_is_drained),
        cmocka_unit_test(wrong_answers_are_garbled),
        cmocka_unit_test(drips_are_bounded),
        cmocka_unit_test(exceptions_are_raw),
        cmocka_unit_test(echo_is_taken_off),
        cmocka_unit_test(pulled_out_and_put_back),
        cmocka_unit_test(gone_while_settling),
        cmocka_unit_test(second_opener_is_refused),
        cmocka_unit_test(settings_are_checked),
        cmocka_unit_test(another_master_is_heard),
        cmocka_unit_test(stop_ends_waiting),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
