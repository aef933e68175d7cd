/* links: daemon/bus/frame.c */
/* Published examples. APP: MODBUS Application Protocol Specification V1.1b3;
 * SER: MODBUS over Serial Line V1.02; TCP: MODBUS Messaging on TCP/IP V1.0b.
 * CRCs of the APP examples are computed by the rule of SER 6.2.2. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "frame.h"

#define BYTES(...) (const uint8_t[]){ __VA_ARGS__ }, sizeof((const uint8_t[]){ __VA_ARGS__ })

static struct frame_expected expected_of(int32_t unit_id, uint8_t function, uint16_t count)
{
    return (struct frame_expected){ .unit_id = unit_id, .function = function, .count = count };
}

static uint16_t crc_of(const uint8_t *bytes, size_t length)
{
    return frame_crc(bytes, length);
}

static void crc_published(void **state)
{
    (void)state;
    assert_int_equal(crc_of(BYTES(0x02, 0x07)), 0x1241); /* SER 6.2.2: sent as 41 12 */
    assert_int_equal(crc_of(BYTES('1', '2', '3', '4', '5', '6', '7', '8', '9')),
                     0x4B37);                     /* published check value */
    assert_int_equal(frame_crc(NULL, 0), 0xFFFF); /* the preload of SER 6.2.2 */
    assert_int_equal(crc_of(BYTES(0x00)), 0x40BF);
    assert_int_equal(crc_of(BYTES(0xFF)), 0x00FF);
    assert_int_equal(crc_of(BYTES(0x11, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x76, 0x87)),
                     0); /* a frame with its CRC */
}

static void timing_of_serial_line(void **state)
{
    (void)state;
    /* SER 2.5.1.1: 11 bits a character, t3.5, fixed 1.750 ms above 19200 */
    static const struct {
        int32_t baud;
        int64_t silence_us;
    } rows[] = { { 1200, 32084 }, { 2400, 16042 }, { 4800, 8021 },  { 9600, 4011 },
                 { 19200, 2006 }, { 38400, 1750 }, { 115200, 1750 } };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(frame_silence_us(rows[i].baud), rows[i].silence_us);
    assert_int_equal(frame_character_ns(9600), 1145833);
}

static void serial_requests(void **state)
{
    (void)state;
    static const struct {
        int unit_id;
        struct request request;
        uint8_t frame[FRAME_SERIAL_REQUEST];
    } rows[] = {
        { 0x11,
          { .function = 3, .address = 0x6B, .count = 3 },
          { 0x11, 3, 0, 0x6B, 0, 3, 0x76, 0x87 } }, /* APP 6.3 */
        { 0x11,
          { .function = 4, .address = 8, .count = 1 },
          { 0x11, 4, 0, 8, 0, 1, 0xB2, 0x98 } }, /* APP 6.4 */
        { 1, { .function = 3, .address = 0, .count = 10 }, { 1, 3, 0, 0, 0, 10, 0xC5, 0xCD } },
        { 1, { .function = 3, .address = 2, .count = 1 }, { 1, 3, 0, 2, 0, 1, 0x25, 0xCA } },
        { 247, { .function = 3, .address = 40000, .count = 2 }, { 0xF7, 3, 0x9C, 0x40, 0, 2, 0xFF, 0x19 } },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        uint8_t frame[FRAME_SERIAL_REQUEST];
        assert_true(frame_serial_request(frame, rows[i].unit_id, &rows[i].request));
        assert_memory_equal(frame, rows[i].frame, sizeof frame);
    }
}

static void tcp_request_published(void **state)
{
    (void)state;
    /* TCP 4.4.1.2: read register number 5 of unit 0xFF, transaction 0x1501 */
    static const uint8_t printed[] = { 0x15, 1, 0, 0, 0, 6, 0xFF, 3, 0, 4, 0, 1 };
    const struct request request = { .function = 3, .address = 4, .count = 1 };
    uint8_t frame[FRAME_TCP_REQUEST];
    assert_true(frame_tcp_request(frame, 0x1501, 0xFF, &request));
    assert_memory_equal(frame, printed, sizeof printed);
}

static void only_reads_can_be_built(void **state)
{
    (void)state;
    uint8_t serial[FRAME_SERIAL_REQUEST], tcp[FRAME_TCP_REQUEST];
    for (int function = 0; function < 256; function++) {
        const struct request request = { .function = (uint8_t)function, .count = 1 };
        bool read = function == 3 || function == 4;
        assert_int_equal(frame_serial_request(serial, 1, &request), read);
        assert_int_equal(frame_tcp_request(tcp, 1, 1, &request), read);
    }
    static const struct {
        int unit_id;
        uint16_t address, count;
        bool serial, tcp;
    } rows[] = {
        { 1, 0, 0, false, false },   { 1, 0, 125, true, true },     { 1, 0, 126, false, false },
        { 1, 65535, 1, true, true }, { 1, 65535, 2, false, false }, { 0, 0, 1, false, true },
        { 247, 0, 1, true, true },   { 248, 0, 1, false, true },    { 255, 0, 1, false, true },
        { 256, 0, 1, false, false }, { -1, 0, 1, false, false },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct request request = { .function = 4, .address = rows[i].address, .count = rows[i].count };
        assert_int_equal(frame_serial_request(serial, rows[i].unit_id, &request), rows[i].serial);
        assert_int_equal(frame_tcp_request(tcp, 1, rows[i].unit_id, &request), rows[i].tcp);
    }
}

static void serial_reply_published(void **state)
{
    (void)state;
    struct wire_reply reply = { .count = 0 };
    struct frame_expected expected = expected_of(0x11, 3, 3);
    /* APP 6.3: registers 108 to 110 hold 555, 0 and 100 */
    assert_int_equal(
        frame_serial_check(BYTES(0x11, 3, 6, 0x02, 0x2B, 0, 0, 0, 0x64, 0xC8, 0xBA), &expected, &reply),
        WIRE_OK);
    assert_int_equal(reply.count, 3);
    assert_int_equal(reply.registers[0], 555);
    assert_int_equal(reply.registers[1], 0);
    assert_int_equal(reply.registers[2], 100);
    expected = expected_of(0x11, 4, 1); /* APP 6.4: input register 9 holds 10 */
    assert_int_equal(frame_serial_check(BYTES(0x11, 4, 2, 0, 0x0A, 0xF8, 0xF4), &expected, &reply), WIRE_OK);
    assert_int_equal(reply.registers[0], 10);
}

static void serial_reply_must_fit(void **state)
{
    (void)state;
    struct wire_reply reply;
    const struct frame_expected expected = expected_of(1, 3, 2);
    static const struct {
        enum wire_result result;
        size_t length;
        uint8_t frame[12];
    } rows[] = {
        { WIRE_OK, 9, { 1, 3, 4, 0, 1, 0, 2, 0, 0 } },
        { WIRE_GARBLED, 9, { 2, 3, 4, 0, 1, 0, 2, 0, 0 } },        /* another unit */
        { WIRE_GARBLED, 9, { 1, 4, 4, 0, 1, 0, 2, 0, 0 } },        /* another function */
        { WIRE_GARBLED, 9, { 1, 3, 2, 0, 1, 0, 2, 0, 0 } },        /* byte count of another request */
        { WIRE_GARBLED, 7, { 1, 3, 2, 0, 1, 0, 0 } },              /* whole, but shorter than asked */
        { WIRE_GARBLED, 11, { 1, 3, 6, 0, 1, 0, 2, 0, 3, 0, 0 } }, /* whole, but longer */
        { WIRE_GARBLED, 11, { 1, 3, 4, 0, 1, 0, 2, 0, 3, 0, 0 } }, /* surplus bytes */
        { WIRE_GARBLED, 8, { 1, 3, 4, 0, 1, 0, 0, 0 } },           /* torn */
        { WIRE_GARBLED, 6, { 1, 0x83, 2, 0, 0, 0 } },              /* exception with a surplus byte */
        { WIRE_GARBLED, 5, { 1, 0x84, 2, 0, 0 } },                 /* exception to another function */
        { WIRE_GARBLED, 4, { 1, 3, 0, 0 } },
        { WIRE_GARBLED, 2, { 1, 3 } },
        { WIRE_GARBLED, 0, { 0 } },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(frame_serial_check(rows[i].frame, rows[i].length, &expected, &reply),
                         rows[i].result);
}

static void exceptions_keep_their_code(void **state)
{
    (void)state;
    struct wire_reply reply;
    const struct frame_expected expected = expected_of(1, 3, 2);
    /* APP 7: 01..0B; gateways use 0x41 and up for their own */
    static const uint8_t codes[] = { 1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B, 0x41, 0xFF };
    for (size_t i = 0; i < sizeof codes; i++) {
        const uint8_t frame[] = { 1, 0x83, codes[i], 0, 0 };
        assert_int_equal(frame_serial_check(frame, sizeof frame, &expected, &reply), WIRE_EXCEPTION);
        assert_int_equal(reply.exception, codes[i]);
    }
}

static void tcp_reply_must_fit(void **state)
{
    (void)state;
    struct wire_reply reply;
    struct frame_expected expected = expected_of(9, 3, 1);
    expected.transaction = 0x0102;
    static const struct {
        enum wire_result result;
        size_t length;
        uint8_t frame[14];
    } rows[] = {
        { WIRE_OK, 11, { 1, 2, 0, 0, 0, 5, 9, 3, 2, 0xAB, 0xCD } },
        { WIRE_EXCEPTION, 9, { 1, 2, 0, 0, 0, 3, 9, 0x83, 0x0B } },
        { WIRE_PENDING, 11, { 1, 1, 0, 0, 0, 5, 9, 3, 2, 0xAB, 0xCD } }, /* of the request before */
        { WIRE_PENDING, 11, { 0, 0xF2, 0, 0, 0, 5, 9, 3, 2, 0, 0 } },    /* of 16 before */
        { WIRE_GARBLED, 11, { 0, 0xF1, 0, 0, 0, 5, 9, 3, 2, 0, 0 } },    /* of longer ago than can be */
        { WIRE_GARBLED, 11, { 1, 3, 0, 0, 0, 5, 9, 3, 2, 0xAB, 0xCD } }, /* of no request yet */
        { WIRE_GARBLED, 11, { 1, 2, 0, 1, 0, 5, 9, 3, 2, 0xAB, 0xCD } }, /* protocol id 1 */
        { WIRE_GARBLED, 11, { 1, 2, 0, 0, 0, 6, 9, 3, 2, 0xAB, 0xCD } }, /* MBAP length too long */
        { WIRE_GARBLED, 11, { 1, 2, 0, 0, 0, 4, 9, 3, 2, 0xAB, 0xCD } }, /* and too short */
        { WIRE_GARBLED, 11, { 1, 2, 0, 0, 0, 5, 8, 3, 2, 0xAB, 0xCD } }, /* another unit */
        { WIRE_GARBLED, 13, { 1, 2, 0, 0, 0, 7, 9, 3, 4, 0, 0, 0, 0 } }, /* longer than asked */
        { WIRE_GARBLED, 5, { 1, 2, 0, 0, 0 } },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(frame_tcp_check(rows[i].frame, rows[i].length, &expected, &reply), rows[i].result);
    expected.transaction = 0; /* the id wraps */
    assert_int_equal(frame_tcp_check(BYTES(0xFF, 0xFF, 0, 0, 0, 5, 9, 3, 2, 0, 0), &expected, &reply),
                     WIRE_PENDING);
}

static void heard_frames(void **state)
{
    (void)state;
    static const struct {
        bool heard;
        size_t length;
        uint8_t bytes[32];
    } rows[] = {
        { true, 8, { 0x11, 3, 0, 0x6B, 0, 3, 0x76, 0x87 } },                       /* APP 6.3, asked */
        { true, 11, { 0x11, 3, 6, 2, 0x2B, 0, 0, 0, 0x64, 0xC8, 0xBA } },          /* and answered */
        { true, 8, { 0x11, 1, 0, 0x13, 0, 0x13, 0x8E, 0x92 } },                    /* APP 6.1 */
        { true, 8, { 0x11, 6, 0, 1, 0, 3, 0x9A, 0x9B } },                          /* APP 6.6 */
        { true, 13, { 0x11, 16, 0, 1, 0, 2, 4, 0, 0x0A, 1, 2, 0xC6, 0xF0 } },      /* APP 6.12 */
        { true, 8, { 0x11, 16, 0, 1, 0, 2, 0x12, 0x98 } },                         /* its answer */
        { true, 5, { 1, 0x81, 2, 0xC1, 0x91 } },                                   /* APP 7 */
        { true, 12, { 0x55, 0xAA, 0, 0x11, 3, 0, 0x6B, 0, 3, 0x76, 0x87, 0xFE } }, /* amid noise */
        { false, 8, { 0x11, 3, 0, 0x6B, 0, 3, 0x76, 0x88 } },                      /* bad CRC */
        { false, 7, { 0x11, 3, 0, 0x6B, 0, 3, 0x76 } },                            /* not whole */
        { false, 0, { 0 } },
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(frame_heard(rows[i].bytes, rows[i].length), rows[i].heard);
}

/* A minute of noise at 9600 bit/s is about 50,000 bytes. */
static void noise_is_no_master(void **state)
{
    (void)state;
    enum { SEED = 20240601, CHUNK = 500, CHUNKS = 100 };
    uint8_t bytes[CHUNK];
    int heard = 0;
    srand(SEED);
    print_message("noise seed %d\n", SEED);
    for (int chunk = 0; chunk < CHUNKS; chunk++) {
        for (size_t i = 0; i < sizeof bytes; i++)
            bytes[i] = (uint8_t)(rand() >> 7);
        heard += frame_heard(bytes, sizeof bytes);
    }
    assert_int_equal(heard, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crc_published),           cmocka_unit_test(timing_of_serial_line),
        cmocka_unit_test(serial_requests),         cmocka_unit_test(tcp_request_published),
        cmocka_unit_test(only_reads_can_be_built), cmocka_unit_test(serial_reply_published),
        cmocka_unit_test(serial_reply_must_fit),   cmocka_unit_test(exceptions_keep_their_code),
        cmocka_unit_test(tcp_reply_must_fit),      cmocka_unit_test(heard_frames),
        cmocka_unit_test(noise_is_no_master),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
