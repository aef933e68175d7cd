/* Modbus frames as bytes: building read requests and checking what came back.
 *
 * Pure. Only functions 03 and 04 can be built here, and nothing else builds
 * frames: that is why nothing can ever be written to a meter. */
#ifndef METERBOOK_FRAME_H
#define METERBOOK_FRAME_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "wire.h"

enum {
    FRAME_MAX = 260,       /* MBAP header and PDU; a serial frame has at most 256 */
    FRAME_SERIAL_BODY = 6, /* a serial request without its CRC */
    FRAME_SERIAL_REQUEST = 8,
    FRAME_EMPTY_REPLY = 5, /* a serial reply but for its registers */
    FRAME_TCP_REQUEST = 12,
};

/* What a reply must fit. */
struct frame_expected {
    int32_t unit_id;
    uint8_t function;
    uint16_t count;
    uint16_t transaction; /* TCP only */
};

uint16_t frame_crc(const uint8_t *bytes, size_t length);

/* Duration of a character (11 bits) in ns, and of the 3.5 characters of silence between frames in us,
 * rounded up; above 19200 bit/s the latter is fixed (MODBUS over Serial Line V1.02, 2.5.1.1). */
int64_t frame_character_ns(int32_t baud);
int64_t frame_silence_us(int32_t baud);

/* Builds a request with its CRC. false: not a read of 1..125 registers, past register 65535, or a
 * unit id outside 1..247; `frame` is untouched then. */
bool frame_serial_request(uint8_t frame[FRAME_SERIAL_REQUEST], int unit_id, const struct request *request);

/* The same with an MBAP header in place of the CRC; the unit id may be 0..255. */
bool frame_tcp_request(uint8_t frame[FRAME_TCP_REQUEST], uint16_t transaction, int unit_id,
                       const struct request *request);

/* Checks a reply whose CRC is known to be good (`length` includes it). WIRE_OK with registers and count
 * filled in, WIRE_EXCEPTION with the raw code, else WIRE_GARBLED. The reply's times are left alone. */
enum wire_result frame_serial_check(const uint8_t *frame, size_t length,
                                    const struct frame_expected *expected, struct wire_reply *reply);

/* The same over TCP: protocol id, MBAP length and transaction id too. WIRE_PENDING: a whole reply to one of
 * the 16 requests before; the one expected may still come. */
enum wire_result frame_tcp_check(const uint8_t *frame, size_t length, const struct frame_expected *expected,
                                 struct wire_reply *reply);

/* Whether bytes heard on a line on which we are silent hold a frame: a request, a reply to a read or a write,
 * or an exception, with a good CRC, at any place. */
bool frame_heard(const uint8_t *bytes, size_t length);

#endif
