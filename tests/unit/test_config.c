/* links: daemon/record/config.c daemon/record/config_classes.c daemon/record/config_file.c daemon/record/config_check.c daemon/record/config_impossible.c daemon/record/config_sealed.c daemon/record/config_checks.c daemon/record/config_supply.c daemon/record/config_expected.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/quantity.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Every tests/config/x.conf is loaded; what is said of it must be x.expected,
 * line by line. With METERBOOK_UPDATE=1 in the environment the expected files
 * are written instead. Runs in the project's directory. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "config.h"

enum { SAID_SIZE = 128 * 1024 };

struct said {
    size_t length;
    char text[SAID_SIZE];
};

static void hear(void *self, bool error, const char *line)
{
    struct said *said = self;
    int n = snprintf(said->text + said->length, sizeof said->text - said->length, "%s: %s\n",
                     error ? "error" : "warning", line);
    assert_true(n > 0 && said->length + (size_t)n < sizeof said->text);
    said->length += (size_t)n;
}

static void hear_impossible(void *self, const char *line)
{
    struct said *said = self;
    int n = snprintf(said->text + said->length, sizeof said->text - said->length, "impossible: %s\n", line);
    assert_true(n > 0 && said->length + (size_t)n < sizeof said->text);
    said->length += (size_t)n;
}

/* Loads, hears everything. The caller frees the configuration. */
static struct config *load(const char *path, struct said *said)
{
    struct problems problems = { .say = hear, .self = said };
    said->length = 0;
    said->text[0] = '\0';
    struct config *config = config_load(path, &problems);
    assert_true((config == NULL) == (problems.errors > 0));
    if (config)
        config_impossible(config, hear_impossible, said);
    return config;
}

static void compare_with_file(const char *path, const struct said *said)
{
    static char expected[SAID_SIZE];
    const char *update = getenv("METERBOOK_UPDATE");
    FILE *file = fopen(path, update ? "w" : "r");
    if (!file)
        fail_msg("cannot open '%s'", path);
    size_t size = 0;
    if (update)
        assert_int_equal(fwrite(said->text, 1, said->length, file), said->length);
    else
        size = fread(expected, 1, sizeof expected - 1, file);
    fclose(file);
    expected[size] = '\0';
    if (!update && strcmp(expected, said->text) != 0)
        fail_msg("%s: expected\n%s\nbut heard\n%s", path, expected, said->text);
}

static void test_files(void **state)
{
    static struct said said;
    glob_t found;
    (void)state;
    assert_int_equal(glob("tests/config/*.conf", 0, NULL, &found), 0);
    print_message("%zu configurations\n", found.gl_pathc);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        char expected[512];
        int stem = (int)strlen(found.gl_pathv[i]) - (int)strlen(".conf");
        snprintf(expected, sizeof expected, "%.*s.expected", stem, found.gl_pathv[i]);
        config_free(load(found.gl_pathv[i], &said));
        compare_with_file(expected, &said);
    }
    globfree(&found);
}

/* The shipped files load without a word about an error or a warning. */
static void test_shipped(void **state)
{
    static struct said said;
    glob_t found;
    (void)state;
    assert_int_equal(glob("config/meterbook.conf", 0, NULL, &found), 0);
    glob("config/demo.conf", GLOB_APPEND, NULL, &found);
    glob("config/examples/*.conf", GLOB_APPEND, NULL, &found);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        struct config *config = load(found.gl_pathv[i], &said);
        if (!config || strstr(said.text, "error: ") || strstr(said.text, "warning: "))
            fail_msg("%s:\n%s", found.gl_pathv[i], said.text);
        config_free(config);
    }
    globfree(&found);
}

static void test_values(void **state)
{
    static struct said said;
    (void)state;
    struct config *config = load("config/meterbook.conf", &said);
    assert_non_null(config);
    assert_string_equal(config->site.time_zone, "Asia/Kathmandu");
    assert_int_equal(config->site.interval_s, 300);
    assert_int_equal(config->site.poll_period_ms, 1000);
    assert_int_equal(config->site.commit_s, 300);
    assert_true(config->site.latitude > 27.69 && config->site.latitude < 27.71);
    assert_int_equal(config->bus_count, 2);
    assert_int_equal(config->buses[0].baud, 19200);
    assert_int_equal(config->buses[0].stop_bits, 1);
    assert_int_equal(config->buses[0].response_timeout_ms, 1000);
    assert_int_equal(config->buses[0].listen_ms, 3000);
    assert_int_equal(config->buses[1].kind, BUS_TCP);
    assert_string_equal(config->buses[1].device, "192.0.2.20");
    assert_int_equal(config->buses[1].port, 502);
    assert_int_equal(config->meter_count, 4);
    assert_int_equal(config->map_count, 3);
    assert_int_equal(config->meters[0].ct_primary, 100);
    assert_int_equal(config->meters[0].ct_secondary, 5);
    assert_int_equal(config->meters[0].vt_primary, 1);
    assert_int_equal(config->meters[0].rated_w, 20000);
    assert_int_equal(config->meters[0].plane_azimuth, -1);
    assert_true(config->meters[1].delivers_by_export);
    assert_false(config->meters[1].gross);
    assert_int_equal(config->meters[2].map, config->meters[3].map);
    assert_true(config->maps[config->meters[2].map].walk);
    assert_int_equal(config->meters[2].sunspec_base, -1);
    assert_int_equal(config->sealed_count, 1);
    assert_int_equal(config->sealed[0].role, ROLE_GRID);
    assert_int_equal(config->sealed[0].registers, 1 << SEALED_IMPORT | 1 << SEALED_EXPORT);
    assert_int_equal(config->sealed[0].digits, 6);
    assert_int_equal(config->sealed[0].factor_thousandths, 1000);
    assert_string_equal(phase_method_name(config->sealed[0].phase_method), "netted");
    assert_true(config->sealed[0].whole_units);
    assert_int_equal(strlen(config->hash), 16);
    assert_int_equal(strlen(config->text), config->text_size);
    assert_non_null(strstr(config->text, "# file: config/meterbook.conf\n"));
    assert_string_equal(role_name(config->meters[2].role), "part");
    assert_string_equal(bus_kind_name(config->buses[0].kind), "rtu");
    config_free(config);
}

static void test_expected(void **state)
{
    static struct said said;
    (void)state;
    struct config *config = load("tests/config/expected-whole.conf", &said);
    assert_non_null(config);
    assert_true(config->expected.given);
    assert_int_equal(config->expected.kwh_per_kwp[1], 45500);
    assert_int_equal(config->expected.kwh[1], 0);
    assert_int_equal(config->expected.uncertainty_ppm, 80000);
    assert_int_equal(config->meters[0].ac_rating_w, 8000);
    assert_int_equal(config->meters[0].temperature_ppm, -3500);
    config_free(config);
}

/* The text kept in the record is a configuration of its own: written out and
 * read again it gives the same settings, includes and all. */
static void test_text_reads_back(void **state)
{
    static struct said said;
    char path[] = "tests/config/kept-XXXXXX";
    (void)state;
    struct config *config = load("tests/config/include.conf", &said);
    assert_non_null(config);
    int descriptor = mkstemp(path);
    assert_true(descriptor >= 0);
    FILE *file = fdopen(descriptor, "w");
    assert_non_null(file);
    fputs(config->text, file);
    fclose(file);
    struct config *again = load(path, &said);
    remove(path);
    assert_non_null(again);
    assert_memory_equal(&again->site, &config->site, sizeof config->site);
    assert_memory_equal(again->buses, config->buses, sizeof config->buses);
    assert_memory_equal(again->meters, config->meters, sizeof config->meters);
    assert_string_not_equal(again->hash, config->hash);
    config_free(again);
    config_free(config);
}

/* The text that the record keeps tells what the checks want to know, without its maps; a text that is not
 * whole tells nothing. */
static void test_stored(void **state)
{
    static struct said said;
    (void)state;
    struct config *config = load("tests/config/include.conf", &said);
    assert_non_null(config);
    struct config *stored = config_load_stored(config->text);
    assert_non_null(stored);
    assert_string_equal(stored->site.zone_edition, "");
    memset(config->site.zone_edition, 0, sizeof config->site.zone_edition);
    assert_memory_equal(&stored->site, &config->site, sizeof config->site);
    assert_memory_equal(&stored->checks, &config->checks, sizeof config->checks);
    assert_int_equal(stored->meter_count, config->meter_count);
    assert_string_equal(stored->meters[0].name, config->meters[0].name);
    config->text[config->text_size / 2] = '\0';
    assert_null(config_load_stored(config->text));
    assert_null(config_load_stored(""));
    struct config_checks defaults = config_default_checks();
    assert_memory_equal(&stored->checks, &defaults, sizeof defaults);
    assert_int_equal(defaults.spike_percent, 180);
    assert_int_equal(defaults.spike_block_s, 900);
    struct config_supply supply = config_default_supply();
    assert_memory_equal(&stored->supply, &supply, sizeof supply);
    assert_int_equal(supply.nominal_voltage, 23000);
    assert_int_equal(supply.nominal_frequency, 50000);
    assert_int_equal(supply.band_low + supply.band_high + supply.band_percent + supply.throttle_voltage, 0);
    assert_int_equal(supply.valid_percent, 90);
    config_free(stored);
    config_free(config);
}

static void test_no_file(void **state)
{
    static struct said said;
    (void)state;
    assert_null(load("tests/config/absent", &said));
    assert_string_equal(said.text, "error: cannot open 'tests/config/absent': No such file or directory\n");
    assert_null(load("tests/config", &said));
    assert_string_equal(said.text, "error: cannot read 'tests/config': Is a directory\n");
}

/* A file that includes itself many times over ends soon, with a word. */
static void test_include_bomb(void **state)
{
    static struct said said;
    char path[] = "/tmp/meterbook-bomb-XXXXXX";
    (void)state;
    int descriptor = mkstemp(path);
    assert_true(descriptor >= 0);
    FILE *file = fdopen(descriptor, "w");
    assert_non_null(file);
    for (int i = 0; i < 100; i++)
        fprintf(file, "@include \"%s\"\n", path);
    fclose(file);
    struct config *config = load(path, &said);
    remove(path);
    assert_null(config);
    assert_non_null(strstr(said.text, "is included too deeply, up to 8 files may include one another"));
}

/* Does a manual page have the key as an item? */
static bool is_described(const char *page, const char *key, size_t length)
{
    static const char item[] = "\n.It Ic ";
    for (const char *at = strstr(page, item); at; at = strstr(at + 1, item)) {
        const char *end = strchr(at + 1, '\n');
        for (const char *word = at + sizeof item - 1; end && word < end; word += strcspn(word, " \n") + 1)
            if (strncmp(word, key, length) == 0 && strchr(" \n", word[length]))
                return true;
    }
    return false;
}

/* The messages on unknown keys list all that there are: each is in the manual. */
static void test_manual(void **state)
{
    static struct said said;
    static char pages[2][SAID_SIZE];
    static const char *const paths[] = { "daemon/meterbook.conf.5", "daemon/meterbook-map.5" };
    int keys = 0;
    (void)state;
    for (int i = 0; i < 2; i++) {
        FILE *file = fopen(paths[i], "r");
        assert_non_null(file);
        pages[i][fread(pages[i], 1, SAID_SIZE - 1, file)] = '\0';
        fclose(file);
    }
    assert_null(load("tests/config/unknown.conf", &said));
    for (const char *line = said.text; *line; line = strchr(line, '\n') + 1) {
        const char *key = strstr(line, "allowed: ");
        bool top =
            strstr(line, "in the configuration") && strstr(line, "in the configuration") < strchr(line, '\n');
        bool map = strstr(line, ".map:") && strstr(line, ".map:") < key;
        assert_non_null(key);
        for (key += strlen("allowed: "); !top && *key != '\n'; key += strspn(key, ", "), keys++) {
            size_t length = strcspn(key, ",\n");
            if (!is_described(pages[map], key, length))
                fail_msg("'%.*s' is not in %s", (int)length, key, paths[map]);
            key += length;
        }
    }
    print_message("%d keys\n", keys);
    assert_true(keys > 70);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_files),           cmocka_unit_test(test_shipped),
        cmocka_unit_test(test_values),          cmocka_unit_test(test_expected),
        cmocka_unit_test(test_text_reads_back), cmocka_unit_test(test_no_file),
        cmocka_unit_test(test_include_bomb),    cmocka_unit_test(test_manual),
        cmocka_unit_test(test_stored),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
