/* links: tools/output/number.c tools/output/text.c daemon/record/nearest.c tools/output/bar.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "bar.h"
#include "nearest.h"
#include "number.h"
#include "text.h"

static void test_numbers(void **state)
{
    static const struct {
        int64_t value;
        int32_t scale, decimals;
        char thousands;
        const char *text;
    } table[] = {
        { 0, 6, 6, 0, "0.000000" },
        { 1, 6, 6, 0, "0.000001" },
        { -1, 6, 6, 0, "-0.000001" },
        { -1, 6, 3, 0, "0.000" }, /* no minus before nothing */
        { 499, 6, 3, 0, "0.000" },
        { 500, 6, 3, 0, "0.001" },
        { -500, 6, 3, 0, "-0.001" },
        { 999999, 6, 3, 0, "1.000" },
        { 1234567890123, 6, 3, ',', "1,234,567.890" },
        { 999500, 6, 0, ',', "1" },
        { 123456, 0, 0, ',', "123,456" },
        { 123, 0, 0, ',', "123" },
        { INT64_MAX, 6, 6, 0, "9223372036854.775807" },
        { INT64_MIN + 1, 6, 6, ',', "-9,223,372,036,854.775807" },
        { INT64_MAX, 18, 18, 0, "9.223372036854775807" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++) {
        char buffer[NUMBER_SIZE];
        assert_string_equal(
            number_print(buffer, table[i].value, table[i].scale, table[i].decimals, table[i].thousands),
            table[i].text);
    }
}

static void test_rounds_as_it_prints(void **state)
{
    (void)state;
    assert_int_equal(number_round(1499999, 6, 3), 1500);
    assert_int_equal(number_round(-1234500, 6, 3), -1235);
    assert_int_equal(number_round(-499, 6, 3), 0);
    assert_true(number_round(INT64_MIN + 1, 6, 6) == INT64_MIN + 1);
}

static void test_shares(void **state)
{
    (void)state;
    assert_int_equal(number_share(1, 3), 333333);
    assert_int_equal(number_share(2, 3), 666667);
    assert_int_equal(number_share(-1, 3), -333333);
    assert_int_equal(number_share(5, 4), 1250000);
    assert_true(number_share(1, 0) == UNKNOWN);
    assert_true(number_share(0, 0) == UNKNOWN);
    assert_true(number_share(1, -5) == UNKNOWN);
    assert_true(number_share(UNKNOWN, 5) == UNKNOWN);
    assert_true(number_share(5, UNKNOWN) == UNKNOWN);
    assert_int_equal(number_share(INT64_MAX, INT64_MAX), 1000000);
    assert_int_equal(number_share(INT64_MAX / 2, INT64_MAX), 500000);
    /* one second lost in ten years is not nothing */
    assert_int_equal(number_share_down(315360000 - 1, 315360000), 999999);
    assert_int_equal(number_share_down(315360000, 315360000), 1000000);
}

static void test_decimals(void **state)
{
    (void)state;
    assert_int_equal(number_decimals_of_step(1, 3), 3);
    assert_int_equal(number_decimals_of_step(1, 6), 6);
    assert_int_equal(number_decimals_of_step(1000, 6), 3);     /* 1 Wh */
    assert_int_equal(number_decimals_of_step(8000, 6), 2);     /* a float register at 100 MWh: 8 Wh */
    assert_int_equal(number_decimals_of_step(100000, 3), 1);   /* 0.1 kWh */
    assert_int_equal(number_decimals_of_step(1000000, 3), 0);  /* 1 kWh */
    assert_int_equal(number_decimals_of_step(10000000, 3), 0); /* 10 kWh */
}

static void test_sums(void **state)
{
    (void)state;
    assert_int_equal(number_sum(2, -5), -3);
    assert_int_equal(number_sum(UNKNOWN, -5), -5);
    assert_int_equal(number_sum(2, UNKNOWN), 2);
    assert_true(number_sum(UNKNOWN, UNKNOWN) == UNKNOWN);
}

/* What a printer writes, as a string of the heap. */
static char *printed(void (*print)(FILE *out, const char *text), const char *text)
{
    char *buffer = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&buffer, &size);
    assert_non_null(out);
    print(out, text);
    fclose(out);
    return buffer;
}

static void plain_in_six(FILE *out, const char *text)
{
    text_plain(out, text, 6);
}

static void test_texts(void **state)
{
    static const struct {
        void (*print)(FILE *out, const char *text);
        const char *text, *expected;
    } table[] = {
        { text_json, "Roof", "\"Roof\"" },
        { text_json, "a \"b\" \\ c", "\"a \\\"b\\\" \\\\ c\"" },
        { text_json, "a\tb\n", "\"a\\u0009b\\u000a\"" },
        { text_json,
          "D\xc3\xa4"
          "cher",
          "\"D\xc3\xa4"
          "cher\"" },
        { text_json,
          "\xe4"
          "x",
          "\"\xef\xbf\xbdx\"" },
        { text_json, "\xc0\xaf", "\"\xef\xbf\xbd\xef\xbf\xbd\"" },                   /* overlong */
        { text_json, "\xed\xa0\x80!", "\"\xef\xbf\xbd\xef\xbf\xbd\xef\xbf\xbd!\"" }, /* surrogate */
        { text_json, "\xf0\x9f\x8c\x9e", "\"\xf0\x9f\x8c\x9e\"" },
        { text_json, "\xf0\x9f", "\"\xef\xbf\xbd\xef\xbf\xbd\"" }, /* cut short */
        { text_csv, "Roof", "Roof" },
        { text_csv, "Roof, south", "\"Roof, south\"" },
        { text_csv, "the \"roof\"", "\"the \"\"roof\"\"\"" },
        { text_csv, "two\nlines", "\"two\nlines\"" },
        { plain_in_six, "Roof", "Roof  " },
        { plain_in_six,
          "D\xc3\xa4"
          "ch",
          "D\xc3\xa4"
          "ch  " },
        { plain_in_six, "\033[2J", "?[2J  " },
        { plain_in_six, "too long", "too long" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++) {
        char *came = printed(table[i].print, table[i].text);
        assert_string_equal(came, table[i].expected);
        free(came);
    }
}

static void test_nearest(void **state)
{
    static const char *const names[] = { "day", "month", "now", "year", NULL };
    static const struct {
        const char *word, *near;
    } table[] = {
        { "moth", "month" }, { "dya", "day" },
        { "yaer", "year" },  { "nwo", "now" },
        { "days", "day" },   { "windmill", NULL },
        { "", NULL },        { "a-word-that-is-longer-than-any-name-here", NULL },
    };
    (void)state;
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++) {
        const char *near = nearest(table[i].word, names);
        if (table[i].near)
            assert_string_equal(near, table[i].near);
        else
            assert_null(near);
    }
}

static void test_bars(void **state)
{
    static const struct {
        int64_t export, self, import, longest;
        const char *bar;
    } table[] = {
        { 0, 0, 0, 100, "" },
        { 50, 50, 0, 100, "<<<<<#####" },
        { 0, 25, 25, 100, "###>>" },   /* ends are rounded, not parts */
        { 30, -10, 20, 100, "<<<>>" }, /* a negative skew takes no room */
        { 10, 10, 10, 30, "<<<####>>>" },
        { UNKNOWN, UNKNOWN, 10, 10, ">>>>>>>>>>" },
        { 10, 0, 0, 0, "" },
    };
    const struct terminal terminal = { .columns = 80 };
    (void)state;
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++) {
        struct balance balance = { .export = table[i].export,
                                   .self_consumption = table[i].self,
                                   .import = table[i].import };
        char *buffer = NULL;
        size_t size = 0;
        FILE *out = open_memstream(&buffer, &size);
        assert_non_null(out);
        bar_print(out, &balance, table[i].longest, 10, &terminal);
        fclose(out);
        assert_string_equal(buffer, table[i].bar);
        free(buffer);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_numbers), cmocka_unit_test(test_rounds_as_it_prints),
        cmocka_unit_test(test_shares),  cmocka_unit_test(test_decimals),
        cmocka_unit_test(test_sums),    cmocka_unit_test(test_texts),
        cmocka_unit_test(test_nearest), cmocka_unit_test(test_bars),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
