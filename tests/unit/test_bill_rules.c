/* links: tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/one_bill.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* Rules of bills by figures made by hand, and what holds for any tariff. */
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
#include "number.h"
#include "one_bill.h"
#include "tariff_text.h"

/* A revision of +10 % on the thirteenth of thirty days, 220 kWh of which 60 before it: computed by hand for
 * each of the five rules in use. */
static void test_revision(void **state)
{
    static const struct {
        const char *rule;
        double total;
    } rows[] = { { "weighted", 1176.60 },
                 { "split_use", 1239.00 },
                 { "split_days", 898.20 },
                 { "closing", 1221.00 },
                 { "opening", 1110.00 } };
    (void)state;
    for (size_t i = 0; i < 5; i++) {
        char text[2000];
        snprintf(text, sizeof(text),
                 "tariff = { name = \"two\"; currency = \"XTS\"; settlement = \"net_metered\"; revision = "
                 "\"%s\"; };"
                 "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"energy\"; of = \"net\"; price "
                 "= \"telescopic\"; "
                 "slabs = ( { to = 50; rate = 3; }, { to = 100; rate = 4; }, { to = 200; rate = 6; }, { rate "
                 "= 8; } ); } ); "
                 "}, { from = \"2024-06-13\"; items = ( { name = \"energy\"; of = \"net\"; price = "
                 "\"telescopic\"; slabs = ( { "
                 "to = 50; rate = 3.3; }, { to = 100; rate = 4.4; }, { to = 200; rate = 6.6; }, { rate = "
                 "8.8; } ); } ); } );",
                 rows[i].rule);
        struct tariff *tariff = tariff_of(text, NULL, 0);
        struct credit credit = { 0 };
        struct bill bill;
        struct usage uses[2] = { use_of(tariff, 0, 60, 0), use_of(tariff, 0, 160, 0) };
        uses[0].from_day = civil_day_number(2024, 6, 1);
        uses[0].to_day = uses[1].from_day = civil_day_number(2024, 6, 13);
        uses[1].to_day = civil_day_number(2024, 7, 1);
        uses[1].schedule = tariff_at(tariff, uses[1].from_day);
        assert_ptr_equal(uses[0].schedule, tariff_at(tariff, uses[1].from_day - 1));
        assert_ptr_not_equal(uses[0].schedule, uses[1].schedule);
        assert_true(bill_make(&bill, tariff, &house, uses, 2, &credit));
        assert_int_equal(bill.total, MONEY(rows[i].total));
        tariff_free(tariff);
    }
}

/* Demand: the highest interval, never below a share of what was contracted or of the bills before. Figures
 * made by hand. */
static void test_demand(void **state)
{
    struct tariff *tariff =
        tariff_of_items(BILLED, "",
                        "{ name = \"demand\"; of = \"demand\"; rate = 10; ratchet_percent = 65; "
                        "ratchet_bills = 2; contracted_percent = 50; "
                        "},"
                        "{ name = \"contracted\"; of = \"contracted\"; price = \"telescopic\"; slabs = ( { "
                        "to = 1; rate = 20; }, { rate = 35; } ); }");
    struct contract contract = { .with_plant = true, .phases = 1, .contracted = KWH(3) };
    static const double measured[] = { 8, 1, 1, 1 }, charged[] = { 80, 52, 52, 15 };
    struct credit credit = { 0 };
    (void)state;
    for (int32_t m = 0; m < 4; m++) {
        struct usage use = use_of(tariff, 0, 100, 0);
        struct bill bill;
        use.from_day = civil_day_number(2024, m + 1, 1);
        use.to_day = civil_day_number(2024, m + 2, 1);
        use.demand[0] = KWH(measured[m]);
        assert_true(bill_make(&bill, tariff, &contract, &use, 1, &credit));
        assert_int_equal(bill_item_amount(&bill, "demand"), MONEY(charged[m]));
        assert_int_equal(bill_item_amount(&bill, "contracted"), MONEY(20 + 2 * 35));
    }
    tariff_free(tariff);
}

/* Money credit pays what it may, the least bill stays due. Figures made by hand. */
static void test_money_credit(void **state)
{
    struct tariff *tariff = tariff_of_items(
        BILLED, "netting = { carry = \"money\"; pays = \"energy, surplus\"; };",
        "{ name = \"energy\"; of = \"import\"; rate = 4; }, { name = \"surplus\"; of = \"export\"; rate = 2; "
        "pays = true; },"
        "{ name = \"fixed\"; of = \"months\"; rate = 50; },"
        "{ name = \"least\"; of = \"items\"; price = \"least\"; least = 80; items = \"fixed\"; }");
    struct credit credit = { 0 };
    static const double import[] = { 100, 200 }, export[] = { 300, 0 }, totals[] = { 80, 80 + 800 - 200 };
    (void)state;
    for (int32_t m = 0; m < 2; m++) {
        struct usage use = use_of(tariff, 31, import[m], export[m]);
        struct bill bill;
        use.from_day = civil_day_number(2024, m + 1, 1);
        use.to_day = civil_day_number(2024, m + 2, 1);
        assert_true(bill_make(&bill, tariff, &house, &use, 1, &credit));
        assert_int_equal(bill.total, MONEY(totals[m]));
        assert_int_equal(bill.money_out, m == 0 ? MONEY(200) : 0);
    }
    tariff_free(tariff);
}

/* kVAh, kvarh, and a rate that depends on the power factor. Figures made by hand. */
static void test_power_factor(void **state)
{
    struct tariff *tariff = tariff_of_items(
        BILLED, "",
        "{ name = \"energy\"; of = \"apparent\"; rate = 5; }, { name = \"reactive\"; of = \"reactive\"; rate "
        "= 0.5; }, { name = \"low power factor\"; of = \"import\"; price = \"chosen\"; chosen_by = "
        "\"power_factor\"; tables = ( { to = 0.8; slabs = ( { rate = 0.4; } ); }, { to = 0.9; slabs = ( { "
        "rate "
        "= 0.2; } ); }, { slabs = ( { rate = 0; } ); } ); }");
    static const struct {
        double apparent, surcharge;
    } rows[] = { { 125, 40 }, { 124.9, 20 }, { 112, 20 }, { 110, 0 }, { 0, 0 } };
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct usage use = use_of(tariff, 31, 100, 0);
        use.energy[MEASURE_APPARENT][0] = KWH(rows[i].apparent);
        use.energy[MEASURE_REACTIVE][0] = KWH(60);
        struct bill bill = bill_once(tariff, &use);
        assert_int_equal(bill_item_amount(&bill, "energy"), MONEY(5 * rows[i].apparent));
        assert_int_equal(bill_item_amount(&bill, "reactive"), MONEY(30));
        assert_int_equal(bill_item_amount(&bill, "low power factor"), MONEY(rows[i].surcharge));
    }
    tariff_free(tariff);
}

/* A charge for the contracted load is for each month: two months cost twice as much, slab by slab. */
static void test_contracted_months(void **state)
{
    struct tariff *tariff = tariff_of_items(
        BILLED, "",
        "{ name = \"load\"; of = \"contracted\"; price = \"telescopic\"; slabs = ( { to = 1; rate = 20; }, { "
        "rate = 35; } ); }");
    struct contract contract = { .with_plant = true, .phases = 1, .contracted = KWH(5) };
    struct credit credit = { 0 };
    struct usage use = use_of(tariff, 61, 0, 0);
    struct bill bill;
    (void)state;
    assert_true(bill_make(&bill, tariff, &contract, &use, 1, &credit));
    assert_int_equal(bill.total, 2 * MONEY(20 + 4 * 35));
    tariff_free(tariff);
}

/* Import 700, export 800, of which nine tenths of the import, or 500 kWh in 30 days, may be taken off.
 * Figures made by hand. */
static void test_cap(void **state)
{
    static const struct {
        const char *netting, *item;
        int64_t days, import, export, in;             /* kWh */
        int64_t billed, used, lost, paid, out, total; /* of import at 5, of what is above the cap at 2 */
    } cases[] = {
        { "carry = \"energy\"; cap_percent = 90;", "", 30, 700, 800, 0, 70, 0, 0, 0, 170, 350 },
        { "carry = \"energy\"; cap_percent = 90; above_cap = \"lose\";", "", 30, 700, 800, 50, 70, 0, 170, 0,
          50, 350 },
        { "carry = \"energy\"; cap_percent = 90; above_cap = \"pay\";", "pay", 30, 700, 800, 0, 70, 0, 0, 170,
          0, 10 },
        /* credit may fill what room the exports leave */
        { "carry = \"energy\"; cap_percent = 90;", "", 30, 700, 600, 100, 70, 30, 0, 0, 70, 350 },
        { "carry = \"energy\"; cap_kwh = 500;", "", 30, 700, 800, 0, 200, 0, 0, 0, 300, 1000 },
        { "carry = \"energy\"; cap_kwh = 500; cap_days = 30;", "", 36, 700, 800, 0, 100, 0, 0, 0, 200, 500 },
        /* what is beyond the import, but not above the cap, is a surplus as without one */
        { "carry = \"energy\"; cap_kwh = 500; above_cap = \"pay\";", "pay", 30, 100, 600, 0, 0, 0, 0, 100,
          400, -200 },
        { "carry = \"energy\"; cap_kwh = 500; cap_percent = 50;", "", 30, 700, 300, 0, 400, 0, 0, 0, 0,
          2000 },
        { "cap_percent = 100; above_cap = \"pay\";", "pay", 30, 700, 800, 0, 0, 0, 0, 100, 0, -200 },
    };
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char netting[200];
        snprintf(netting, sizeof netting, "netting = { %s };", cases[i].netting);
        struct tariff *tariff = tariff_of_items(
            NET, netting,
            cases[i].item[0] ? "{ name = \"energy\"; of = \"net\"; rate = 5; }, { name = \"above\"; "
                               "of = \"above_cap\"; rate = 2; pays = true; }"
                             : "{ name = \"energy\"; of = \"net\"; rate = 5; }");
        assert_non_null(tariff);
        struct usage use = { .from_day = 0, .to_day = cases[i].days, .schedule = tariff->schedules };
        use.energy[MEASURE_IMPORT][0] = KWH(cases[i].import);
        use.energy[MEASURE_EXPORT][0] = KWH(cases[i].export);
        struct contract contract = { .with_plant = true };
        struct credit credit = { 0 };
        struct bill bill;
        credit_add(&credit, -1, 0, KWH(cases[i].in));
        use.schedule = tariff_at(tariff, civil_day_number(2024, 1, 1));
        assert_true(bill_make(&bill, tariff, &contract, &use, 1, &credit));
        assert_int_equal(bill.energy[MEASURE_NET], KWH(cases[i].billed));
        assert_int_equal(bill.credit.used, KWH(cases[i].used));
        assert_int_equal(bill.credit.lost, KWH(cases[i].lost));
        assert_int_equal(bill.credit.paid, KWH(cases[i].paid));
        assert_int_equal(bill.credit.out, KWH(cases[i].out));
        assert_int_equal(bill.total, KWH(cases[i].total));
        tariff_free(tariff);
    }
}

/* Within each block the share is of that block's import; over all blocks exports are cut in proportion. */
static void test_cap_by_block(void **state)
{
    const struct netting within = {
        .by_block = true, .carry = CARRY_ENERGY, .kept_percent = 100, .cap_share = 500000
    };
    const struct netting whole = { .carry = CARRY_ENERGY, .kept_percent = 100, .cap_energy = KWH(60) };
    const int64_t import[TARIFF_BLOCKS] = { KWH(100), KWH(40) }, export[TARIFF_BLOCKS] = { KWH(30), KWH(90) };
    int64_t net[TARIFF_BLOCKS], above[TARIFF_BLOCKS];
    struct credit credit = { 0 };
    struct credit_use use;
    (void)state;
    credit_net(&credit, &within, 0, 30, 2, import, export, net, above, &use);
    assert_int_equal(net[0], KWH(70));
    assert_int_equal(net[1], KWH(20));
    assert_int_equal(use.above, KWH(70));
    assert_int_equal(use.out, KWH(70));
    credit_net(&credit, &within, 30, 60, 2, import, export, net, above, &use); /* none of block 0 is there */
    assert_int_equal(net[0], KWH(70));
    assert_int_equal(use.used, 0);
    credit = (struct credit){ 0 };
    credit_net(&credit, &whole, 0, 30, 2, import, export, net, above, &use);
    assert_int_equal(net[0], KWH(80)); /* 15 of 30 and 45 of 90 remain, 5 of these for the other block */
    assert_int_equal(net[1], 0);
    assert_int_equal(use.above, KWH(60));
}

/* What is left is worth what the rule would pay; nothing is guessed where there is none. */
static void test_credit_worth(void **state)
{
    struct netting netting = { .carry = CARRY_ENERGY,
                               .settle_count = 1,
                               .settle = { { 3, 31 } },
                               .at_settlement = SETTLE_PAY,
                               .settle_rate = MONEY(2.40) };
    struct credit credit = { 0 };
    (void)state;
    assert_int_equal(credit_worth(&credit, &netting), 0);
    credit_add(&credit, 1, 0, KWH(180));
    credit_add(&credit, 31, 1, KWH(20));
    assert_int_equal(credit_worth(&credit, &netting), MONEY(480));
    netting.at_settlement = SETTLE_LOSE;
    assert_int_equal(credit_worth(&credit, &netting), 0);
    netting.at_settlement = SETTLE_KEEP;
    assert_int_equal(credit_worth(&credit, &netting), UNKNOWN);
    netting.at_settlement = SETTLE_PAY;
    netting.settle_count = 0; /* never */
    assert_int_equal(credit_worth(&credit, &netting), UNKNOWN);
    credit = (struct credit){ .money = MONEY(7) };
    assert_int_equal(credit_worth(&credit, &netting), MONEY(7));
}

/* A revision that changes nothing of what it charges by month, bill, day or demand changes no bill, whatever
 * the rule; and a block that one of its schedules lacks is all other time there. */
static void test_revision_without_change(void **state)
{
    static const char *const rules[] = { "weighted", "split_use", "split_days", "closing", "opening" };
    (void)state;
    for (size_t i = 0; i < 5; i++) {
        char text[3000];
#define BOTH                                                                                                 \
    "{ name = \"demand\"; of = \"demand\"; rate = 10; }, { name = \"load\"; of = \"contracted\"; price = "   \
    "\"telescopic\"; slabs = ( { to = 1; rate = 20; }, { rate = 35; } ); }, { name = \"bill\"; of = "        \
    "\"bills\"; "                                                                                            \
    "rate = 7; }, { name = \"days\"; of = \"days\"; rate = 0.5; }, "
        snprintf(
            text, sizeof(text),
            "tariff = { name = \"two\"; currency = \"XTS\"; settlement = \"net_billed\"; revision = "
            "\"%s\"; };"
            "schedules = ( { from = \"2024-01-01\"; items = ( " BOTH
            "{ name = \"energy\"; of = \"import\"; rate = 2; } ); }, { from = \"2024-06-13\"; blocks = ( "
            "{ name = \"peak\"; from = \"18:00\"; to = \"22:00\"; } ); items = ( " BOTH
            "{ name = \"peak\"; of = \"import\"; block = \"peak\"; rate = 2; }, { name = \"energy\"; of = "
            "\"import\"; block = \"other\"; rate = 2; } ); } );",
            rules[i]);
        struct tariff *tariff = tariff_of(text, NULL, 0);
        struct contract contract = { .with_plant = true, .phases = 1, .contracted = KWH(5) };
        struct credit credit = { 0 };
        struct bill bill;
        struct usage uses[2] = { use_of(tariff, 0, 60, 0), use_of(tariff, 0, 40, 0) };
        uses[0].from_day = civil_day_number(2024, 6, 1);
        uses[0].to_day = uses[1].from_day = civil_day_number(2024, 6, 13);
        uses[1].to_day = civil_day_number(2024, 7, 1);
        uses[1].schedule = &tariff->schedules[1];
        uses[1].energy[MEASURE_IMPORT][1] = KWH(120);
        uses[0].demand[0] = KWH(3);
        uses[1].demand[0] = KWH(1);
        assert_true(bill_make(&bill, tariff, &contract, uses, 2, &credit));
        assert_int_equal(bill.total, MONEY(30 + 160 + 7 + 15 + 2 * 220));
        tariff_free(tariff);
    }
}

/* ---- what holds for any tariff ---- */

static uint64_t draw(uint64_t *seed)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *seed >> 33;
}

/* Where rates rise, more use never costs less; and without anything that pays, a bill is never negative. */
static void test_monotone(void **state)
{
    struct tariff *tariff = tariff_of_items(
        NET "round_line = 0.01; round_quantity = 1;", "netting = { carry = \"energy\"; };",
        "{ name = \"energy\"; of = \"net\"; price = \"telescopic\"; scale_days = 30; slabs = ( { to = 50; "
        "rate = 3.15; }, { to "
        "= 100; rate = 3.70; }, { rate = 7.60; } ); }, { name = \"fixed\"; of = \"months\"; rate = 55; },"
        "{ name = \"duty\"; of = \"items\"; price = \"percent\"; percent = 7.5; items = \"energy, fixed\"; "
        "}");
    uint64_t seed = 20261125;
    int64_t before = 0;
    (void)state;
    for (double import = 0; import < 400; import += 0.05 + (double)(draw(&seed) % 1000) / 1000) {
        struct bill bill = bill_of(tariff, 31, import);
        assert_true(bill.total >= before);
        before = bill.total;
        struct usage use = use_of(tariff, 31, import, (double)(draw(&seed) % 600));
        bill = bill_once(tariff, &use);
        assert_true(bill.total >= 0);
    }
    tariff_free(tariff);
}

/* Where the tariff is linear, a period that is split costs the same as the whole. */
static void test_linear(void **state)
{
    struct tariff *tariff =
        tariff_of_items(BILLED, "",
                        "{ name = \"energy\"; of = \"import\"; rate = 0.237; }, { name = \"daily\"; of = "
                        "\"days\"; rate = 0.41; }, { name = \"surplus\"; of = \"export\"; rate = 0.08; "
                        "pays = true; }");
    uint64_t seed = 7;
    (void)state;
    for (int32_t i = 0; i < 1000; i++) {
        int64_t days = 2 + (int64_t)(draw(&seed) % 60),
                first_days = 1 + (int64_t)(draw(&seed) % (uint64_t)(days - 1));
        struct usage whole = use_of(tariff, days, 0, 0), first = whole, second = whole;
        first.to_day = second.from_day = whole.from_day + first_days;
        for (int32_t m = 0; m < 2; m++) {
            first.energy[m][0] = (int64_t)draw(&seed) * 1000;
            second.energy[m][0] = (int64_t)draw(&seed) * 1000;
            whole.energy[m][0] = first.energy[m][0] + second.energy[m][0];
        }
        assert_int_equal(bill_once(tariff, &whole).total,
                         bill_once(tariff, &first).total + bill_once(tariff, &second).total);
    }
    tariff_free(tariff);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_revision),
        cmocka_unit_test(test_demand),
        cmocka_unit_test(test_money_credit),
        cmocka_unit_test(test_power_factor),
        cmocka_unit_test(test_contracted_months),
        cmocka_unit_test(test_credit_worth),
        cmocka_unit_test(test_cap),
        cmocka_unit_test(test_cap_by_block),
        cmocka_unit_test(test_revision_without_change),
        cmocka_unit_test(test_monotone),
        cmocka_unit_test(test_linear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
