/* links: tools/query/query.c tools/query/query_sql.c tools/query/query_rows.c tools/query/query_dating.c tools/site_clock.c tools/output/number.c tools/balance/balance.c COLLECTOR */
/* The present by the clock that dates the record: the computer's own may be wrong. */
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <sqlite3.h>

#include "clock_real.h"
#include "schema.h"
#include "site_clock.h"

static struct instant instant;

static void read_fake(void *self, struct instant *now)
{
    (void)self;
    *now = instant;
}

const struct clock clock_real = { .read = read_fake };

static char place[] = "/tmp/test_site_clock_XXXXXX", record[64], boot_file[64];

static void write_text(const char *path, const char *text)
{
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    fclose(file);
}

static int set_up(void **state)
{
    sqlite3 *database;
    (void)state;
    if (!mkdtemp(place))
        return -1;
    snprintf(record, sizeof record, "%s/record.db", place);
    snprintf(boot_file, sizeof boot_file, "%s/boot", place);
    int result = sqlite3_open(record, &database);
    if (result == SQLITE_OK)
        result = sqlite3_exec(database, schema_sql, NULL, NULL, NULL);
    /* the collector's mark, which says that it is a record */
    if (result == SQLITE_OK)
        result = sqlite3_exec(database, "PRAGMA application_id = 1835166513; PRAGMA user_version = 1", NULL,
                              NULL, NULL);
    if (result == SQLITE_OK)
        result = sqlite3_exec(database,
                              "INSERT INTO clock(boot, from_ms, offset_ms, source, doubt_ms, after_s) VALUES"
                              "('this', 0, 1000000000000, 'sun', 900000, 0),"
                              "('this', 50000, 1000000600000, 'hand', 60000, 0),"
                              "('other', 0, 5, 'network', 1000, 0)",
                              NULL, NULL, NULL);
    sqlite3_close(database);
    return result;
}

static int tear_down(void **state)
{
    (void)state;
    unlink(boot_file);
    unlink(record);
    return rmdir(place);
}

static int64_t now_of(const char *boot)
{
    struct query *query = query_open(record);
    write_text(boot_file, boot);
    int64_t now_ms = site_now_ms(query, place);
    query_close(query);
    return now_ms;
}

static void the_newest_clock_of_this_boot_counts(void **state)
{
    (void)state;
    instant = (struct instant){ .boot_us = 70000000, .wall_us = 12345000 };
    assert_int_equal(now_of("this 0\n"), 1000000670000);
}

static void the_computers_own_where_the_network_sets_it(void **state)
{
    (void)state;
    instant = (struct instant){ .boot_us = 70000000, .wall_us = 12345000, .synchronised = true };
    assert_int_equal(now_of("this 0\n"), 12345);
}

static void the_computers_own_where_nothing_else_is_known(void **state)
{
    (void)state;
    instant = (struct instant){ .boot_us = 70000000, .wall_us = 12345000 };
    assert_int_equal(now_of("unheard 0\n"), 12345);
    /* left by a boot that lasted longer than this one has */
    assert_int_equal(now_of("this 99999999999\n"), 12345);
    assert_int_equal(site_now_ms(NULL, place), 12345);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_newest_clock_of_this_boot_counts),
        cmocka_unit_test(the_computers_own_where_the_network_sets_it),
        cmocka_unit_test(the_computers_own_where_nothing_else_is_known),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
