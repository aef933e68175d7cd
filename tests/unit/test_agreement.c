/* links: tools/sealed/agreement.c tools/sealed/agreement_fits.c tools/sealed/agreement_drift.c tools/sealed/agreement_unlike.c tools/sealed/agreement_words.c tools/sealed/accuracy.c tools/output/number.c tools/stamp.c tools/balance/period.c daemon/record/config_sealed.c daemon/record/config_checks.c daemon/record/config_supply.c daemon/record/config_expected.c daemon/record/config_classes.c daemon/record/config_file.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/logbook.c daemon/record/logbook_line.c daemon/record/logbook_most.c daemon/record/logbook_names.c daemon/record/meter_names.c daemon/record/logbook_value.c daemon/record/nearest.c daemon/record/utf8.c daemon/record/muldiv.c daemon/record/sun.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Verdicts, candidates and drifts of rows that are made up. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "accuracy.h"
#include "agreement.h"

#define KWH   INT64_C(1000000)
#define DAY_S INT64_C(86400)
enum { MOST_ROWS = 64, PERCENT = 10000 };

static struct config config;
static struct civil *civil;
static struct agreement agreement;

/* Two class 1 meters, one of them in whole kWh. */
static int setup(void **state)
{
    (void)state;
    civil = civil_open("Europe/Berlin");
    config.sealed_count = 1;
    config.sealed[0] = (struct config_sealed){
        .name = "m", .role = ROLE_GRID, .registers = 3, .factor_thousandths = 1000, .accuracy_class = "1"
    };
    return civil ? 0 : -1;
}

static int finish(void **state)
{
    (void)state;
    civil_close(civil);
    return 0;
}

static void start(void)
{
    static struct agreement_row rows[MOST_ROWS];
    agreement = (struct agreement){ .config = &config, .rows = rows };
    for (int32_t t = 0; t < TERM_COUNT; t++)
        agreement.sides[t] = (struct agreement_side){ .count = 1, .phases = 3 };
    config.sealed[0].factor_thousandths = 1000;
}

/* Classes as shares of both sides, a kWh of theirs, a Wh of ours; a tenth of a day's energy in the times. */
static struct agreement_row *add(enum sealed_register reg, int64_t from_day, int64_t to_day, double theirs,
                                 double ours, double other)
{
    struct agreement_row *row = &agreement.rows[agreement.count++];
    *row = (struct agreement_row){ .together = 1,
                                   .reg = reg,
                                   .term = reg == SEALED_IMPORT ? TERM_IMPORT : TERM_EXPORT,
                                   .from_s = from_day * DAY_S,
                                   .to_s = to_day * DAY_S,
                                   .theirs = (int64_t)(theirs * KWH),
                                   .ours = (int64_t)(ours * KWH),
                                   .other = (int64_t)(other * KWH) };
    int64_t daily = row->ours / (to_day - from_day);
    int64_t parts[AGREEMENT_PARTS] = { [PART_THEIR_CLASS] = row->theirs / 100,
                                       [PART_OUR_CLASS] = row->ours / 100,
                                       [PART_THEIR_STEP] = KWH,
                                       [PART_OUR_STEP] = KWH / 1000 };
    memcpy(row->allowance.worst, parts, sizeof parts);
    memcpy(row->allowance.likely, parts, sizeof parts);
    row->around_begin = row->around_end = daily;
    return row;
}

static const struct agreement_fit *find(const struct agreement_row *row, enum agreement_fit_kind kind)
{
    for (int32_t i = 0; i < row->fit_count; i++)
        if (row->fits[i].kind == kind)
            return &row->fits[i];
    return NULL;
}

static void set_ratio(int32_t primary)
{
    for (int32_t i = 0; i < agreement.count; i++) {
        agreement.rows[i].ct_primary = primary;
        agreement.rows[i].ct_secondary = primary ? 5 : 0;
    }
}

static void test_verdicts(void **state)
{
    (void)state;
    static const struct {
        double theirs, ours;
        int64_t open_percent;
        enum agreement_verdict verdict;
    } table[] = {
        /* 1000 +- 10 (class), 1 (step); ours the same: 21 at worst, 14.2 as root of squares */
        { 1000, 1000, 0, VERDICT_AGREES },  { 1000, 1014, 0, VERDICT_AGREES },
        { 1000, 1015, 0, VERDICT_WITHIN },  { 1000, 1021, 0, VERDICT_WITHIN },
        { 1000, 1022, 0, VERDICT_DIFFERS }, { 1000, 979.5, 0, VERDICT_WITHIN },
        { 1000, 979, 0, VERDICT_DIFFERS },  { 1000, 1022, 2, VERDICT_OPEN },
        { 1000, 1045, 2, VERDICT_DIFFERS }, { 0, 0, 0, VERDICT_AGREES },
        { 0, 1, 0, VERDICT_AGREES },        { 0, 3, 0, VERDICT_DIFFERS },
    };
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        start();
        struct agreement_row *row = add(SEALED_IMPORT, 0, 30, table[i].theirs, table[i].ours, 0);
        row->allowance.open_ours = row->ours * table[i].open_percent / 100;
        agreement_judge(&agreement);
        if (row->verdict != table[i].verdict)
            fail_msg("%g against %g: %s", table[i].theirs, table[i].ours,
                     agreement_verdict_words[row->verdict]);
    }
    start();
    add(SEALED_IMPORT, 0, 30, 1000, 1000, 0)->ours = UNKNOWN;
    add(SEALED_IMPORT, 30, 60, 1000, 1000, 0)->theirs = UNKNOWN;
    add(SEALED_IMPORT, 60, 90, 1000, 2000, 0)->shared = true;
    agreement_judge(&agreement);
    assert_int_equal(agreement.registers[0].verdicts[VERDICT_NONE], 3);
    assert_int_equal(agreement.registers[0].whole.verdict, VERDICT_NONE);
}

/* From the first to the last reading the registers' steps count once, over a hole twice. */
static void test_whole(void **state)
{
    (void)state;
    start();
    for (int32_t i = 0; i < 4; i++)
        add(SEALED_IMPORT, 30 * i, 30 * i + 30, 100, 101, 0);
    agreement_judge(&agreement);
    const struct agreement_register *of = &agreement.registers[0];
    assert_int_equal(agreement.register_count, 1);
    assert_true(of->gapless);
    assert_int_equal(of->whole.theirs, 400 * KWH);
    assert_int_equal(of->whole.ours, 404 * KWH);
    assert_int_equal(of->whole.from_s, 0);
    assert_int_equal(of->whole.to_s, 120 * DAY_S);
    assert_int_equal(of->whole.allowance.worst[PART_THEIR_STEP], KWH);
    assert_int_equal(of->whole.worst, 4 * KWH + 4040000 + KWH + KWH / 1000);
    agreement.rows[1].ours = UNKNOWN;
    agreement_judge(&agreement);
    assert_false(of->gapless);
    assert_int_equal(of->whole.theirs, 300 * KWH);
    assert_int_equal(of->whole.allowance.worst[PART_THEIR_STEP], 2 * KWH);
    agreement.rows[1].ours = 101 * KWH;
    agreement.rows[1].exchanges = 1;
    agreement.rows[1].allowance.worst[PART_THEIR_STEP] = 2 * KWH;
    agreement.rows[0].allowance.worst[PART_END] = 7;
    agreement.rows[1].allowance.worst[PART_BEGIN] = 7;
    agreement.rows[3].allowance.worst[PART_END] = 5;
    agreement_judge(&agreement);
    assert_int_equal(of->whole.allowance.worst[PART_THEIR_STEP], 2 * KWH);
    assert_int_equal(of->whole.allowance.worst[PART_BEGIN], 0);
    assert_int_equal(of->whole.allowance.worst[PART_END], 5);
    agreement.rows[2].exchanges = 2;
    agreement.rows[2].allowance.worst[PART_THEIR_STEP] = 3 * KWH;
    agreement_judge(&agreement);
    assert_int_equal(of->whole.allowance.worst[PART_THEIR_STEP], 4 * KWH);
    agreement.rows[1].ours = UNKNOWN; /* two ends: of the first row and of the last */
    agreement_judge(&agreement);
    assert_int_equal(of->whole.allowance.worst[PART_END], 12);
}

/* What the fit must say, of every kind; both registers are of the same 30 days. */
static const struct {
    const char *what;
    int32_t ct, factor; /* primary of our transformers, thousandths of the sealed meter's factor */
    double their_import, our_import, their_export, our_export;
    enum agreement_fit_kind kind;
    int32_t up, down;
    const char *text; /* part of it */
} fit_cases[] = {
    { "150/5 set, 100/5 built in", 150, 1000, 400, 599.2, 200, 300.3, FIT_RATIO, 150, 100,
      "1.498 times theirs, a ratio of 150/5 set where 100/5 is built in would be 1.500" },
    { "100/5 set, 250/5 built in", 100, 1000, 1000, 400, 500, 200, FIT_RATIO, 100, 250,
      "0.400 times theirs, a ratio of 100/5 set where 250/5 is built in would be 0.400" },
    { "1 A for 5 A", 100, 1000, 400, 2000, 200, 1000, FIT_RATIO, 5, 1, "1 A and 5 A taken for one another" },
    { "no ratio of ours, a factor of theirs", 0, 20000, 400, 599.2, 200, 300.3, FIT_RATIO, 75, 50, "1.500" },
    { "30 in place of 20", 0, 20000, 400, 599.2, 200, 300.3, FIT_FACTOR, 30000, 20000,
      "a multiplying factor of 30 in place of 20 would be 1.500" },
    { "40 in place of none", 0, 1000, 100, 4000, 50, 2000, FIT_FACTOR, 40000, 1000,
      "factor of 40 in place of 1" },
    { "none in place of 40", 0, 40000, 4000, 100, 2000, 50, FIT_FACTOR, 1000, 40000,
      "factor of 1 in place of 40" },
    { "a scale", 0, 1000, 5000, 500, 3000, 300, FIT_SCALE, 1, 10, "0.100 times theirs, a power of ten" },
    { "a scale of a thousand", 0, 1000, 50, 50000, 30, 30000, FIT_SCALE, 1000, 1, "1000.000 times" },
    { "exchanged", 0, 1000, 300, 500, 500, 300, FIT_EXCHANGED, 0, 0,
      "their import is 300 kWh, our export is 300 kWh" },
    { "a phase of ours", 0, 1000, 600, 391, 200, 200, FIT_PHASE, 2, 3,
      "0.652 times theirs, one of three evenly loaded phases missing in ours would be 0.667" },
    { "two phases of ours", 0, 1000, 600, 205, 200, 200, FIT_PHASE, 1, 3, "two of three" },
    { "a phase of theirs", 0, 1000, 400, 610, 200, 200, FIT_PHASE, 3, 2, "missing in theirs would be 1.500" },
    { "theirs apart", 0, 1000, 500, 390, 440, 330, FIT_METHOD, 0, 0,
      "both about 110 kWh less in ours, as with phases netted in ours and apart in theirs" },
    { "ours apart", 0, 1000, 390, 500, 330, 440, FIT_METHOD, 0, 0,
      "110 kWh more in ours, as with phases apart in ours and netted in theirs" },
    { "whatever the direction", 0, 1000, 800, 500, 0, 300, FIT_ABSOLUTE, 0, 0, "together are 800 kWh" },
    { "a load between", 0, 1000, 572, 500, 200, 200, FIT_AHEAD, 0, 0, "about 100 W all the time" },
    { "a load between that takes of the export", 0, 1000, 536, 500, 164, 200, FIT_AHEAD, 0, 0,
      "about 100 W" },
};

static void test_fits(void **state)
{
    (void)state;
    char text[AGREEMENT_TEXT_SIZE];
    for (size_t i = 0; i < sizeof fit_cases / sizeof fit_cases[0]; i++) {
        start();
        config.sealed[0].factor_thousandths = fit_cases[i].factor;
        for (int32_t t = TERM_IMPORT; t <= TERM_EXPORT; t++) {
            agreement.sides[t].transformers = fit_cases[i].ct > 0;
        }
        struct agreement_row *row = add(SEALED_IMPORT, 0, 30, fit_cases[i].their_import,
                                        fit_cases[i].our_import, fit_cases[i].our_export);
        add(SEALED_EXPORT, 0, 30, fit_cases[i].their_export, fit_cases[i].our_export,
            fit_cases[i].our_import);
        set_ratio(fit_cases[i].ct);
        agreement_judge(&agreement);
        const struct agreement_fit *fit = find(row, fit_cases[i].kind);
        assert_int_equal(row->verdict, VERDICT_DIFFERS);
        if (!fit)
            fail_msg("%s: does not fit", fit_cases[i].what);
        else if (fit->up != fit_cases[i].up || fit->down != fit_cases[i].down)
            fail_msg("%s: %d / %d", fit_cases[i].what, (int)fit->up, (int)fit->down);
        agreement_fit_text(text, &agreement, civil, row, fit);
        if (!strstr(text, fit_cases[i].text) || strlen(text) > 150)
            fail_msg("%s: %s", fit_cases[i].what, text);
    }
}

/* Where the configuration says that the two combine phases differently, the sentence says that it does. */
static void test_configured_method(void **state)
{
    (void)state;
    static const struct {
        bool ours_apart;
        enum phase_method theirs;
        bool known;
    } table[] = { { false, PHASES_APART, true },
                  { false, PHASES_UNKNOWN, false },
                  { false, PHASES_NETTED, false },
                  { true, PHASES_APART, false } };
    char text[AGREEMENT_TEXT_SIZE];
    for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
        start();
        agreement.sides[TERM_IMPORT].phases_apart = table[i].ours_apart;
        config.sealed[0].phase_method = table[i].theirs;
        struct agreement_row *row = add(SEALED_IMPORT, 0, 30, 500, 390, 330);
        add(SEALED_EXPORT, 0, 30, 440, 330, 390);
        agreement_judge(&agreement);
        const struct agreement_fit *fit = find(row, FIT_METHOD);
        assert_non_null(fit);
        agreement_fit_text(text, &agreement, civil, row, fit);
        assert_int_equal(strstr(text, ", as configured") != NULL, table[i].known);
    }
    config.sealed[0].phase_method = PHASES_UNKNOWN;
}

/* What is wrong with a meter is so on both its registers: what one of them refutes does not fit. */
static void test_refuted(void **state)
{
    (void)state;
    start();
    agreement.sides[TERM_IMPORT].phases = 1;
    add(SEALED_IMPORT, 0, 30, 400, 600, 200);
    add(SEALED_EXPORT, 0, 30, 200, 200, 600);
    set_ratio(150);
    agreement_judge(&agreement);
    const struct agreement_row *row = agreement.rows;
    assert_int_equal(row->verdict, VERDICT_DIFFERS);
    assert_null(find(row, FIT_RATIO));
    assert_null(find(row, FIT_SCALE));
    assert_null(find(row, FIT_PHASE)); /* one phase has none to miss */
    assert_null(find(row, FIT_METHOD));
    assert_null(find(row, FIT_EXCHANGED));
    assert_null(find(row, FIT_AHEAD)); /* ours is more */
}

/* A reading that is off shows twice, with opposite signs; one at an end once. */
static void test_readings(void **state)
{
    (void)state;
    char text[AGREEMENT_TEXT_SIZE];
    start();
    for (int32_t i = 0; i < 4; i++)
        add(SEALED_IMPORT, 30 * i, 30 * i + 30, i == 1 ? 312 : i == 2 ? 288 : 300, 300, 0);
    agreement_judge(&agreement);
    const struct agreement_fit *reading = find(&agreement.rows[1], FIT_READING);
    const struct agreement_fit *time = find(&agreement.rows[2], FIT_TIME);
    assert_non_null(reading);
    assert_non_null(time);
    assert_int_equal(reading->at_s, 60 * DAY_S);
    assert_int_equal(reading->energy, 12 * KWH);
    assert_int_equal(find(&agreement.rows[2], FIT_READING)->energy, 12 * KWH);
    assert_int_equal(time->at_s, 60 * DAY_S);
    assert_in_range(time->seconds, 28 * 3600, 29 * 3600); /* 12 of 10 kWh a day */
    assert_string_equal(agreement_fit_text(text, &agreement, civil, &agreement.rows[1], reading),
                        "the reading of 1970-03-02 noted 12.0 kWh too high: with the period beyond it the "
                        "difference is gone");
    assert_string_equal(agreement_fit_text(text, &agreement, civil, &agreement.rows[2], time),
                        "12.0 kWh flow in about 29 h around the reading of 1970-03-02");
    assert_int_equal(agreement.registers[0].whole.verdict, VERDICT_AGREES);
    assert_int_equal(agreement.registers[0].common[FIT_READING].rows, 2);
    assert_int_equal(agreement.registers[0].common[FIT_READING].tail, 0);
    assert_int_equal(agreement.registers[0].common[FIT_READING].head, 0);

    start();
    add(SEALED_IMPORT, 0, 30, 300, 300, 0);
    add(SEALED_IMPORT, 30, 60, 308, 300, 0);
    agreement_judge(&agreement);
    assert_non_null(find(&agreement.rows[1], FIT_TIME));
    assert_null(find(&agreement.rows[1], FIT_READING));
    agreement.rows[1].theirs = 311 * KWH; /* more than a day's */
    agreement_judge(&agreement);
    assert_null(find(&agreement.rows[1], FIT_TIME));
}

/* A load that is always there draws the same in every period. */
static void test_steady(void **state)
{
    (void)state;
    static const struct {
        double watts[4];
        int32_t rows;
    } table[] = { { { 100, 110, 95, 104 }, 4 },
                  { { 100, 300, 100, 100 }, 0 },
                  { { 0, 0, 100, 100 }, 2 },
                  { { 100, 100, 0, 0 }, 0 } };
    for (size_t t = 0; t < sizeof table / sizeof table[0]; t++) {
        start();
        for (int32_t i = 0; i < 4; i++)
            add(SEALED_IMPORT, 30 * i, 30 * i + 30, 500 + table[t].watts[i] * 0.72, 500, 0);
        agreement_judge(&agreement);
        const struct agreement_common *common = &agreement.registers[0].common[FIT_AHEAD];
        assert_int_equal(common->rows, table[t].rows);
        if (table[t].rows == 2) {
            assert_int_equal(common->tail, 2);
            assert_int_equal(common->since_s, 60 * DAY_S);
            assert_int_equal(common->head, 0);
        }
    }
}

/* A period that is off by another share than the others, though within the classes. */
static void test_unlike(void **state)
{
    (void)state;
    for (int32_t odd = -1; odd < 8; odd++) {
        start();
        for (int32_t i = 0; i < 8; i++)
            add(SEALED_IMPORT, 30 * i, 30 * i + 30, 1000, i == odd ? 1012 : 996 + i % 2, 0);
        agreement_judge(&agreement);
        const struct agreement_register *of = &agreement.registers[0];
        assert_int_equal(of->verdicts[VERDICT_AGREES], 8);
        assert_int_equal(of->unlike, odd >= 0);
        assert_int_equal(of->drift.state, DRIFT_OPEN);
        assert_in_range(-of->usual, 3000, 4000);
        for (int32_t i = 0; i < 8; i++)
            assert_int_equal(agreement.rows[i].unlike, i == odd);
    }
    start();
    for (int32_t i = 0; i < 4; i++)
        add(SEALED_IMPORT, 30 * i, 30 * i + 30, 1000, i == 1 ? 1012 : 996, 0);
    agreement_judge(&agreement);
    assert_int_equal(agreement.registers[0].unlike, 0);
    assert_true(agreement.registers[0].usual == UNKNOWN);
}

static double chance(double from, double to)
{
    return from + (to - from) * (double)rand() / RAND_MAX;
}

static unsigned seed_of_run(void)
{
    const char *given = getenv("METERBOOK_SEED");
    unsigned seed = given ? (unsigned)strtoul(given, NULL, 10) : (unsigned)civil_day_number(2026, 1, 1);
    printf("seed %u\n", seed);
    srand(seed);
    return seed;
}

/* Meters within their classes, read right and cut to the last digit, are never accused. */
static void test_innocent(void **state)
{
    (void)state;
    unsigned seed = seed_of_run();
    for (int32_t run = 0; run < 20000; run++) {
        start();
        double their_error = chance(-0.01, 0.01), our_error = chance(-0.01, 0.01);
        int32_t count = 1 + rand() % 12;
        for (int32_t reg = SEALED_IMPORT; reg <= SEALED_EXPORT; reg++) {
            double truth = 0;
            for (int32_t i = 0; i < count; i++) {
                double energy = chance(0, i % 3 ? 20 : 2000);
                double theirs = (double)(int64_t)((truth + energy) * (1 + their_error)) -
                                (double)(int64_t)(truth * (1 + their_error));
                double ours = (double)(int64_t)((truth + energy) * (1 + our_error) * 1000) / 1000 -
                              (double)(int64_t)(truth * (1 + our_error) * 1000) / 1000;
                struct agreement_row *row =
                    add((enum sealed_register)reg, 30 * i, 30 * i + 30, theirs, ours, energy);
                /* the limit is one of the true energy: 1 % of what is shown is a little less */
                row->allowance.worst[PART_THEIR_CLASS] = (int64_t)((energy * 0.01 + 0.0001) * KWH);
                row->allowance.worst[PART_OUR_CLASS] = (int64_t)((energy * 0.01 + 0.0001) * KWH);
                truth += energy;
            }
        }
        agreement_judge(&agreement);
        for (int32_t i = 0; i < agreement.count; i++)
            if (agreement.rows[i].verdict > VERDICT_WITHIN || agreement.rows[i].fit_count > 0)
                fail_msg("seed %u, run %d, row %d: %s", seed, (int)run, (int)i,
                         agreement_verdict_words[agreement.rows[i].verdict]);
        for (int32_t i = 0; i < agreement.register_count; i++)
            if (agreement.registers[i].whole.verdict > VERDICT_WITHIN || agreement.registers[i].unlike > 0)
                fail_msg("seed %u, run %d, whole %d", seed, (int)run, (int)i);
    }
}

/* A wrong ratio is named for any energies and any errors within the classes. */
static void test_ratios(void **state)
{
    (void)state;
    static const int32_t primaries[] = { 50, 60, 75, 100, 150, 200, 250, 300, 400, 500, 600 };
    unsigned seed = seed_of_run();
    for (int32_t run = 0; run < 5000; run++) {
        int32_t set = primaries[rand() % 11], built = primaries[rand() % 11];
        if (set == built)
            continue;
        start();
        double import = chance(200, 5000), export = chance(200, 5000), error = chance(-0.009, 0.009);
        double times = (double)set / built * (1 + error);
        add(SEALED_IMPORT, 0, 30, import * (1 - error), import * times, export * times);
        add(SEALED_EXPORT, 0, 30, export * (1 - error), export * times, import * times);
        set_ratio(set);
        agreement_judge(&agreement);
        for (int32_t i = 0; i < 2; i++) {
            const struct agreement_fit *fit = find(&agreement.rows[i], FIT_RATIO);
            if (agreement.rows[i].verdict != VERDICT_DIFFERS || !fit || fit->up != set || fit->down != built)
                fail_msg("seed %u, run %d: %d for %d, found %d", seed, (int)run, (int)set, (int)built,
                         fit ? (int)fit->down : 0);
        }
    }
}

static void test_drift(void **state)
{
    (void)state;
    char text[AGREEMENT_TEXT_SIZE];
    static const struct {
        const char *what;
        int32_t rows;
        double yearly, step, scatter; /* per cent */
        enum agreement_drift_state expected;
    } table[] = {
        { "two rows", 2, 5, 0, 0, DRIFT_FEW },
        { "five months", 5, 5, 0, 0, DRIFT_FEW },
        { "nothing", 36, 0, 0, 0, DRIFT_NONE },
        { "nothing yet", 10, 0, 0, 0, DRIFT_OPEN },
        { "a per cent a year over three", 36, 1, 0, 0, DRIFT_SEEN },
        { "the same in a scatter of two", 12, 1, 0, 2, DRIFT_OPEN },
        { "a step in the middle", 36, 0, 5, 0, DRIFT_STEP },
    };
    for (size_t t = 0; t < sizeof table / sizeof table[0]; t++) {
        start();
        for (int32_t i = 0; i < table[t].rows; i++) {
            double more = table[t].yearly * i * 30 / 365.2425 + (i >= 20 ? table[t].step : 0) +
                          (i % 2 ? table[t].scatter : -table[t].scatter);
            add(SEALED_IMPORT, 30 * i, 30 * i + 30, 1000, 1000 * (1 + more / 100), 0);
        }
        agreement_judge(&agreement);
        const struct agreement_drift *drift = &agreement.registers[0].drift;
        if (drift->state != table[t].expected)
            fail_msg("%s: %s", table[t].what, agreement_drift_text(text, civil, drift));
        if (drift->state == DRIFT_SEEN) {
            assert_in_range(drift->slope, 9700,
                            10300); /* of the mean of three years, 1.5 % above the first */
            assert_true(drift->uncertainty < 2000);
        }
        if (drift->state == DRIFT_STEP) {
            assert_int_equal(drift->step_s, 600 * DAY_S);
            assert_in_range(drift->step, 48000, 50000);
        }
    }
}

/* The uncertainty holds what it promises: of lines without drift one in twenty is beyond it. */
static void test_drift_uncertainty(void **state)
{
    (void)state;
    enum { RUNS = 4000 };
    unsigned seed = seed_of_run();
    int32_t seen = 0;
    for (int32_t run = 0; run < RUNS; run++) {
        start();
        for (int32_t i = 0; i < 8; i++) {
            double normal = -6;
            for (int32_t n = 0; n < 12; n++)
                normal += chance(0, 1);
            add(SEALED_IMPORT, 60 * i, 60 * i + 60, 1000, 1000 + normal * 10, 0);
        }
        agreement_judge(&agreement);
        seen += agreement.registers[0].drift.state == DRIFT_SEEN;
    }
    printf("%d of %d beyond\n", (int)seen, RUNS);
    if (seen > RUNS * 0.065 || seen < RUNS * 0.03)
        fail_msg("seed %u", seed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_verdicts),
        cmocka_unit_test(test_whole),
        cmocka_unit_test(test_fits),
        cmocka_unit_test(test_refuted),
        cmocka_unit_test(test_configured_method),
        cmocka_unit_test(test_readings),
        cmocka_unit_test(test_steady),
        cmocka_unit_test(test_unlike),
        cmocka_unit_test(test_innocent),
        cmocka_unit_test(test_ratios),
        cmocka_unit_test(test_drift),
        cmocka_unit_test(test_drift_uncertainty),
    };
    return cmocka_run_group_tests(tests, setup, finish);
}
