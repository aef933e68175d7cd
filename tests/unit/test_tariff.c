/* links: tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c tests/fake/tariff_text.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* A tariff's file: what is read of it, and what is said of mistakes. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "calendar.h"
#include "credit.h"
#include "muldiv.h"
#include "tariff_text.h"

enum { SAID_SIZE = 8000 };

static void test_read(void **state)
{
    struct tariff *tariff = tariff_of(
        "tariff = { name = \"Invented\"; currency = \"JPY\"; settlement = \"net_billed\"; revision = "
        "\"split_use\";\n"
        "  round_line = 1; round_line_how = \"half_even\"; until = \"2025-03-31\"; demand_minutes = 30; };\n"
        "holidays = ( \"2024-01-01\", \"2024-05-01\" );\n"
        "schedules = (\n"
        "  { from = \"2024-01-01\"; known = \"2024-02-10\"; source = \"an invented order\";\n"
        "    blocks = ( { name = \"night\"; from = \"22:00\"; to = \"06:00\"; },\n"
        "               { name = \"peak\"; months = \"10-3\"; days = \"mon-fri\"; from = \"17:00\"; to = "
        "\"20:00\"; } );\n"
        "    items = ( { name = \"peak\"; of = \"import\"; block = \"peak\"; rate = 31.25; },\n"
        "              { name = \"tax\"; of = \"items\"; price = \"percent\"; percent = 12.5; items = "
        "\"peak\"; } ); },\n"
        "  { from = \"2024-07-01\"; items = ( { name = \"all\"; of = \"import\"; rate = 0.000001; } ); } "
        ");\n",
        NULL, 0);
    (void)state;
    assert_non_null(tariff);
    assert_int_equal(tariff->decimals, 0);
    assert_int_equal(tariff->demand_s, 1800);
    assert_int_equal(tariff->line.how, ROUND_HALF_EVEN);
    assert_int_equal(tariff->schedule_count, 2);
    assert_int_equal(tariff->schedules[0].known_day, civil_day_number(2024, 2, 10));
    assert_int_equal(tariff->schedules[0].items[0].rate, 31250000);
    assert_int_equal(tariff->schedules[0].items[1].rate, 125000);
    assert_int_equal(tariff->schedules[1].items[0].rate, 1);
    assert_null(tariff_at(tariff, civil_day_number(2023, 12, 31)));
    assert_ptr_equal(tariff_at(tariff, civil_day_number(2024, 6, 30)), &tariff->schedules[0]);
    assert_ptr_equal(tariff_at(tariff, civil_day_number(2025, 3, 31)), &tariff->schedules[1]);
    assert_null(tariff_at(tariff, civil_day_number(2025, 4, 1)));
    tariff_free(tariff);
}

/* Blocks over midnight belong to the day on which they begin; a holiday is no weekday. */
static void test_blocks(void **state)
{
    struct tariff *tariff =
        tariff_of("tariff = { name = \"Invented\"; currency = \"XTS\"; settlement = \"net_billed\"; revision "
                  "= \"closing\"; };\n"
                  "holidays = ( \"2024-01-02\" );\n"
                  "schedules = ( { from = \"2020-01-01\"; blocks = (\n"
                  "  { name = \"weekend night\"; days = \"fri sat\"; from = \"23:00\"; to = \"05:00\"; },\n"
                  "  { name = \"holiday\"; days = \"holidays sun\"; },\n"
                  "  { name = \"winter noon\"; months = \"11-2\"; days = \"mon-fri\"; from = \"11:00\"; to = "
                  "\"13:00\"; } );\n"
                  "  items = ( { name = \"all\"; of = \"import\"; rate = 1; } ); } );\n",
                  NULL, 0);
    static const struct {
        int32_t month, day, minute;
        const char *block;
    } rows[] = {
        { 1, 5, 23 * 60, "weekend night" }, /* Friday */
        { 1, 6, 4 * 60 + 59, "weekend night" },
        { 1, 6, 5 * 60, "other" },
        { 1, 7, 4 * 60, "weekend night" }, /* begun on Saturday */
        { 1, 7, 5 * 60, "holiday" },       /* Sunday */
        { 1, 2, 12 * 60, "holiday" },      /* a Tuesday */
        { 1, 3, 12 * 60, "winter noon" },
        { 1, 3, 13 * 60, "other" },
        { 2, 29, 11 * 60, "winter noon" },
        { 3, 1, 11 * 60, "other" },
    };
    (void)state;
    assert_non_null(tariff);
    const struct schedule *schedule = &tariff->schedules[0];
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        int64_t day = civil_day_number(2024, rows[i].month, rows[i].day);
        assert_string_equal(schedule->blocks[schedule_block(tariff, schedule, day, rows[i].minute * 60)].name,
                            rows[i].block);
    }
    tariff_free(tariff);
}

#define HEAD                                                                                                 \
    "tariff = { name = \"a\"; currency = \"XTS\"; settlement = \"net_metered\"; revision = \"closing\"; "    \
    "};\n"
#define CAPPED(netting)                                                                                      \
    HEAD "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"a\"; of = \"net\"; rate = 1; } );\n"   \
         "netting = { " netting " }; } );\n"
#define ITEMS(items) HEAD "schedules = ( { from = \"2024-01-01\";\nitems = ( " items " ); } );\n"

static void test_mistakes(void **state)
{
    static const struct {
        const char *text, *said;
    } rows[] = {
        { "", "'tariff' is missing" },
        { HEAD, "'schedules' has 0 groups" },
        { "tariff = { name = \"a\"; currency = \"Xts\"; settlement = \"net\"; revision = \"closing\"; };\n",
          "tariff:1: 'settlement' is \"net\", allowed: \"net_metered\", \"net_billed\" or \"gross\"" },
        { "tariff = { name = \"a\"; currency = \"xts\"; settlement = \"gross\"; revision = \"closing\"; };\n",
          "allowed: a code of ISO 4217" },
        { ITEMS("{ name = \"a\"; of = \"import\"; }"), "tariff:3: 'rate' is missing" },
        { ITEMS("{ name = \"a\"; of = \"power_factor\"; rate = 1; }"), "tariff:3: 'of' is \"power_factor\"" },
        { ITEMS("{ name = \"a\"; of = \"import\"; rate = 1; apparent_percent = 90; }"),
          "'apparent_percent' stands with \"import\"" },
        { ITEMS("{ name = \"a\"; of = \"demand\"; rate = 1; ratchet_months = \"13\"; }"),
          "'ratchet_months' is \"13\", allowed: months" },
        { HEAD
          "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"a\"; of = \"net\"; rate = 1; } );\n"
          "netting = { settle = \"03-31 06-30 09-30 12-31 01-01\"; }; } );\n",
          "tariff:3: 'settle' is \"01-01\", allowed: up to four days" },
        { HEAD
          "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"a\"; of = \"net\"; rate = 1; } ); },\n"
          "{ from = \"2025-01-01\"; blocks = ( { name = \"night\"; } ); items = ( { name = \"a\"; of = "
          "\"net\"; rate = 1; } ); netting = { carry = \"energy\"; by_block = true; }; } );\n",
          "tariff:3: blocks are not those of the schedule before" },
        { CAPPED("cap_percent = 0;"), "'cap_percent' is 0, allowed: a number from 0.01 to 100" },
        { CAPPED("cap_days = 30;"), "tariff:3: 'cap_days' stands without 'cap_kwh'" },
        { CAPPED("above_cap = \"lose\";"), "tariff:3: 'above_cap' stands without a cap" },
        { CAPPED("cap_kwh = 5; above_cap = \"pay\";"),
          "tariff:3: items of \"above_cap\" and 'above_cap' do not" },
        { ITEMS("{ name = \"a\"; of = \"above_cap\"; rate = 1; }"),
          "items of \"above_cap\" and 'above_cap' do not" },
        { "tariff = { name = \"a\"; currency = \"XTS\"; settlement = \"gross\"; revision = \"closing\"; };\n"
          "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"a\"; of = \"import\"; rate = 1; } );\n"
          "netting = { cap_kwh = 1; }; } );\n",
          "tariff:3: netting is capped, allowed: under the settlement \"net_metered\" only" },
        { ITEMS("{ name = \"a\"; of = \"import\"; rate = 0.1234567; }"), "with at most 6 decimals" },
        { ITEMS("{ name = \"a\"; of = \"import\"; rate = 1; slabs = ( { rate = 1; } ); }"),
          "'slabs' does not belong here, it is for 'price' \"telescopic\" or \"whole\"" },
        { ITEMS("{ name = \"a\"; of = \"imports\"; rate = 1; }"),
          "'of' is \"imports\", allowed: \"import\"" },
        { ITEMS("{ name = \"a\"; of = \"net\"; price = \"telescopic\"; slabs = ( { to = 50; rate = 1; }, { "
                "to = 40; rate = 2; "
                "}, { rate = 3; } ); }"),
          "'to' does not rise" },
        { ITEMS(
              "{ name = \"a\"; of = \"net\"; price = \"telescopic\"; slabs = ( { to = 50; rate = 1; } ); }"),
          "'to' stands on the last slab" },
        { ITEMS("{ name = \"a\"; of = \"net\"; block = \"peak\"; rate = 1; }"),
          "there is no block \"peak\"" },
        { ITEMS("{ name = \"a\"; of = \"days\"; block = \"other\"; rate = 1; }"),
          "'days' is not counted by block" },
        { ITEMS("{ name = \"t\"; of = \"items\"; price = \"percent\"; percent = 5; items = \"a\"; }"),
          "there is no item \"a\" before this" },
        { ITEMS("{ name = \"t\"; of = \"import\"; price = \"percent\"; percent = 5; items = \"t\"; }"),
          "allowed: \"items\" with" },
        { ITEMS("{ name = \"a\"; of = \"net\"; rate = 1; }, { name = \"a\"; of = \"net\"; rate = 2; }"),
          "two items are named \"a\"" },
        { ITEMS("{ name = \"a\"; of = \"net\"; rate = 1; ratchet_percent = 50; }"),
          "a least demand stands with \"net\"" },
        { HEAD
          "schedules = ( { from = \"2024-01-01\"; items = ( { name = \"a\"; of = \"net\"; rate = 1; } ); },\n"
          "{ from = \"2024-01-01\"; items = ( { name = \"a\"; of = \"net\"; rate = 1; } ); } );\n",
          "tariff:3: a schedule does not begin after the one before it" },
        { HEAD "schedules = ( { from = \"2023-02-29\"; items = ( { name = \"a\"; of = \"net\"; rate = 1; } "
               "); } );\n",
          "allowed: a date as in" },
        { HEAD "schedules = ( { from = \"2024-01-01\"; netting = { carry = \"energy\"; settle = \"02-29\"; "
               "}; items = ( { name = "
               "\"a\"; of = \"net\"; rate = 1; } ); } );\n",
          "allowed: a day of each year" },
        { HEAD "schedules = ( { from = \"2024-01-01\"; blocks = ( { name = \"p\"; from = \"7:00\"; } ); "
               "items = ( { name = \"a\"; "
               "of = \"net\"; rate = 1; } ); } );\n",
          "allowed: a time of day" },
        { HEAD "holidays = ( \"2024-05-01\", \"2024-01-01\" );\nschedules = ( { from = \"2024-01-01\"; items "
               "= ( { name = \"a\"; of = "
               "\"net\"; rate = 1; } ); } );\n",
          "each later than the one before" },
        { HEAD "prices = 1;\n", "unknown key 'prices'" },
        { HEAD "schedules = ( { from = ", "syntax" },
    };
    char said[SAID_SIZE];
    (void)state;
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        struct tariff *tariff = tariff_of(rows[i].text, said, sizeof(said));
        if (tariff || !strstr(said, rows[i].said))
            fprintf(stderr, "row %zu: expected '%s', came: %s\n", i, rows[i].said, said);
        assert_null(tariff);
        assert_non_null(strstr(said, rows[i].said));
    }
}

static uint64_t draw(uint64_t *seed)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *seed >> 33;
}

/* Credit is conserved under every way of netting: each kWh that was exported beyond the import is used,
 * carried, settled or lost, and the books say which. */
static void test_credit_conserved(void **state)
{
    uint64_t seed = 25112026;
    (void)state;
    for (int32_t run = 0; run < 400; run++) {
        struct credit credit = { 0 };
        struct netting netting = { .by_block = draw(&seed) % 2,
                                   .carry = draw(&seed) % 4 ? CARRY_ENERGY : CARRY_NOTHING,
                                   .kept_percent = draw(&seed) % 3 ? 100 : 90,
                                   .expiry_months = (int32_t)(draw(&seed) % 2 * 6),
                                   .settle_count = (int32_t)(draw(&seed) % 2),
                                   .settle = { { 4, 15 } },
                                   .at_settlement = (enum at_settlement)(draw(&seed) % 3) };
        netting.across = netting.by_block && draw(&seed) % 2;
        netting.cap_share = draw(&seed) % 2 ? 10000 * (int64_t)(1 + draw(&seed) % 100) : 0;
        netting.cap_energy = draw(&seed) % 3 ? 0 : 1 + (int64_t)draw(&seed);
        netting.cap_days = draw(&seed) % 2 ? 30 : 0;
        netting.above_cap = (enum above_cap)(draw(&seed) % 3);
        int64_t day = civil_day_number(2020, 1, 1) + (int64_t)(draw(&seed) % 40);
        for (int32_t bill = 0; bill < 40; bill++) {
            int64_t import[TARIFF_BLOCKS] = { 0 }, export[TARIFF_BLOCKS] = { 0 }, net[TARIFF_BLOCKS],
                    above[TARIFF_BLOCKS];
            int64_t to = day + 25 + (int64_t)(draw(&seed) % 10), billed = 0, bought = 0, sold = 0, paid = 0;
            struct credit_use use;
            for (int32_t b = 0; b < 3; b++) {
                bought += import[b] = (int64_t)draw(&seed);
                sold += export[b] = (int64_t)draw(&seed);
            }
            credit_net(&credit, &netting, day, to, TARIFF_BLOCKS, import, export, net, above, &use);
            for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
                assert_true(net[b] >= 0 && net[b] <= import[b]);
                billed += net[b];
                paid += above[b];
                if (netting.cap_share > 0 && netting.by_block && !netting.across)
                    assert_true(import[b] - net[b] <= mul_div(import[b], netting.cap_share, 1000000));
            }
            if (netting.cap_share > 0)
                assert_true(bought - billed <= mul_div(bought, netting.cap_share, 1000000) + TARIFF_BLOCKS);
            if (netting.cap_energy > 0)
                assert_true(bought - billed <= (netting.cap_days ? mul_div(netting.cap_energy, to - day, 30)
                                                                 : netting.cap_energy));
            assert_int_equal(paid, use.paid);
            int64_t lost_at_once = netting.carry == CARRY_NOTHING ? use.surplus - use.paid : 0;
            assert_int_equal(use.in + use.surplus, use.used + use.expired + use.not_kept + use.settled +
                                                       use.lost + use.paid + use.out);
            assert_int_equal(bought - sold, billed + use.used - use.surplus);
            assert_int_equal(use.out, credit_sum(&credit));
            assert_true(use.lost >= lost_at_once);
            day = to;
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_read),
        cmocka_unit_test(test_blocks),
        cmocka_unit_test(test_mistakes),
        cmocka_unit_test(test_credit_conserved),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
