/* links: tools/money/returns.c tools/money/finance.c tools/money/money.c tools/output/number.c daemon/record/calendar.c daemon/record/muldiv.c */
/* What came back, and when; figures computed by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "calendar.h"
#include "number.h"
#include "returns.h"

#define MONEY(amount) (INT64_C(1000000) * (amount))

static struct returns returns;

static struct contract_file contract_of(int64_t cost)
{
    struct contract_file contract = { .cost_count = 1, .has_projection = true };
    contract.costs[0] = (struct contract_cost){ .day = civil_day_number(2024, 1, 1), .amount = MONEY(cost) };
    contract.projection.life_years = 20;
    return contract;
}

static const struct saved *year_of(int64_t saving)
{
    static struct saved saved;
    saved = (struct saved){
        civil_day_number(2024, 1, 1), civil_day_number(2024, 12, 31), MONEY(saving), 0, 0, false
    };
    return &saved;
}

/* 1000 a year: of 2500, 1000 are back on the last day of 2024, the rest a year and a half later. */
static void test_payback_within_a_year(void **state)
{
    (void)state;
    struct contract_file contract = contract_of(2500);
    returns_make(&returns, &contract, year_of(1000), 1);
    assert_int_equal(returns.year_saving, MONEY(1000));
    assert_true(returns.payback_projected);
    assert_int_equal(returns.payback_day, civil_day_number(2026, 7, 1));
}

/* What will be paid counts on its day, and not before. */
static void test_later_cost(void **state)
{
    (void)state;
    struct contract_file contract = contract_of(1500);
    contract.costs[contract.cost_count++] =
        (struct contract_cost){ .day = civil_day_number(2026, 3, 1), .amount = MONEY(2000) };
    returns_make(&returns, &contract, year_of(1000), 1);
    assert_int_equal(returns.paid, MONEY(1500));
    int64_t cost = 0;
    for (int32_t i = 0; i < returns.flow_count; i++)
        cost += returns.flows[i].cost;
    assert_int_equal(cost, -MONEY(3500));
    int32_t year, month, day;
    civil_date(returns.payback_day, &year, &month, &day);
    assert_int_equal(year, 2027);
}

/* A bill over more than a year is a year's share of it. */
static void test_long_bill(void **state)
{
    (void)state;
    struct contract_file contract = contract_of(1500);
    struct saved saved = {
        civil_day_number(2024, 1, 1), civil_day_number(2025, 12, 31), MONEY(2000), 0, 0, false
    };
    returns_make(&returns, &contract, &saved, 1);
    assert_int_equal(returns.year_saving, MONEY(1000));
}

/* 1200 a year, and 500 settled by the first bill that has the end of a March in it. */
static void make_saved(struct saved *saved, int32_t count, int32_t days)
{
    int64_t day = civil_day_number(2021, 4, 1);
    for (int32_t i = 0; i < count; i++, day += days) {
        int32_t year, month, day_of_month;
        civil_date(day, &year, &month, &day_of_month);
        int64_t end_day = civil_day_number(year, 3, 31);
        bool settles = end_day >= day && end_day < day + days;
        int64_t settled = settles ? MONEY(500) : 0;
        saved[i] = (struct saved){ day, day + days, MONEY(1200) * days / 365 + settled, 0, settled, settles };
    }
}

/* Wherever bills end: the last 377 days of 29-day bills may have two settlements, the last 350 of 35-day
 * bills none. Before the first, none is known. */
static void test_settlements_of_a_year(void **state)
{
    (void)state;
    struct contract_file contract = contract_of(1500);
    static struct saved saved[60];
    for (int32_t days = 29; days <= 35; days += 6) {
        make_saved(saved, 60, days);
        for (int32_t count = 13; count <= 60; count++) {
            returns_make(&returns, &contract, saved, count);
            assert_in_range(returns.settled_days, 350, 750); /* two, where one is of 348 */
            assert_in_range(returns.year_saving, MONEY(1672), MONEY(1722));
        }
    }
    returns_make(&returns, &contract, saved, 8);
    assert_int_equal(returns.settled_until, UNKNOWN);
    assert_in_range(returns.year_saving, MONEY(1199), MONEY(1201));
    /* 70 days settled are not five times as much in a year */
    saved[1].settles = true;
    saved[1].saving += MONEY(500);
    saved[1].settled = MONEY(500);
    returns_make(&returns, &contract, saved, 10);
    assert_in_range(returns.year_saving, MONEY(1700), MONEY(1730));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_payback_within_a_year),
        cmocka_unit_test(test_later_cost),
        cmocka_unit_test(test_long_bill),
        cmocka_unit_test(test_settlements_of_a_year),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
