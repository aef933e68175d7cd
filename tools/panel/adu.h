/* Frames on the wire, built and taken apart without any library, so that the
 * panel is an independent peer. Sizes and CRC: Modbus application protocol
 * V1.1b3, serial line V1.02, messaging on TCP/IP V1.0b. Pure. */
#ifndef METERBOOK_PANEL_ADU_H
#define METERBOOK_PANEL_ADU_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { ADU_MAX_PDU = 253, ADU_MAX_SIZE = 260, ADU_MBAP_SIZE = 7 };

struct adu {
    uint8_t unit;
    uint16_t transaction, protocol; /* MBAP only */
    uint8_t pdu[ADU_MAX_PDU];
    size_t pdu_size;
};

enum adu_found {
    ADU_NONE,    /* not complete yet */
    ADU_REQUEST, /* a request; *used bytes belong to it */
    ADU_BAD,     /* cannot be one: bad CRC, or MBAP header of nonsense */
};

uint16_t adu_crc(const uint8_t *bytes, size_t size);

/* Looks for a request at the beginning of the bytes. */
enum adu_found adu_parse_rtu(const uint8_t *bytes, size_t size, struct adu *adu, size_t *used);
enum adu_found adu_parse_mbap(const uint8_t *bytes, size_t size, struct adu *adu, size_t *used);

/* Writes a frame of at most ADU_MAX_SIZE bytes, returns its size. */
size_t adu_build_rtu(const struct adu *adu, uint8_t *bytes);
size_t adu_build_mbap(const struct adu *adu, uint8_t *bytes);

#endif
