/* links: tools/enter/csv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "csv.h"

static struct csv csv;

/* Reads a text; gives its records as "a|b/c|d", or what was wrong. */
static const char *parse(const char *text, size_t size, char separator)
{
    static char out[CSV_MAX_RECORD * 2];
    static char copy[CSV_MAX_RECORD * 2];
    assert_true(size <= sizeof(copy));
    memcpy(copy, text, size);
    FILE *file = fmemopen(copy, size, "r");
    assert_non_null(file);
    csv_init(&csv, file, "f", separator);
    size_t n = 0;
    int result;
    out[0] = '\0';
    while ((result = csv_next(&csv)) == 1) {
        n += (size_t)snprintf(out + n, sizeof(out) - n, "%s", n ? "/" : "");
        for (int32_t i = 0; i < csv.count; i++)
            n += (size_t)snprintf(out + n, sizeof(out) - n, "%s%s", i ? "|" : "", csv.fields[i]);
    }
    fclose(file);
    return result == 0 ? out : csv.why;
}

static void test_records(void **state)
{
    (void)state;
    /* RFC 4180, section 2, its examples, read from the text of the RFC from memory */
    static const struct {
        const char *text, *records;
        char separator;
    } cases[] = {
        { "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", "aaa|bbb|ccc/zzz|yyy|xxx", ',' },
        { "aaa,bbb,ccc\r\nzzz,yyy,xxx", "aaa|bbb|ccc/zzz|yyy|xxx", ',' },
        { "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx", "aaa|b\r\nbb|ccc/zzz|yyy|xxx", ',' },
        { "\"aaa\",\"b\"\"bb\",\"ccc\"", "aaa|b\"bb|ccc", ',' },
        { "\xef\xbb\xbf"
          "a;b\n\n;\n",
          "a|b/|", ';' },
        { "\xef\xbb\xbf\"a\"\tb", "a|b", '\t' },
        { "a,\n\"\"", "a|/", ',' },
        { "a\n\r\n\n", "a", ',' },
        { "a,\"b\"x", "f:1: text after a closing quote", ',' },
        { "a\n\"b", "f:2: a quoted field does not end, a closing \" is missing", ',' },
        { "a\nb\"c", "f:2: a quote inside a field that does not begin with one", ',' },
        { "a\rb", "f:1: a carriage return inside the line, lines end with LF or CR LF", ',' },
        { "\"a\nb\"\nc\"", "f:3: a quote inside a field that does not begin with one", ',' },
    };
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
        assert_string_equal(parse(cases[i].text, strlen(cases[i].text), cases[i].separator),
                            cases[i].records);
}

static void test_empty(void **state)
{
    (void)state;
    assert_string_equal(parse("\xef\xbb\xbf", 3, ','), "");
    assert_string_equal(parse("\n\n", 2, ','), "");
    assert_int_equal(csv.count, 0);
}

static void test_zero_byte(void **state)
{
    (void)state;
    assert_string_equal(parse("a,b\nc\0d", 7, ','), "f:2: a zero byte in the text, is it a text file?");
    assert_string_equal(parse("\"a\0\"", 4, ','), "f:1: a zero byte in the text, is it a text file?");
}

/* A record that is one byte too long, and one that is not; across the buffer's end. */
static void test_limits(void **state)
{
    (void)state;
    static char text[CSV_BUFFER + 4 * CSV_MAX_RECORD];
    memset(text, 'x', sizeof(text));
    text[CSV_MAX_RECORD - 1] = '\n';
    assert_int_equal(strlen(parse(text, CSV_MAX_RECORD, ',')), CSV_MAX_RECORD - 1);
    text[CSV_MAX_RECORD - 1] = 'x';
    assert_string_equal(parse(text, CSV_MAX_RECORD, ','),
                        "f:1: the line is too long, up to 16383 bytes are allowed");
    size_t n = 0;
    for (int32_t i = 0; n + 16 < sizeof(text); i++)
        n += (size_t)snprintf(text + n, sizeof(text) - n, "%d,\"%d\"\r\n", i, i);
    FILE *file = fmemopen(text, n, "r");
    csv_init(&csv, file, "f", ',');
    int32_t count = 0;
    while (csv_next(&csv) == 1) {
        assert_int_equal(csv.count, 2);
        assert_int_equal(strtol(csv.fields[0], NULL, 10), count);
        assert_string_equal(csv.fields[0], csv.fields[1]);
        assert_int_equal(csv.line, ++count);
    }
    assert_int_equal(csv.read, (int64_t)n);
    assert_true(count > 5000);
    fclose(file);
    for (n = 0; n < CSV_MAX_FIELDS; n++)
        text[n] = ',';
    assert_string_equal(parse(text, n, ','), "f:1: too many fields, up to 256 are allowed");
    assert_int_equal(strlen(parse(text, n - 1, ',')), CSV_MAX_FIELDS - 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_records),
        cmocka_unit_test(test_empty),
        cmocka_unit_test(test_zero_byte),
        cmocka_unit_test(test_limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
