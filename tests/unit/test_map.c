/* links: daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/quantity.c */
/* Maps are written to a temporary file and read back; what is wrong must be
 * said in these words. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "map_file.h"
#include "scan.h"
#include "utf8.h"

struct said {
    int32_t count;
    char text[8192];
};

static void hear(void *self, bool error, const char *line)
{
    struct said *said = self;
    size_t length = strlen(said->text);
    const char *colon = strchr(line, ':'); /* the temporary file's name is no use */
    (void)error;
    said->count++;
    snprintf(said->text + length, sizeof said->text - length, "%s\n", colon ? colon + 1 : line);
}

static bool read_text(const char *text, struct register_map *map, struct said *said)
{
    char path[] = "/tmp/meterbook-map-XXXXXX";
    int descriptor = mkstemp(path);
    assert_true(descriptor >= 0);
    assert_int_equal(write(descriptor, text, strlen(text)), strlen(text));
    close(descriptor);
    struct source source;
    struct problems problems = { .say = hear, .self = said };
    *said = (struct said){ 0 };
    map_file_read(map, &source, path);
    remove(path);
    bool good = source_say(&source, &problems);
    source_close(&source);
    return good;
}

static void test_good(void **state)
{
    static struct register_map map;
    static struct said said;
    (void)state;
    bool good = read_text(
        "name = \"good\"; function = 4; order = \"CDAB\"; max_registers = 50; power_average = 60;\n"
        "counter_modulus = 100000000;\n"
        "points = (\n"
        "{ quantity = \"active_import\"; address = 7; type = \"uint32\"; exponent = 1; absent = "
        "\"0xFFFFFFFF\"; },\n"
        "{ quantity = \"power\"; function = 3; address = 65535; type = \"int16\"; order = \"ABCD\";\n"
        "  multiplier = 2; divisor = 3; negate = true; scale_register = 65534; absent = -32768; },\n"
        "{ quantity = \"voltage_l1\"; address = 9; type = \"float64\"; read = \"interval\";\n"
        "  absent = 0x7FF8000000000000L; },\n"
        "{ quantity = \"serial_number\"; address = 100; type = \"string\"; length = 15; } );\n"
        "readable = ( { from = 7; to = 40; }, { function = 3; from = 7; to = 9; } );\n",
        &map, &said);
    assert_string_equal(said.text, "");
    assert_true(good);
    assert_string_equal(map.name, "good");
    assert_int_equal(strlen(map.hash), 16);
    assert_int_equal(map.max_registers, 50);
    assert_int_equal(map.power_average_s, 60);
    assert_int_equal(map.counter_modulus, 100000000);
    assert_int_equal(map.point_count, 4);
    const struct point *p = map.points;
    assert_int_equal(p[0].quantity, Q_ACTIVE_IMPORT);
    assert_int_equal(p[0].function, 4);
    assert_int_equal(p[0].size, 2);
    assert_int_equal(p[0].order, ORDER_CDAB);
    assert_int_equal(p[0].exponent, 1);
    assert_int_equal(p[0].multiplier, 1);
    assert_int_equal(p[0].divisor, 1);
    assert_int_equal(p[0].read_class, READ_POLL);
    assert_int_equal(p[0].scale_address, NO_REGISTER);
    assert_true(p[0].has_absent && p[0].absent == 0xFFFFFFFF);
    assert_int_equal(p[1].function, 3);
    assert_int_equal(p[1].order, ORDER_ABCD);
    assert_int_equal(p[1].scale_address, 65534);
    assert_true(p[1].negate && p[1].absent == 0x8000);
    assert_int_equal(p[2].read_class, READ_INTERVAL);
    assert_true(p[2].absent == UINT64_C(0x7FF8000000000000));
    assert_int_equal(p[3].size, 8);
    assert_int_equal(p[3].read_class, READ_START);
    assert_false(p[3].has_absent);
    assert_int_equal(map.range_count, 2);
    assert_int_equal(map.ranges[1].function, 3);
    assert_int_equal(map.ranges[0].to, 40);
}

/* Sheets call the first holding register 40001 and the first input register 30001. */
static void test_base(void **state)
{
    static struct register_map map;
    static struct said said;
    static const struct {
        int base, written, function, address;
    } table[] = { { 0, 12, 3, 12 },
                  { 1, 13, 3, 12 },
                  { 40001, 40013, 3, 12 },
                  { 30001, 30013, 4, 12 },
                  { 400001, 465536, 3, 65535 },
                  { 300001, 300013, 4, 12 } };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        char text[200];
        snprintf(text, sizeof text,
                 "name = \"b\"; base = %d; points = ( { quantity = \"power\"; address = %d; type = "
                 "\"int16\"; } );",
                 table[i].base, table[i].written);
        assert_true(read_text(text, &map, &said));
        assert_int_equal(map.points[0].address, table[i].address);
        assert_int_equal(map.points[0].function, table[i].function);
    }
}

#define HEAD "name = \"m\"; "
#define ONE  "points = ( { quantity = \"power\"; address = 1; type = \"int16\"; } );"

static void test_bad(void **state)
{
    static struct register_map map;
    static struct said said;
    static const struct {
        const char *text, *said;
    } table[] = {
        { "", " 'name' is missing in the map, allowed: a text of 1 to 47 bytes of UTF-8 in quotes\n"
              " 'points' is missing in the map, allowed: a list of groups ( { ... }, { ... } )\n" },
        { HEAD "points = ( );", "1: the map has 0 points, allowed: 1 to 96\n" },
        { HEAD "function = 6; " ONE, "1: 'function' is 6, allowed: a whole number from 3 to 4\n" },
        { HEAD "base = 40001; function = 4; " ONE,
          "1: 'function' is 4, allowed with base 40001: 3\n"
          "1: 'address' is 1, allowed with base 40001: 40001 to 105536\n" },
        { HEAD "counter_modulus = \"-5\"; " ONE,
          "1: 'counter_modulus' is out of range, allowed: from 2 to 9223372036854775807\n" },
        { HEAD "order = \"abcd\"; " ONE,
          "1: 'order' is \"abcd\", allowed: \"ABCD\", \"CDAB\", \"BADC\" or \"DCBA\"\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 65536; type = \"int32\"; } );",
          "1: 'address' is 65536, allowed with base 0: 0 to 65535\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 65535; type = \"int32\"; } );",
          "1: 'power' ends beyond register 65535\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"int24\"; } );",
          "1: 'type' is \"int24\", allowed: \"int16\", \"uint16\", \"int32\", \"uint32\", \"int64\", "
          "\"uint64\", "
          "\"float32\", \"float64\", \"bcd16\", \"bcd32\", \"bcd64\" or \"string\"\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"string\"; length = 4; } );",
          "1: 'power' cannot be a string, allowed: a type of number\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"int16\"; length = 4; } );",
          "1: 'length' does not belong here, it is for 'type' \"string\"\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"int16\"; read = \"start\"; } );",
          "1: 'power' changes, allowed: \"poll\" or \"interval\"\n" },
        { HEAD "points = ( { quantity = \"serial_number\"; address = 1; type = \"string\"; } );",
          "1: 'length' is missing in a point of type \"string\", allowed: a whole number of characters from "
          "1 to 32\n" },
        { HEAD
          "points = ( { quantity = \"serial_number\"; address = 1; type = \"float32\"; read = \"poll\"; } );",
          "1: 'serial_number' cannot be a float, allowed: \"string\" or a whole number\n"
          "1: 'serial_number' is read once, allowed: \"start\"\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"uint16\"; absent = 65536; } );",
          "1: 'absent' does not fit, allowed for a value of 16 bits: up to 0xFFFF\n" },
        { HEAD
          "points = ( { quantity = \"power\"; address = 1; type = \"uint16\"; absent = \"0xFFFFG\"; } );",
          "1: 'absent' is \"0xFFFFG\", allowed: a whole number of up to 64 bits, in quotes or with an L at "
          "the end beyond "
          "2147483647\n" },
        { HEAD "points = (\n{ quantity = \"power\"; address = 1; type = \"int32\"; },\n"
               "{ quantity = \"power\"; address = 2; type = \"int16\"; } );",
          "3: 'power' is in this map already, allowed: each quantity once\n"
          "3: the registers of 'power' overlap those of 'power', allowed: each register in one value\n" },
        { HEAD "max_registers = 3; points = ( { quantity = \"active_import\"; address = 1; type = "
               "\"uint64\"; } );",
          "1: 'active_import' needs 4 registers in one request, allowed by max_registers: up to 3\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"int16\"; scale_register = 9; } );",
          "1: 'scale_register' is not beside the value of 'power', allowed: inside one readable range with "
          "it\n" },
        { HEAD "points = ( { quantity = \"power\"; address = 1; type = \"int32\"; scale_register = 2; } );",
          "1: 'scale_register' lies inside the value of 'power'\n" },
        { HEAD ONE "readable = ( { from = 9; to = 1; }, { from = 20; to = 30; }, { from = 30; to = 40; } );",
          "1: 'to' lies before 'from', allowed: 'from' or more\n"
          "1: this readable range overlaps another, allowed: ranges apart from one another\n" },
        { HEAD ONE "scale = 3;",
          "1: unknown key 'scale' in the map, allowed: name, base, function, order, max_registers, "
          "power_average, clock, clock_doubt, counter_modulus, points, readable\n" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        assert_false(read_text(table[i].text, &map, &said));
        assert_string_equal(said.text, table[i].said);
    }
}

/* A scale register may stand apart where the meter answers all between. */
static void test_scale_in_range(void **state)
{
    static struct register_map map;
    static struct said said;
    (void)state;
    assert_true(read_text(
        HEAD "points = ( { quantity = \"power\"; address = 1; type = \"int16\"; scale_register = 9; } );\n"
             "readable = ( { from = 0; to = 9; } );",
        &map, &said));
}

/* FNV-1a, 64 bit: published test vectors (from memory). */
static void test_hash(void **state)
{
    static const struct {
        const char *text, *hash;
    } table[] = { { "", "cbf29ce484222325" }, { "a", "af63dc4c8601ec8c" }, { "foobar", "85944171f73967e8" } };
    static struct register_map map;
    static struct said said;
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        read_text(table[i].text, &map, &said);
        assert_string_equal(map.hash, table[i].hash);
    }
}

static void test_utf8(void **state)
{
    static const char *const good[] = { "", "plain", "caf\xc3\xa9", "\xe2\x82\xac", "\xf0\x9f\x8c\x9e" };
    static const char *const bad[] = { "caf\xe9",          "\xc3",     "\xc0\xaf", "\xed\xa0\x80",
                                       "\xf4\x90\x80\x80", "\x80",     "a\tb",     "\x7f",
                                       "\xc2\x85",         "\xe2\x82", "\xff" };
    (void)state;
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        assert_true(utf8_is_plain(good[i]));
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(utf8_is_plain(bad[i]));
}

static void count_fault(void *self, const char *what)
{
    (void)what;
    ++*(int *)self;
}

static void test_scan(void **state)
{
    static const struct {
        const char *line;
        int faults;
        enum scan_state after;
    } table[] = {
        { "a = 2147483647; b = -2147483648;", 0, SCAN_CODE },
        { "a = 2147483648;", 1, SCAN_CODE },
        { "a = -2147483649;", 1, SCAN_CODE },
        { "a = 0x7fffffff; b = 0x80000000L; c = 0x80000000;", 1, SCAN_CODE },
        { "a = 007; b = 0; c = 0.5; d = 00.5; e = 0x00; f = -01;", 2, SCAN_CODE },
        { "a = [0,08,1e5,10000000000.0];", 1, SCAN_CODE },
        { "a9999999999 = 1; b-9999999999 = 2;", 0, SCAN_CODE },
        { "a = \"9999999999 \\\" 9999999999\"; # 9999999999", 0, SCAN_CODE },
        { "// 9999999999", 0, SCAN_CODE },
        { "/* 9999999999 */ a = 9999999999; /*", 1, SCAN_COMMENT },
        { "a = \"open", 0, SCAN_STRING },
        { "a = 0xFFFFFFFFFFFFFFFFFFL; b = 99999999999999999999L;", 2, SCAN_CODE },
        { "a = 1111111111111111111111111111111111111111111111111111111111111111111111111111;", 1, SCAN_CODE },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        int faults = 0;
        enum scan_state after =
            scan_line(SCAN_CODE, table[i].line, strlen(table[i].line), count_fault, &faults);
        if (faults != table[i].faults || after != table[i].after)
            fail_msg("%s: %d faults, state %d", table[i].line, faults, (int)after);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good),           cmocka_unit_test(test_base), cmocka_unit_test(test_bad),
        cmocka_unit_test(test_scale_in_range), cmocka_unit_test(test_hash), cmocka_unit_test(test_utf8),
        cmocka_unit_test(test_scan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
