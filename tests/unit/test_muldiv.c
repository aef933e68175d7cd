/* links: daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "muldiv.h"

static void by_hand(void **state)
{
    static const struct {
        int64_t a, b, c, floor;
    } rows[] = {
        { 0, 0, 1, 0 },
        { 7, 3, 2, 10 },
        { -7, 3, 2, -11 },
        { 7, -3, 2, -11 },
        { -7, -3, 2, 10 },
        { -6, 3, 2, -9 },
        { 1, 1, INT64_MAX, 0 },
        { -1, 1, INT64_MAX, -1 },
        { INT64_MAX, INT64_MAX, INT64_MAX, INT64_MAX },
        { INT64_MIN, INT64_MAX, INT64_MAX, INT64_MIN },
        { INT64_MIN, 1, 1, INT64_MIN },
        /* 10 kW for 30 days, in mW and ms: 7200 kWh in mWh */
        { 10000000, INT64_C(30) * 86400000, 3600000, INT64_C(7200000000) },
        /* half of a counter at the end of 64 bits */
        { INT64_MAX - 1, 150000, 300000, INT64_MAX / 2 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        assert_int_equal(mul_div(rows[i].a, rows[i].b, rows[i].c), rows[i].floor);
    }
}

static void what_does_not_fit(void **state)
{
    int64_t result = 42;
    (void)state;
    assert_false(mul_div_fits(INT64_MAX, 2, 1, &result));
    assert_false(mul_div_fits(INT64_MIN, -1, 1, &result));
    assert_false(mul_div_fits(INT64_MIN, 3, 2, &result));
    assert_false(mul_div_fits(INT64_MIN, INT64_MAX, 1, &result));
    assert_int_equal(result, 42);
    assert_int_equal(mul_div(INT64_MAX, 2, 1), INT64_MAX);
    assert_int_equal(mul_div(INT64_MAX, -2, 1), INT64_MIN);
    assert_int_equal(mul_div(INT64_MIN, 3, 2), INT64_MIN);
}

static void halves(void **state)
{
    uint64_t rest;
    struct wide square = wide_multiply(UINT64_MAX, UINT64_MAX);
    (void)state;
    assert_true(square.high == UINT64_MAX - 1 && square.low == 1);
    struct wide root = wide_divide(square, UINT64_MAX, &rest);
    assert_true(root.high == 0 && root.low == UINT64_MAX && rest == 0);
    root = wide_divide((struct wide){ 1, 0 }, UINT64_MAX, NULL);
    assert_true(root.high == 0 && root.low == 1);
}

static uint64_t seed = 20240901;

static uint64_t next_random(void)
{
    seed ^= seed << 13;
    seed ^= seed >> 7;
    seed ^= seed << 17;
    return seed;
}

/* Of every size: few bits as often as many. */
static int64_t random_value(void)
{
    int64_t value = (int64_t)(next_random() >> (next_random() % 64));
    return next_random() & 1 ? value : ~value;
}

#ifdef __SIZEOF_INT128__
__extension__ typedef __int128 int128;

static int compare(int64_t a, int64_t b, int64_t c)
{
    int128 product = (int128)a * b, exact = product / c;
    int64_t result = 0;
    if (product % c != 0 && product < 0) {
        exact--;
    }
    bool fits = exact >= INT64_MIN && exact <= INT64_MAX;
    if (mul_div_fits(a, b, c, &result) != fits || (fits && result != exact)) {
        printf("%lld * %lld / %lld\n", (long long)a, (long long)b, (long long)c);
        return 1;
    }
    return 0;
}

static void against_wide_integers(void **state)
{
    static const int64_t edges[] = { 0,
                                     1,
                                     2,
                                     3,
                                     -1,
                                     -2,
                                     -3,
                                     999,
                                     -1000,
                                     3600000,
                                     INT32_MAX,
                                     INT32_MIN,
                                     1LL << 32,
                                     1LL << 62,
                                     -(1LL << 62),
                                     INT64_MAX,
                                     INT64_MAX - 1,
                                     INT64_MIN,
                                     INT64_MIN + 1 };
    size_t n = sizeof edges / sizeof edges[0];
    int wrong = 0;
    (void)state;
    for (int64_t a = -40; a <= 40; a++) {
        for (int64_t b = -40; b <= 40; b++) {
            for (int64_t c = 1; c <= 40; c++) {
                wrong += compare(a, b, c);
            }
        }
    }
    for (size_t i = 0; i < n * n * n; i++) {
        if (edges[i % n] > 0) {
            wrong += compare(edges[i / n % n], edges[i / n / n], edges[i % n]);
        }
    }
    printf("seed %llu\n", (unsigned long long)seed);
    for (int i = 0; i < 1000000; i++) {
        int64_t c = random_value() & INT64_MAX;
        wrong += compare(random_value(), random_value(), c > 0 ? c : 1);
    }
    assert_int_equal(wrong, 0);
}
#else
static void against_wide_integers(void **state)
{
    (void)state;
    (void)random_value;
    printf("no 128-bit integers here: comparison left out\n");
    skip();
}
#endif

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_hand),
        cmocka_unit_test(what_does_not_fit),
        cmocka_unit_test(halves),
        cmocka_unit_test(against_wide_integers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
