/* A register map: where a meter keeps which quantity, in which form.
 * Read from a file (daemon/record/map.c) or found on the wire by walking a
 * SunSpec model chain (daemon/bus/sunspec.c). Plain data, no pointers, so it can be
 * copied and compared. */
#ifndef METERBOOK_MAP_H
#define METERBOOK_MAP_H

#include <stdbool.h>
#include <stdint.h>

#include "quantity.h"

enum {
    MAP_MAX_POINTS = 96,
    MAP_MAX_RANGES = 24,
    MAP_MAX_REGISTERS = 125, /* Modbus application protocol V1.1b3, 6.3: 1..125 */
    MAP_NAME_SIZE = 48,
    TEXT_SIZE = 33, /* strings read from a meter, NUL included */
};

enum point_type {
    TYPE_INT16,
    TYPE_UINT16,
    TYPE_INT32,
    TYPE_UINT32,
    TYPE_INT64,
    TYPE_UINT64,
    TYPE_FLOAT32,
    TYPE_FLOAT64,
    TYPE_BCD16, /* decimal-coded: four decimal digits per register */
    TYPE_BCD32,
    TYPE_BCD64,
    TYPE_STRING,
    TYPE_COUNT
};

/* Order of the bytes of a 32-bit value 0xAABBCCDD on the wire. Wider values
 * follow the same two rules (words swapped, bytes in a word swapped). */
enum point_order { ORDER_ABCD, ORDER_CDAB, ORDER_BADC, ORDER_DCBA, ORDER_COUNT };

enum read_class { READ_POLL, READ_INTERVAL, READ_START, READ_CLASS_COUNT };

enum { NO_REGISTER = -1 };

struct point {
    uint8_t quantity;   /* enum quantity */
    uint8_t function;   /* 3 or 4 */
    uint8_t type;       /* enum point_type */
    uint8_t order;      /* enum point_order */
    uint8_t read_class; /* enum read_class */
    uint8_t size;       /* registers */
    bool negate;        /* the meter's sign is the other way round */
    bool has_absent;    /* `absent` is the not-implemented code, as raw bits */
    int8_t exponent;    /* value in the quantity's base unit (Wh, W, V ...) = raw * 10^exponent * multiplier /
                           divisor */
    int32_t multiplier; /* 1 unless the map says otherwise */
    int32_t divisor;    /* 1 unless the map says otherwise; never 0 */
    int32_t address;    /* raw PDU address, 0..65535 */
    int32_t scale_address; /* register with a further exponent (int16, -10..10), same request; NO_REGISTER */
    uint64_t absent;
    int64_t modulus; /* counters: raw value at which it rolls over, 0 = the type's own; plan_make() copies the
                        map's */
};

/* Registers from..to (inclusive) that the meter answers without a hole: a
 * request may bridge unused registers inside one. */
struct readable_range {
    uint8_t function;
    int32_t from, to;
};

struct register_map {
    char name[MAP_NAME_SIZE];
    char hash[17];           /* of the file's bytes, 16 hex digits; "" for a walked one */
    bool walk;               /* SunSpec: points are found on the wire, `points` is empty */
    int32_t max_registers;   /* per request, 1..125 */
    int32_t power_average_s; /* the power register is itself an average over this time; 0 = momentary */
    bool clock_is_local;     /* its clock shows the site's civil time; else UTC */
    int32_t clock_doubt_s;   /* by how much it may be off */
    int64_t counter_modulus; /* a counter rolls over at this raw value; 0 = the type's own modulus */
    int32_t point_count;
    int32_t range_count;
    struct point points[MAP_MAX_POINTS];
    struct readable_range ranges[MAP_MAX_RANGES];
};

#endif
