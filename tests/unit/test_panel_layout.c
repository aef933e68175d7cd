/* links: tools/panel/layout.c tools/panel/models.c daemon/decode.c daemon/record/muldiv.c daemon/bus/sunspec.c daemon/bus/sunspec_models.c daemon/bus/plan.c daemon/record/quantity.c */
/* The panel's registers: published bit patterns, every type and order against the collector's decoder
 * (written apart), SunSpec chains walked by the collector. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "decode.h"
#include "layout.h"
#include "models.h"
#include "sunspec.h"

static struct layout layout;

static struct point make_point(enum quantity quantity, int type, int size, int order, int exponent,
                               int32_t address)
{
    return (struct point){ .quantity = (uint8_t)quantity,
                           .function = 3,
                           .type = (uint8_t)type,
                           .order = (uint8_t)order,
                           .size = (uint8_t)size,
                           .exponent = (int8_t)exponent,
                           .multiplier = 1,
                           .divisor = 1,
                           .address = address,
                           .scale_address = NO_REGISTER };
}

static void one_point(const struct point *point)
{
    static struct register_map map;
    memset(&map, 0, sizeof map);
    map.max_registers = 125;
    map.point_count = 1;
    map.points[0] = *point;
    assert_true(layout_from_map(&layout, &map));
}

static struct shown shown_value(enum quantity quantity, int64_t value)
{
    struct shown shown = { 0 };
    shown.value[quantity] = value;
    shown.has[quantity] = true;
    return shown;
}

/* 123.456 = 0x42F6E979, 230.5 = 0x43668000, -1500 = 0xC4BB8000, 50 = 0x42480000: computed in double
 * precision, then rounded to IEEE 754 binary32. */
static void test_floats(void **state)
{
    static const struct {
        int64_t value;
        uint16_t words[4][2];
    } table[] = {
        { 123456, { { 0x42F6, 0xE979 }, { 0xE979, 0x42F6 }, { 0xF642, 0x79E9 }, { 0x79E9, 0xF642 } } },
        { 230500, { { 0x4366, 0x8000 }, { 0x8000, 0x4366 }, { 0x6643, 0x0080 }, { 0x0080, 0x6643 } } },
        { -1500000, { { 0xC4BB, 0x8000 }, { 0x8000, 0xC4BB }, { 0xBBC4, 0x0080 }, { 0x0080, 0xBBC4 } } },
        { 50000, { { 0x4248, 0x0000 }, { 0x0000, 0x4248 }, { 0x4842, 0x0000 }, { 0x0000, 0x4842 } } },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        for (int order = 0; order < ORDER_COUNT; order++) {
            struct point point = make_point(Q_POWER, TYPE_FLOAT32, 2, order, 0, 7);
            struct shown shown = shown_value(Q_POWER, table[i].value);
            uint16_t words[2];
            one_point(&point);
            assert_int_equal(layout_read(&layout, &shown, 3, 7, 2, words), LAYOUT_OK);
            assert_memory_equal(words, table[i].words[order], sizeof words);
        }
}

/* SunSpec examples computed from the model definitions: V 2305 with scale -1, W 0xFA0D = -1523, TotWhImp
 * 0x0001E240 with scale 1 is 1 234 560 Wh. */
static void test_integers(void **state)
{
    static const struct {
        enum quantity quantity;
        int type, size, exponent;
        int64_t value;
        uint64_t raw;
    } table[] = {
        { Q_VOLTAGE_L1, TYPE_UINT16, 1, -1, 230500, 2305 },
        { Q_POWER, TYPE_INT16, 1, 0, -1523000, 0xFA0D },
        { Q_POWER, TYPE_INT16, 1, 0, 1500, 2 }, /* half away from zero */
        { Q_POWER, TYPE_INT16, 1, 0, -1500, 0xFFFE },
        { Q_POWER, TYPE_INT16, 1, 0, 40000000, 0x7FFF }, /* as far as it goes */
        { Q_POWER, TYPE_UINT16, 1, 0, -5000, 0 },
        { Q_ACTIVE_IMPORT, TYPE_UINT32, 2, 1, 1234560999, 0x0001E240 },
        { Q_ACTIVE_IMPORT, TYPE_UINT32, 2, 1, 1234569999, 0x0001E240 },  /* floored */
        { Q_ACTIVE_IMPORT, TYPE_UINT32, 2, 0, 4294967296000 + 5000, 5 }, /* rolled over */
        { Q_ACTIVE_IMPORT, TYPE_INT32, 2, 0, 2147483648000 + 6000, 6 },
        { Q_ACTIVE_IMPORT, TYPE_BCD32, 2, 0, 12345678000, 0x12345678 },
        { Q_ACTIVE_IMPORT, TYPE_BCD32, 2, 0, 100000007000, 7 },
        { Q_ACTIVE_IMPORT, TYPE_UINT64, 4, 0, 81985529216486895, 81985529216486 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct point point =
            make_point(table[i].quantity, table[i].type, table[i].size, ORDER_ABCD, table[i].exponent, 0);
        struct shown shown = shown_value(table[i].quantity, table[i].value);
        uint64_t raw;
        one_point(&point);
        assert_true(layout_encode(&layout, &point, &shown, &raw));
        assert_true(raw == table[i].raw);
    }
}

/* What the panel writes, the collector reads, for every type and order. */
static void test_against_decoder(void **state)
{
    static const int sizes[TYPE_COUNT] = { 1, 1, 2, 2, 4, 4, 2, 4, 1, 2, 4 };
    (void)state;
    for (int type = 0; type < TYPE_STRING; type++)
        for (int order = 0; order < ORDER_COUNT; order++)
            for (int exponent = -2; exponent <= 3; exponent++)
                for (int64_t units = 0; units < 9999; units += 101) {
                    int64_t value = units;
                    for (int e = -3; e < exponent; e++)
                        value *= 10;
                    struct point point = make_point(Q_ACTIVE_IMPORT, type, sizes[type], order, exponent, 20);
                    struct shown shown = shown_value(Q_ACTIVE_IMPORT, value);
                    struct decoded decoded;
                    uint16_t words[4];
                    one_point(&point);
                    assert_int_equal(layout_read(&layout, &shown, 3, 20, point.size, words), LAYOUT_OK);
                    assert_int_equal(decode_point(&point, words, 20, &decoded), DECODE_OK);
                    assert_true(decoded.value == value);
                    assert_true(layout_register_value(&layout, &shown, Q_ACTIVE_IMPORT) == value);
                }
}

static void test_float_counter_stands_on_its_plateau(void **state)
{
    struct point point = make_point(Q_ACTIVE_IMPORT, TYPE_FLOAT32, 2, ORDER_ABCD, 0, 0);
    struct shown shown;
    (void)state;
    one_point(&point);
    /* above 2^25 Wh floats are 4 Wh apart; never more than has flowed */
    for (int64_t wh = 33554432; wh < 33554444; wh++) {
        shown = shown_value(Q_ACTIVE_IMPORT, wh * 1000);
        assert_true(layout_register_value(&layout, &shown, Q_ACTIVE_IMPORT) == (wh - wh % 4) * 1000);
    }
}

static void test_torn(void **state)
{
    struct point point = make_point(Q_ACTIVE_IMPORT, TYPE_UINT32, 2, ORDER_CDAB, 0, 0);
    struct shown shown = shown_value(Q_ACTIVE_IMPORT, 0x30001 * INT64_C(1000));
    uint16_t words[2];
    (void)state;
    one_point(&point);
    shown.torn_units = 3; /* high word of now, low word of 0x2FFFE */
    layout_read(&layout, &shown, 3, 0, 2, words);
    assert_int_equal(words[0], 0xFFFE);
    assert_int_equal(words[1], 0x0003);
}

static void test_holes_cuts_and_absent(void **state)
{
    struct point point = make_point(Q_ACTIVE_IMPORT, TYPE_UINT32, 2, ORDER_ABCD, 0, 10);
    struct shown shown = { 0 };
    uint16_t words[4];
    (void)state;
    point.has_absent = true;
    point.absent = 0xFFFFFFFF;
    one_point(&point);
    assert_int_equal(layout_read(&layout, &shown, 3, 10, 2, words), LAYOUT_OK);
    assert_int_equal(words[0], 0xFFFF);
    assert_int_equal(layout_read(&layout, &shown, 3, 10, 1, words), LAYOUT_CUTS);
    assert_int_equal(layout_read(&layout, &shown, 3, 11, 1, words), LAYOUT_CUTS);
    assert_int_equal(layout_read(&layout, &shown, 3, 9, 2, words), LAYOUT_HOLE);
    assert_int_equal(layout_read(&layout, &shown, 3, 11, 2, words), LAYOUT_HOLE);
    assert_int_equal(layout_read(&layout, &shown, 4, 10, 2, words), LAYOUT_HOLE);
}

static void test_text(void **state)
{
    struct point point = make_point(Q_SERIAL_NUMBER, TYPE_STRING, 4, ORDER_ABCD, 0, 10);
    struct shown shown = { .serial = "SN-12" };
    uint16_t words[4];
    static const uint16_t expected[4] = { 'S' << 8 | 'N', '-' << 8 | '1', '2' << 8, 0 };
    char text[TEXT_SIZE];
    (void)state;
    one_point(&point);
    assert_int_equal(layout_read(&layout, &shown, 3, 10, 4, words), LAYOUT_OK);
    assert_memory_equal(words, expected, sizeof words);
    assert_int_equal(decode_text(&point, words, 10, text), DECODE_OK);
    assert_string_equal(text, "SN-12");

    point = make_point(Q_SERIAL_NUMBER, TYPE_UINT32, 2, ORDER_ABCD, 0, 10);
    one_point(&point);
    assert_int_equal(layout_read(&layout, &shown, 3, 10, 2, words), LAYOUT_OK);
    assert_int_equal(words[0], 0);
    assert_int_equal(words[1], 12);
}

/* Lengths: SunSpec Alliance, sunspec/models commit 7abdf898, summed over the points. */
static void test_model_lengths(void **state)
{
    static const struct {
        int32_t id, length;
    } table[] = { { 101, 50 },  { 102, 50 },  { 103, 50 },  { 111, 60 },  { 113, 60 },
                  { 201, 105 }, { 203, 105 }, { 204, 105 }, { 211, 124 }, { 213, 124 },
                  { 302, 5 },   { 303, 1 },   { 307, 11 },  { 701, 153 } };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++)
        for (int common = 65; common <= 66; common++) {
            struct models_choice choice = {
                .base = 40000, .id = { table[i].id }, .count = 1, .common_length = common
            };
            struct shown shown = { 0 };
            uint16_t words[2];
            assert_true(models_layout(&layout, &choice));
            assert_int_equal(layout_read(&layout, &shown, 3, 40000, 2, words), LAYOUT_OK);
            assert_true(words[0] == 0x5375 && words[1] == 0x6E53);
            int32_t at = 40002 + 2 + common;
            layout_read(&layout, &shown, 3, at, 2, words);
            assert_int_equal(words[0], table[i].id);
            assert_int_equal(words[1], table[i].length);
            assert_int_equal(layout_read(&layout, &shown, 3, at + 2 + table[i].length, 2, words), LAYOUT_OK);
            assert_true(words[0] == 0xFFFF && words[1] == 0);
            assert_int_equal(layout_read(&layout, &shown, 3, at + 4 + table[i].length, 1, words),
                             LAYOUT_HOLE);
        }
}

/* The collector walks the panel's chain and reads back what the meter shows. */
static void test_walk(void **state)
{
    static const int32_t chains[][3] = { { 101, 302, 303 }, { 103, 64001, 307 }, { 113, 0, 0 },
                                         { 203, 0, 0 },     { 213, 0, 0 },       { 701, 0, 0 } };
    static struct sunspec_walk walk;
    (void)state;
    for (size_t c = 0; c < sizeof chains / sizeof *chains; c++) {
        struct models_choice choice = {
            .base = 40000, .common_length = 66, .unit_id = 3, .positive_is_export = true
        };
        struct shown shown = { .serial = "INVENTED-3" };
        struct request request;
        uint16_t words[MAP_MAX_REGISTERS];
        for (int i = 0; i < 3 && chains[c][i] != 0; i++)
            choice.id[choice.count++] = chains[c][i];
        assert_true(models_layout(&layout, &choice));
        for (int q = 0; q < QUANTITY_COUNT; q++)
            shown.has[q] = true, shown.value[q] = (q + 20) * 1000;
        /* inverters deliver: their own positive is the site's negative */
        for (int q = 0; q < QUANTITY_COUNT && chains[c][0] != 203 && chains[c][0] != 213; q++)
            if ((q >= Q_POWER && q <= Q_REACTIVE_POWER) || (q >= Q_CURRENT_L1 && q <= Q_CURRENT_L3))
                shown.value[q] = -shown.value[q];
        shown.value[Q_POWER_FACTOR] = 985;
        sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, true, false);
        while (sunspec_next(&walk, &request) == SUNSPEC_ASKING)
            sunspec_take(&walk, layout_read(&layout, &shown, request.function, request.address, request.count,
                                            words) == LAYOUT_OK
                                    ? words
                                    : NULL);
        assert_int_equal(walk.state, SUNSPEC_DONE);
        bool counted = false;
        for (int i = 0; i < walk.map.point_count; i++) {
            const struct point *point = &walk.map.points[i];
            int32_t from = point->address, to = point->address + point->size;
            struct decoded decoded;
            if (point->type == TYPE_STRING)
                continue;
            if (point->scale_address != NO_REGISTER && point->scale_address < from)
                from = point->scale_address;
            if (point->scale_address != NO_REGISTER && point->scale_address >= to)
                to = point->scale_address + 1;
            layout_read(&layout, &shown, 3, from, to - from, words);
            if (decode_point(point, words, from, &decoded) == DECODE_ABSENT)
                continue; /* the panel has less than the model could */
            /* currents and power factors without direction are fine where the model has none */
            bool directed = point->quantity < Q_CURRENT_L1 || point->quantity > Q_POWER_FACTOR;
            int64_t expected = directed ? shown.value[point->quantity] : llabs(shown.value[point->quantity]);
            decoded.value = directed ? decoded.value : llabs(decoded.value);
            if (decoded.value != expected)
                print_message("model %d, %s: %lld\n", (int)chains[c][0], quantity_info(point->quantity)->name,
                              (long long)decoded.value);
            assert_true(decoded.value == expected);
            counted = counted || point->quantity == Q_ACTIVE_EXPORT;
        }
        assert_true(counted);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_floats),
        cmocka_unit_test(test_integers),
        cmocka_unit_test(test_against_decoder),
        cmocka_unit_test(test_float_counter_stands_on_its_plateau),
        cmocka_unit_test(test_torn),
        cmocka_unit_test(test_holes_cuts_and_absent),
        cmocka_unit_test(test_text),
        cmocka_unit_test(test_model_lengths),
        cmocka_unit_test(test_walk),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
