#include "wire_modbus.h"

#include <errno.h>
#include <modbus.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>

#include "frame.h"
#include "log.h"
#include "port.h"
#include "resolve.h"

struct wire_modbus {
    const struct config_bus *bus;
    modbus_t *context;       /* made once; descriptors come and go with modbus_set_socket() */
    struct resolve *resolve; /* NULL on a serial port */
    int fd, stop_fd;
    int64_t character_ns;
    uint16_t transaction;
    bool warned, echo_seen;
    int32_t turnaround_us[248]; /* serial: how long each unit takes before it answers */
};

/* ---- opening ---- */

/* The context must never close a descriptor by itself: it would restore
 * terminal settings that it never saved. */
static void wire_close(void *arg)
{
    struct wire_modbus *self = arg;
    if (self->fd < 0)
        return;
    modbus_set_socket(self->context, -1);
    port_close(self->fd);
    self->fd = -1;
}

static enum wire_result open_network(struct wire_modbus *self, char *why)
{
    const struct resolve_address *addresses;
    char reason[WIRE_WHY_SIZE] = "";
    int count = resolve_addresses(self->resolve, &addresses, why);
    if (count == 0)
        return WIRE_PENDING;
    if (count < 0)
        return WIRE_GONE;
    enum wire_result result = port_connect(addresses, count, 1000 * (int64_t)self->bus->response_timeout_ms,
                                           self->stop_fd, &self->fd, reason);
    if (result == WIRE_OK)
        return WIRE_OK;
    resolve_refresh(self->resolve);
    snprintf(why, WIRE_WHY_SIZE, "cannot connect to '%.80s' port %d: %.40s", self->bus->device,
             (int)self->bus->port, reason);
    return result;
}

static enum wire_result wire_open(void *arg, char *why)
{
    struct wire_modbus *self = arg;
    why[0] = '\0';
    wire_close(self);
    enum wire_result result =
        self->resolve ? open_network(self, why) : port_open_serial(self->bus, &self->fd, why);
    if (result != WIRE_OK)
        return result;
    if (self->warned)
        why[0] = '\0';
    self->warned = true;
    modbus_set_socket(self->context, self->fd);
    return WIRE_OK;
}

/* ---- receiving ---- */

static bool set_timeout(struct wire_modbus *self, int64_t deadline_us)
{
    int64_t left_us = deadline_us - port_now_us();
    if (left_us < 1)
        left_us = 1;
    return modbus_set_response_timeout(self->context, (uint32_t)(left_us / 1000000),
                                       (uint32_t)(left_us % 1000000)) == 0;
}

static enum wire_result result_of_errno(bool heard)
{
    if (errno >= MODBUS_ENOBASE)
        return WIRE_GARBLED;
    if (errno == ETIMEDOUT || errno == EINTR || errno == EAGAIN)
        return heard ? WIRE_GARBLED : WIRE_SILENT;
    return WIRE_GONE;
}

/* One frame by the deadline. `frame[0]` must hold a byte with which no reply begins: whether it changed tells
 * silence from a frame that never became whole. */
static enum wire_result receive(struct wire_modbus *self, int64_t deadline_us, uint8_t frame[FRAME_MAX],
                                size_t *length)
{
    uint8_t none = frame[0];
    if (!set_timeout(self, deadline_us))
        return WIRE_SILENT;
    int received = modbus_receive_confirmation(self->context, frame);
    if (received < 0)
        return result_of_errno(frame[0] != none);
    *length = (size_t)received; /* 0: a unit that was not asked */
    return received > 0 ? WIRE_OK : WIRE_GARBLED;
}

static enum wire_result drain(struct wire_modbus *self)
{
    uint8_t stale[FRAME_MAX];
    ssize_t length;
    int64_t until_us = port_now_us() + 100000; /* babble must not hold us */
    do
        length = port_read(self->fd, stale, sizeof stale);
    while (length == sizeof stale && port_now_us() < until_us);
    return length < 0 ? WIRE_GONE : WIRE_OK;
}

/* ---- serial frames ---- */

/* An adapter that hears itself: what comes first must be exactly what was sent. */
static enum wire_result take_echo(struct wire_modbus *self, const uint8_t sent[FRAME_SERIAL_REQUEST],
                                  int64_t deadline_us)
{
    uint8_t heard[FRAME_SERIAL_REQUEST];
    size_t count = 0;
    while (count < sizeof heard) {
        enum port_event event = port_wait(self->fd, self->stop_fd, deadline_us);
        ssize_t length = event == PORT_INPUT ? port_read(self->fd, heard + count, sizeof heard - count) : 0;
        if (length < 0)
            return WIRE_GONE;
        count += (size_t)length;
        if (event != PORT_INPUT)
            return count > 0 ? WIRE_GARBLED : WIRE_SILENT;
    }
    return memcmp(heard, sent, sizeof heard) == 0 ? WIRE_OK : WIRE_GARBLED;
}

/* libmodbus read the echo as a reply and gave up somewhere in it. */
static void look_for_echo(struct wire_modbus *self, const uint8_t sent[FRAME_SERIAL_REQUEST], uint8_t *frame)
{
    enum { SURELY_READ = 5 };
    if (self->echo_seen || self->bus->echo || memcmp(frame, sent, SURELY_READ) != 0)
        return;
    if (memcmp(frame, sent, FRAME_SERIAL_REQUEST) != 0) {
        uint8_t rest[FRAME_SERIAL_REQUEST - SURELY_READ];
        port_wait(self->fd, self->stop_fd, port_now_us() + 20000);
        if (port_read(self->fd, rest, sizeof rest) != sizeof rest ||
            memcmp(rest, sent + SURELY_READ, sizeof rest) != 0)
            return;
    }
    self->echo_seen = true;
    log_write(LOG_WARN, "bus '%s': the adapter echoes what is sent; set 'echo'", self->bus->name);
}

static int64_t characters_us(const struct wire_modbus *self, int64_t count)
{
    return (count * self->character_ns + 999) / 1000;
}

/* A waiting reader is woken for every byte. The reply of a unit that takes a known time to answer is slept
 * through but for its last characters. */
static void sleep_through_reply(struct wire_modbus *self, int64_t end_us)
{
    enum { EARLY_US = 300 }; /* so that being woken late does not make us late */
    port_wait(-1, self->stop_fd, end_us - characters_us(self, 1) - EARLY_US);
}

/* Down at once, up slowly: the computer's own hiccups are longer than a meter's time to answer varies, and
 * waking too early costs little, too late costs line time. */
static void learn_turnaround(int32_t *turnaround_us, int64_t sample_us)
{
    enum { STEP_US = 25 };
    bool first = *turnaround_us == 0;
    if (first || sample_us < *turnaround_us + STEP_US)
        *turnaround_us = sample_us > 1 ? (int32_t)sample_us : 1;
    else
        *turnaround_us += STEP_US;
}

static enum wire_result ask_serial(void *arg, int unit_id, const struct request *request, int64_t timeout_us,
                                   struct wire_reply *reply)
{
    struct wire_modbus *self = arg;
    uint8_t sent[FRAME_SERIAL_REQUEST], frame[FRAME_MAX] = { 0 };
    struct frame_expected expected = { .unit_id = unit_id,
                                       .function = request->function,
                                       .count = request->count };
    if (!frame_serial_request(sent, unit_id, request))
        return WIRE_GARBLED;
    if (drain(self) != WIRE_OK)
        return WIRE_GONE;
    modbus_set_slave(self->context, unit_id);
    if (modbus_send_raw_request(self->context, sent, FRAME_SERIAL_BODY) != FRAME_SERIAL_REQUEST)
        return WIRE_GONE;
    size_t whole = FRAME_EMPTY_REPLY + 2 * (size_t)request->count, length = 0;
    reply->sent_us = port_now_us() + characters_us(self, FRAME_SERIAL_REQUEST);
    int64_t earliest_us = reply->sent_us + characters_us(self, (int64_t)whole);
    int64_t deadline_us = earliest_us + timeout_us + self->bus->fifo_wait_us;
    int32_t *turnaround_us = &self->turnaround_us[unit_id];
    enum wire_result result = self->bus->echo ? take_echo(self, sent, deadline_us) : WIRE_OK;
    if (result == WIRE_OK && !self->resolve)
        sleep_through_reply(self, earliest_us + *turnaround_us);
    if (result == WIRE_OK)
        result = receive(self, deadline_us, frame, &length);
    reply->received_us = port_now_us();
    if (result == WIRE_OK)
        result = frame_serial_check(frame, length, &expected, reply);
    if (result == WIRE_OK)
        learn_turnaround(turnaround_us, reply->received_us - earliest_us);
    if (result == WIRE_GARBLED || result == WIRE_SILENT)
        look_for_echo(self, sent, frame);
    return result;
}

/* ---- TCP frames ---- */

static enum wire_result ask_tcp(void *arg, int unit_id, const struct request *request, int64_t timeout_us,
                                struct wire_reply *reply)
{
    struct wire_modbus *self = arg;
    uint8_t sent[FRAME_TCP_REQUEST], frame[FRAME_MAX];
    struct frame_expected expected = { .unit_id = unit_id,
                                       .function = request->function,
                                       .count = request->count,
                                       .transaction = ++self->transaction };
    if (!frame_tcp_request(sent, expected.transaction, unit_id, request))
        return WIRE_GARBLED;
    if (send(self->fd, sent, sizeof sent, MSG_NOSIGNAL) != (ssize_t)sizeof sent)
        return WIRE_GONE;
    reply->sent_us = port_now_us();
    enum wire_result result;
    do {
        size_t length = 0;
        frame[0] = (uint8_t)~sent[0];
        result = receive(self, reply->sent_us + timeout_us, frame, &length);
        if (result == WIRE_OK)
            result = frame_tcp_check(frame, length, &expected, reply);
        reply->received_us = port_now_us();
    } while (result == WIRE_PENDING && reply->received_us < reply->sent_us + timeout_us);
    return result == WIRE_PENDING ? WIRE_SILENT : result;
}

/* ---- listening and settling ---- */

static enum wire_result wire_listen(void *arg, int64_t for_us)
{
    struct wire_modbus *self = arg;
    enum { KEPT = FRAME_MAX };
    uint8_t heard[4 * KEPT];
    size_t count = 0;
    int64_t until_us = port_now_us() + for_us;
    for (;;) {
        enum port_event event = port_wait(self->fd, self->stop_fd, until_us);
        if (event != PORT_INPUT)
            return WIRE_OK;
        if (count > sizeof heard - KEPT) {
            memmove(heard, heard + count - KEPT, KEPT);
            count = KEPT;
        }
        ssize_t length = port_read(self->fd, heard + count, sizeof heard - count);
        if (length < 0)
            return WIRE_GONE;
        count += (size_t)length;
        if (frame_heard(heard, count))
            return WIRE_FOREIGN;
        if (port_now_us() >= until_us)
            return WIRE_OK;
    }
}

static enum wire_result wire_discard(void *arg, int64_t for_us, int64_t silence_us)
{
    struct wire_modbus *self = arg;
    uint8_t unwanted[FRAME_MAX];
    int64_t now_us = port_now_us(), last_us = now_us, settled_us = now_us + for_us,
            latest_us = settled_us + for_us;
    for (;;) {
        int64_t until_us = last_us + silence_us > settled_us ? last_us + silence_us : settled_us;
        if (until_us > latest_us)
            until_us = latest_us;
        if (now_us >= until_us)
            return WIRE_OK;
        enum port_event event = port_wait(self->fd, self->stop_fd, until_us);
        if (event == PORT_STOP)
            return WIRE_OK;
        now_us = port_now_us();
        if (event == PORT_TIME)
            continue;
        if (port_read(self->fd, unwanted, sizeof unwanted) < 0)
            return WIRE_GONE;
        last_us = now_us;
    }
}

/* ---- start and end ---- */

struct wire_modbus *wire_modbus_create(const struct config_bus *bus, int stop_fd)
{
    struct wire_modbus *self = calloc(1, sizeof *self);
    if (!self)
        return NULL;
    bool tcp = bus->kind == BUS_TCP;
    self->bus = bus;
    self->fd = -1;
    self->stop_fd = stop_fd;
    self->character_ns = bus->kind == BUS_RTU ? frame_character_ns(bus->baud) : 0;
    /* name and settings are never used: descriptors are opened in port.c */
    self->context = tcp ? modbus_new_tcp("127.0.0.1", 502) : modbus_new_rtu("-", 9600, 'N', 8, 1);
    if (bus->kind != BUS_RTU)
        self->resolve = resolve_create(bus->device, bus->port);
    if (!self->context || (bus->kind != BUS_RTU && !self->resolve)) {
        wire_modbus_destroy(self);
        return NULL;
    }
    modbus_set_error_recovery(self->context, MODBUS_ERROR_RECOVERY_NONE);
    modbus_set_byte_timeout(self->context, 0, 0);
    return self;
}

void wire_modbus_destroy(struct wire_modbus *self)
{
    if (!self)
        return;
    wire_close(self);
    if (self->context)
        modbus_free(self->context);
    resolve_destroy(self->resolve);
    free(self);
}

struct wire wire_modbus_wire(struct wire_modbus *self)
{
    static const struct wire_ops tcp_ops = { wire_open, wire_listen, ask_tcp, wire_discard, wire_close };
    static const struct wire_ops serial_ops = { wire_open, wire_listen, ask_serial, wire_discard,
                                                wire_close };
    return (struct wire){ .ops = self->bus->kind == BUS_TCP ? &tcp_ops : &serial_ops, .self = self };
}
