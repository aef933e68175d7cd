/* links: tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/one_bill.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* What a quantity is measured against: shares of days, units that decide, bills before, months that credit
 * lasts. Figures made by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "bill.h"
#include "calendar.h"
#include "one_bill.h"
#include "tariff_text.h"

/* A third of the days is a third, to the last digit that is printed. */
static void test_weight_is_exact(void **state)
{
    struct tariff *tariff = tariff_of(
        "tariff = { name = \"three\"; currency = \"XTS\"; settlement = \"net_billed\"; revision = "
        "\"weighted\"; };"
        "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"fixed\"; of = \"bills\"; rate = 900000; "
        "} ); },"
        "{ from = \"2024-06-11\"; items = ( { name = \"fixed\"; of = \"bills\"; rate = 900000; } ); },"
        "{ from = \"2024-06-21\"; items = ( { name = \"fixed\"; of = \"bills\"; rate = 900000; } ); } );",
        NULL, 0);
    struct credit credit = { 0 };
    struct bill bill;
    struct usage uses[3];
    (void)state;
    for (int32_t i = 0; i < 3; i++) {
        uses[i] = use_of(tariff, 0, 10, 0);
        uses[i].from_day = civil_day_number(2024, 6, 1 + 10 * i);
        uses[i].to_day = uses[i].from_day + 10;
        uses[i].schedule = &tariff->schedules[i];
    }
    assert_true(bill_make(&bill, tariff, &house, uses, 3, &credit));
    assert_int_equal(bill.total, MONEY(900000));
    tariff_free(tariff);
}

/* What decides is what is billed: whole kWh. */
static void test_decided_by_whole_units(void **state)
{
    struct tariff *tariff = tariff_of_items(NET "round_quantity = 1;", "",
                                            "{ name = \"fixed\"; of = \"bills\"; price = \"chosen\"; "
                                            "chosen_by = \"net\"; tables = ( { to = 100; slabs = ( "
                                            "{ rate = 20; } ); }, { slabs = ( { rate = 40; } ); } ); }");
    (void)state;
    assert_int_equal(bill_of(tariff, 30, 100.4).total, MONEY(20));
    assert_int_equal(bill_of(tariff, 30, 100.5).total, MONEY(40));
    tariff_free(tariff);
}

/* A ratchet of the peak's demand remembers the peaks' demands, whatever was drawn at night. */
static void test_ratchet_of_a_block(void **state)
{
    struct tariff *tariff = tariff_of_items(
        BILLED, "blocks = ( { name = \"peak\"; from = \"18:00\"; to = \"22:00\"; } );",
        "{ name = \"demand\"; of = \"demand\"; block = \"peak\"; rate = 10; ratchet_percent = 50; }");
    struct credit credit = { 0 };
    (void)state;
    for (int32_t m = 0; m < 2; m++) {
        struct usage use = use_of(tariff, 0, 100, 0);
        struct bill bill;
        use.from_day = civil_day_number(2024, m + 1, 1);
        use.to_day = civil_day_number(2024, m + 2, 1);
        use.demand[0] = m == 0 ? KWH(6) : KWH(1);
        use.demand[1] = KWH(20);
        assert_true(bill_make(&bill, tariff, &house, &use, 1, &credit));
        assert_int_equal(bill.total, m == 0 ? MONEY(60) : MONEY(30));
    }
    tariff_free(tariff);
}

/* A surplus of a month is there for as many months' bills as it lasts, whichever months they are. */
static void test_credit_lasts_months(void **state)
{
    (void)state;
    for (int32_t months = 1; months <= 12; months++) {
        char netting[100];
        snprintf(netting, sizeof(netting), "netting = { carry = \"energy\"; expiry_months = %d; };",
                 (int)months);
        struct tariff *tariff =
            tariff_of_items(NET, netting, "{ name = \"energy\"; of = \"net\"; rate = 1; }");
        for (int32_t begin = 0; begin < 12; begin++) {
            struct credit credit = { 0 };
            for (int32_t m = 0; m <= months + 1; m++) {
                struct bill bill;
                struct usage use = use_of(tariff, 0, m == 0 ? 0 : 1, m == 0 ? 100 : 0);
                use.from_day = civil_day_number(2024 + (begin + m) / 12, (begin + m) % 12 + 1, 1);
                use.to_day = civil_day_number(2024 + (begin + m + 1) / 12, (begin + m + 1) % 12 + 1, 1);
                assert_true(bill_make(&bill, tariff, &house, &use, 1, &credit));
                assert_int_equal(bill.total, m <= months ? 0 : MONEY(1));
            }
        }
        tariff_free(tariff);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_weight_is_exact),
        cmocka_unit_test(test_decided_by_whole_units),
        cmocka_unit_test(test_ratchet_of_a_block),
        cmocka_unit_test(test_credit_lasts_months),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
