/* links: daemon/record/account.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdint.h>

#include "account.h"

/* A 1 kWh register read each second at 1 kW: the account walks inside the step. */
static void test_power_moves_it_inside_the_step(void **state)
{
    (void)state;
    struct account account;
    account_begin(&account, 5000000, 1000000);
    for (int s = 1; s <= 1800; s++)
        account_read(&account, 5000000, 1000000, 1000000, 1000);
    assert_int_equal(account.account, 5500000);
    for (int s = 1; s <= 3600; s++) /* the register is late: the account waits below the next step */
        account_read(&account, 5000000, 1000000, 1000000, 1000);
    assert_int_equal(account.account, 5999999);
    account_read(&account, 6000000, 1000000, 0, 1000);
    assert_int_equal(account.account, 6000000);
}

static void test_register_pulls_it_up(void **state)
{
    (void)state;
    struct account account;
    account_begin(&account, 0, 1000);
    account_read(&account, 7000, 1000, 0, 0);
    assert_int_equal(account.account, 7000);
    account_read(&account, 7000, 1000, 3600, 1000); /* 1 mWh */
    assert_int_equal(account.account, 7001);
}

static void test_remainders_are_kept(void **state)
{
    (void)state;
    struct account account;
    account_begin(&account, 0, 1000000);
    for (int i = 0; i < 3600; i++)
        account_read(&account, 0, 1000000, 1, 1000); /* 1 mW for an hour */
    assert_int_equal(account.account, 1);
    assert_int_equal(account.work, 0);
}

static void test_resumed_between_steps(void **state)
{
    (void)state;
    struct account account;
    account_resume(&account, 1234567, 1000000);
    account_read(&account, 1000000, 1000000, 0, 0);
    assert_int_equal(account.account, 1234567);
    account_read(&account, 2000000, 1000000, 0, 0);
    assert_int_equal(account.account, 2000000);
}

/* V <= A < V + step, and A never falls, for any walk of a real counter. */
static void test_it_never_leaves_the_step(void **state)
{
    (void)state;
    uint64_t random = 88172645463325252U;
    static const int64_t steps[] = { 1, 7, 1000, 100000, 10000000 };
    for (int k = 0; k < 5; k++) {
        int64_t step = steps[k], truth = 0, before = 0;
        struct account account;
        account_begin(&account, 0, step);
        for (int i = 0; i < 200000; i++) {
            random ^= random << 13;
            random ^= random >> 7;
            random ^= random << 17;
            int64_t power = (int64_t)(random % 20000000), reads = power + (int64_t)(random % 5) * power / 50;
            int64_t span = 200 + (int64_t)(random >> 40) % 3000;
            truth += power * span / 3600000;
            account_read(&account, truth / step * step, step, random % 11 ? reads : 0, span);
            assert_true(account.value <= account.account && account.account < account.value + step);
            assert_true(account.account >= before);
            before = account.account;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_power_moves_it_inside_the_step),
        cmocka_unit_test(test_register_pulls_it_up),
        cmocka_unit_test(test_remainders_are_kept),
        cmocka_unit_test(test_resumed_between_steps),
        cmocka_unit_test(test_it_never_leaves_the_step),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
