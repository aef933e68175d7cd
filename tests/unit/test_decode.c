/* links: daemon/decode.c daemon/record/muldiv.c daemon/record/quantity.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "decode.h"

static struct point point_of(enum quantity quantity, enum point_type type, int exponent)
{
    static const uint8_t sizes[TYPE_COUNT] = { 1, 1, 2, 2, 4, 4, 2, 4, 1, 2, 4, 16 };
    return (struct point){ .quantity = (uint8_t)quantity,
                           .function = 3,
                           .type = (uint8_t)type,
                           .size = sizes[type],
                           .exponent = (int8_t)exponent,
                           .multiplier = 1,
                           .divisor = 1,
                           .address = 100,
                           .scale_address = NO_REGISTER };
}

/* Every integer type: value, sign, the ends of its range, step and modulus. */
static void integer_types(void **state)
{
    static const struct {
        enum point_type type;
        uint16_t registers[4];
        enum quantity quantity;
        int exponent;
        enum decode_result result;
        int64_t value, step, modulus;
    } rows[] = {
        /* MODBUS Application Protocol V1.1b3, 6.3: registers 108..110 are 555, 0, 100 */
        { TYPE_UINT16, { 555 }, Q_VOLTAGE_L1, 0, DECODE_OK, 555000, 0, 0 },
        { TYPE_UINT16, { 100 }, Q_VOLTAGE_L1, 0, DECODE_OK, 100000, 0, 0 },
        /* the same, 6.4: input register 9 is 10 */
        { TYPE_UINT16, { 10 }, Q_VOLTAGE_L1, 0, DECODE_OK, 10000, 0, 0 },
        { TYPE_INT16, { 0x8000 }, Q_POWER, 0, DECODE_OK, -32768000, 0, 0 },
        { TYPE_INT16, { 0xFFFF }, Q_POWER, 0, DECODE_OK, -1000, 0, 0 },
        { TYPE_INT16, { 0x7FFF }, Q_POWER, 0, DECODE_OK, 32767000, 0, 0 },
        { TYPE_UINT16, { 0xFFFF }, Q_POWER, 0, DECODE_OK, 65535000, 0, 0 },
        { TYPE_INT32, { 0x8000, 0 }, Q_POWER, 0, DECODE_OK, INT64_C(-2147483648000), 0, 0 },
        { TYPE_INT32, { 0xFFFF, 0xFFFE }, Q_POWER, -3, DECODE_OK, -2, 0, 0 },
        { TYPE_UINT32, { 0xFFFF, 0xFFFF }, Q_POWER, 0, DECODE_OK, INT64_C(4294967295000), 0, 0 },
        { TYPE_INT64, { 0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF }, Q_POWER, 0, DECODE_OK, -1000, 0, 0 },
        { TYPE_INT64, { 0x8000, 0, 0, 1 }, Q_POWER, -3, DECODE_OK, -INT64_MAX, 0, 0 },
        { TYPE_INT64, { 0x8000, 0, 0, 0 }, Q_POWER, -3, DECODE_RANGE, 0, 0, 0 },
        { TYPE_INT64, { 0x8000, 0, 0, 0 }, Q_POWER, 0, DECODE_RANGE, 0, 0, 0 },
        { TYPE_UINT64, { 0x7FFF, 0xFFFF, 0xFFFF, 0xFFFF }, Q_POWER, -3, DECODE_OK, INT64_MAX, 0, 0 },
        { TYPE_UINT64, { 0x8000, 0, 0, 0 }, Q_POWER, -3, DECODE_RANGE, 0, 0, 0 },
        { TYPE_UINT64,
          { 0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF },
          Q_POWER,
          -4,
          DECODE_OK,
          INT64_C(1844674407370955162),
          0,
          0 },
        { TYPE_UINT64, { 0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF }, Q_POWER, 10, DECODE_RANGE, 0, 0, 0 },
        /* counters: floor, step = one count, modulus = the type's values */
        { TYPE_UINT32,
          { 1, 0 },
          Q_ACTIVE_IMPORT,
          2,
          DECODE_OK,
          INT64_C(6553600000),
          100000,
          INT64_C(429496729600000) },
        { TYPE_UINT32, { 0, 12345 }, Q_ACTIVE_IMPORT, -1, DECODE_OK, 1234500, 100, INT64_C(429496729600) },
        { TYPE_UINT32, { 0, 12349 }, Q_ACTIVE_IMPORT, -4, DECODE_OK, 1234, 1, 429496729 },
        { TYPE_UINT16, { 9 }, Q_ACTIVE_IMPORT, 3, DECODE_OK, 9000000, 1000000, INT64_C(65536000000) },
        { TYPE_INT32, { 0, 7 }, Q_ACTIVE_IMPORT, 0, DECODE_OK, 7000, 1000, INT64_C(2147483648000) },
        { TYPE_INT32, { 0xFFFF, 0xFFFF }, Q_ACTIVE_IMPORT, 0, DECODE_RANGE, 0, 0, 0 },
        { TYPE_INT16, { 7 }, Q_ACTIVE_IMPORT, 0, DECODE_OK, 7000, 1000, 32768000 },
        { TYPE_UINT64, { 0, 0, 0, 1 }, Q_ACTIVE_IMPORT, 0, DECODE_OK, 1000, 1000, 0 },
        { TYPE_UINT64, { 0, 0, 0, 1 }, Q_ACTIVE_IMPORT, -4, DECODE_OK, 0, 1, INT64_C(1844674407370955161) },
        { TYPE_INT64, { 0, 0, 0, 1 }, Q_ACTIVE_IMPORT, -3, DECODE_OK, 1, 1, 0 },
        /* decimal-coded */
        { TYPE_BCD16, { 0x1234 }, Q_VOLTAGE_L1, -1, DECODE_OK, 123400, 0, 0 },
        { TYPE_BCD32,
          { 0x0012, 0x3456 },
          Q_ACTIVE_IMPORT,
          1,
          DECODE_OK,
          1234560000,
          10000,
          INT64_C(1000000000000) },
        { TYPE_BCD64,
          { 0x9999, 0x9999, 0x9999, 0x9999 },
          Q_ACTIVE_IMPORT,
          -1,
          DECODE_OK,
          INT64_C(999999999999999900),
          100,
          INT64_C(1000000000000000000) },
        { TYPE_BCD16, { 0x123A }, Q_VOLTAGE_L1, 0, DECODE_RANGE, 0, 0, 0 },
        { TYPE_BCD32, { 0xF000, 0 }, Q_VOLTAGE_L1, 0, DECODE_RANGE, 0, 0, 0 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point = point_of(rows[i].quantity, rows[i].type, rows[i].exponent);
        struct decoded out = { .value = 42 };
        assert_int_equal(decode_point(&point, rows[i].registers, 100, &out), rows[i].result);
        if (rows[i].result != DECODE_OK) {
            assert_int_equal(out.value, 42);
            continue;
        }
        assert_int_equal(out.value, rows[i].value);
        assert_int_equal(out.step, rows[i].step);
        if (rows[i].step != 0) {
            assert_int_equal(out.modulus, rows[i].modulus);
        }
    }
}

/* The value 0x0102030405060708 (or its upper part) in each order on the wire. */
static void orders(void **state)
{
    static const struct {
        enum point_type type;
        enum point_order order;
        uint16_t registers[4];
        uint64_t raw;
    } rows[] = {
        { TYPE_UINT16, ORDER_ABCD, { 0x0102 }, 0x0102 },
        { TYPE_UINT16, ORDER_CDAB, { 0x0102 }, 0x0102 },
        { TYPE_UINT16, ORDER_BADC, { 0x0201 }, 0x0102 },
        { TYPE_UINT16, ORDER_DCBA, { 0x0201 }, 0x0102 },
        { TYPE_UINT32, ORDER_ABCD, { 0x0102, 0x0304 }, 0x01020304 },
        { TYPE_UINT32, ORDER_CDAB, { 0x0304, 0x0102 }, 0x01020304 },
        { TYPE_UINT32, ORDER_BADC, { 0x0201, 0x0403 }, 0x01020304 },
        { TYPE_UINT32, ORDER_DCBA, { 0x0403, 0x0201 }, 0x01020304 },
        { TYPE_UINT64, ORDER_ABCD, { 0x0102, 0x0304, 0x0506, 0x0708 }, UINT64_C(0x0102030405060708) },
        { TYPE_UINT64, ORDER_CDAB, { 0x0708, 0x0506, 0x0304, 0x0102 }, UINT64_C(0x0102030405060708) },
        { TYPE_UINT64, ORDER_BADC, { 0x0201, 0x0403, 0x0605, 0x0807 }, UINT64_C(0x0102030405060708) },
        { TYPE_UINT64, ORDER_DCBA, { 0x0807, 0x0605, 0x0403, 0x0201 }, UINT64_C(0x0102030405060708) },
        { TYPE_BCD32, ORDER_CDAB, { 0x5678, 0x1234 }, 0x12345678 },
        { TYPE_BCD64, ORDER_DCBA, { 0x7856, 0x3412, 0x7856, 0x3412 }, UINT64_C(0x1234567812345678) },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point = point_of(Q_POWER, rows[i].type, -3);
        struct decoded out;
        uint16_t registers[6] = { 0xBAD, 0xBAD }; /* the request starts two registers earlier */
        memcpy(registers + 2, rows[i].registers, sizeof rows[i].registers);
        point.order = (uint8_t)rows[i].order;
        assert_int_equal(decode_point(&point, registers, 98, &out), DECODE_OK);
        assert_true(out.raw == rows[i].raw);
    }
}

/* Floating-point values on the wire in each order; the bit patterns are those of
 * IEEE 754 binary32, computed from its definition. */
static void floats_in_each_order(void **state)
{
    static const struct {
        uint32_t bits;
        int64_t thousandths;
    } rows[] = {
        { 0x42F6E979, 123456 }, { 0x43668000, 230500 }, { 0xC4BB8000, -1500000 },      { 0x42480000, 50000 },
        { 0x00000000, 0 },      { 0x80000000, 0 },      { 0x3A83126F, 1 /* 0.001 */ },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        for (int order = 0; order < ORDER_COUNT; order++) {
            uint16_t high = (uint16_t)(rows[i].bits >> 16), low = (uint16_t)rows[i].bits;
            bool backwards = order == ORDER_CDAB || order == ORDER_DCBA;
            bool swapped = order == ORDER_BADC || order == ORDER_DCBA;
            uint16_t registers[2] = { backwards ? low : high, backwards ? high : low };
            struct point point = point_of(Q_VOLTAGE_L1, TYPE_FLOAT32, 0);
            struct decoded out;
            for (int r = 0; swapped && r < 2; r++) {
                registers[r] = (uint16_t)(registers[r] << 8 | registers[r] >> 8);
            }
            point.order = (uint8_t)order;
            assert_int_equal(decode_point(&point, registers, 100, &out), DECODE_OK);
            assert_int_equal(out.value, rows[i].thousandths);
            assert_true(out.raw == rows[i].bits);
        }
    }
}

static void float_registers(float value, uint16_t registers[2])
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    registers[0] = (uint16_t)(bits >> 16);
    registers[1] = (uint16_t)bits;
}

static void double_registers(double value, uint16_t registers[4])
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    for (int i = 0; i < 4; i++) {
        registers[i] = (uint16_t)(bits >> (48 - 16 * i));
    }
}

/* Counters in kWh as floats: exact to the register, never a unit less. */
static void float_counters(void **state)
{
    static const struct {
        double value;
        bool wide;
        int exponent;
        enum decode_result result;
        int64_t thousandths, step;
    } rows[] = {
        { 1234.5, false, 3, DECODE_OK, 1234500000, 123 }, /* spacing 2^-13 kWh = 122.07 mWh */
        { 18234.56, false, 3, DECODE_OK, INT64_C(18234560546), 1954 },
        { 98234.5625, false, 3, DECODE_OK, INT64_C(98234562500), 7813 },
        { 0.0, false, 3, DECODE_OK, 0, 1 },
        { 16777216.0, false, 3, DECODE_OK, INT64_C(16777216000000), 2000000 }, /* plateau: 2 kWh apart */
        { 100000000.0, false, 0, DECODE_OK, INT64_C(100000000000), 8000 },     /* 100 MWh in Wh: 8 Wh apart */
        { 1234.5, true, 3, DECODE_OK, 1234500000, 1 },
        { 1e30, true, -20, DECODE_OK, INT64_C(10000000000000), 1 },
        { 1e30, false, 0, DECODE_RANGE, 0, 0 },
        { 1e300, true, 0, DECODE_RANGE, 0, 0 },
        { 9.3e15, true, 0, DECODE_RANGE, 0, 0 },
        { 9.2e15, true, 0, DECODE_OK, INT64_C(9200000000000000000), 2000 },
        { 1e-300, true, 3, DECODE_OK, 0, 1 },
        { 1e-40, false, 3, DECODE_OK, 0, 1 }, /* subnormal */
        { -0.5, false, 3, DECODE_RANGE, 0, 0 },
        { -0.0, false, 3, DECODE_OK, 0, 1 },
        { 0.1, true, 3, DECODE_OK, 100000, 1 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point =
            point_of(Q_ACTIVE_IMPORT, rows[i].wide ? TYPE_FLOAT64 : TYPE_FLOAT32, rows[i].exponent);
        struct decoded out;
        uint16_t registers[4];
        if (rows[i].wide) {
            double_registers(rows[i].value, registers);
        } else {
            float_registers((float)rows[i].value, registers);
        }
        assert_int_equal(decode_point(&point, registers, 100, &out), rows[i].result);
        if (rows[i].result == DECODE_OK) {
            assert_int_equal(out.value, rows[i].thousandths);
            assert_int_equal(out.step, rows[i].step);
            assert_int_equal(out.modulus, 0);
        }
    }
}

/* A register with 0.01 kWh steps through 100 MWh: the value never falls, and
 * never stands more than the step below what was put in. */
static void float_counters_stay_inside_their_step(void **state)
{
    struct point point = point_of(Q_ACTIVE_IMPORT, TYPE_FLOAT32, 3);
    int64_t last = 0;
    (void)state;
    for (int64_t hundredths = 0; hundredths < 10000000; hundredths += 997) {
        struct decoded out;
        uint16_t registers[2];
        float_registers((float)((double)hundredths / 100), registers);
        assert_int_equal(decode_point(&point, registers, 100, &out), DECODE_OK);
        int64_t off = out.value - hundredths * 10000;
        assert_true(off > -out.step && off < out.step && out.value >= last);
        last = out.value;
    }
}

/* Momentary values are rounded half away from zero. */
static void rounding(void **state)
{
    static const struct {
        int32_t raw;
        int exponent;
        int64_t thousandths;
    } rows[] = {
        { 4, -4, 0 }, { 5, -4, 1 }, { -5, -4, -1 }, { -4, -4, 0 }, { 15, -4, 2 }, { 12345, -5, 123 }
    };
    uint16_t registers[4];
    struct decoded out;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point = point_of(Q_POWER, TYPE_INT32, rows[i].exponent);
        registers[0] = (uint16_t)((uint32_t)rows[i].raw >> 16);
        registers[1] = (uint16_t)rows[i].raw;
        assert_int_equal(decode_point(&point, registers, 100, &out), DECODE_OK);
        assert_int_equal(out.value, rows[i].thousandths);
    }
    struct point point = point_of(Q_POWER, TYPE_FLOAT64, 0);
    double_registers(-0.0625 - 0.00048828125, registers); /* -62.98828125 thousandths */
    assert_int_equal(decode_point(&point, registers, 100, &out), DECODE_OK);
    assert_int_equal(out.value, -63);
    double_registers(0.0625, registers); /* 62.5: exactly half */
    assert_int_equal(decode_point(&point, registers, 100, &out), DECODE_OK);
    assert_int_equal(out.value, 63);
}

/* SunSpec models, JSON schema: sentinels of the types; any NaN is absent. */
static void not_implemented(void **state)
{
    static const struct {
        enum point_type type;
        uint64_t absent;
        uint16_t registers[4], neighbour[4];
    } rows[] = {
        { TYPE_INT16, 0x8000, { 0x8000 }, { 0x8001 } },
        { TYPE_UINT16, 0xFFFF, { 0xFFFF }, { 0xFFFE } },
        { TYPE_INT32, 0x80000000, { 0x8000, 0 }, { 0x8000, 1 } },
        { TYPE_UINT32, 0xFFFFFFFF, { 0xFFFF, 0xFFFF }, { 0xFFFF, 0xFFFE } },
        { TYPE_UINT32, 0, { 0, 0 }, { 0, 1 } }, /* accumulator */
        { TYPE_INT64, UINT64_C(1) << 63, { 0x8000, 0, 0, 0 }, { 0x8000, 0, 0, 1 } },
        { TYPE_UINT64, UINT64_MAX, { 0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF }, { 0x0FFF, 0xFFFF, 0xFFFF, 0xFFFF } },
        { TYPE_FLOAT32, 0x7FC00000, { 0x7FC0, 0 }, { 0x4248, 0 } },
        { TYPE_BCD16, 0xFFFF, { 0xFFFF }, { 0x9999 } },
    };
    static const uint16_t nans[][4] = { { 0x7FC0, 0 }, { 0xFFC0, 0 }, { 0x7F80, 1 }, { 0xFFFF, 0xFFFF } };
    static const uint16_t infinities[][4] = { { 0x7F80, 0 }, { 0xFF80, 0 } };
    struct decoded out = { .value = 42 };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point = point_of(Q_POWER, rows[i].type, -3);
        point.absent = rows[i].absent;
        point.has_absent = true;
        assert_int_equal(decode_point(&point, rows[i].registers, 100, &out), DECODE_ABSENT);
        assert_int_equal(decode_point(&point, rows[i].neighbour, 100, &out), DECODE_OK);
    }
    struct point single = point_of(Q_POWER, TYPE_FLOAT32, 0), wide = point_of(Q_POWER, TYPE_FLOAT64, 0);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(decode_point(&single, nans[i], 100, &out), DECODE_ABSENT);
    }
    for (size_t i = 0; i < 2; i++) {
        assert_int_equal(decode_point(&single, infinities[i], 100, &out), DECODE_RANGE);
    }
    assert_int_equal(decode_point(&wide, (const uint16_t[]){ 0x7FF8, 0, 0, 0 }, 100, &out), DECODE_ABSENT);
    assert_int_equal(decode_point(&wide, (const uint16_t[]){ 0xFFF0, 0, 0, 0 }, 100, &out), DECODE_RANGE);
}

/* SunSpec scale factors; the worked values are computed from value = raw * 10^sf. */
static void scale_registers(void **state)
{
    static const struct {
        enum point_type type;
        enum quantity quantity;
        int exponent;
        uint16_t registers[3]; /* value (one or two), then the scale register */
        enum decode_result result;
        int64_t thousandths;
    } rows[] = {
        { TYPE_UINT16, Q_VOLTAGE_L1, 0, { 2305, 0, 0xFFFF }, DECODE_OK, 230500 },
        { TYPE_INT16, Q_POWER, 0, { 0xFA0D, 0, 0 }, DECODE_OK, -1523000 },
        { TYPE_UINT32, Q_ACTIVE_IMPORT, 0, { 0x0001, 0xE240, 1 }, DECODE_OK, 1234560000 },
        { TYPE_INT16, Q_POWER_FACTOR, -2, { 985, 0, 0xFFFF }, DECODE_OK, 985 },
        { TYPE_UINT16, Q_VOLTAGE_L1, 0, { 1, 0, 10 }, DECODE_OK, INT64_C(10000000000000) },
        { TYPE_UINT16, Q_VOLTAGE_L1, 0, { 60000, 0, 0xFFF6 }, DECODE_OK, 0 },
        { TYPE_UINT16, Q_VOLTAGE_L1, 0, { 2305, 0, 11 }, DECODE_ABSENT, 0 },
        { TYPE_UINT16, Q_VOLTAGE_L1, 0, { 2305, 0, 0xFFF5 }, DECODE_ABSENT, 0 },
        { TYPE_UINT16, Q_VOLTAGE_L1, 0, { 2305, 0, 0x8000 }, DECODE_ABSENT, 0 },
        { TYPE_UINT32, Q_ACTIVE_IMPORT, 0, { 0xFFFF, 0xFFFF, 10 }, DECODE_RANGE, 0 },
    };
    struct decoded out;
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point = point_of(rows[i].quantity, rows[i].type, rows[i].exponent);
        point.scale_address = 102;
        assert_int_equal(decode_point(&point, rows[i].registers, 100, &out), rows[i].result);
        if (rows[i].result == DECODE_OK) {
            assert_int_equal(out.value, rows[i].thousandths);
        }
    }
    /* the scale register before the value, bytes swapped like the value's */
    struct point point = point_of(Q_VOLTAGE_L1, TYPE_UINT16, 0);
    point.order = ORDER_BADC;
    point.scale_address = 99;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0xFEFF, 0x0109 }, 99, &out), DECODE_OK);
    assert_int_equal(out.value, 23050); /* 0x0901 = 2305, 10^-2 */
}

static void factors(void **state)
{
    struct point point = point_of(Q_ACTIVE_IMPORT, TYPE_UINT32, 0);
    struct decoded out;
    (void)state;
    point.multiplier = 10;
    point.divisor = 3;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0, 2 }, 100, &out), DECODE_OK);
    assert_int_equal(out.value, 6666); /* floor(20000 / 3) */
    assert_int_equal(out.step, 3334);  /* 3333.3 rounded up */
    point.divisor = 1;
    point.modulus = 1000000; /* six digits on the display */
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0, 2 }, 100, &out), DECODE_OK);
    assert_int_equal(out.modulus, INT64_C(10000000000));
    point.quantity = Q_POWER;
    point.multiplier = -10;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0, 2 }, 100, &out), DECODE_OK);
    assert_int_equal(out.value, -20000);
    point.negate = true;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0, 2 }, 100, &out), DECODE_OK);
    assert_int_equal(out.value, 20000);
    /* factors that cancel before they overflow */
    point = point_of(Q_POWER, TYPE_UINT16, 17);
    point.divisor = 1000000000;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 5 }, 100, &out), DECODE_OK);
    assert_int_equal(out.value, INT64_C(500000000000));
    point.exponent = 127;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 5 }, 100, &out), DECODE_RANGE);
    point.exponent = -128;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 5 }, 100, &out), DECODE_RANGE);
    /* a counter that counts below zero, turned round */
    point = point_of(Q_ACTIVE_EXPORT, TYPE_INT32, 0);
    point.negate = true;
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0xFFFF, 0xFE0C }, 100, &out), DECODE_OK);
    assert_int_equal(out.value, 500000);
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0, 500 }, 100, &out), DECODE_RANGE);
    assert_int_equal(decode_point(&point, (const uint16_t[]){ 0, 0 }, 100, &out), DECODE_OK);
}

static void texts(void **state)
{
    static const struct {
        enum point_type type;
        enum point_order order;
        int size;
        uint16_t registers[20];
        enum decode_result result;
        const char *text;
    } rows[] = {
        { TYPE_STRING, ORDER_ABCD, 4, { 0x4142, 0x4331, 0x3233, 0 }, DECODE_OK, "ABC123" },
        { TYPE_STRING, ORDER_ABCD, 4, { 0x4142, 0x4331, 0x3233, 0x2020 }, DECODE_OK, "ABC123" },
        { TYPE_STRING, ORDER_BADC, 2, { 0x4241, 0x3143 }, DECODE_OK, "ABC1" },
        { TYPE_STRING, ORDER_CDAB, 2, { 0x4142, 0x4331 }, DECODE_OK, "ABC1" },
        { TYPE_STRING, ORDER_ABCD, 2, { 0x4100, 0x4331 }, DECODE_OK, "A" },
        { TYPE_STRING, ORDER_ABCD, 2, { 0x4180, 0x0A42 }, DECODE_OK, "A??B" },
        { TYPE_STRING, ORDER_ABCD, 2, { 0, 0x4142 }, DECODE_ABSENT, "" },
        { TYPE_STRING, ORDER_ABCD, 2, { 0x2020, 0x2020 }, DECODE_ABSENT, "" },
        { TYPE_STRING, ORDER_ABCD, 2, { 0xFFFF, 0xFFFF }, DECODE_ABSENT, "" },
        { TYPE_STRING,
          ORDER_ABCD,
          20,
          { 0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4141,
            0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4141, 0x4242, 0x4242, 0x4242, 0x4242 },
          DECODE_OK,
          "AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA" },
        { TYPE_UINT32, ORDER_CDAB, 2, { 0xE240, 0x0001 }, DECODE_OK, "123456" },
        { TYPE_UINT64, ORDER_ABCD, 4, { 0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF }, DECODE_OK, "18446744073709551615" },
        { TYPE_INT16, ORDER_ABCD, 1, { 0xFFFF }, DECODE_OK, "-1" },
        { TYPE_BCD32, ORDER_ABCD, 2, { 0x0012, 0x3456 }, DECODE_OK, "123456" },
        { TYPE_BCD32, ORDER_ABCD, 2, { 0x0012, 0x3F56 }, DECODE_RANGE, "" },
        { TYPE_FLOAT32, ORDER_ABCD, 2, { 0x4248, 0 }, DECODE_RANGE, "" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        struct point point = point_of(Q_SERIAL_NUMBER, rows[i].type, 0);
        char text[TEXT_SIZE] = "untouched";
        point.order = (uint8_t)rows[i].order;
        point.size = (uint8_t)rows[i].size;
        assert_int_equal(decode_text(&point, rows[i].registers, 100, text), rows[i].result);
        assert_string_equal(text, rows[i].text);
    }
    struct point point = point_of(Q_SERIAL_NUMBER, TYPE_UINT16, 0);
    char text[TEXT_SIZE];
    point.has_absent = true;
    point.absent = 0xFFFF;
    assert_int_equal(decode_text(&point, (const uint16_t[]){ 0xFFFF }, 100, text), DECODE_ABSENT);
    /* a string has no number */
    struct decoded out;
    point = point_of(Q_POWER, TYPE_STRING, 0);
    assert_int_equal(decode_point(&point, rows[0].registers, 100, &out), DECODE_RANGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(integer_types),
        cmocka_unit_test(orders),
        cmocka_unit_test(floats_in_each_order),
        cmocka_unit_test(float_counters),
        cmocka_unit_test(float_counters_stay_inside_their_step),
        cmocka_unit_test(rounding),
        cmocka_unit_test(not_implemented),
        cmocka_unit_test(scale_registers),
        cmocka_unit_test(factors),
        cmocka_unit_test(texts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
