/* links: tools/money/rebill.c tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* What a difference to a bill on paper comes from. Figures made by hand. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "calendar.h"
#include "number.h"
#include "rebill.h"
#include "tariff_text.h"

#define KWH(x) ((int64_t)((x)*1e6 + 0.5))

struct made {
    struct tariff *tariff;
    struct contract contract;
    struct credit credit;
    struct usage uses[2];
    struct bill_basis basis;
    struct bill bill;
};

/* March 2024: 100 kWh at 2, and 50 from the 11th at 3, which was not known before April. */
static void make(struct made *made)
{
    *made = (struct made){ .contract = { .with_plant = true, .phases = 1 } };
    made->tariff = tariff_of(
        "tariff = { name = \"a\"; currency = \"XTS\"; settlement = \"net_billed\"; revision = \"split_use\"; "
        "round_line = 0.05; };\n"
        "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"energy\"; of = \"import\"; rate = 2; } "
        "); },\n"
        "{ from = \"2024-03-11\"; known = \"2024-04-05\"; items = ( { name = \"energy\"; of = \"import\"; "
        "rate = "
        "3; } ); } );\n",
        NULL, 0);
    assert_non_null(made->tariff);
    int64_t day = civil_day_number(2024, 3, 1);
    made->uses[0] =
        (struct usage){ .from_day = day, .to_day = day + 10, .schedule = &made->tariff->schedules[0] };
    made->uses[1] =
        (struct usage){ .from_day = day + 10, .to_day = day + 31, .schedule = &made->tariff->schedules[1] };
    made->uses[0].energy[MEASURE_IMPORT][0] = KWH(100);
    made->uses[1].energy[MEASURE_IMPORT][0] = KWH(50);
    made->uses[1].estimated = KWH(15);
    made->basis = (struct bill_basis){ made->tariff, &made->contract, made->uses, 2, &made->credit };
    struct credit credit = made->credit;
    assert_true(bill_make(&made->bill, made->tariff, &made->contract, made->uses, 2, &credit));
    assert_int_equal(made->bill.total, KWH(350));
}

static void test_readings(void **state)
{
    struct made made;
    struct bill other;
    (void)state;
    make(&made);
    struct paper_bill paper = { .import = KWH(300), .export = UNKNOWN };
    assert_true(rebill_of_reading(&made.basis, &paper, &other));
    assert_int_equal(other.total, KWH(700));
    paper.import = UNKNOWN;
    assert_false(rebill_of_reading(&made.basis, &paper, &other));
    assert_true(rebill_without_estimates(&made.basis, &other)); /* a tenth of all import less */
    assert_int_equal(other.total, KWH(315));
    made.uses[1].estimated = 0;
    assert_false(rebill_without_estimates(&made.basis, &other));
    tariff_free(made.tariff);
}

/* 60 kWh at peak and 240 else; the paper has 90 and 210 of the same 300, and so other amounts. */
static void test_registers(void **state)
{
    struct tariff *tariff = tariff_of(
        "tariff = { name = \"a\"; currency = \"XTS\"; settlement = \"net_billed\"; revision = "
        "\"split_use\"; };\n"
        "schedules = ( { from = \"2024-01-01\"; blocks = ( { name = \"peak\"; from = \"18:00\"; to = "
        "\"22:00\"; } );\n items = ( { name = \"peak\"; of = \"import\"; block = \"peak\"; rate = 9; }, { "
        "name = \"rest\"; of = \"import\"; block = \"other\"; rate = 4; } ); } );\n",
        NULL, 0);
    assert_non_null(tariff);
    struct contract contract = { .with_plant = true, .phases = 1 };
    struct credit credit = { 0 };
    int64_t day = civil_day_number(2024, 3, 1);
    struct usage use = { .from_day = day, .to_day = day + 31, .schedule = &tariff->schedules[0] };
    use.energy[MEASURE_IMPORT][0] = KWH(60);
    use.energy[MEASURE_IMPORT][1] = KWH(240);
    const struct bill_basis basis = { tariff, &contract, &use, 1, &credit };
    struct paper_bill paper = { .import = UNKNOWN, .export = UNKNOWN, .reading_count = 2 };
    paper.readings[0] = (struct paper_reading){ .of = MEASURE_IMPORT, .block = "peak", .energy = KWH(90) };
    paper.readings[1] = (struct paper_reading){ .of = MEASURE_IMPORT, .block = "other", .energy = KWH(210) };
    struct bill other;
    (void)state;
    assert_int_equal(rebill_energy(&basis, &paper.readings[0]), KWH(60));
    assert_int_equal(rebill_energy(&basis, &paper.readings[1]), KWH(240));
    assert_true(rebill_of_reading(&basis, &paper, &other));
    assert_int_equal(bill_item_amount(&other, "peak"), KWH(90 * 9));
    assert_int_equal(bill_item_amount(&other, "rest"), KWH(210 * 4));
    paper.reading_count = 1; /* what the paper does not print of a block stays ours */
    assert_true(rebill_of_reading(&basis, &paper, &other));
    assert_int_equal(bill_item_amount(&other, "rest"), KWH(240 * 4));
    use.energy[MEASURE_IMPORT][0] = 0;
    assert_true(rebill_of_reading(&basis, &paper, &other));
    assert_int_equal(bill_item_amount(&other, "peak"), KWH(90 * 9));
    tariff_free(tariff);
}

static void test_schedules(void **state)
{
    struct made made;
    struct bill other;
    const struct schedule *late;
    (void)state;
    make(&made);
    assert_true(rebill_as_known(&made.basis, civil_day_number(2024, 4, 1), &late, &other));
    assert_int_equal(other.total, KWH(300));
    assert_int_equal(other.line_count, 1); /* one schedule, one stretch */
    assert_ptr_equal(late, &made.tariff->schedules[1]);
    assert_false(rebill_as_known(&made.basis, civil_day_number(2024, 4, 6), &late, &other));
    assert_false(rebill_as_known(&made.basis, civil_day_number(2023, 4, 6), &late, &other));
    tariff_free(made.tariff);
}

static void test_differences(void **state)
{
    struct made made;
    (void)state;
    make(&made);
    int64_t rounding = rebill_rounding(made.tariff, &made.bill, "energy");
    assert_int_equal(rounding, KWH(0.10)); /* two lines of 0.05 */
    assert_int_equal(rebill_rounding(made.tariff, &made.bill, NULL), KWH(0.01));
    assert_int_equal(difference_of(KWH(350), KWH(350), UNKNOWN, UNKNOWN, rounding), DIFFERENCE_NONE);
    assert_int_equal(difference_of(KWH(350), KWH(350.10), UNKNOWN, UNKNOWN, rounding), DIFFERENCE_ROUNDING);
    assert_int_equal(difference_of(KWH(350), KWH(350.11), UNKNOWN, UNKNOWN, rounding), DIFFERENCE_RATE);
    assert_int_equal(difference_of(KWH(350), KWH(700), KWH(700), UNKNOWN, rounding), DIFFERENCE_QUANTITY);
    assert_int_equal(difference_of(KWH(350), KWH(300), KWH(700), KWH(300), rounding), DIFFERENCE_SCHEDULE);
    tariff_free(made.tariff);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_readings),
        cmocka_unit_test(test_registers),
        cmocka_unit_test(test_schedules),
        cmocka_unit_test(test_differences),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
