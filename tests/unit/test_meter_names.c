/* links: daemon/record/meter_names.c daemon/record/meter_names_read.c */
/* Whom a name means that meters had at different times. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "meter_names.h"

static struct config config = { .meter_count = 3,
                                .meters = { { .number = 1, .name = "cellar" },
                                            { .number = 2, .name = "roof" },
                                            { .number = 3, .name = "barn" } } };
static struct meter_names names;
static int32_t both[2];

static int32_t find(const char *name, int64_t at_s)
{
    both[0] = both[1] = 0;
    return meter_names_find(&names, &config, name, at_s, both);
}

/* By setting: 1 was "house" up to 200, 2 "roof" from 100 on, 3 "roof" up to 100, 4 is gone. */
static int setup(void **state)
{
    static const struct {
        int64_t since_s;
        const char *name[4];
    } settings[] = { { 0, { "house", "new", "roof", "shed" } },
                     { 100, { "house", "roof", "attic", "shed" } },
                     { 150, { "house", "roof", "attic", "shed" } },
                     { 200, { "cellar", "roof", "barn", "shed" } } };
    (void)state;
    for (int i = 0; i < 4; i++)
        for (int m = 0; m < 4; m++)
            if (!meter_names_add(&names, m + 1, settings[i].name[m], settings[i].since_s))
                return -1;
    return 0;
}

static void test_renamed(void **state)
{
    (void)state;
    assert_int_equal(names.count, 8); /* stretches, not settings */
    assert_int_equal(find("cellar", 50), 1);
    assert_int_equal(find("house", 50), 1);
    assert_int_equal(find("house", 250), 1);
    assert_int_equal(find("attic", 0), 3);
    assert_int_equal(find("nobody", 0), 0);
    assert_int_equal(find("shed", 50), 0); /* configured no more */
    assert_int_equal(meter_names_find(NULL, &config, "roof", 50, both), 2);
    assert_int_equal(meter_names_find(NULL, &config, "house", 50, both), 0);
}

/* The one that has it now is sure to be meant only since then. */
static void test_two(void **state)
{
    (void)state;
    assert_int_equal(find("roof", 100), 2);
    assert_int_equal(find("roof", 99), METER_NAMES_TWO);
    assert_int_equal(both[0] + both[1], 5);
    /* as soon as nobody has it, it may be either's */
    config.meters[1].name[0] = 'R';
    assert_int_equal(find("roof", 100), METER_NAMES_TWO);
    assert_int_equal(find("Roof", 0), 2); /* not in the record yet */
    config.meters[1].name[0] = 'r';
    /* taken over by one of which the record does not know it yet */
    config.meters[1].name[0] = 'R';
    snprintf(config.meters[0].name, CONFIG_NAME_SIZE, "roof");
    assert_int_equal(find("roof", 250), METER_NAMES_TWO);
    snprintf(config.meters[0].name, CONFIG_NAME_SIZE, "cellar");
    config.meters[1].name[0] = 'r';
}

/* Reads the names of a record that is made by some SQL. */
static struct meter_names *load(const char *sql, char why[METER_NAMES_WHY])
{
    char path[] = "/tmp/meterbook-names-XXXXXX";
    int descriptor = mkstemp(path);
    sqlite3 *record = NULL;
    assert_true(descriptor >= 0);
    close(descriptor);
    assert_int_equal(sqlite3_open(path, &record), SQLITE_OK);
    assert_int_equal(sqlite3_exec(record, sql, NULL, NULL, NULL), SQLITE_OK);
    sqlite3_close(record);
    struct meter_names *loaded = meter_names_load(path, why);
    unlink(path);
    return loaded;
}

#define TABLES                                                                                               \
    "CREATE TABLE setting(id INTEGER PRIMARY KEY, from_ms INTEGER);"                                         \
    "CREATE TABLE meter_setting(setting INTEGER, meter INTEGER, name TEXT);"                                 \
    "INSERT INTO setting VALUES(1, 5000), (2, NULL);"

static void test_read(void **state)
{
    char why[METER_NAMES_WHY] = "";
    (void)state;
    struct meter_names *loaded = load("", why); /* an empty file becomes a record later */
    assert_non_null(loaded);
    assert_int_equal(loaded->count, 0);
    meter_names_free(loaded);
    loaded = load(TABLES "INSERT INTO meter_setting VALUES(1, 7, 'barn'), (2, 7, 'shed')", why);
    assert_non_null(loaded);
    assert_int_equal(loaded->count, 2);
    assert_string_equal(loaded->list[1].name, "shed");
    assert_int_equal(loaded->list[0].since_s, 5);
    assert_int_equal(loaded->list[1].since_s, INT64_MAX);
    meter_names_free(loaded);
}

/* Where a cell is damaged its column's NOT NULL does not help. */
static void test_damaged(void **state)
{
    char why[METER_NAMES_WHY] = "";
    (void)state;
    assert_null(load(TABLES "INSERT INTO meter_setting VALUES(1, 7, 'barn'), (2, 7, NULL)", why));
    assert_non_null(strstr(why, "a meter has no name"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_renamed),
        cmocka_unit_test(test_two),
        cmocka_unit_test(test_read),
        cmocka_unit_test(test_damaged),
    };
    int failed = cmocka_run_group_tests(tests, setup, NULL);
    free(names.list);
    return failed;
}
