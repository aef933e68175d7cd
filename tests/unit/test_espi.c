/* links: tools/extract/espi_time.c tools/extract/espi.c tools/output/text.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "espi.h"

enum { SUMMER_2026_S = 1782000000 /* 2026-06-21 */, MARCH_2012_S = 1330578000 };

/* The first row is that of the sample document of the schema's own repository (test_usage_data.xml; the
 * rules as standards.md 8.1 decodes them: November, first Sunday, 02:00, and March, second Sunday, 02:00).
 * The others are the zones' rules in the zone data. */
static void test_local_time(void **state)
{
    static const struct {
        const char *zone;
        int64_t at_s;
        struct espi_time time;
    } rows[] = {
        { "America/New_York", MARCH_2012_S, { 0x360E2000, 0xB40E2000, -18000, 3600 } },
        { "Europe/Berlin", SUMMER_2026_S, { 0x3E0E2000, 0xAE0E3000, 3600, 3600 } },
        { "Australia/Sydney", SUMMER_2026_S, { 0xA40E2000, 0x440E3000, 36000, 3600 } },
        { "Australia/Lord_Howe", SUMMER_2026_S, { 0xA40E2000, 0x440E2000, 37800, 1800 } },
        { "Asia/Kathmandu", SUMMER_2026_S, { ESPI_NO_RULE, ESPI_NO_RULE, 20700, 0 } },
        /* changes with the month of Ramadan: no rule */
        { "Africa/Casablanca", SUMMER_2026_S, { ESPI_NO_RULE, ESPI_NO_RULE, 3600, 0 } },
    };
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct civil *civil = civil_open(rows[i].zone);
        assert_non_null(civil);
        struct espi_time time = espi_time_of(civil, rows[i].at_s);
        assert_int_equal(time.start, rows[i].time.start);
        assert_int_equal(time.end, rows[i].time.end);
        assert_int_equal(time.standard_s, rows[i].time.standard_s);
        assert_int_equal(time.summer_s, rows[i].time.summer_s);
        civil_close(civil);
    }
}

/* The same sample's block: a day from 2012-03-01 05:00 UTC, readings of 900 s, quality 8. */
static void test_sample_block(void **state)
{
    static const char expected[] =
        "<IntervalBlock xmlns=\"http://naesb.org/espi\">\n"
        "<interval><duration>86400</duration><start>1330578000</start></interval>\n"
        "<IntervalReading><ReadingQuality><quality>8</quality></ReadingQuality><timePeriod><duration>900</"
        "duration>"
        "<start>1330578000</start></timePeriod><value>-282</value></IntervalReading>\n"
        "</IntervalBlock>\n";
    const struct espi_feed feed = { "interval data", "Invented <site> & \x80", MARCH_2012_S };
    const struct espi_series series = { 7, ESPI_REVERSE, "Invented \"meter\"", "grid", 900 };
    const struct espi_reading reading = { MARCH_2012_S, 900, -282, 1, { ESPI_BY_REFERENCE } };
    char *text = NULL, *again = NULL;
    size_t size, again_size;
    (void)state;
    for (int pass = 0; pass < 2; pass++) {
        FILE *out = open_memstream(pass ? &again : &text, pass ? &again_size : &size);
        espi_begin(out, &feed);
        espi_usage_point(out, &feed, 7, series.name, series.role);
        espi_series(out, &feed, &series);
        espi_block_begin(out, &feed, &series, MARCH_2012_S, MARCH_2012_S + 86400);
        espi_reading(out, &reading);
        espi_block_end(out);
        espi_end(out);
        fclose(out);
    }
    assert_non_null(strstr(text, expected));
    assert_non_null(strstr(text, "<flowDirection>19</flowDirection><intervalLength>900</intervalLength>"));
    assert_non_null(strstr(text, "Invented &#34;meter&#34;, export (1-0:2.8.0)"));
    assert_null(strstr(text, "<site>"));
    /* the same resource has the same identifier each time */
    assert_string_equal(text, again);
    free(text);
    free(again);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_local_time),
        cmocka_unit_test(test_sample_block),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
