/* links: tools/panel/reply.c tools/panel/adu.c tools/panel/world.c tools/panel/counting.c tools/panel/replay.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/scenario.c tools/panel/scenario_value.c tools/panel/scenario_world.c tools/panel/scenario_meter.c tools/panel/scenario_fault.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/quantity.c */
/* What the panel's meters answer: the standard's order of checks, and each fault's bytes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "panel_scenario.h"
#include "reply.h"

static struct scenario *scenario;
static struct counting counting;
static struct panel panel;

/* One bus, one meter with unit id 7, the given extras. */
static void begin(const char *kind, const char *bus_extra, const char *meter_extra)
{
    char text[4000];
    struct heard heard;
    snprintf(text, sizeof text,
             PANEL_SITE
             "buses = ( { kind = \"%s\"; name = \"b\"; %s } );\n"
             "meters = ( { name = \"m\"; bus = \"b\"; unit_id = 7; measures = \"grid\"; sunspec = \"203\"; "
             "import_wh = 262145.0; serial = \"OLD\"; %s } );\n",
             kind, bus_extra, meter_extra);
    scenario = scenario_of(text, &heard);
    if (scenario == NULL)
        print_message("%s\n", heard.lines[0]);
    assert_non_null(scenario);
    counting_init(&counting, scenario, 1);
    panel = (struct panel){ .scenario = scenario, .counting = &counting };
}

static int teardown(void **state)
{
    (void)state;
    scenario_free(scenario);
    scenario = NULL;
    return 0;
}

static struct reply ask(uint8_t unit, uint8_t function, uint16_t address, uint16_t count)
{
    struct adu request = { .unit = unit,
                           .transaction = 0x1234,
                           .pdu_size = 5,
                           .pdu = { function, (uint8_t)(address >> 8), (uint8_t)address,
                                    (uint8_t)(count >> 8), (uint8_t)count } };
    uint8_t frame[ADU_MAX_SIZE];
    struct reply answer;
    size_t size = scenario->buses[0].transport == TRANSPORT_TCP ? adu_build_mbap(&request, frame)
                                                                : adu_build_rtu(&request, frame);
    reply_request(&panel, 0, &request, frame, size, &answer);
    return answer;
}

static int exception_of(const struct reply *answer)
{
    assert_int_equal(answer->size, 9);
    assert_true((answer->bytes[7] & 0x80) != 0);
    return answer->bytes[8];
}

/* MODBUS Application Protocol V1.1b3, figures 11 to 16: function, then quantity, then address. */
static void test_order_of_checks(void **state)
{
    static const struct {
        uint8_t function;
        uint16_t address, count;
        int exception;
    } table[] = {
        { 1, 0, 0, 1 },     { 5, 0, 0xFF00, 1 }, { 16, 0, 1, 1 },      { 0x2B, 0x0E01, 0, 1 },
        { 3, 0, 0, 3 },     { 3, 0, 126, 3 },    { 3, 40000, 126, 3 }, { 3, 0, 1, 2 },
        { 4, 40000, 2, 2 }, { 3, 40176, 4, 2 },  { 3, 65535, 2, 2 },   { 3, 40179, 1, 2 },
    };
    (void)state;
    begin("tcp", "", "");
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        struct reply answer = ask(7, table[i].function, table[i].address, table[i].count);
        assert_int_equal(exception_of(&answer), table[i].exception);
        assert_int_equal(answer.bytes[7], table[i].function | 0x80);
    }
}

static void test_answer(void **state)
{
    static const uint8_t expected[] = { 0x12, 0x34, 0, 0, 0, 7, 7, 3, 4, 0x53, 0x75, 0x6E, 0x53 };
    (void)state;
    begin("tcp", "", "");
    struct reply answer = ask(7, 3, 40000, 2);
    assert_int_equal(answer.size, sizeof expected);
    assert_memory_equal(answer.bytes, expected, sizeof expected);
    assert_string_equal(answer.verdict, "answered");
    /* nobody there: the gateway says so, a serial line does not */
    answer = ask(9, 3, 40000, 2);
    assert_int_equal(exception_of(&answer), 0x0B);
    scenario_free(scenario);
    begin("rtu", "", "");
    assert_int_equal(ask(9, 3, 40000, 2).size, 0);
    assert_int_equal(ask(0, 3, 40000, 2).size, 0);
    answer = ask(7, 3, 40000, 2);
    assert_int_equal(answer.size, 9);
    assert_int_equal(adu_crc(answer.bytes, answer.size), 0);
}

static void test_meter_limits(void **state)
{
    (void)state;
    begin("tcp", "", "max_registers = 10; refuse_cut = true;");
    struct reply answer = ask(7, 3, 40070, 11);
    assert_int_equal(exception_of(&answer), 3);
    answer = ask(7, 3, 40070 + 46, 1); /* half of TotWhImp */
    assert_int_equal(exception_of(&answer), 2);
    assert_string_equal(ask(7, 3, 40070 + 46, 2).verdict, "answered");
}

static void test_writes_are_counted(void **state)
{
    (void)state;
    begin("tcp", "", "");
    for (int function = 1; function < 0x80; function++)
        ask(7, (uint8_t)function, 40000, 1);
    assert_int_equal(panel.requests, 127);
    assert_int_equal(panel.other_functions, 123);
    assert_int_equal(panel.write_functions, 7);
}

static void test_frame_faults(void **state)
{
    static const struct {
        const char *kind, *fault;
        size_t size;  /* of the answer to a read of two registers */
        int at, byte; /* one byte that tells; -1: only the size does */
    } table[] = {
        { "tcp", "kind = \"silent\";", 0, -1, 0 },
        { "tcp", "kind = \"exception\"; code = 6;", 9, 8, 6 },
        { "tcp", "kind = \"exception\"; code = 65;", 9, 8, 0x41 },
        { "tcp", "kind = \"wrong_unit\"; unit = 99;", 13, 6, 99 },
        { "tcp", "kind = \"wrong_function\"; code = 4;", 13, 7, 4 },
        { "tcp", "kind = \"short_count\"; registers = 1;", 11, 8, 2 },
        { "tcp", "kind = \"cut\"; bytes = 3;", 10, 9, 0x53 },
        { "tcp", "kind = \"surplus\"; bytes = 4;", 17, 5, 7 },
        { "tcp", "kind = \"noise\"; bytes = 4;", 17, 4, 0x12 },
        { "tcp", "kind = \"echo\";", 25, 11, 2 },
        { "tcp", "kind = \"wrong_transaction\"; add = 1;", 13, 1, 0x35 },
        { "tcp", "kind = \"wrong_protocol\"; add = 1;", 13, 3, 1 },
        { "tcp", "kind = \"wrong_length\"; add = 2;", 13, 5, 9 },
        { "tcp", "kind = \"wrong_length\"; add = -3;", 13, 5, 4 },
        { "rtu", "kind = \"echo\";", 17, 8, 7 },
        { "rtu-over-tcp", "kind = \"noise\"; bytes = 4;", 13, 4, 7 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof *table; i++) {
        char faults[200];
        snprintf(faults, sizeof faults, "faults = ( { %s } );", table[i].fault);
        /* the same on the meter and on its bus */
        for (int on_bus = 0; on_bus < 2; on_bus++) {
            begin(table[i].kind, on_bus ? faults : "", on_bus ? "" : faults);
            struct reply answer = ask(7, 3, 40000, 2);
            assert_int_equal(answer.size, table[i].size);
            if (table[i].at >= 0)
                assert_int_equal(answer.bytes[table[i].at], table[i].byte);
            scenario_free(scenario);
        }
    }
    begin("rtu", "", "faults = ( { kind = \"bad_crc\"; nth = 2; } );");
    struct reply answer = ask(7, 3, 40000, 2);
    assert_int_equal(adu_crc(answer.bytes, answer.size), 0);
    answer = ask(7, 3, 40000, 2);
    assert_true(adu_crc(answer.bytes, answer.size) != 0);
}

static void test_timing_faults(void **state)
{
    (void)state;
    begin("tcp", "",
          "delay_ms = 20; faults = ( { kind = \"late\"; ms = 300; from = 5; to = 6; }, "
          "{ kind = \"drip\"; ms = 40; from = 7; to = 8; }, { kind = \"close\"; from = 9; to = 10; } );");
    assert_int_equal(ask(7, 3, 40000, 2).delay_ms, 20);
    panel.elapsed_ms = 5500;
    assert_int_equal(ask(7, 3, 40000, 2).delay_ms, 320);
    panel.elapsed_ms = 7500;
    assert_int_equal(ask(7, 3, 40000, 2).drip_ms, 40);
    assert_false(ask(7, 3, 40000, 2).close);
    panel.elapsed_ms = 9500;
    struct reply answer = ask(7, 3, 40000, 2);
    assert_true(answer.close && answer.size == 0);
}

/* TotWhImp as answered; it stands at 0x40001 Wh at the start. */
static uint32_t counter_now(void)
{
    struct reply answer = ask(7, 3, 40070 + 46, 2);
    assert_int_equal(answer.size, 13);
    return (uint32_t)answer.bytes[9] << 24 | (uint32_t)answer.bytes[10] << 16 |
           (uint32_t)answer.bytes[11] << 8 | answer.bytes[12];
}

static void test_value_faults(void **state)
{
    (void)state;
    begin("tcp", "",
          "faults = ( { kind = \"zero\"; from = 1; to = 2; }, { kind = \"step_back\"; steps = 2; from = 2; "
          "to = 3; }, "
          "{ kind = \"torn\"; units = 2; from = 3; to = 4; }, { kind = \"absent\"; from = 4; to = 5; } );");
    assert_int_equal(counter_now(), 0x40001);
    panel.elapsed_ms = 1000;
    assert_int_equal(counter_now(), 0);
    panel.elapsed_ms = 2000;
    assert_int_equal(counter_now(), 0x3FFFF);
    panel.elapsed_ms = 3000;
    assert_int_equal(counter_now(), 0x4FFFF); /* the high word of 0x40001, the low one of 0x3FFFF */
    panel.elapsed_ms = 4000;
    struct reply answer = ask(7, 3, 40070 + 18, 1);
    assert_true(answer.bytes[9] == 0x80 && answer.bytes[10] == 0);
}

static void test_night(void **state)
{
    struct heard heard;
    static const char text[] =
        "site: { name = \"x\"; latitude = 47.5; longitude = 9.0; start = \"2026-06-21T23:00:00Z\"; };\n"
        "parts = ( { name = \"south\"; peak_w = 4000; } );\n"
        "buses = ( { kind = \"tcp\"; name = \"b\"; } );\n"
        "meters = ( { name = \"a\"; bus = \"b\"; unit_id = 1; measures = \"part\"; of = \"south\"; sunspec = "
        "\"103\"; },\n"
        "{ name = \"s\"; bus = \"b\"; unit_id = 2; measures = \"part\"; of = \"south\"; sunspec = \"103\"; "
        "night = \"silent\"; },\n"
        "{ name = \"n\"; bus = \"b\"; unit_id = 3; measures = \"part\"; of = \"south\"; sunspec = \"103\"; "
        "night = \"absent\"; } );\n";
    (void)state;
    scenario = scenario_of(text, &heard);
    assert_non_null(scenario);
    counting_init(&counting, scenario, 3600);
    panel = (struct panel){ .scenario = scenario, .counting = &counting };
    for (int day = 0; day < 2; day++) {
        struct reply answer = ask(1, 3, 40070 + 14, 1);
        assert_int_equal(answer.bytes[9] == 0 && answer.bytes[10] == 0, !day);
        assert_int_equal(ask(2, 3, 40070 + 14, 1).size, day ? 11 : 0);
        answer = ask(3, 3, 40070 + 14, 1);
        assert_int_equal(answer.bytes[9] == 0x80, !day);
        counting_advance(&counting, 12000); /* twelve hours on */
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(test_order_of_checks, teardown),
        cmocka_unit_test_teardown(test_answer, teardown),
        cmocka_unit_test_teardown(test_meter_limits, teardown),
        cmocka_unit_test_teardown(test_writes_are_counted, teardown),
        cmocka_unit_test_teardown(test_frame_faults, teardown),
        cmocka_unit_test_teardown(test_timing_faults, teardown),
        cmocka_unit_test_teardown(test_value_faults, teardown),
        cmocka_unit_test_teardown(test_night, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
