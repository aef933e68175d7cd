/* links: daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* The oracle is the C library's own reading of the same zone data: another
 * implementation, asked often through 131 years in a few zones and for
 * noons in all of them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "civil.h"
#include "zone_rule.h"

static void use_zone(const char *zone)
{
    assert_int_equal(setenv("TZ", zone, 1), 0);
    tzset();
}

static int64_t day_seconds(const struct civil *civil, int64_t year, int32_t month, int32_t day)
{
    int64_t d = civil_day_number(year, month, day);
    return civil_day_start(civil, d + 1) - civil_day_start(civil, d);
}

static void test_calendar(void **state)
{
    (void)state;
    assert_int_equal(civil_day_number(1970, 1, 1), 0);
    assert_int_equal(civil_day_number(2000, 2, 29), 11016);
    assert_int_equal(civil_day_number(1969, 12, 31), -1);
    for (int64_t d = -800000; d < 800000; d += 7) {
        int32_t year, month, day;
        civil_date(d, &year, &month, &day);
        assert_true(month >= 1 && month <= 12 && day >= 1 && day <= 31);
        assert_int_equal(civil_day_number(year, month, day), d);
    }
}

/* Days whose length is known from published clock changes (tz database). */
static void test_odd_days(void **state)
{
    static const struct {
        const char *zone;
        int32_t year, month, day;
        int32_t seconds;
        int32_t start_local; /* what the clock shows at the day's start, s after midnight */
    } table[] = {
        { "Europe/Berlin", 2024, 3, 31, 23 * 3600, 0 },
        { "Europe/Berlin", 2024, 10, 27, 25 * 3600, 0 },
        { "Europe/Dublin", 2024, 3, 31, 23 * 3600, 0 },
        { "Australia/Lord_Howe", 2024, 10, 6, 84600, 0 },   /* half an hour forward */
        { "Australia/Lord_Howe", 2024, 4, 7, 88200, 0 },    /* and back */
        { "Asia/Kathmandu", 2024, 6, 1, 86400, 0 },         /* +5:45 */
        { "America/Havana", 2024, 3, 10, 23 * 3600, 3600 }, /* 00:00 does not exist */
        { "America/Havana", 2024, 11, 3, 25 * 3600, 0 },    /* 00:00 comes twice */
        { "Africa/Cairo", 2024, 4, 26, 23 * 3600, 3600 },
        { "Africa/Cairo", 2024, 10, 31, 25 * 3600, 0 }, /* 24:00 becomes 23:00 */
        { "America/Santiago", 2024, 9, 8, 23 * 3600, 3600 },
        { "America/Santiago", 2024, 4, 6, 25 * 3600, 0 },
        { "Pacific/Apia", 2011, 12, 30, 0, 86400 },     /* a date that never was */
        { "Europe/Berlin", 2100, 3, 28, 23 * 3600, 0 }, /* by the rule, beyond any table */
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct civil *civil = civil_open(table[i].zone);
        assert_non_null(civil);
        int64_t day = civil_day_number(table[i].year, table[i].month, table[i].day);
        int64_t start = civil_day_start(civil, day);
        assert_int_equal(day_seconds(civil, table[i].year, table[i].month, table[i].day), table[i].seconds);
        assert_int_equal(start + civil_offset(civil, start) - day * 86400, table[i].start_local);
        civil_close(civil);
    }
}

static const char *const zones[] = {
    "America/Havana", "Africa/Cairo",     "America/Santiago", "Australia/Lord_Howe", "Asia/Kathmandu",
    "Europe/Dublin",  "America/St_Johns", "Pacific/Apia",     "Africa/Casablanca",   "UTC",
};

/* Every five and a half hours: offset as the C library has it; days tile time. */
static void test_against_library(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof zones / sizeof zones[0]; i++) {
        use_zone(zones[i]);
        struct civil *civil = civil_open(zones[i]);
        assert_non_null(civil);
        int64_t last = civil_day_number(2101, 1, 1) * 86400;
        for (int64_t t = 0; t < last; t += 19800) {
            time_t moment = (time_t)t;
            struct tm local;
            assert_non_null(localtime_r(&moment, &local));
            if (civil_offset(civil, t) != local.tm_gmtoff)
                fail_msg("%s at %lld: %d, not %ld", zones[i], (long long)t, civil_offset(civil, t),
                         local.tm_gmtoff);
            int64_t day = civil_day_of(civil, t);
            assert_true(civil_day_start(civil, day) <= t && t < civil_day_start(civil, day + 1));
        }
        civil_close(civil);
    }
}

/* Every zone of the system: noon of each day is in that day, its offset as the library says. */
static void check_zone(const char *zone)
{
    use_zone(zone);
    struct civil *civil = civil_open(zone);
    assert_non_null(civil);
    for (int64_t d = civil_day_number(1970, 1, 2); d < civil_day_number(2100, 12, 31); d += 13) {
        int64_t start = civil_day_start(civil, d), end = civil_day_start(civil, d + 1);
        assert_true(start <= end &&
                    end - start <= 27 * 3600); /* Antarctica/Casey put the clock back by 3 h */
        time_t noon = (time_t)(start + (end - start) / 2);
        struct tm local;
        assert_non_null(localtime_r(&noon, &local));
        if (end > start && (civil_offset(civil, noon) != local.tm_gmtoff || civil_day_of(civil, noon) != d))
            fail_msg("%s, day %lld", zone, (long long)d);
    }
    civil_close(civil);
}

static int check_directory(const char *below)
{
    char path[512];
    int count = 0;
    snprintf(path, sizeof path, "/usr/share/zoneinfo/%s", below);
    DIR *directory = opendir(path);
    assert_non_null(directory);
    for (struct dirent *entry = readdir(directory); entry; entry = readdir(directory)) {
        char zone[300];
        struct stat status;
        snprintf(zone, sizeof zone, "%s/%s", below, entry->d_name);
        snprintf(path, sizeof path, "/usr/share/zoneinfo/%s", zone);
        if (entry->d_name[0] != '.' && stat(path, &status) == 0 && S_ISREG(status.st_mode)) {
            check_zone(zone);
            count++;
        }
    }
    closedir(directory);
    return count;
}

static void test_all_zones(void **state)
{
    static const char *const parts[] = { "Africa",   "America",   "Antarctica", "Asia",
                                         "Atlantic", "Australia", "Europe",     "Pacific" };
    int count = 0;
    (void)state;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
        count += check_directory(parts[i]);
    print_message("%d zones\n", count);
    assert_true(count > 250);
}

/* Changes by rule, worked out by hand on a calendar. */
static void test_rules(void **state)
{
    static const struct {
        const char *rule;
        int32_t year, month, day, time_s; /* of the change to summer time, local standard time */
        int32_t standard_s, summer_s;
    } table[] = {
        { "CET-1CEST,M3.5.0,M10.5.0/3", 2024, 3, 31, 7200, 3600, 7200 },
        { "CET-1CEST,M3.5.0,M10.5.0/3", 2099, 3, 29, 7200, 3600, 7200 },
        { "EST5EDT,M3.2.0,M11.1.0", 2024, 3, 10, 7200, -18000, -14400 },
        { "AAA5BBB,J60/0,J300/0", 2023, 3, 1, 0, -18000, -14400 },
        { "AAA5BBB,J60/0,J300/0", 2024, 3, 1, 0, -18000, -14400 }, /* 29 February is not counted */
        { "AAA5BBB,J59/0,J300/0", 2024, 2, 28, 0, -18000, -14400 },
        { "AAA5BBB,59/0,300/0", 2023, 3, 1, 0, -18000, -14400 },
        { "AAA5BBB,59/0,300/0", 2024, 2, 29, 0, -18000, -14400 }, /* and here it is */
        { "<-02>2<-01>,M3.5.0/-1,M10.5.0/0", 2024, 3, 31, -3600, -7200, -3600 },
        { "AAA-10:30BBB-11,M10.1.0,M4.1.0", 2024, 10, 6, 7200, 37800, 39600 },
        { "AAA+1:00:30BBB-0:0:1,M10.1.0/+167:59:59,M4.1.0", 2024, 10, 6, 604799, -3630, 1 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        struct zone_rule rule;
        assert_int_equal(zone_rule_read(&rule, table[i].rule), 0);
        assert_true(rule.changes);
        assert_int_equal(rule.standard_s, table[i].standard_s);
        assert_int_equal(rule.summer_s, table[i].summer_s);
        int64_t day = civil_day_number(table[i].year, table[i].month, table[i].day);
        assert_int_equal(zone_change_at(&rule.to_summer, table[i].year, rule.standard_s),
                         day * 86400 + table[i].time_s - rule.standard_s);
    }
}

static void test_grid(void **state)
{
    int64_t day;
    (void)state;
    struct civil *kathmandu = civil_open("Asia/Kathmandu"), *berlin = civil_open("Europe/Berlin");
    assert_true(civil_grid_fits(kathmandu, 300, &day));
    assert_true(civil_grid_fits(kathmandu, 900, &day));
    assert_false(civil_grid_fits(kathmandu, 1800, &day));
    assert_false(civil_grid_fits(kathmandu, 3600, &day));
    assert_true(civil_grid_fits(berlin, 3600, &day));
    assert_false(civil_grid_fits(berlin, 7 * 60, &day));
    civil_close(kathmandu);
    civil_close(berlin);
}

/* As day by day says. */
static void test_grid_by_day(void **state)
{
    static const char *const names[] = { "Asia/Kathmandu",  "Europe/Berlin",    "Australia/Lord_Howe",
                                         "Pacific/Apia",    "America/St_Johns", "Asia/Tehran",
                                         "Pacific/Chatham", "Africa/Cairo",     "America/Scoresbysund" };
    static const int32_t lengths[] = { 60, 300, 420, 900, 1800, 3600 };
    (void)state;
    for (size_t z = 0; z < sizeof names / sizeof names[0]; z++) {
        struct civil *civil = civil_open(names[z]);
        assert_non_null(civil);
        for (size_t l = 0; l < sizeof lengths / sizeof lengths[0]; l++) {
            int64_t day = 0, misses = civil_day_number(1990, 1, 1), last = civil_day_number(2100, 12, 31);
            while (misses <= last && civil_day_start(civil, misses) % lengths[l] == 0)
                misses++;
            assert_int_equal(civil_grid_fits(civil, lengths[l], &day), misses > last);
            if (misses <= last)
                assert_int_equal(day, misses);
        }
        civil_close(civil);
    }
}

static void test_refused(void **state)
{
    static const char *const names[] = { "",       "Europe/Nowhere", "/etc/passwd", "../../../etc/passwd",
                                         "Europe", "tzdata.zi" };
    static const char *const rules[] = { "",
                                         "CE-1",
                                         "CET",
                                         "CET-1CEST",
                                         "CET-1CEST,M3.5.0",
                                         "CET-1CEST,M13.1.0,M10.5.0",
                                         "CET-1CEST,M3.5.0,M10.5.0x",
                                         "CET-200",
                                         "<+03-3" };
    struct zone_rule rule;
    (void)state;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        assert_null(civil_open(names[i]));
    for (size_t i = 0; i < sizeof rules / sizeof rules[0]; i++)
        assert_int_equal(zone_rule_read(&rule, rules[i]), -1);
}

/* Any cut and any single changed byte of a real file is refused or read, never a crash. */
static void test_damaged(void **state)
{
    unsigned char bytes[4096], damaged[4096];
    (void)state;
    FILE *file = fopen("/usr/share/zoneinfo/Europe/Berlin", "rb");
    assert_non_null(file);
    size_t size = fread(bytes, 1, sizeof bytes, file);
    fclose(file);
    for (size_t cut = 0; cut < size; cut++) {
        unsigned char *exact = malloc(cut + 1);
        assert_non_null(exact);
        memcpy(exact, bytes, cut);
        assert_null(civil_open_bytes(exact, cut));
        free(exact);
    }
    for (size_t at = 0; at < size; at++) {
        memcpy(damaged, bytes, size);
        damaged[at] ^= 0xff;
        struct civil *civil = civil_open_bytes(damaged, size);
        if (civil)
            civil_day_of(civil, 1700000000);
        civil_close(civil);
    }
}

static void test_edition(void **state)
{
    char edition[16];
    (void)state;
    civil_edition(edition, sizeof edition);
    print_message("zone data: '%s'\n", edition);
    assert_true(edition[0] == '\0' || strncmp(edition, "20", 2) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_calendar),        cmocka_unit_test(test_odd_days),
        cmocka_unit_test(test_against_library), cmocka_unit_test(test_all_zones),
        cmocka_unit_test(test_rules),           cmocka_unit_test(test_grid),
        cmocka_unit_test(test_grid_by_day),     cmocka_unit_test(test_refused),
        cmocka_unit_test(test_damaged),         cmocka_unit_test(test_edition),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
