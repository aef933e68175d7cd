/* links: tools/sealed/sources.c tools/output/number.c */
/* What sealed meters say of a stretch, from parts and shares put together by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "sources.h"

enum { DAY = 86400 };

/* Two meters for the import: one read on days 0, 4 and 10, the other on days 2 and 10; production is
 * sealed until day 6, the grid all the time. A seam on day 6 cuts nothing of the grid's. */
static struct sources_part parts[] = {
    { .term = TERM_IMPORT,
      .sealed = 0,
      .from_s = 0,
      .to_s = 4 * DAY,
      .first_s = 0,
      .last_s = 4 * DAY,
      .energy = 40,
      .step = 1000 },
    { .term = TERM_IMPORT,
      .sealed = 0,
      .from_s = 4 * DAY,
      .to_s = 10 * DAY,
      .first_s = 4 * DAY,
      .last_s = 10 * DAY,
      .energy = 66,
      .step = 1000,
      .guessed = true },
    { .term = TERM_IMPORT,
      .sealed = 1,
      .from_s = 2 * DAY,
      .to_s = 10 * DAY,
      .first_s = 2 * DAY,
      .last_s = 10 * DAY,
      .energy = 8,
      .step = 100000 },
    { .term = TERM_PRODUCTION,
      .sealed = 2,
      .from_s = 1 * DAY,
      .to_s = 6 * DAY,
      .first_s = 1 * DAY,
      .last_s = 6 * DAY,
      .energy = -5,
      .how = PART_LESS },
};
static struct sources_share shares[32];
static int64_t breaks[] = { 0, 1 * DAY, 2 * DAY, 6 * DAY, 10 * DAY };
static struct sources_change grid[] = { { INT64_MIN, true } };
static struct sources_change production[] = { { INT64_MIN, true }, { 6 * DAY, false } };
static struct sources sources;

static int setup(void **state)
{
    (void)state;
    sources = (struct sources){
        .meter_count = { [TERM_PRODUCTION] = 1, [TERM_IMPORT] = 2 },
        .change_count = { [SUBJECT_OF_GRID] = 1, [SUBJECT_OF_PRODUCTION] = 2 },
        .changes = { [SUBJECT_OF_GRID] = grid, [SUBJECT_OF_PRODUCTION] = production },
        .part_count = sizeof(parts) / sizeof(parts[0]),
        .parts = parts,
        .shares = shares,
        .break_count = sizeof(breaks) / sizeof(breaks[0]),
        .breaks = breaks,
    };
    for (int32_t p = 0; p < sources.part_count; p++)
        for (int64_t at_s = parts[p].from_s; at_s < parts[p].to_s; at_s += DAY)
            shares[sources.share_count++] =
                (struct sources_share){ at_s, at_s + DAY,
                                        parts[p].energy * DAY / (parts[p].to_s - parts[p].from_s), p };
    return 0;
}

static void test_who_speaks(void **state)
{
    (void)state;
    assert_int_equal(sources_sealed(&sources, -1), TERMS_ALL);
    assert_int_equal(sources_sealed(&sources, 6 * DAY - 1), TERMS_ALL);
    assert_int_equal(sources_sealed(&sources, 6 * DAY), TERMS_GRID);
    assert_int_equal(sources_next(&sources, -1), 0);
    assert_int_equal(sources_next(&sources, 2 * DAY), 6 * DAY);
    assert_true(sources_next(&sources, 10 * DAY) == INT64_MAX);
    /* without sealed meters the record speaks, without an end */
    assert_int_equal(sources_sealed(NULL, 0), 0);
    assert_true(sources_next(NULL, 0) == INT64_MAX);
    assert_true(sources_energy(NULL, TERM_IMPORT, 0, DAY) == UNKNOWN);
    assert_true(sources_prorated(NULL, 0, DAY) == UNKNOWN);
    assert_false(sources_guessed(NULL, 0, DAY));
    assert_int_equal(sources_step(NULL, TERM_IMPORT, 0, DAY), 1);
}

static void test_energy(void **state)
{
    (void)state;
    assert_int_equal(sources_energy(&sources, TERM_IMPORT, 2 * DAY, 10 * DAY), 20 + 66 + 8);
    assert_int_equal(sources_energy(&sources, TERM_IMPORT, 3 * DAY, 5 * DAY), 10 + 11 + 2);
    /* both meters must have read it */
    assert_true(sources_energy(&sources, TERM_IMPORT, 0, 4 * DAY) == UNKNOWN);
    assert_true(sources_energy(&sources, TERM_IMPORT, 9 * DAY, 11 * DAY) == UNKNOWN);
    assert_true(sources_energy(&sources, TERM_EXPORT, 2 * DAY, 3 * DAY) == UNKNOWN);
    assert_int_equal(sources_energy(&sources, TERM_PRODUCTION, 1 * DAY, 6 * DAY), -5);
    assert_true(sources_covers(&sources, TERM_IMPORT, 0, 0, 4 * DAY));
    assert_false(sources_covers(&sources, TERM_IMPORT, 1, 0, 4 * DAY));
    int64_t first_s, last_s;
    sources_reach(&sources, -DAY, 3 * DAY, &first_s, &last_s);
    assert_int_equal(first_s, 0);
    assert_int_equal(last_s, 3 * DAY);
    sources_reach(&sources, 10 * DAY, 12 * DAY, &first_s, &last_s);
    assert_true(first_s == INT64_MAX && last_s == INT64_MIN);
}

static void test_prorated(void **state)
{
    (void)state;
    assert_int_equal(sources_prorated(&sources, 0, 10 * DAY), 0);
    /* days 3 and 4: 10 and 11 of the one, 1 each of the other, 1 and 1 of the production */
    assert_int_equal(sources_prorated(&sources, 3 * DAY, 5 * DAY), 10 + 11 + 2 + 2);
    assert_true(sources_prorated(&sources, 10 * DAY, 12 * DAY) == UNKNOWN);
    /* what the record could not take off its side is a share wherever it stands */
    parts[3].how = PART_PRORATED;
    assert_int_equal(sources_prorated(&sources, 0, 10 * DAY), 5);
    parts[3].how = PART_LESS;
    /* and a period in two parts is whole only with both */
    parts[0].last_s = 12 * DAY;
    assert_int_equal(sources_prorated(&sources, 0, 10 * DAY), 40);
    parts[0].last_s = 4 * DAY;
}

static void test_marks(void **state)
{
    (void)state;
    assert_false(sources_guessed(&sources, 0, 4 * DAY));
    assert_true(sources_guessed(&sources, 0, 4 * DAY + 1));
    assert_int_equal(sources_step(&sources, TERM_IMPORT, 0, 2 * DAY), 1000);
    assert_int_equal(sources_step(&sources, TERM_IMPORT, 0, 2 * DAY + 1), 100000);
}

static void test_terms(void **state)
{
    (void)state;
    struct config_sealed meter = { .role = ROLE_PRODUCTION, .delivers_by_export = true };
    assert_int_equal(sources_term(&meter, SEALED_EXPORT), TERM_PRODUCTION);
    assert_int_equal(sources_term(&meter, SEALED_IMPORT), TERM_COUNT);
    meter.delivers_by_export = false;
    assert_int_equal(sources_term(&meter, SEALED_IMPORT), TERM_PRODUCTION);
    meter.role = ROLE_GRID;
    assert_int_equal(sources_term(&meter, SEALED_IMPORT), TERM_IMPORT);
    assert_int_equal(sources_term(&meter, SEALED_EXPORT), TERM_EXPORT);
    assert_int_equal(sources_term(&meter, SEALED_T1), TERM_COUNT);
    assert_int_equal(sources_subject(TERM_PRODUCTION), SUBJECT_OF_PRODUCTION);
    assert_int_equal(sources_subject(TERM_EXPORT), SUBJECT_OF_GRID);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_who_speaks), cmocka_unit_test(test_energy), cmocka_unit_test(test_prorated),
        cmocka_unit_test(test_marks),      cmocka_unit_test(test_terms),
    };
    return cmocka_run_group_tests(tests, setup, NULL);
}
