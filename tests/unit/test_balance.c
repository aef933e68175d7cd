/* links: tools/balance/balance.c tools/output/number.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "balance.h"

/* A site and one span of its meters; the balance that must come of it. */
static struct arrangement site;
static struct meter_energy energy[ARRANGEMENT_MAX_METERS];

static int begin(void **state)
{
    (void)state;
    memset(&site, 0, sizeof(site));
    memset(energy, 0, sizeof(energy));
    return 0;
}

/* Adds a meter with its import and export. */
static struct arranged_meter *add(int32_t number, enum meter_role role, int64_t import, int64_t export)
{
    struct arranged_meter *meter = &site.meters[site.meter_count];
    energy[site.meter_count++] = (struct meter_energy){ true, import, export, 1 };
    meter->number = number;
    meter->role = role;
    meter->delivers_by_export = role == ROLE_PRODUCTION || role == ROLE_PART || role == ROLE_STORAGE;
    return meter;
}

static struct balance balance_now(void)
{
    arrangement_prepare(&site);
    return balance_of(&site, energy);
}

#define ASSERT_UNKNOWN(value) assert_true((value) == UNKNOWN)

static void test_production_and_grid(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 7, 1000);
    add(2, ROLE_GRID, 300, 600);
    struct balance balance = balance_now();
    assert_int_equal(balance.production, 1000);
    assert_int_equal(balance.import, 300);
    assert_int_equal(balance.export, 600);
    assert_int_equal(balance.self_consumption, 400);
    assert_int_equal(balance.consumption, 700);
    assert_int_equal(balance.estimated, 2);
    assert_int_equal(balance_self_consumption_share(&balance), 400000);
    assert_int_equal(balance_self_sufficiency_share(&balance), 571429);
    ASSERT_UNKNOWN(balance.charge);
    ASSERT_UNKNOWN(balance_residual_share(&balance));
}

/* Computed: 0.5 kW of sun and a load of 2 kW for 3 of 15 minutes; netted over them it would be 0.125. */
static void test_counters_not_netted(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 125000);
    add(2, ROLE_GRID, 75000, 100000);
    struct balance balance = balance_now();
    assert_int_equal(balance.self_consumption, 25000);
    assert_int_equal(balance.consumption, 100000);
}

static void test_derived(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_CONSUMPTION, 700, 0);
    add(METER_DERIVED, ROLE_GRID, 300, 600);
    energy[2].estimated = 5;
    struct balance balance = balance_now();
    assert_true(site.derived);
    assert_int_equal(balance.self_consumption, 400);
    assert_int_equal(balance.consumption, 700);
    assert_int_equal(balance.estimated, 6); /* production and derived; the consumption's is in the latter */
    ASSERT_UNKNOWN(balance.consumption_metered);

    energy[2].present = false; /* its rows come last */
    balance = balance_of(&site, energy);
    assert_int_equal(balance.consumption, 700);
    ASSERT_UNKNOWN(balance.import);
    ASSERT_UNKNOWN(balance.self_consumption);
}

static void test_derived_beside_grid(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_GRID, 300, 600);
    add(METER_DERIVED, ROLE_GRID, 9999, 9999);
    assert_int_equal(balance_now().import, 300);
    assert_false(site.derived);
}

static void test_parts_and_consumption(void **state)
{
    (void)state;
    add(1, ROLE_PART, 0, 1000);
    add(2, ROLE_CONSUMPTION, 700, 0);
    struct balance balance = balance_now();
    assert_int_equal(balance.production, 1000);
    assert_int_equal(balance.consumption, 700);
    ASSERT_UNKNOWN(balance.import);
    ASSERT_UNKNOWN(balance.export);
    ASSERT_UNKNOWN(balance.self_consumption);
    ASSERT_UNKNOWN(balance_self_sufficiency_share(&balance));
}

static void test_grid_alone(void **state)
{
    (void)state;
    add(2, ROLE_GRID, 300, 600);
    struct balance balance = balance_now();
    ASSERT_UNKNOWN(balance.production);
    ASSERT_UNKNOWN(balance.consumption);
    ASSERT_UNKNOWN(balance.self_consumption);
    assert_int_equal(balance.import, 300);
    assert_int_equal(balance.export, 600);
    ASSERT_UNKNOWN(balance_self_sufficiency_share(&balance));
}

static void test_all_three(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_GRID, 300, 600);
    add(3, ROLE_CONSUMPTION, 714, 0);
    struct balance balance = balance_now();
    assert_int_equal(balance.consumption, 700); /* the grid meter's, not the third's */
    assert_int_equal(balance.consumption_metered, 714);
    assert_int_equal(balance_residual_share(&balance), 20000);
    assert_true(site.meters[2].only_compared);
    assert_int_equal(balance.estimated, 2);
}

static void test_gross(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000)->gross = true;
    add(2, ROLE_CONSUMPTION, 700, UNKNOWN);
    struct balance balance = balance_now();
    assert_int_equal(balance.export, 1000);
    assert_int_equal(balance.import, 700);
    assert_int_equal(balance.consumption, 700);
    assert_int_equal(balance.self_consumption, 0);

    add(METER_DERIVED, ROLE_GRID, 9999, 9999); /* nothing to derive: it is left out */
    balance = balance_now();
    assert_int_equal(balance.export, 1000);
    assert_int_equal(balance.import, 700);
    assert_int_equal(balance.estimated, 2);
    assert_false(site.derived);
}

static void test_gross_beside_own_plant(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000)->gross = true;
    add(2, ROLE_PRODUCTION, 0, 500);
    add(3, ROLE_GRID, 300, 200);
    struct balance balance = balance_now();
    assert_int_equal(balance.production, 1500);
    assert_int_equal(balance.export, 1200);
    assert_int_equal(balance.self_consumption, 300);
    assert_int_equal(balance.consumption, 600);
}

static void test_parts_and_phases(void **state)
{
    (void)state;
    add(1, ROLE_PART, 0, 400);
    add(2, ROLE_PART, 0, 600);
    add(3, ROLE_GRID, 100, 0);
    add(4, ROLE_GRID, 0, 600);
    add(5, ROLE_GRID, 200, 0);
    struct balance balance = balance_now();
    assert_int_equal(balance.production, 1000);
    assert_int_equal(balance.import, 300);
    assert_int_equal(balance.export, 600);
    assert_true(site.from_parts);

    begin(NULL); /* beside a production meter parts are not counted again */
    add(1, ROLE_PART, 0, 400);
    add(2, ROLE_PRODUCTION, 0, 990);
    assert_int_equal(balance_now().production, 990);
    assert_int_equal(site.meters[0].use, USE_NONE);
}

static void test_storage_and_generator(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_GRID, 300, 600);
    add(3, ROLE_STORAGE, 200, 50); /* charged by import, discharged by export */
    add(4, ROLE_GENERATOR, 70, 0);
    struct balance balance = balance_now();
    assert_int_equal(balance.charge, 200);
    assert_int_equal(balance.discharge, 50);
    assert_int_equal(balance.generated, 70);
    assert_int_equal(balance.self_consumption, 400);
    assert_int_equal(balance.consumption, 1000 + 70 + 50 - 200 + 300 - 600);
    energy[2].present = false;
    ASSERT_UNKNOWN(balance_of(&site, energy).consumption);
}

static void test_signed(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 10);
    add(2, ROLE_GRID, 0, 15);
    struct balance balance = balance_now();
    assert_int_equal(balance.self_consumption, -5);
    assert_int_equal(balance.consumption, -5);
    assert_int_equal(balance_self_consumption_share(&balance), -500000);
}

static void test_unknown_counters(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, UNKNOWN, 1000);
    add(2, ROLE_GRID, 300, UNKNOWN);
    struct balance balance = balance_now();
    assert_int_equal(balance.import, 300);
    ASSERT_UNKNOWN(balance.export);
    ASSERT_UNKNOWN(balance.consumption);
    ASSERT_UNKNOWN(balance.self_consumption);
}

/* One of two production meters is absent: what is there is shown, nothing is made of it. */
static void test_partly_present(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_PRODUCTION, 0, 1000);
    add(3, ROLE_GRID, 300, 600);
    energy[1].present = false;
    struct balance balance = balance_now();
    assert_int_equal(balance.production, 1000);
    ASSERT_UNKNOWN(balance.self_consumption);
    ASSERT_UNKNOWN(balance.consumption);
}

/* Sums leave out what is unknown, and shares compare like with like. */
static void test_adding(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_GRID, 300, 600);
    struct balance sum = balance_nothing, whole = balance_now();
    energy[0].present = false;
    struct balance half = balance_of(&site, energy);
    energy[0].present = true;
    energy[1].present = false;
    struct balance other = balance_of(&site, energy);
    balance_add(&sum, &whole);
    balance_add(&sum, &half);
    balance_add(&sum, &other);
    assert_int_equal(sum.production, 2000);
    assert_int_equal(sum.import, 600);
    assert_int_equal(sum.export, 1200);
    assert_int_equal(sum.self_consumption, 400);
    assert_int_equal(sum.consumption, 700);
    assert_int_equal(balance_self_consumption_share(&sum), 400000);
    assert_int_equal(balance_self_sufficiency_share(&sum), 571429);
}

static void test_sameness(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 0);
    add(2, ROLE_GRID, 0, 0);
    struct arrangement other = site;
    memcpy(other.meters[0].name, "renamed", sizeof("renamed"));
    assert_true(arrangement_same(&site, &other));
    other.meters[1].role = ROLE_CONSUMPTION;
    assert_false(arrangement_same(&site, &other));
    other = site;
    other.meters[1].phases_apart = true;
    assert_false(arrangement_same(&site, &other));
    other = site;
    other.interval_s = 60;
    assert_false(arrangement_same(&site, &other));
    other = site;
    other.meter_count--;
    assert_false(arrangement_same(&site, &other));
}

/* What the record knows of a span of 900 s whose meters are those of the site. */
static struct balance_part part_now(int64_t known_s)
{
    struct balance_part part = { balance_now(), 900, { known_s, known_s, known_s }, known_s };
    return part;
}

/* Sealed meters for all terms, before the record knew a storage. */
static void test_join_all(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 0);
    add(2, ROLE_GRID, 0, 0);
    arrangement_prepare(&site);
    struct balance_part part = { balance_nothing, 900, { 0 }, 900 };
    const int64_t sealed[TERM_COUNT] = { 1000, 300, 600 };
    struct balance joined = balance_join(&site, &part, TERMS_ALL, sealed);
    assert_int_equal(joined.production, 1000);
    assert_int_equal(joined.self_consumption, 400);
    assert_int_equal(joined.consumption, 700);
    assert_int_equal(balance_self_sufficiency_share(&joined), 571429);
    ASSERT_UNKNOWN(joined.estimated);
    /* what was not read is not known, and nothing that needs it */
    const int64_t less[TERM_COUNT] = { 1000, UNKNOWN, 600 };
    joined = balance_join(&site, &part, TERMS_ALL, less);
    ASSERT_UNKNOWN(joined.import);
    ASSERT_UNKNOWN(joined.consumption);
    assert_int_equal(joined.self_consumption, 400);
    part.others_s = 0; /* a storage that has no rows */
    ASSERT_UNKNOWN(balance_join(&site, &part, TERMS_ALL, sealed).consumption);
}

/* The grid by sealed meters, production by the record: known only where the record has all of the span. */
static void test_join_grid(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_GRID, 9999, 9999);
    energy[1].present = false; /* not asked */
    const int64_t sealed[TERM_COUNT] = { UNKNOWN, 300, 600 };
    struct balance_part part = part_now(900);
    struct balance joined = balance_join(&site, &part, TERMS_GRID, sealed);
    assert_int_equal(joined.production, 1000);
    assert_int_equal(joined.import, 300);
    assert_int_equal(joined.consumption, 700);
    assert_int_equal(joined.estimated, 1);
    part = part_now(899);
    joined = balance_join(&site, &part, TERMS_GRID, sealed);
    assert_int_equal(joined.production, 1000);
    ASSERT_UNKNOWN(joined.self_consumption);
    ASSERT_UNKNOWN(joined.consumption);
    ASSERT_UNKNOWN(balance_self_consumption_share(&joined));
}

/* A consumption meter of ours stands beside the sealed figure, or for it. */
static void test_join_consumption(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000);
    add(2, ROLE_CONSUMPTION, 710, 0);
    add(METER_DERIVED, ROLE_GRID, 9999, 9999);
    energy[2].present = false;
    struct balance_part part = part_now(900);
    const int64_t sealed[TERM_COUNT] = { UNKNOWN, 300, 600 };
    struct balance joined = balance_join(&site, &part, TERMS_GRID, sealed);
    assert_int_equal(joined.consumption, 700);
    assert_int_equal(joined.consumption_metered, 710);
    assert_int_equal(balance_residual_share(&joined), 14286);
    const int64_t less[TERM_COUNT] = { UNKNOWN, 300, UNKNOWN };
    joined = balance_join(&site, &part, TERMS_GRID, less);
    assert_int_equal(joined.consumption, 710);
    ASSERT_UNKNOWN(joined.self_consumption);
}

/* A plant that is sold whole is exported, whoever counts it. */
static void test_join_gross(void **state)
{
    (void)state;
    add(1, ROLE_PRODUCTION, 0, 1000)->gross = true;
    add(2, ROLE_GRID, 300, 0);
    energy[0].present = false;
    struct balance_part part = part_now(900);
    part.known_s[TERM_EXPORT] = 0;
    const int64_t production[TERM_COUNT] = { 1100, UNKNOWN, UNKNOWN };
    struct balance joined = balance_join(&site, &part, TERMS_PRODUCTION, production);
    assert_int_equal(joined.production, 1100);
    assert_int_equal(joined.export, 1100);
    assert_int_equal(joined.self_consumption, 0);
    assert_int_equal(joined.consumption, 300);
}

#define TEST(function) cmocka_unit_test_setup(function, begin)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(test_production_and_grid),
        TEST(test_counters_not_netted),
        TEST(test_derived),
        TEST(test_derived_beside_grid),
        TEST(test_parts_and_consumption),
        TEST(test_grid_alone),
        TEST(test_all_three),
        TEST(test_gross),
        TEST(test_gross_beside_own_plant),
        TEST(test_parts_and_phases),
        TEST(test_storage_and_generator),
        TEST(test_signed),
        TEST(test_unknown_counters),
        TEST(test_partly_present),
        TEST(test_adding),
        TEST(test_join_all),
        TEST(test_join_grid),
        TEST(test_join_consumption),
        TEST(test_join_gross),
        TEST(test_sameness),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
