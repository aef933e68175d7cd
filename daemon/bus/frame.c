#include "frame.h"

enum {
    MBAP_SIZE = 7,
    EXCEPTION_FLAG = 0x80,
    CRC_SIZE = 2,
    STALE_WINDOW = 16, /* how many requests back a reply is still known as ours */
};

static uint16_t word_at(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] << 8 | bytes[1]);
}

static void word_put(uint8_t *bytes, uint32_t value)
{
    bytes[0] = (uint8_t)(value >> 8);
    bytes[1] = (uint8_t)value;
}

uint16_t frame_crc(const uint8_t *bytes, size_t length)
{
    uint16_t crc = 0xffff;
    for (size_t i = 0; i < length; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = crc & 1 ? (uint16_t)(crc >> 1 ^ 0xa001) : (uint16_t)(crc >> 1);
    }
    return crc;
}

int64_t frame_character_ns(int32_t baud)
{
    return INT64_C(11000000000) / baud;
}

int64_t frame_silence_us(int32_t baud)
{
    /* A gateway's line speed is not known here: it keeps its own silences. */
    return baud <= 0 || baud > 19200 ? 1750 : (38500000 + baud - 1) / baud;
}

static bool request_is_read(const struct request *request)
{
    return (request->function == 3 || request->function == 4) && request->count >= 1 &&
           request->count <= MAP_MAX_REGISTERS && request->address + request->count <= 65536;
}

static void put_request(uint8_t *frame, int unit_id, const struct request *request)
{
    frame[0] = (uint8_t)unit_id;
    frame[1] = request->function;
    word_put(frame + 2, request->address);
    word_put(frame + 4, request->count);
}

bool frame_serial_request(uint8_t frame[FRAME_SERIAL_REQUEST], int unit_id, const struct request *request)
{
    if (!request_is_read(request) || unit_id < 1 || unit_id > 247)
        return false;
    put_request(frame, unit_id, request);
    uint16_t crc = frame_crc(frame, FRAME_SERIAL_BODY);
    frame[FRAME_SERIAL_BODY] = (uint8_t)crc; /* low byte first */
    frame[FRAME_SERIAL_BODY + 1] = (uint8_t)(crc >> 8);
    return true;
}

bool frame_tcp_request(uint8_t frame[FRAME_TCP_REQUEST], uint16_t transaction, int unit_id,
                       const struct request *request)
{
    if (!request_is_read(request) || unit_id < 0 || unit_id > 255)
        return false;
    word_put(frame, transaction);
    word_put(frame + 2, 0);
    word_put(frame + 4, FRAME_SERIAL_BODY);
    put_request(frame + MBAP_SIZE - 1, unit_id, request);
    return true;
}

/* Unit id, function and what follows; `length` without CRC. */
static enum wire_result check_body(const uint8_t *body, size_t length, const struct frame_expected *expected,
                                   struct wire_reply *reply)
{
    if (length < 3 || body[0] != expected->unit_id)
        return WIRE_GARBLED;
    if (body[1] == (expected->function | EXCEPTION_FLAG) && length == 3) {
        reply->exception = body[2];
        return WIRE_EXCEPTION;
    }
    size_t bytes = 2 * (size_t)expected->count;
    if (body[1] != expected->function || body[2] != bytes || length != 3 + bytes)
        return WIRE_GARBLED;
    reply->count = expected->count;
    for (uint16_t i = 0; i < expected->count; i++)
        reply->registers[i] = word_at(body + 3 + 2 * i);
    return WIRE_OK;
}

enum wire_result frame_serial_check(const uint8_t *frame, size_t length,
                                    const struct frame_expected *expected, struct wire_reply *reply)
{
    if (length < CRC_SIZE)
        return WIRE_GARBLED;
    return check_body(frame, length - CRC_SIZE, expected, reply);
}

enum wire_result frame_tcp_check(const uint8_t *frame, size_t length, const struct frame_expected *expected,
                                 struct wire_reply *reply)
{
    enum { BEFORE_UNIT = MBAP_SIZE - 1 };
    if (length < BEFORE_UNIT || word_at(frame + 2) != 0 || word_at(frame + 4) != length - BEFORE_UNIT)
        return WIRE_GARBLED;
    uint16_t age = (uint16_t)(expected->transaction - word_at(frame));
    if (age > 0)
        return age <= STALE_WINDOW ? WIRE_PENDING : WIRE_GARBLED;
    return check_body(frame + BEFORE_UNIT, length - BEFORE_UNIT, expected, reply);
}

/* Length that the frame starting here would have as a reply to a read or as a
 * write of several registers, or 0. The two shapes differ where the length
 * stands; requests and replies of 8 bytes are tried apart. */
static size_t long_frame_length(const uint8_t *bytes, size_t left)
{
    if (left < 5)
        return 0;
    if (bytes[1] >= 1 && bytes[1] <= 4 && bytes[2] > 0 && bytes[2] <= 250)
        return 5 + (size_t)bytes[2];
    if (bytes[1] > EXCEPTION_FLAG && bytes[1] <= (EXCEPTION_FLAG | 16) && bytes[2] >= 1 && bytes[2] <= 11)
        return 5;
    if (bytes[1] == 16 && left > 6 && bytes[6] == 2 * bytes[5])
        return 9 + (size_t)bytes[6];
    return 0;
}

static bool crc_good(const uint8_t *bytes, size_t length, size_t left)
{
    return length > 0 && length <= left && frame_crc(bytes, length) == 0;
}

bool frame_heard(const uint8_t *bytes, size_t length)
{
    for (size_t i = 0; i + 5 <= length; i++) {
        const uint8_t *at = bytes + i;
        size_t left = length - i;
        if (at[0] > 247)
            continue;
        bool short_shape = (at[1] >= 1 && at[1] <= 6) || at[1] == 16;
        if (short_shape && crc_good(at, FRAME_SERIAL_REQUEST, left))
            return true;
        if (crc_good(at, long_frame_length(at, left), left))
            return true;
    }
    return false;
}
