/* links: tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/one_bill.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* More bills against published rules; each names where it is from. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "bill.h"
#include "calendar.h"
#include "one_bill.h"
#include "tariff_text.h"

/* A utility's page, Rate M: the billing demand is the kW or 90 % of the kVA, the higher, and never below 65 %
 * of the winter's highest; 210,000 kWh of a month of 30 days are the first tier. Rates and readings composed.
 */
static void test_demand_of_a_factory(void **state)
{
    struct tariff *tariff = tariff_of_items(
        BILLED, "",
        "{ name = \"demand\"; of = \"demand\"; rate = 12; apparent_percent = 90; ratchet_percent = 65; "
        "ratchet_bills = 12; ratchet_months = \"12-2\"; }, { name = \"energy\"; of = \"import\"; price = "
        "\"telescopic\"; scale_days = 30; slabs = ( { to = 210000; rate = 0.05; }, { rate = 0.04; } ); }");
    static const struct {
        int32_t month;
        double kilowatts, apparent, charged;
    } rows[] = { { 1, 500, 520, 500 }, { 2, 480, 600, 540 }, { 7, 900, 950, 900 }, { 8, 200, 220, 351 } };
    struct credit credit = { 0 };
    (void)state;
    for (size_t i = 0; i < 4; i++) {
        struct usage use = use_of(tariff, 0, 250000, 0);
        struct bill bill;
        use.from_day = civil_day_number(2024, rows[i].month, 1);
        use.to_day = civil_day_number(2024, rows[i].month + 1, 1);
        use.demand[0] = KWH(rows[i].kilowatts);
        use.apparent_demand[0] = KWH(rows[i].apparent);
        assert_true(bill_make(&bill, tariff, &house, &use, 1, &credit));
        assert_int_equal(bill_item_amount(&bill, "demand"), MONEY(12 * rows[i].charged));
        /* 31 days: 217,000 in the first tier; February has 29: 203,000 */
        double first = rows[i].month == 2 ? 203000 : 217000;
        assert_int_equal(bill_item_amount(&bill, "energy"),
                         MONEY(first * 0.05) + MONEY((250000 - first) * 0.04));
    }
    tariff_free(tariff);
}

/* Madhya Pradesh: the meter is read after 36 days, so slab limits of 50, 100 and 150 are 60, 120 and 180
 * (patrika.com, a news page). Rates composed. */
static void test_late_reading(void **state)
{
    struct tariff *tariff = tariff_of_items(NET, "",
                                            "{ name = \"energy\"; of = \"net\"; price = \"telescopic\"; "
                                            "scale_days = 30; slabs = ( { to = 50; rate = 3; }, { to = 100; "
                                            "rate = 4; }, { to = 150; rate = 5; }, { rate = 6; } ); }");
    static const double limits[] = { 60, 120, 180 };
    (void)state;
    struct bill bill = bill_of(tariff, 36, 200);
    assert_int_equal(bill.line_count, 4);
    for (int32_t i = 0; i < 3; i++)
        assert_int_equal(bill.lines[i].slab_to, KWH(limits[i]));
    assert_int_equal(bill.total, MONEY(60 * 3 + 60 * 4 + 60 * 5 + 20 * 6));
    tariff_free(tariff);
}

/* Andhra Pradesh: groups by the whole use, to 75, to 225 and above, each with slabs of its own (a page of
 * thereportertv). Rates composed. */
static void test_groups(void **state)
{
    struct tariff *tariff = tariff_of_items(
        NET, "",
        "{ name = \"energy\"; of = \"net\"; price = \"chosen\"; tables = ( { to = 75; slabs = ( { to = 50; "
        "rate = 1.45; }, { rate = 2.60; } ); }, { to = 225; slabs = ( { to = 50; rate = 2.60; }, { to = 100; "
        "rate = 2.60; }, { to = 200; rate = 3.60; }, { rate = 6.90; } ); }, { slabs = ( { to = 50; rate = "
        "2.65; }, { to = 100; rate = 3.35; }, { to = 200; rate = 5.40; }, { rate = 7.10; } ); } ); }");
    static const struct {
        double use, total;
    } rows[] = { { 75, 50 * 1.45 + 25 * 2.60 },
                 { 225, 100 * 2.60 + 100 * 3.60 + 25 * 6.90 },
                 { 226, 50 * 2.65 + 50 * 3.35 + 100 * 5.40 + 26 * 7.10 } };
    (void)state;
    for (size_t i = 0; i < 3; i++)
        assert_int_equal(bill_of(tariff, 31, rows[i].use).total, MONEY(rows[i].total));
    tariff_free(tariff);
}

/* What three rules of net metering make of the same three months (composed): Hawaii, Revised Statutes
 * 269-105 and -106: what is left after twelve months expires; California, a utility's page: net surplus of
 * the year is paid, about 0.04 a kWh, and the credit is zero; Andhra Pradesh: settled at each quarter's end
 * at the average cost of supply, 5.54. Sri Lanka: carried for up to ten years, never paid. */
static void test_settlements(void **state)
{
    static const struct {
        const char *netting;
        double settled, after; /* at the end of March; credit in April */
    } rows[] = {
        { "carry = \"energy\"; settle = \"03-31\"; at_settlement = \"lose\";", 0, 50 },
        { "carry = \"energy\"; settle = \"03-31\"; at_settlement = \"pay\"; settle_rate = 0.04;", 7.20, 50 },
        { "carry = \"energy\"; settle = \"03-31 06-30 09-30 12-31\"; at_settlement = \"pay\"; settle_rate = "
          "5.54;",
          997.20, 50 },
        { "carry = \"energy\"; expiry_months = 120;", 0, 230 },
    };
    static const double import[] = { 300, 350, 200, 100 }, export[] = { 400, 280, 350, 150 };
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        char netting[200];
        snprintf(netting, sizeof(netting), "netting = { %s };", rows[i].netting);
        struct tariff *tariff =
            tariff_of_items(NET, netting, "{ name = \"energy\"; of = \"net\"; rate = 5; }");
        struct credit credit = { 0 };
        struct bill bill;
        for (int32_t m = 0; m < 4; m++) {
            struct usage use = use_of(tariff, 0, import[m], export[m]);
            use.from_day = civil_day_number(2024, m + 1, 1);
            use.to_day = civil_day_number(2024, m + 2, 1);
            assert_true(bill_make(&bill, tariff, &house, &use, 1, &credit));
            assert_int_equal(bill.total, 0);
            assert_int_equal(bill.settlement, m == 2 ? MONEY(rows[i].settled) : 0);
        }
        assert_int_equal(bill.credit.out, KWH(rows[i].after));
        tariff_free(tariff);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_demand_of_a_factory),
        cmocka_unit_test(test_late_reading),
        cmocka_unit_test(test_groups),
        cmocka_unit_test(test_settlements),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
