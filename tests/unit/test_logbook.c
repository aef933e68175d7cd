/* links: daemon/record/logbook.c daemon/record/logbook_line.c daemon/record/logbook_most.c daemon/record/logbook_names.c daemon/record/meter_names.c daemon/record/logbook_value.c daemon/record/nearest.c daemon/record/utf8.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "logbook.h"

static struct config config;
static struct civil *civil;
static struct logbook_site site = { .config = &config };
static char said[8192];

static void hear(void *self, bool error, const char *line)
{
    size_t at = strlen(said);
    (void)self;
    snprintf(said + at, sizeof said - at, "%s %s\n", error ? "E" : "W", line);
}

static int setup(void **state)
{
    (void)state;
    config.sealed_count = 2;
    config.sealed[0] = (struct config_sealed){ .name = "utility meter",
                                               .role = ROLE_GRID,
                                               .registers = 1 << SEALED_IMPORT | 1 << SEALED_EXPORT |
                                                            1 << SEALED_T1 | 1 << SEALED_DEMAND,
                                               .digits = 5,
                                               .decimals = 1,
                                               .factor_thousandths = 20000 };
    config.sealed[1] = (struct config_sealed){
        .name = "roof", .role = ROLE_PRODUCTION, .registers = 1 << SEALED_EXPORT, .digits = 6
    };
    config.meter_count = 2;
    config.meters[0] = (struct config_meter){ .number = 1, .name = "House" };
    config.meters[1] = (struct config_meter){ .number = 2, .name = "Heat pump" };
    civil = civil_open("Europe/Berlin");
    site.civil = civil;
    return civil ? 0 : -1;
}

static int finish(void **state)
{
    (void)state;
    civil_close(civil);
    return 0;
}

static struct logbook *read_text(const char *text)
{
    struct problems problems = { .say = hear };
    said[0] = '\0';
    struct logbook *logbook = logbook_read(text, strlen(text), "log", &site, &problems);
    assert_non_null(logbook);
    return logbook;
}

static void test_entries(void **state)
{
    (void)state;
    struct logbook *logbook = read_text(
        "# what people write\n"
        "\n"
        "2026-03-05T14:05 reading \"utility meter\" import=8124.3 export=301.9 how=estimated \"by the "
        "\\\"utility\\\"\"\r\n"
        "2026-03-05 14:05:30 note \"all quiet\"\n"
        "2026-07-01T00:00:00Z exchange roof old.export=123456 new.export=0 serial=\"B 7\" digits=5\n"
        "2026-04-05 start House import=0.0 export=12\n"
        "2026-04-05 reading roof export=7\n"
        "\t2026-04-06 cleaning\n"
        "2026-04-06T14:05 clock doubt=60 boot=abc boot_ms=1234567\n"
        "2026-04-07 correct House what=ratio old=100/5 new=150/5 from=2026-03-03 to=2026-03-19T12:40\n"
        "2026-04-08 correct House what=swapped with=\"Heat pump\" from=2026-03-03 to=2026-03-19\n"
        "2026-04-09 precedence grid source=record\n"
        "2026-04-10 credit kwh=412.5 \"from the bill of March\"\n"
        "2026-04-11 revoke House of=2026-04-07 kind=correct");
    assert_string_equal(said, "");
    assert_int_equal(logbook->count, 12);
    const struct logbook_entry *e = logbook->entries;
    assert_int_equal(e[0].line, 3);
    assert_int_equal(e[0].kind, LOGBOOK_READING);
    assert_int_equal(e[0].at_s, 1772715900); /* 13:05 UTC */
    assert_string_equal(e[0].subject, "utility meter");
    assert_int_equal(e[0].number[LOGBOOK_REGISTER + SEALED_IMPORT], 8124300000);
    assert_int_equal(e[0].number[LOGBOOK_REGISTER + SEALED_T1], LOGBOOK_NOTHING);
    assert_int_equal(e[0].number[LOGBOOK_HOW], 1);
    assert_string_equal(e[0].text, "by the \"utility\"");
    assert_int_equal(e[1].at_s, 1772715930);
    assert_string_equal(e[1].text, "all quiet");
    assert_string_equal(e[1].subject, "");
    assert_int_equal(e[2].number[LOGBOOK_OLD + SEALED_EXPORT], INT64_C(123456000000));
    assert_int_equal(e[2].number[LOGBOOK_NEW + SEALED_EXPORT], 0);
    assert_string_equal(e[2].word[LOGBOOK_SERIAL - LOGBOOK_NUMBERS], "B 7");
    assert_int_equal(e[3].at_s, 1775340000); /* midnight in Berlin: a start is the day's */
    assert_true(e[3].day_only);
    assert_int_equal(e[4].at_s, 1775340000 + 12 * 3600); /* a reading of a day is noon's */
    assert_int_equal(e[6].number[LOGBOOK_BOOT_MS], 1234567);
    assert_int_equal(e[7].number[LOGBOOK_RATIO_OLD], INT64_C(100) << 32 | 5);
    assert_int_equal(e[7].number[LOGBOOK_WHAT], CORRECT_RATIO);
    assert_true(e[7].revoked && !e[8].revoked);
    assert_string_equal(e[8].word[LOGBOOK_WITH - LOGBOOK_NUMBERS], "Heat pump");
    assert_int_equal(e[9].number[LOGBOOK_SOURCE], 1);
    assert_int_equal(e[10].number[LOGBOOK_KWH], 412500000);
    char value[64];
    assert_true(logbook_value(&e[7], LOGBOOK_RATIO_OLD, site.civil, value, sizeof value));
    assert_string_equal(value, "100/5");
    assert_true(logbook_value(&e[7], LOGBOOK_TO, site.civil, value, sizeof value));
    assert_string_equal(value, "2026-03-19T12:40:00+01:00");
    assert_true(logbook_value(&e[0], LOGBOOK_REGISTER + SEALED_IMPORT, site.civil, value, sizeof value));
    assert_string_equal(value, "8124.3");
    assert_false(logbook_value(&e[0], LOGBOOK_DIGITS, site.civil, value, sizeof value));
    logbook_free(logbook);
}

static void test_dates(void **state)
{
    static const struct {
        const char *text;
        int64_t at_s; /* 0: refused */
    } table[] = {
        { "2026-03-05T14:05Z", 1772719500 },
        { "2026-03-05T14:05:00+05:45", 1772719500 - 20700 },
        { "2026-03-05T14:05:00-01:00", 1772719500 + 3600 },
        { "2026-10-25T02:30", 1792888200 }, /* comes twice: the first, in summer time */
        { "2026-10-25T02:30+01:00", 1792888200 + 3600 },
        { "2026-03-29T02:30", 0 }, /* put forward over it */
        { "2026-03-29T03:00", 1774746000 },
        { "2026-02-30", 0 },
        { "2024-02-29", 1709161200 },
        { "2026-13-01", 0 },
        { "2026-3-5", 0 },
        { "2026-03-05T24:00", 0 },
        { "2026-03-05T14", 0 },
        { "2026-03-05T14:05+0100", 0 },
        { "2026-03-05T14:05x", 0 },
        { "2026-03-05x14:05", 0 },
        { "1969-12-31", 0 },
        { "", 0 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        int64_t at_s = 0;
        bool day_only;
        const char *allowed = logbook_date(table[i].text, site.civil, &at_s, &day_only);
        if ((allowed != NULL) != (table[i].at_s == 0) || (!allowed && at_s != table[i].at_s))
            fail_msg("'%s': %lld, %s", table[i].text, (long long)at_s, allowed ? allowed : "taken");
    }
}

/* What is wrong, and the beginning of what is said. */
static void test_problems(void **state)
{
    static const struct {
        const char *line, *said;
    } table[] = {
        { "yesterday note \"x\"", "E log:1: 'yesterday' at its begin, allowed: a date as" },
        { "2026-03-29T02:30 note \"x\"",
          "E log:1: '2026-03-29T02:30' at its begin, allowed: a time that the site's" },
        { "2026-03-05", "E log:1: no kind '', allowed: reading, exchange" },
        { "2026-03-05 readng roof export=1", "E log:1: unknown kind 'readng', did you mean 'reading'?" },
        { "2026-03-05 weather", "E log:1: unknown kind 'weather', allowed: reading" },
        { "2026-03-05 reading",
          "E log:1: 'reading' says nothing, allowed: at least one of import, export, t1" },
        { "2026-03-05 reading export=1", "E log:1: 'reading' without a name" },
        { "2026-03-05 reading roof", "E log:1: 'reading' says nothing" },
        { "2026-03-05 reading rof export=1",
          "E log:1: there is no sealed meter 'rof', did you mean 'roof'?" },
        { "2026-03-05 reading House import=1",
          "E log:1: there is no sealed meter 'House', allowed: the names" },
        { "2026-03-05 reading roof import=1", "E log:1: 'roof' has no register for import, allowed: export" },
        { "2026-03-05 reading roof export=1,5",
          "E log:1: 'export' is '1,5', allowed: a number of up to 9 digits" },
        { "2026-03-05 reading roof export=-1", "E log:1: 'export' is '-1', allowed" },
        { "2026-03-05 reading roof export=", "E log:1: 'export' is '', allowed" },
        { "2026-03-05 reading roof export=1.", "E log:1: 'export' is '1.', allowed" },
        { "2026-03-05 reading roof export=1 export=2", "E log:1: 'export' stands twice" },
        { "2026-03-05 reading roof export=1.5",
          "E log:1: 'export' has more digits than 'roof' shows, allowed: 6, and 0" },
        { "2026-03-05 reading roof export=1000000", "E log:1: 'export' has more digits" },
        { "2026-03-05 reading roof export=1 money=3",
          "E log:1: 'money' does not belong to 'reading', allowed: import" },
        { "2026-03-05 reading roof exprt=1", "E log:1: 'exprt' does not belong to 'reading'" },
        { "2026-03-05 reading roof export=1 how=guessed",
          "E log:1: 'how' is 'guessed', allowed: read or estimated" },
        { "2026-03-05 reading roof export=1 \"a\" b", "E log:1: 'b' behind the text" },
        { "2026-03-05 reading roof export=1 b", "E log:1: 'b', allowed: key=value" },
        { "2026-03-05 note \"never ends", "E log:1: the quotes do not end" },
        { "2026-03-05 note \"joined\"on", "E log:1: the quotes do not end" },
        { "2026-03-05 note", "E log:1: 'note' without a text" },
        { "2026-03-05 exchange roof old.export=5", "E log:1: an exchange with 'old.export' alone" },
        { "2026-03-05 exchange roof new.export=5", "E log:1: 'exchange' says nothing" },
        { "2026-03-05 start House t1=5", "E log:1: 'House' has no register for t1, allowed: import, export" },
        { "2026-03-05 clock", "E log:1: 'clock' without a time of day" },
        { "2026-03-05T14:05 clock boot=a", "E log:1: 'boot' and 'boot_ms' go together" },
        { "2026-03-05T14:05 clock House", "E log:1: 'House' behind 'clock'" },
        { "2026-03-05 correct House what=ratio from=2026-03-01 to=2026-03-02",
          "E log:1: 'old' and 'new' go with" },
        { "2026-03-05 correct House what=exchanged from=2026-03-02 to=2026-03-02",
          "E log:1: 'from' is not before" },
        { "2026-03-05 correct House what=exchanged from=2026-03-02", "E log:1: 'correct' lacks to" },
        { "2026-03-05 correct House what=swapped with=Hous from=2026-03-02 to=2026-03-03",
          "E log:1: there is no meter 'Hous', did you mean 'House'?" },
        { "2026-03-05 correct House what=swapped with=House from=2026-03-02 to=2026-03-03",
          "E log:1: 'with' is the same meter" },
        { "2026-03-05 correct House what=ratio old=0/5 new=1/1 from=2026-03-02 to=2026-03-03",
          "E log:1: 'old' is '0/5', allowed: a ratio" },
        { "2026-03-05 precedence roof source=record",
          "E log:1: 'precedence' of 'roof', allowed: grid or production" },
        { "2026-03-05 revoke House of=2026-01-01", "E log:1: there is no entry to take back" },
        { "2026-03-05 credit \"a bill\"",
          "E log:1: 'credit' says nothing, allowed: at least one of kwh, money" },
        { "2026-03-05 credit kwh=5", "E log:1: 'credit' without a text, allowed: a text in quotes" },
        { "2026-03-05 credit kwh=-5 \"a bill\"", "E log:1: 'kwh' is '-5', allowed: a number of kWh" },
        { "2026-03-05 credit House kwh=5 \"a bill\"", "E log:1: there is no sealed meter 'House', allowed" },
        { "2026-03-05 credit roof kwh=5 \"a bill\"", "E log:1: 'credit' of 'roof', allowed: a sealed meter" },
        { "2026-03-05 precedence grid", "E log:1: 'precedence' lacks source" },
        { "2026-03-05 precedence grid source=both",
          "E log:1: 'source' is 'both', allowed: sealed or record" },
        { "2026-03-05 note \"a\x01\"", "E log:1: control or broken characters" },
        { "2026-03-05 note \"a\xff\"", "E log:1: control or broken characters" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        logbook_free(read_text(table[i].line));
        if (strncmp(said, table[i].said, strlen(table[i].said)) != 0)
            fail_msg("'%s' says: %s", table[i].line, said);
    }
}

/* A name that a meter had before means it still; what is written goes by the number. */
static void test_renamed(void **state)
{
    struct meter_name before[] = {
        { 1, "Cellar", 0 }, { 2, "Pump", 0 }, { 7, "Heat pump", 0 }, { 2, "Heat pump", 1772700000 }
    }; /* 2026-03-05T09:40+01:00 */
    struct meter_names names = { .count = 4, .list = before };
    (void)state;
    site.names = &names;
    struct logbook *logbook =
        read_text("2026-03-05 correct Cellar what=swapped with=Pump from=2026-03-03 to=2026-03-19\n"
                  "2026-03-06 revoke House of=2026-03-05 kind=correct\n"
                  "2026-03-06 exchange Pump old.import=8 new.import=1\n"
                  "2026-03-06 cleaning Cellar\n"
                  "2026-03-06 note roof \"a sealed meter's name is its own\"\n"
                  "2026-03-06 correct \"Heat pump\" what=exchanged from=2026-03-03 to=2026-03-19\n"
                  "2026-03-04 note \"Heat pump\" \"of whom, nobody has to know\"\n");
    assert_string_equal(said, "");
    assert_int_equal(logbook->count, 7);
    const struct logbook_entry *entries = logbook->entries;
    assert_int_equal(entries[0].meter, 1);
    assert_int_equal(entries[0].with, 2);
    assert_true(entries[0].revoked);
    assert_string_equal(entries[0].subject, "Cellar");
    assert_int_equal(entries[2].meter, 2);
    assert_int_equal(entries[3].meter, 1);
    assert_int_equal(entries[4].meter, 0);
    assert_int_equal(entries[5].meter, 2);
    assert_int_equal(entries[6].meter, 0);
    logbook_free(logbook);
    logbook_free(read_text("2026-03-04 correct \"Heat pump\" what=exchanged from=2026-03-03 to=2026-03-19\n"
                           "2026-03-04 cleaning \"Heat pump\" \"whose?\"\n"
                           "2026-03-04 correct House what=swapped with=Cellar from=2026-03-03 to=2026-03-19\n"
                           "2026-03-04 correct Attic what=exchanged from=2026-03-03 to=2026-03-19\n"));
    assert_non_null(strstr(said, "E log:1: 'Heat pump' was the name of meter 7 and of meter 2 at different "
                                 "times, allowed: the name that the one that is meant has now"));
    assert_non_null(strstr(said, "E log:2: 'Heat pump' was the name of"));
    assert_non_null(strstr(said, "E log:3: 'with' is the same meter"));
    assert_non_null(strstr(said, "E log:4: there is no meter 'Attic'"));
    site.names = NULL;
}

/* 127 of one day and one over a year, then one too many; of another day there is room. */
static void test_too_many(void **state)
{
    static char text[32768];
    size_t at = 0;
    (void)state;
    for (int i = 0; i < 127; i++)
        at += (size_t)snprintf(text + at, sizeof text - at,
                               "2026-05-%02d correct House what=ratio from=2026-05-05T02:00Z "
                               "to=2026-05-05T23:00Z old=%d/5 new=100/5\n",
                               i ? 30 : 20, 200 + i);
    at += (size_t)snprintf(
        text + at, sizeof text - at,
        "2026-06-01 correct House what=ratio from=2025-07-01 to=2026-06-01 old=9/5 new=8/5\n");
    size_t most = at;
    logbook_free(read_text(text));
    assert_string_equal(said, "");
    at +=
        (size_t)snprintf(text + at, sizeof text - at,
                         "2026-06-01 correct House what=ratio from=2026-05-05T23:00Z to=2026-05-07 old=7/5 "
                         "new=8/5\n2026-06-01 correct House what=ratio from=2026-05-06T00:00Z to=2026-05-08 "
                         "old=6/5 new=8/5\n");
    struct logbook *logbook = read_text(text);
    assert_string_equal(said,
                        "E log:129: it is one correction too many of a day, allowed: 128 that touch one "
                        "UTC day\n");
    assert_true(logbook->entries[128].refused && !logbook->entries[129].refused);
    logbook_free(logbook);
    /* taken back, one makes room; an exchange takes it */
    snprintf(text + at, sizeof text - at, "2026-06-02 revoke House of=2026-05-20\n");
    logbook_free(read_text(text));
    assert_string_equal(said, "");
    snprintf(text + most, sizeof text - most, "2026-05-06 exchange House old.import=5 new.import=0\n");
    logbook_free(read_text(text));
    assert_non_null(strstr(said, "E log:129: it is one correction too many"));
}

/* One bad line costs no other, and all are said in one run. */
static void test_all_in_one_run(void **state)
{
    (void)state;
    struct logbook *logbook =
        read_text("2026-03-05 note \"a\"\nnonsense\n2026-03-06 note \"b\"\n2026-03-07 nte \"c\"\n");
    assert_int_equal(logbook->count, 2);
    assert_non_null(strstr(said, "log:2:"));
    assert_non_null(strstr(said, "log:4:"));
    assert_int_equal(logbook->entries[1].line, 3);
    logbook_free(logbook);
}

static void test_duplicates(void **state)
{
    (void)state;
    struct logbook *logbook = read_text("2026-03-05T10:00 reading roof export=5\n"
                                        "2026-03-04T10:00 reading roof export=4\n" /* no order is asked for */
                                        "2026-03-05T10:00 reading roof export=5\n"
                                        "2026-03-05T09:00Z reading roof export=6\n"
                                        "2026-03-04T10:00 reading \"utility meter\" import=1\n"
                                        "2026-03-04T10:00 reading \"utility meter\" export=2\n");
    assert_non_null(strstr(said, "W log:3: the same as line 1"));
    assert_non_null(strstr(said, "E log:4: it contradicts line"));
    assert_null(strstr(said, "log:6")); /* another register of the same reading */
    assert_true(logbook->entries[3].refused && !logbook->entries[0].refused);
    logbook_free(logbook);
    /* taken back, it contradicts nothing */
    logbook = read_text("2026-03-05T10:00 reading roof export=5\n"
                        "2026-03-06 revoke roof of=2026-03-05T10:00 \"misread\"\n"
                        "2026-03-05T10:00 reading roof export=6\n");
    assert_string_equal(said, "");
    assert_true(logbook->entries[0].revoked && !logbook->entries[2].revoked);
    logbook_free(logbook);
    logbook_free(read_text("2026-03-05 reading roof export=5\n"
                           "2026-03-06 revoke roof of=2026-03-05\n"
                           "2026-03-06 revoke roof of=2026-03-05\n"));
    assert_non_null(strstr(said, "E log:3: this entry is taken back already"));
}

/* The digits are those of the meter that was there at the time. */
static void test_digits_after_exchange(void **state)
{
    (void)state;
    logbook_free(read_text("2026-03-05 exchange roof old.export=123456 new.export=0.25 digits=4 decimals=2\n"
                           "2026-03-06 reading roof export=1.25\n"
                           "2026-03-04 reading roof export=123455\n"));
    assert_string_equal(said, "");
    logbook_free(read_text("2026-03-05 exchange roof old.export=123456 new.export=0 digits=4\n"
                           "2026-03-06 reading roof export=12345\n"));
    assert_non_null(strstr(said, "E log:2: 'export' has more digits than 'roof' shows, allowed: 4"));
}

/* The newest that is dated before and not taken back; one without a name is every meter's. */
static void test_credit(void **state)
{
    (void)state;
    struct logbook *logbook =
        read_text("2026-05-01T10:00 credit \"utility meter\" money=12.5 \"bill of April\"\n"
                  "2026-04-01T10:00 credit kwh=412.5 \"bill of March\"\n"
                  "2026-06-01 credit \"utility meter\" kwh=1 \"bill of May\"\n"
                  "2026-06-02 revoke \"utility meter\" of=2026-06-01\n"
                  "2026-04-01T10:00 credit kwh=413 \"bill of March\"\n");
    assert_non_null(strstr(said, "E log:5: it contradicts line 2"));
    logbook_sort(logbook);
    int64_t april = 1775030400; /* 2026-04-01 10:00 in Berlin */
    assert_null(logbook_credit(logbook, "utility meter", april - 1));
    const struct logbook_entry *credit = logbook_credit(logbook, "utility meter", april);
    assert_non_null(credit);
    assert_int_equal(credit->number[LOGBOOK_KWH], 412500000);
    assert_int_equal(credit->number[LOGBOOK_MONEY], LOGBOOK_NOTHING);
    assert_string_equal(credit->text, "bill of March");
    assert_ptr_equal(logbook_credit(logbook, "another", INT64_MAX), credit);
    assert_int_equal(logbook_credit(logbook, "utility meter", INT64_MAX)->number[LOGBOOK_MONEY], 12500000);
    logbook_free(logbook);
}

/* Only a source that is there can speak. */
static void test_precedence(void **state)
{
    (void)state;
    logbook_free(read_text("2026-03-05 precedence production source=sealed\n"));
    assert_string_equal(said, "");
    config.sealed_count = 1;
    logbook_free(read_text("2026-03-05 precedence grid source=sealed\n"
                           "2026-03-05 precedence production source=record\n"
                           "2026-03-05 precedence production source=sealed\n"));
    config.sealed_count = 2;
    assert_non_null(
        strstr(said, "E log:3: 'source' is 'sealed', but no sealed meter has the role production"));
    assert_null(strstr(said, "log:1"));
    assert_null(strstr(said, "log:2"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_entries),    cmocka_unit_test(test_dates),
        cmocka_unit_test(test_problems),   cmocka_unit_test(test_all_in_one_run),
        cmocka_unit_test(test_duplicates), cmocka_unit_test(test_digits_after_exchange),
        cmocka_unit_test(test_credit),     cmocka_unit_test(test_precedence),
        cmocka_unit_test(test_renamed),    cmocka_unit_test(test_too_many),
    };
    return cmocka_run_group_tests(tests, setup, finish);
}
