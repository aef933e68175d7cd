/* links: daemon/plan_report.c daemon/bus/plan.c daemon/record/config.c daemon/record/config_classes.c daemon/record/config_file.c daemon/record/config_check.c daemon/record/config_impossible.c daemon/record/config_sealed.c daemon/record/config_checks.c daemon/record/config_supply.c daemon/record/config_expected.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/quantity.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* The report on the shipped configuration is a file, rewritten with
 * METERBOOK_UPDATE=1. Runs in the project's directory. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "plan_report.h"

static void hear(void *self, bool error, const char *line)
{
    (void)self;
    print_error("%s: %s\n", error ? "error" : "warning", line);
}

static struct config *load(const char *path)
{
    struct problems problems = { .say = hear };
    struct config *config = config_load(path, &problems);
    assert_non_null(config);
    return config;
}

static char *report(const struct config *config)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    plan_report(config, out);
    assert_int_equal(fclose(out), 0);
    return text;
}

/* All but the first line, which holds the hash and the zone data's edition. */
static void test_shipped(void **state)
{
    static char expected[16384];
    static const char path[] = "tests/config/meterbook.report";
    (void)state;
    struct config *config = load("config/meterbook.conf");
    char *text = report(config);
    const char *rest = strchr(text, '\n') + 1;
    const char *update = getenv("METERBOOK_UPDATE");
    FILE *file = fopen(path, update ? "w" : "r");
    assert_non_null(file);
    if (update)
        fputs(rest, file);
    else
        expected[fread(expected, 1, sizeof expected - 1, file)] = '\0';
    fclose(file);
    if (!update)
        assert_string_equal(rest, expected);
    free(text);
    config_free(config);
}

/* A line too slow for its poll period is said to be. */
static void test_too_slow(void **state)
{
    (void)state;
    struct config *config = load("config/meterbook.conf");
    config->buses[0].baud = 1200;
    char *text = report(config);
    assert_non_null(strstr(text, "shortest possible cycle at 1200 bit/s: "));
    assert_non_null(strstr(text, "the poll period is shorter than that: polls will be left out\n"));
    free(text);
    config_free(config);
}

/* A map that no plan covers: every value a hole apart. */
static void test_no_plan(void **state)
{
    (void)state;
    struct config *config = load("config/meterbook.conf");
    config->meters[0].max_registers = 1;
    char *text = report(config);
    assert_non_null(
        strstr(text, "no plan: its values need more than 48 requests, or one needs more than 1 registers\n"));
    free(text);
    config_free(config);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_shipped),
        cmocka_unit_test(test_too_slow),
        cmocka_unit_test(test_no_plan),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
