#include "adu.h"

#include <string.h>

uint16_t adu_crc(const uint8_t *bytes, size_t size)
{
    uint16_t crc = 0xFFFF;
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++)
            crc = (crc & 1) != 0 ? (uint16_t)(crc >> 1 ^ 0xA001) : (uint16_t)(crc >> 1);
    }
    return crc;
}

/* Size of a request frame with CRC, from its function and, where it has one, its byte count; 0 = not known
 * yet. */
static size_t request_size(const uint8_t *bytes, size_t size)
{
    if (size < 2)
        return 0;
    switch (bytes[1]) {
    case 15:
    case 16: /* address, quantity, byte count, data */
        return size < 7 ? 0 : 9 + (size_t)bytes[6];
    case 22: /* address, two masks */
        return 10;
    case 23: /* two addresses and quantities, byte count, data */
        return size < 11 ? 0 : 13 + (size_t)bytes[10];
    case 43: /* MEI type, read code, object */
        return 7;
    case 7:
    case 11:
    case 12:
    case 17:
        return 4;
    default: /* two words */
        return 8;
    }
}

enum adu_found adu_parse_rtu(const uint8_t *bytes, size_t size, struct adu *adu, size_t *used)
{
    size_t expected = request_size(bytes, size);
    if (expected > 256)
        return ADU_BAD;
    if (expected == 0 || size < expected)
        return ADU_NONE;
    if (adu_crc(bytes, expected) != 0)
        return ADU_BAD;
    adu->unit = bytes[0];
    adu->transaction = adu->protocol = 0;
    adu->pdu_size = expected - 3;
    memcpy(adu->pdu, bytes + 1, adu->pdu_size);
    *used = expected;
    return ADU_REQUEST;
}

static uint16_t word(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] << 8 | bytes[1]);
}

static void put_word(uint8_t *bytes, uint16_t value)
{
    bytes[0] = (uint8_t)(value >> 8);
    bytes[1] = (uint8_t)value;
}

enum adu_found adu_parse_mbap(const uint8_t *bytes, size_t size, struct adu *adu, size_t *used)
{
    if (size < ADU_MBAP_SIZE)
        return ADU_NONE;
    uint16_t length = word(bytes + 4); /* counts the unit id too */
    if (word(bytes + 2) != 0 || length < 2 || length > 1 + ADU_MAX_PDU)
        return ADU_BAD;
    if (size < 6 + (size_t)length)
        return ADU_NONE;
    adu->transaction = word(bytes);
    adu->protocol = 0;
    adu->unit = bytes[6];
    adu->pdu_size = (size_t)length - 1;
    memcpy(adu->pdu, bytes + ADU_MBAP_SIZE, adu->pdu_size);
    *used = 6 + (size_t)length;
    return ADU_REQUEST;
}

size_t adu_build_rtu(const struct adu *adu, uint8_t *bytes)
{
    bytes[0] = adu->unit;
    memcpy(bytes + 1, adu->pdu, adu->pdu_size);
    uint16_t crc = adu_crc(bytes, adu->pdu_size + 1);
    bytes[adu->pdu_size + 1] = (uint8_t)crc;
    bytes[adu->pdu_size + 2] = (uint8_t)(crc >> 8);
    return adu->pdu_size + 3;
}

size_t adu_build_mbap(const struct adu *adu, uint8_t *bytes)
{
    put_word(bytes, adu->transaction);
    put_word(bytes + 2, adu->protocol);
    put_word(bytes + 4, (uint16_t)(adu->pdu_size + 1));
    bytes[6] = adu->unit;
    memcpy(bytes + ADU_MBAP_SIZE, adu->pdu, adu->pdu_size);
    return ADU_MBAP_SIZE + adu->pdu_size;
}
