/* links: tools/sealed/accuracy.c tools/output/number.c */
/* Limits of classes against the published tables. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "accuracy.h"

enum { PERCENT = 10000, KWH = 1000000 };

/* One limit: load in per cent of rated current, limit in hundredths of a per cent. */
struct sample {
    const char *class_word;
    double load;
    int32_t limit;
    bool below;
};

static void check(const struct sample *samples, size_t count,
                  struct accuracy_limit (*limit_of)(const char *, int64_t))
{
    for (size_t i = 0; i < count; i++) {
        const struct sample *sample = &samples[i];
        struct accuracy_limit limit = limit_of(sample->class_word, (int64_t)(sample->load * PERCENT + 0.5));
        if (limit.share != sample->limit * 100 || limit.below != sample->below)
            fail_msg("class %s at %g %%: %d, %d", sample->class_word, sample->load, (int)limit.share,
                     limit.below);
    }
}

static void test_meters(void **state)
{
    (void)state;
    static const struct sample samples[] = {
        /* IEC 62053-21:2003 table 6, as a page reproduces it, power factor 1, through transformers */
        { "1", 2, 150, false },
        { "1", 4.9, 150, false },
        { "1", 5, 100, false },
        { "1", 120, 100, false },
        { "2", 2, 250, false },
        { "2", 5, 200, false },
        { "1", 1, 150, true },
        /* IEC 62053-22, from memory */
        { "0.2S", 1, 40, false },
        { "0.2S", 5, 20, false },
        { "0.5S", 4, 100, false },
        { "0.5S", 100, 50, false },
        { "0.5S", 0.9, 100, true },
        /* 2014/32/EU Annex V table 2, +5 to +30 degrees; where the transitional current is, from memory */
        { "A", 3, 350, false },
        { "A", 50, 350, false },
        { "B", 3, 200, false },
        { "B", 50, 200, false },
        { "C", 3, 100, false },
        { "C", 50, 70, false },
    };
    check(samples, sizeof samples / sizeof samples[0], accuracy_meter);
    assert_int_equal(accuracy_meter("1", UNKNOWN).share, PERCENT);
    assert_int_equal(accuracy_meter("C", UNKNOWN).share, 7000);
    assert_false(accuracy_meter("1", UNKNOWN).below);
    assert_true(accuracy_meter("", UNKNOWN).share == UNKNOWN);
    assert_true(accuracy_meter("9", 100).share == UNKNOWN);
}

/* IEC 61869-2, ratio error, as two pages reproduce it. */
static void test_transformers(void **state)
{
    (void)state;
    static const struct sample samples[] = {
        { "0.1", 5, 40, false },
        { "0.1", 20, 20, false },
        { "0.1", 100, 10, false },
        { "0.1", 120, 10, false },
        { "0.2", 5, 75, false },
        { "0.2", 20, 35, false },
        { "0.2", 100, 20, false },
        { "0.2", 120, 20, false },
        { "0.2S", 1, 75, false },
        { "0.2S", 5, 35, false },
        { "0.2S", 20, 20, false },
        { "0.2S", 100, 20, false },
        { "0.5", 5, 150, false },
        { "0.5", 20, 75, false },
        { "0.5", 100, 50, false },
        { "0.5", 120, 50, false },
        { "0.5S", 1, 150, false },
        { "0.5S", 5, 75, false },
        { "0.5S", 20, 50, false },
        { "0.5S", 100, 50, false },
        { "1", 5, 300, false },
        { "1", 20, 150, false },
        { "1", 100, 100, false },
        { "1", 120, 100, false },
        { "3", 50, 300, false },
        { "3", 120, 300, false },
        /* below the table nothing is promised; between two of its loads the wider limit stands */
        { "0.5", 4, 150, true },
        { "0.5S", 0.5, 150, true },
        { "3", 49, 300, true },
        { "0.5", 19, 150, false },
        { "0.5", 99, 75, false },
    };
    check(samples, sizeof samples / sizeof samples[0], accuracy_ct);
    assert_int_equal(accuracy_ct("0.5", UNKNOWN).share, 5000);
    assert_true(accuracy_ct("2", UNKNOWN).share == UNKNOWN);
}

/* The worked values of standards.md section 4.4, computed there. */
static void test_worked(void **state)
{
    (void)state;
    int64_t meter = accuracy_meter("1", UNKNOWN).share, ct = accuracy_ct("0.5", UNKNOWN).share;
    assert_int_equal(meter + ct, 15000);                                               /* 1.5 % */
    assert_int_equal(accuracy_root_sum_square((int64_t[]){ meter, ct }, 2), 11180);    /* 1.118 % */
    assert_int_equal(accuracy_root_sum_square((int64_t[]){ meter, meter }, 2), 14142); /* 1.414 % */
    assert_int_equal(meter + meter, 20000);                                            /* 2 % */
    assert_int_equal(number_share(KWH, INT64_C(300) * KWH), 3333);                     /* 0.33 % */
    assert_int_equal(accuracy_root_sum_square(NULL, 0), 0);
    assert_int_equal(
        accuracy_root_sum_square((int64_t[]){ INT64_C(3000000000000), INT64_C(4000000000000) }, 2),
        INT64_C(5000000000000)); /* GWh in mWh */
}

/* Nothing that is known is wider than the widest, and no class is better at low load. */
static void test_widest(void **state)
{
    (void)state;
    static const char *const meters[] = { "0.1", "0.2", "0.2S", "0.5", "0.5S", "1", "2", "3", "A", "B", "C" };
    static const char *const transformers[] = { "0.1", "0.2", "0.2S", "0.5", "0.5S", "1", "3" };
    for (size_t i = 0; i < sizeof meters / sizeof meters[0]; i++) {
        int64_t before = INT64_MAX;
        assert_in_range(accuracy_meter(meters[i], UNKNOWN).share, 1, ACCURACY_WIDEST_METER);
        for (int64_t load = 0; load <= 120; load++) {
            int64_t share = accuracy_meter(meters[i], load * PERCENT).share;
            assert_true(share <= before);
            before = share;
        }
    }
    for (size_t i = 0; i < sizeof transformers / sizeof transformers[0]; i++) {
        int64_t before = INT64_MAX;
        assert_in_range(accuracy_ct(transformers[i], UNKNOWN).share, 1, ACCURACY_WIDEST_CT);
        for (int64_t load = 0; load <= 120; load++) {
            int64_t share = accuracy_ct(transformers[i], load * PERCENT).share;
            assert_true(share <= before);
            before = share;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_meters),
        cmocka_unit_test(test_transformers),
        cmocka_unit_test(test_worked),
        cmocka_unit_test(test_widest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
