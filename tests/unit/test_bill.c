/* links: tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/one_bill.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* Bills against published ones, to the last digit; each names where it is from. */
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

/* Kerala, domestic, single phase: 234 units in two months, billed as 117 a month;
 * ksebinfoportal.blogspot.com, July 2020, which explains the regulator's tariff. */
static void test_kerala(void **state)
{
    struct tariff *tariff = tariff_of_items(
        NET, "",
        "{ name = \"energy\"; of = \"net\"; price = \"telescopic\"; slabs = ( { to = 50; rate = 3.15; }, { "
        "to = 100; rate "
        "= 3.70; }, { to = 150; rate = 4.80; }, { to = 200; rate = 6.40; }, { rate = 7.60; } ); },"
        "{ name = \"duty\"; of = \"items\"; price = \"percent\"; percent = 10; items = \"energy\"; },"
        "{ name = \"meter rent\"; of = \"bills\"; rate = 6.00; },"
        "{ name = \"tax on the rent\"; of = \"items\"; price = \"percent\"; percent = 18; items = \"meter "
        "rent\"; },"
        "{ name = \"cess on the rent\"; of = \"items\"; price = \"percent\"; percent = 1; items = \"meter "
        "rent\"; },"
        "{ name = \"fuel surcharge\"; of = \"net\"; rate = 0.10; },"
        "{ name = \"fixed\"; of = \"bills\"; rate = 55; }");
    (void)state;
    struct bill bill = bill_of(tariff, 31, 117);
    assert_int_equal(bill_item_amount(&bill, "energy"), MONEY(424.10));
    assert_int_equal(bill_item_amount(&bill, "duty"), MONEY(42.41));
    assert_int_equal(bill_item_amount(&bill, "tax on the rent"), MONEY(1.08));
    assert_int_equal(bill_item_amount(&bill, "fuel surcharge"), MONEY(11.70));
    assert_int_equal(bill.total, MONEY(540.35));
    tariff_free(tariff);
}

/* The same place: above 250 units a month the whole use has one rate. Rates composed; the rule is the
 * source's. */
static void test_whole(void **state)
{
    struct tariff *tariff = tariff_of_items(NET, "",
                                            "{ name = \"energy\"; of = \"net\"; price = \"whole\"; slabs = ( "
                                            "{ to = 300; rate = 5.80; }, { to = 350; rate = "
                                            "6.60; }, { rate = 7.90; } ); }");
    (void)state;
    struct bill bill = bill_of(tariff, 31, 300);
    assert_int_equal(bill.total, MONEY(1740));
    bill = bill_of(tariff, 31, 300.001);
    assert_int_equal(bill.total, MONEY(300.001 * 6.60));
    assert_int_equal(bill.lines[0].slab_from, KWH(300));
    tariff_free(tariff);
}

/* Sri Lanka, domestic: 210 units in 31 days, blocks of 30 scale with the days; lankafreezone.com, page of a
 * bill calculator. */
static void test_scaled_slabs(void **state)
{
    struct tariff *tariff = tariff_of_items(NET, "",
                                            "{ name = \"energy\"; of = \"net\"; price = \"telescopic\"; "
                                            "scale_days = 30; slabs = ( { to = 30; rate = 3.00; }, "
                                            "{ to = 60; rate = 4.70; }, { to = 90; rate = 7.50; }, { to = "
                                            "120; rate = 21.00; }, { to = 180; rate = 24.00; }, "
                                            "{ rate = 36.00; } ); },"
                                            "{ name = \"fuel adjustment\"; of = \"items\"; price = "
                                            "\"percent\"; percent = 40; items = \"energy\"; }");
    static const double slabs[] = { 93.00, 145.70, 232.50, 651.00, 1488.00, 864.00 };
    (void)state;
    struct bill bill = bill_of(tariff, 31, 210);
    for (size_t i = 0; i < 6; i++)
        assert_int_equal(bill.lines[i].amount, MONEY(slabs[i]));
    assert_int_equal(bill_item_amount(&bill, "energy"), MONEY(3474.20));
    assert_int_equal(bill.total, MONEY(4863.88));
    /* 30 units in 28 days: 28 in the first slab, 2 in the second (the same page) */
    bill = bill_of(tariff, 28, 30);
    assert_int_equal(bill.lines[0].quantity, KWH(28));
    assert_int_equal(bill.lines[1].quantity, KWH(2));
    tariff_free(tariff);
}

/* Tamil Nadu 2012: the table, and the fixed charge, chosen by the whole use; a news page of 2012-06-20. The
 * last figure is composed from the same table. */
static void test_chosen_table(void **state)
{
    struct tariff *tariff = tariff_of_items(
        NET, "",
        "{ name = \"energy\"; of = \"net\"; price = \"chosen\"; tables = ( { to = 100; slabs = ( { rate = "
        "1.00; } ); },"
        " { to = 200; slabs = ( { rate = 1.50; } ); }, { to = 500; slabs = ( { to = 200; rate = 2.00; }, { "
        "rate = 3.00; } "
        "); }, { slabs = ( { to = 200; rate = 3.00; }, { to = 500; rate = 4.00; }, { rate = 5.75; } ); } ); "
        "},"
        "{ name = \"fixed\"; of = \"bills\"; price = \"chosen\"; chosen_by = \"net\"; tables = ( { to = 200; "
        "slabs = ( { "
        "rate = 20; } ); }, { to = 500; slabs = ( { rate = 30; } ); }, { slabs = ( { rate = 40; } ); } ); }");
    static const struct {
        double import, total;
    } rows[] = { { 80, 100 }, { 130, 215 }, { 230, 520 }, { 600, 2415 } };
    (void)state;
    for (size_t i = 0; i < 4; i++) {
        struct bill bill = bill_of(tariff, 31, rows[i].import);
        assert_int_equal(bill.total, MONEY(rows[i].total));
    }
    tariff_free(tariff);
}

/* City of Seymour, Wisconsin, its page of billing examples; each line rounded half up. */
static void test_rounded_lines(void **state)
{
#define SEYMOUR(slabs)                                                                                       \
    "{ name = \"energy\"; of = \"net\"; price = \"telescopic\"; slabs = ( " slabs " ); },"                   \
    "{ name = \"power cost\"; of = \"net\"; rate = 0.085; }, { name = \"base\"; of = \"bills\"; rate = "     \
    "7.50; },"                                                                                               \
    "{ name = \"tax\"; of = \"items\"; price = \"percent\"; percent = 1; items = \"energy, power cost, "     \
    "base\"; }"
    struct tariff *winter = tariff_of_items(
        NET "round_line = 0.01;", "",
        SEYMOUR("{ to = 250; rate = 0.064; }, { to = 700; rate = 0.049; }, { rate = 0.0446; }"));
    struct tariff *summer = tariff_of_items(NET "round_line = 0.01;", "",
                                            SEYMOUR("{ to = 250; rate = 0.064; }, { to = 700; rate = 0.049; "
                                                    "}, { to = 1250; rate = 0.0475; }, { rate = "
                                                    "0.0446; }"));
    (void)state;
    struct bill bill = bill_of(winter, 31, 1200);
    assert_int_equal(bill.lines[0].amount, MONEY(16.00));
    assert_int_equal(bill.lines[1].amount, MONEY(22.05));
    assert_int_equal(bill.lines[2].amount, MONEY(22.30));
    assert_int_equal(bill_item_amount(&bill, "tax"), MONEY(1.70));
    assert_int_equal(bill.total, MONEY(171.55));
    bill = bill_of(summer, 31, 2000);
    assert_int_equal(bill.lines[2].amount, MONEY(26.13)); /* 26.125 */
    assert_int_equal(bill.lines[3].amount, MONEY(33.45));
    assert_int_equal(bill.total, MONEY(277.88));
    tariff_free(winter);
    tariff_free(summer);
}

/* Commercial bill reproduced from the Energy Management Handbook, chapter 18.5.1. */
static void test_commercial(void **state)
{
    struct tariff *tariff = tariff_of_items(NET "round_line = 0.01;", "",
                                            "{ name = \"energy\"; of = \"net\"; rate = 0.09444; }, { name = "
                                            "\"adjustment\"; of = \"net\"; rate = -0.017192; },"
                                            "{ name = \"demand\"; of = \"bills\"; rate = 262.34; }, { name = "
                                            "\"customer\"; of = \"bills\"; rate = 3.74; }");
    (void)state;
    struct bill bill = bill_of(tariff, 31, 17588);
    assert_int_equal(bill_item_amount(&bill, "energy"), MONEY(1661.01));
    assert_int_equal(bill_item_amount(&bill, "adjustment"), MONEY(-302.37));
    assert_int_equal(bill.total, MONEY(1624.72));
    tariff_free(tariff);
}

/* Ontario, summer of 2012: on 11.7, mid 10.0, off 6.5 cents (a presentation of the regulator's prices), its
 * sample quantities 135, 127, 488 kWh; the product is composed. */
static void test_time_of_use(void **state)
{
    struct tariff *tariff = tariff_of_items(
        BILLED,
        "blocks = ( { name = \"mid\"; months = \"5-10\"; days = \"mon-fri\"; from = \"07:00\"; to = "
        "\"11:00\"; }, { name = "
        "\"mid\"; months = \"5-10\"; days = \"mon-fri\"; from = \"17:00\"; to = \"19:00\"; }, { name = "
        "\"on\"; months = "
        "\"5-10\"; days = \"mon-fri\"; from = \"11:00\"; to = \"17:00\"; } );",
        "{ name = \"on\"; of = \"import\"; block = \"on\"; rate = 0.117; }, { name = \"mid\"; of = "
        "\"import\"; block = "
        "\"mid\"; rate = 0.100; }, { name = \"off\"; of = \"import\"; block = \"other\"; rate = 0.065; }");
    const struct schedule *schedule = &tariff->schedules[0];
    int64_t monday = civil_day_number(2012, 7, 2);
    struct usage use = use_of(tariff, 31, 0, 0);
    static const struct {
        int32_t hour;
        const char *block;
    } hours[] = { { 6, "other" }, { 7, "mid" },  { 10, "mid" },  { 11, "on" },
                  { 16, "on" },   { 17, "mid" }, { 19, "other" } };
    (void)state;
    for (size_t i = 0; i < sizeof(hours) / sizeof(hours[0]); i++)
        assert_string_equal(
            schedule->blocks[schedule_block(tariff, schedule, monday, hours[i].hour * 3600)].name,
            hours[i].block);
    assert_string_equal(schedule->blocks[schedule_block(tariff, schedule, monday - 1, 12 * 3600)].name,
                        "other");
    use.energy[MEASURE_IMPORT][schedule_block(tariff, schedule, monday, 12 * 3600)] = KWH(135);
    use.energy[MEASURE_IMPORT][schedule_block(tariff, schedule, monday, 8 * 3600)] = KWH(127);
    use.energy[MEASURE_IMPORT][schedule_block(tariff, schedule, monday, 0)] = KWH(488);
    struct bill bill = bill_once(tariff, &use);
    assert_int_equal(bill.total, MONEY(60.215));
    tariff_free(tariff);
}

/* A vector of carried credit, made by hand: with and without a settlement after the third month. */
static void test_carried(void **state)
{
    static const double import[] = { 300, 350, 200, 500 }, export[] = { 400, 280, 350, 100 };
    static const double used[] = { 0, 70, 0, 180 }, billed[] = { 0, 0, 0, 220 },
                        after[] = { 100, 30, 180, 0 };
    struct tariff *never =
        tariff_of_items(NET, "netting = { carry = \"energy\"; };",
                        "{ name = \"energy\"; of = \"net\"; rate = 5; }, { name = \"fixed\"; of = "
                        "\"months\"; rate = 40; }");
    struct tariff *settled = tariff_of_items(
        NET,
        "netting = { carry = \"energy\"; settle = \"03-31\"; at_settlement = \"pay\"; settle_rate = 2.5; };",
        "{ name = \"energy\"; of = \"net\"; rate = 5; }");
    struct credit credit = { 0 }, other = { 0 };
    (void)state;
    for (int32_t m = 0; m < 4; m++) {
        struct usage use = use_of(never, 0, import[m], export[m]);
        struct bill bill;
        use.from_day = civil_day_number(2024, m + 1, 1);
        use.to_day = civil_day_number(2024, m + 2, 1);
        assert_true(bill_make(&bill, never, &house, &use, 1, &credit));
        assert_int_equal(bill.credit.used, KWH(used[m]));
        assert_int_equal(bill.energy[MEASURE_NET], KWH(billed[m]));
        assert_int_equal(bill.credit.out, KWH(after[m]));
        /* the fixed charge stays due where the net is nothing */
        assert_int_equal(bill.total, MONEY(40 + 5 * billed[m]));
        use.schedule = &settled->schedules[0];
        assert_true(bill_make(&bill, settled, &house, &use, 1, &other));
        assert_int_equal(bill.settled, m == 2);
        assert_int_equal(bill.settlement, m == 2 ? MONEY(450) : 0);
        assert_int_equal(bill.total, m == 3 ? MONEY(2000) : 0);
    }
    tariff_free(never);
    tariff_free(settled);
}

/* Tamil Nadu's consumer guide to net metering: import 900, export 500: 400 are billed. Delhi's guidelines
 * (slides): each period of the day is offset by what was made in the same one. */
static void test_netting(void **state)
{
    struct tariff *whole = tariff_of_items(NET, "", "{ name = \"energy\"; of = \"net\"; rate = 1; }");
    struct tariff *blocks = tariff_of_items(NET,
                                            "blocks = ( { name = \"peak\"; from = \"18:00\"; to = \"22:00\"; "
                                            "} ); netting = { carry = \"energy\"; by_block = true; };",
                                            "{ name = \"energy\"; of = \"net\"; rate = 1; }");
    struct usage use = use_of(whole, 31, 900, 500);
    (void)state;
    struct bill bill = bill_once(whole, &use);
    assert_int_equal(bill.energy[MEASURE_NET], KWH(400));
    use = use_of(blocks, 31, 300, 0); /* block 0 is the peak */
    use.energy[MEASURE_IMPORT][1] = KWH(600);
    use.energy[MEASURE_EXPORT][1] = KWH(700);
    bill = bill_once(blocks, &use);
    assert_int_equal(bill.energy[MEASURE_NET], KWH(300));
    assert_int_equal(bill.credit.out, KWH(100));
    tariff_free(whole);
    tariff_free(blocks);
}

/* Ontario's small feed-in programme: 3 kW added to 1 kW, 375 kWh made: 281.25 kWh at the new rate. Sri
 * Lanka's net accounting: 22.00 a kWh in the years 1 to 7, 15.50 from the eighth. (standards.md names both;
 * rates of the first are invented.) */
static void test_rates_by_age(void **state)
{
    struct tariff *shares = tariff_of_items("settlement = \"gross\";", "",
                                            "{ name = \"feed-in\"; of = \"production\"; pays = true; ages = "
                                            "( { commissioned_before = \"2012-01-01\"; rate = "
                                            "0.80; }, { rate = 0.50; } ); }");
    struct tariff *years = tariff_of_items(BILLED, "",
                                           "{ name = \"surplus\"; of = \"export\"; pays = true; ages = ( { "
                                           "below_years = 7; rate = 22.00; }, { rate = 15.50; } "
                                           "); }");
    struct contract contract = { .with_plant = true,
                                 .phases = 1,
                                 .part_count = 2,
                                 .parts = { { civil_day_number(2011, 5, 1), KWH(1) },
                                            { civil_day_number(2013, 5, 1), KWH(3) } } };
    struct credit credit = { 0 };
    struct bill bill;
    struct usage use = use_of(shares, 31, 0, 0);
    (void)state;
    use.energy[MEASURE_PRODUCTION][0] = KWH(375);
    assert_true(bill_make(&bill, shares, &contract, &use, 1, &credit));
    assert_int_equal(bill.lines[0].quantity, KWH(93.75));
    assert_int_equal(bill.lines[1].quantity, KWH(281.25));
    assert_int_equal(bill.total, -MONEY(93.75 * 0.80 + 281.25 * 0.50));
    contract.part_count = 1;
    for (int32_t year = 2017; year <= 2018; year++) {
        use = use_of(years, 0, 0, 100);
        use.from_day = civil_day_number(year, 5, 1);
        use.to_day = civil_day_number(year, 6, 1);
        assert_true(bill_make(&bill, years, &contract, &use, 1, &credit));
        assert_int_equal(bill.total, year == 2017 ? -MONEY(2200) : -MONEY(1550));
    }
    tariff_free(shares);
    tariff_free(years);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_kerala),        cmocka_unit_test(test_whole),
        cmocka_unit_test(test_scaled_slabs),  cmocka_unit_test(test_chosen_table),
        cmocka_unit_test(test_rounded_lines), cmocka_unit_test(test_commercial),
        cmocka_unit_test(test_time_of_use),   cmocka_unit_test(test_carried),
        cmocka_unit_test(test_netting),       cmocka_unit_test(test_rates_by_age),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
