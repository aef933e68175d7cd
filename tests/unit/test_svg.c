/* links: tools/report/svg.c tools/report/html.c tools/output/text.c tools/output/number.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "html.h"
#include "svg.h"

static char *text;
static size_t size;

static FILE *begin(void)
{
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    return out;
}

static void expect(FILE *out, const char *expected)
{
    fclose(out);
    assert_string_equal(text, expected);
    free(text);
}

/* No digit that says nothing, whatever the locale. */
static void test_numbers(void **state)
{
    (void)state;
    static const struct {
        int32_t value, scale;
        const char *text;
    } cases[] = {
        { 0, 2, "0" },    { 1250, 2, "12.5" }, { 1200, 2, "12" },   { 5, 1, ".5" },
        { -5, 1, "-.5" }, { -15, 1, "-1.5" },  { 10000, 2, "100" }, { 7, 0, "7" },
    };
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
        FILE *out = begin();
        svg_number(out, cases[i].value, cases[i].scale);
        expect(out, cases[i].text);
    }
}

static void test_scales(void **state)
{
    (void)state;
    static const struct {
        int64_t low, high;
        int32_t most;
        struct svg_scale scale;
    } cases[] = {
        { 0, 512000000, 5, { 0, 600000000, 200000000, 0, false } },
        { 0, 1000000, 5, { 0, 1000000, 200000, 1, false } },
        { -40000, 210000, 5, { -100000, 300000, 100000, 1, false } },
        { 0, 0, 5, { 0, 1000000, 200000, 1, false } },
        { 3, 9, 5, { 0, 10, 2, 6, false } },
        { -7, -3, 5, { -8, 0, 2, 6, false } },
    };
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
        struct svg_scale scale = svg_scale_of(cases[i].low, cases[i].high, cases[i].most);
        assert_int_equal(scale.low, cases[i].scale.low);
        assert_int_equal(scale.high, cases[i].scale.high);
        assert_int_equal(scale.step, cases[i].scale.step);
        assert_int_equal(scale.decimals, cases[i].scale.decimals);
    }
}

static void test_places(void **state)
{
    (void)state;
    struct svg svg = { .height = 2000 };
    struct svg_scale scale = svg_scale_of(-40000, 210000, 5);
    assert_int_equal(svg_y(&svg, &scale, 300000), 0);
    assert_int_equal(svg_y(&svg, &scale, 0), 1500);
    assert_int_equal(svg_y(&svg, &scale, -100000), 2000);
    /* what is beyond stands at the end */
    assert_int_equal(svg_y(&svg, &scale, INT64_MAX), 0);
    assert_int_equal(svg_y(&svg, &scale, -5000000), 2000);
}

/* Only differences, and none of nothing; after a shut path the next move counts from its start. */
static void test_paths(void **state)
{
    (void)state;
    FILE *out = begin();
    struct svg svg = { .out = out };
    svg_path_open(&svg, "line");
    svg_path_move(&svg, 10, 20);
    svg_path_y(&svg, 20);
    svg_path_x(&svg, 15);
    svg_path_y(&svg, 12);
    svg_path_shut(&svg);
    svg_path_move(&svg, 30, 18);
    svg_path_x(&svg, 25);
    svg_path_close(&svg);
    expect(out, "<path class=\"line\" d=\"M10 20h5v-8zm20-2h-5\"/>\n");
    out = begin();
    svg = (struct svg){ .out = out };
    svg_path_open(&svg, "line");
    svg_path_move(&svg, 0, 20);
    svg_path_line(&svg, 15, 12);
    svg_path_line(&svg, 20, 30);
    svg_path_x(&svg, 25);
    svg_path_close(&svg);
    expect(out, "<path class=\"line\" d=\"M0 20l15-8l5 18h5\"/>\n");
    out = begin();
    svg = (struct svg){ .out = out };
    svg_dot(&svg, "dot", 1250, 305);
    expect(out, "<circle class=\"dot\" r=\"4\" cx=\"12.5%\" cy=\"30.5\"/>\n");
}

static void test_elements(void **state)
{
    (void)state;
    FILE *out = begin();
    struct svg svg;
    svg_open(&svg, out, "a", 100, "Barn & \"House\"", "3 < 4");
    svg_rect(&svg, "import", 250, 1000, 5, 1000);
    svg_label(&svg, 5000, "<b>", true);
    svg_close(&svg);
    expect(out, "<svg class=\"p\" id=\"a\" role=\"img\" aria-labelledby=\"a-t a-d\" height=\"100\">"
                "<title id=\"a-t\">Barn &amp; &quot;House&quot;</title><desc id=\"a-d\">3 &lt; 4</desc>\n"
                "<rect class=\"import\" x=\"2.5%\" width=\"10%\" y=\".5\" height=\"99.5\"/>"
                "<text class=\"x thin\" x=\"50%\" y=\"118\">&lt;b&gt;</text>\n</svg>\n");
}

/* Foreign names: what would break out is escaped, what is no UTF-8 or no XML is replaced. */
static void test_names(void **state)
{
    (void)state;
    static const struct {
        const char *name, *html;
    } cases[] = {
        { "</title><script>", "&lt;/title&gt;&lt;script&gt;" },
        { "a\" onload=\"x", "a&quot; onload=&quot;x" },
        { "M\xc3\xbchle", "M\xc3\xbchle" },
        { "\xff\xfe", "\xef\xbf\xbd\xef\xbf\xbd" },
        { "a\xc3", "a\xef\xbf\xbd" },
        { "a\xc3(b", "a\xef\xbf\xbd(b" },
        { "\xed\xa0\x80", "\xef\xbf\xbd" }, /* a surrogate */
        { "tab\there\x01", "tab?here?" },
        { "8.16 kW; 3 % of 12 days", "8.16\xc2\xa0kW; 3\xc2\xa0% of 12 days" },
        { "13:00 was 5 Vs x kW 7 ", "13:00 was 5 Vs x kW 7 " },
        { "\xf0\x9f\x8c\x9e", "\xf0\x9f\x8c\x9e" },
    };
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
        FILE *out = begin();
        html_text(out, cases[i].name);
        expect(out, cases[i].html);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_numbers), cmocka_unit_test(test_scales),   cmocka_unit_test(test_places),
        cmocka_unit_test(test_paths),   cmocka_unit_test(test_elements), cmocka_unit_test(test_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
