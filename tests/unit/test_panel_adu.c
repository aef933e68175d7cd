/* links: tools/panel/adu.c tools/panel/fault.c */
/* The panel's frames against published ones, and when its faults are due. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adu.h"
#include "fault.h"

/* MODBUS over Serial Line V1.02, 6.2.2: frame 02 07 has the CRC register 0x1241. "123456789" -> 0x4B37 is the
 * published check value of this CRC; the others are computed. */
static void test_crc(void **state)
{
    (void)state;
    assert_int_equal(adu_crc((const uint8_t *)"\x02\x07", 2), 0x1241);
    assert_int_equal(adu_crc((const uint8_t *)"123456789", 9), 0x4B37);
    assert_int_equal(adu_crc((const uint8_t *)"", 0), 0xFFFF);
    assert_int_equal(adu_crc((const uint8_t *)"\x00", 1), 0x40BF);
    assert_int_equal(adu_crc((const uint8_t *)"\xFF", 1), 0x00FF);
}

/* PDUs: MODBUS Application Protocol V1.1b3, 6.1 to 6.12, as frames for address 0x11. */
static void test_rtu_requests(void **state)
{
    static const struct {
        const char *bytes;
        size_t size;
    } table[] = {
        { "\x11\x01\x00\x13\x00\x13\x8E\x92", 8 },
        { "\x11\x02\x00\xC4\x00\x16\xBA\xA9", 8 },
        { "\x11\x03\x00\x6B\x00\x03\x76\x87", 8 },
        { "\x11\x04\x00\x08\x00\x01\xB2\x98", 8 },
        { "\x11\x05\x00\xAC\xFF\x00\x4E\x8B", 8 },
        { "\x11\x06\x00\x01\x00\x03\x9A\x9B", 8 },
        { "\x11\x10\x00\x01\x00\x02\x04\x00\x0A\x01\x02\xC6\xF0", 13 },
        { "\x11\x2B\x0E\x01\x00\xB1\xB4", 7 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        const uint8_t *bytes = (const uint8_t *)table[i].bytes;
        struct adu adu;
        size_t used = 0;
        for (size_t cut = 0; cut < table[i].size; cut++)
            assert_int_equal(adu_parse_rtu(bytes, cut, &adu, &used), ADU_NONE);
        assert_int_equal(adu_parse_rtu(bytes, table[i].size, &adu, &used), ADU_REQUEST);
        assert_int_equal(used, table[i].size);
        assert_int_equal(adu.unit, 0x11);
        assert_memory_equal(adu.pdu, bytes + 1, adu.pdu_size);

        uint8_t built[ADU_MAX_SIZE];
        assert_int_equal(adu_build_rtu(&adu, built), table[i].size);
        assert_memory_equal(built, bytes, table[i].size);

        built[table[i].size - 1] ^= 1;
        assert_int_equal(adu_parse_rtu(built, table[i].size, &adu, &used), ADU_BAD);
    }
}

/* MODBUS Messaging on TCP/IP V1.0b, 4.4.1.2: read register 5. */
static void test_mbap(void **state)
{
    static const uint8_t request[12] = { 0x15, 0x01, 0, 0, 0, 6, 0xFF, 3, 0, 4, 0, 1 };
    struct adu adu;
    size_t used = 0;
    uint8_t built[ADU_MAX_SIZE];
    (void)state;
    for (size_t cut = 0; cut < sizeof request; cut++)
        assert_int_equal(adu_parse_mbap(request, cut, &adu, &used), ADU_NONE);
    assert_int_equal(adu_parse_mbap(request, sizeof request, &adu, &used), ADU_REQUEST);
    assert_int_equal(used, sizeof request);
    assert_int_equal(adu.transaction, 0x1501);
    assert_int_equal(adu.unit, 0xFF);
    assert_int_equal(adu.pdu_size, 5);
    assert_int_equal(adu_build_mbap(&adu, built), sizeof request);
    assert_memory_equal(built, request, sizeof request);

    static const uint8_t nonsense[][7] = { { 0, 1, 0, 1, 0, 6, 1 },
                                           { 0, 1, 0, 0, 0, 1, 1 },
                                           { 0, 1, 0, 0, 1, 0, 1 } };
    for (size_t i = 0; i < sizeof nonsense / sizeof *nonsense; i++)
        assert_int_equal(adu_parse_mbap(nonsense[i], 7, &adu, &used), ADU_BAD);
}

static void test_fault_times(void **state)
{
    struct fault always = { .to = -1 }, window = { .from = 2, .to = 5 };
    struct fault pattern = { .from = 1, .to = 20, .every = 6, .lasting = 2 };
    (void)state;
    assert_true(fault_due(&always, 0) && fault_due(&always, INT64_MAX / 2));
    assert_true(fault_next_change(&always, 7) == INT64_MAX);
    assert_true(!fault_due(&window, 1999) && fault_due(&window, 2000) && fault_due(&window, 4999) &&
                !fault_due(&window, 5000));
    assert_int_equal(fault_next_change(&window, 0), 2000);
    assert_int_equal(fault_next_change(&window, 2000), 5000);
    assert_true(fault_next_change(&window, 5000) == INT64_MAX);
    /* the announced changes are all there are */
    const struct fault *faults[] = { &always, &window, &pattern };
    for (size_t i = 0; i < 3; i++)
        for (int64_t ms = 0, next = fault_next_change(faults[i], 0); ms < 30000; ms++) {
            if (ms == next)
                next = fault_next_change(faults[i], ms);
            else if (ms > 0)
                assert_int_equal(fault_due(faults[i], ms), fault_due(faults[i], ms - 1));
        }
    assert_true(fault_due(&pattern, 7000) && !fault_due(&pattern, 9000) && fault_due(&pattern, 13999) &&
                !fault_due(&pattern, 19000 + 1000));
}

static void test_fault_requests(void **state)
{
    struct fault faults[] = { { .kind = FAULT_LATE, .to = -1, .nth = 3, .times = 2, .number = 40 },
                              { .kind = FAULT_SILENT, .to = -1 } };
    int taken = 0;
    (void)state;
    for (int64_t request = 1; request <= 30; request++) {
        const struct fault *fault = fault_take(faults, 2, FAULT_LATE, 0, request);
        if (fault != NULL) {
            assert_true(request == 3 || request == 6);
            assert_int_equal(fault->number, 40);
            taken++;
        }
    }
    assert_int_equal(taken, 2);
    assert_non_null(fault_take(faults, 2, FAULT_SILENT, 0, 1));
    assert_null(fault_take(faults, 2, FAULT_ECHO, 0, 1));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_crc),
        cmocka_unit_test(test_rtu_requests),
        cmocka_unit_test(test_mbap),
        cmocka_unit_test(test_fault_times),
        cmocka_unit_test(test_fault_requests),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
