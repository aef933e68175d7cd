/* links: tools/plant/cleaning.c tools/plant/scatter.c */
/* Welch's interval: two samples of five worked out by hand from the formula; Student's t from memory. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>

#include "cleaning.h"

static void near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.9g, expected %.9g +- %g", value, expected, within);
}

static void by_hand(void **state)
{
    (void)state;
    /* means 0.80 and 0.88, both variances 0.00025 of single days: gain 10 %; variances of the means 0.00005,
     * the first times 1.1^2; freedom (0.0000605 + 0.00005)^2 / (0.0000605^2 / 4 + 0.00005^2 / 4) = 7.93 */
    const double before[] = { 0.78, 0.79, 0.80, 0.81, 0.82 }, after[] = { 0.86, 0.87, 0.88, 0.89, 0.90 };
    struct cleaning_gain found = cleaning_find(before, 5, after, 5);
    assert_int_equal(found.verdict, CLEANING_DETERMINED);
    near(found.gain, 0.1, 1e-12);
    near(found.reach, sqrt(0.0001105) / 0.8 * 2.309, 1e-4);
    assert_int_equal(found.before, 5);
    assert_int_equal(found.after, 5);
}

static void not_determinable(void **state)
{
    (void)state;
    const double a[] = { 0.8, 0.9, 0.7, 0.85 }, b[] = { 0.82, 0.9, 0.72, 0.85 };
    struct cleaning_gain found = cleaning_find(a, 4, b, 4);
    assert_int_equal(found.verdict, CLEANING_UNCERTAIN);
    assert_true(found.reach > fabs(found.gain));
    found = cleaning_find(a, 3, b, 4);
    assert_int_equal(found.verdict, CLEANING_TOO_FEW);
    assert_true(isnan(found.gain) && isnan(found.reach));
    assert_int_equal(cleaning_find(a, 4, b, 0).verdict, CLEANING_TOO_FEW);
    /* days that are all alike leave no doubt */
    const double same[] = { 2, 2, 2, 2 };
    assert_int_equal(cleaning_find(same, 4, same, 4).verdict, CLEANING_UNCERTAIN);
    near(cleaning_find(same, 4, same, 4).reach, 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(by_hand), cmocka_unit_test(not_determinable) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
