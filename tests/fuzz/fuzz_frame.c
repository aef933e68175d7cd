/* links: daemon/bus/frame.c */
/* Any bytes as a reply, serial and over TCP, and as what is heard on a line.
 * Where the first byte says so the CRC or the header is made good, or nothing
 * would pass them.
 *
 * Input: options, unit id, function, count, transaction; then the frame. libFuzzer. */
#include <stdlib.h>
#include <string.h>

#include "frame.h"

enum { CHOICE = 6 };

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds)
        abort();
}

static void mend_serial(uint8_t *frame, size_t size)
{
    if (size < 2)
        return;
    uint16_t crc = frame_crc(frame, size - 2);
    frame[size - 2] = (uint8_t)crc;
    frame[size - 1] = (uint8_t)(crc >> 8);
}

static void mend_tcp(uint8_t *frame, size_t size, const struct frame_expected *expected)
{
    if (size < 7)
        return;
    frame[0] = (uint8_t)(expected->transaction >> 8);
    frame[1] = (uint8_t)expected->transaction;
    frame[2] = frame[3] = 0;
    frame[4] = (uint8_t)((size - 6) >> 8);
    frame[5] = (uint8_t)(size - 6);
}

/* What passes has as many registers as were asked for, of this unit and function. */
static void check_reply(enum wire_result result, const struct wire_reply *reply,
                        const struct frame_expected *expected, const uint8_t *pdu, size_t size)
{
    check(result == WIRE_OK || result == WIRE_EXCEPTION || result == WIRE_GARBLED || result == WIRE_PENDING);
    if (result == WIRE_OK)
        check(reply->count == expected->count && pdu[1] == expected->function &&
              size >= 3 + 2 * (size_t)expected->count);
    if (result == WIRE_OK || result == WIRE_EXCEPTION)
        check(pdu[0] == (uint8_t)expected->unit_id);
    if (result == WIRE_EXCEPTION)
        check(reply->exception == pdu[2] && pdu[1] == (expected->function | 0x80));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct wire_reply reply = { 0 };
    if (size < CHOICE || size - CHOICE > FRAME_MAX)
        return 0;
    struct frame_expected expected = { .unit_id = data[1],
                                       .function = 3 + data[2] % 2,
                                       .count = 1 + data[3] % MAP_MAX_REGISTERS,
                                       .transaction = (uint16_t)(data[4] << 8 | data[5]) };
    size_t length = size - CHOICE;
    uint8_t *frame = malloc(length > 0 ? length : 1); /* no more, so that reading on is found */
    check(frame != NULL);
    memcpy(frame, data + CHOICE, length);
    if (data[0] & 1)
        mend_serial(frame, length);
    frame_heard(frame, length);
    check_reply(frame_serial_check(frame, length, &expected, &reply), &reply, &expected, frame, length);
    if (data[0] & 2)
        mend_tcp(frame, length, &expected);
    reply = (struct wire_reply){ 0 };
    enum wire_result result = frame_tcp_check(frame, length, &expected, &reply);
    if (result == WIRE_OK || result == WIRE_EXCEPTION)
        check(length > 8);
    check_reply(result, &reply, &expected, frame + (length > 6 ? 6 : 0), length > 6 ? length - 6 : length);
    free(frame);
    return 0;
}
