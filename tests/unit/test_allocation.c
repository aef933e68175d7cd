/* links: tests/fake/site.c tests/fake/disk.c daemon/answers.c daemon/collect.c daemon/commit.c daemon/dating.c daemon/derived.c daemon/latest.c daemon/outbox.c daemon/posting.c daemon/supply.c daemon/meter.c daemon/samples.c daemon/refining.c daemon/rejecting.c daemon/correcting.c daemon/corrections.c daemon/resume.c daemon/sleeping.c daemon/decode.c daemon/log.c daemon/bus/inbox.c daemon/record/?*.c COLLECTOR */
/* Own code allocates at start and never between turns. SQLite does, through an
 * allocator of its own that is not counted here; everything else that asks for
 * memory during a turn is. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "log.h"
#include "site.h"

static long allocations, of_sqlite;
static bool counting, in_sqlite;

/* The linker lets these stand before the library's, for every caller in the process. */
#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__ || !defined __GLIBC__
#define PLAIN_MALLOC 0
#elif !defined __has_feature
#define PLAIN_MALLOC 1
#elif __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define PLAIN_MALLOC 0
#else
#define PLAIN_MALLOC 1
#endif
#if PLAIN_MALLOC
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);

static void note(void)
{
    if (counting && in_sqlite)
        of_sqlite++;
    else if (counting)
        allocations++;
}

void *malloc(size_t size)
{
    note();
    return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    note();
    return __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    note();
    return __libc_realloc(old, size);
}
#endif

static sqlite3_mem_methods below;

static void *sqlite_malloc(int size)
{
    in_sqlite = true;
    void *memory = below.xMalloc(size);
    in_sqlite = false;
    return memory;
}

static void *sqlite_realloc(void *old, int size)
{
    in_sqlite = true;
    void *memory = below.xRealloc(old, size);
    in_sqlite = false;
    return memory;
}

static struct site site;
static char directory[] = "/tmp/meterbook-allocation.XXXXXX";

static int set_up(void **state)
{
    (void)state;
    sqlite3_mem_methods ours;
    if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &below) != SQLITE_OK)
        return -1;
    ours = below;
    ours.xMalloc = sqlite_malloc;
    ours.xRealloc = sqlite_realloc;
    log_set_level(LOG_ERROR - 1);
    return sqlite3_config(SQLITE_CONFIG_MALLOC, &ours) == SQLITE_OK && mkdtemp(directory) ? 0 : -1;
}

static int tear_down(void **state)
{
    static const char *const names[] = { "record.db", "record.db-wal", "record.db-shm", "latest" };
    char path[sizeof directory + 32];
    (void)state;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        snprintf(path, sizeof path, "%s/%s", directory, names[i]);
        unlink(path);
    }
    return rmdir(directory);
}

/* Intervals, commits, days that close, a silent meter and its gap, a
 * register that starts anew, a clock that steps. */
static void live(int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        for (int i = 0; i < site.config.meter_count; i++) {
            if (s % 37 == i)
                site.meters[i].power_mw = (int64_t)(site_random(&site) % 12000000) - 6000000;
            site.meters[i].silent = i == 1 && s % 40000 > 30000 && s % 40000 < 39000;
            if (i == 2 && s % 50000 == 45000)
                site.meters[i].zero_polls = 1;
        }
        if (s == 100000)
            site.wall_error_ms += 400;
        if (s == 120000)
            for (int way = 0; way < 2; way++)
                site.meters[3].taken_off[way] = site.meters[3].first[way] + site.meters[3].truth[way];
        site_second(&site);
    }
}

static void test_nothing_between_turns(void **state)
{
    static const enum meter_role roles[] = { ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_PART, ROLE_BRANCH };
    static char latest[sizeof directory + 32];
    (void)state;
    site_init(&site, 4, 4, roles, 300, 1000);
    snprintf(site.config.database, sizeof site.config.database, "%s/record.db", directory);
    snprintf(latest, sizeof latest, "%s/latest", directory);
    assert_true(site_start(&site));
    site.collect->setup.latest = latest;
    live(3600);
    counting = true;
    live(3600);
    site.collect->setup.latest = NULL; /* a file a second: enough of it */
    live(40 * 3600);
    counting = false;
    print_message("41 hours of four meters: %ld allocations of SQLite's, %ld others\n", of_sqlite,
                  allocations);
#if PLAIN_MALLOC
    assert_true(of_sqlite > 0); /* it is counted at all */
    assert_int_equal(allocations, 0);
#else
    print_message("not counted: the sanitizer has the allocator\n");
#endif
    site_stop(&site, true);
    site_finish(&site);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_nothing_between_turns) };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
