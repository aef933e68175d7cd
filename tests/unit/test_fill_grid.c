/* links: daemon/record/fill_grid.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <inttypes.h>
#include <stdbool.h>
#include <stdint.h>

#include "fill_grid.h"

enum { MOST = 300 };

struct site {
    int32_t count;
    int64_t production[MOST], consumption[MOST], import[MOST], export[MOST];
};

static int64_t sum_of(const int64_t *values, int32_t count)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < count; i++)
        sum += values[i];
    return sum;
}

static void split(struct site *site, int64_t import, int64_t export)
{
    struct fill_grid grid;
    fill_grid_init(&grid);
    for (int32_t i = 0; i < site->count; i++)
        fill_grid_add(&grid, site->production[i], site->consumption[i]);
    fill_grid_fit(&grid, import, export);
    for (int32_t i = 0; i < site->count; i++) {
        fill_grid_take(&grid, site->production[i], site->consumption[i], &site->import[i], &site->export[i]);
        assert_true(site->import[i] >= 0 && site->export[i] >= 0);
    }
    assert_true(sum_of(site->import, site->count) == import);
    assert_true(sum_of(site->export, site->count) == export);
}

static void expect(const struct site *site, const int64_t *import, const int64_t *export)
{
    size_t size = (size_t)site->count * sizeof *import;
    assert_memory_equal(site->import, import, size);
    assert_memory_equal(site->export, export, size);
}

/* night, morning, noon, evening: nothing to correct */
static struct site a_day(void)
{
    return (
        struct site){ .count = 4, .production = { 0, 200, 900, 100 }, .consumption = { 100, 200, 300, 400 } };
}

static void follows_where_it_fits(void **state)
{
    (void)state;
    struct site site = a_day();
    split(&site, 400, 600);
    expect(&site, (int64_t[]){ 100, 0, 0, 300 }, (int64_t[]){ 0, 0, 600, 0 });
}

static void scaled_down_where_it_is_too_much(void **state)
{
    (void)state;
    struct site site = a_day();
    split(&site, 200, 400);
    expect(&site, (int64_t[]){ 50, 0, 0, 150 }, (int64_t[]){ 0, 0, 400, 0 });
}

/* More of both: bought where buying is, sold where selling is, never bought at noon. */
static void added_where_it_is_too_little(void **state)
{
    (void)state;
    struct site site = a_day();
    split(&site, 600, 800);
    expect(&site, (int64_t[]){ 150, 0, 0, 450 }, (int64_t[]){ 0, 0, 800, 0 });
    split(&site, 800, 1050); /* all of noon is sold; the rest where buying is, along what is made */
    expect(&site, (int64_t[]){ 200, 0, 0, 600 }, (int64_t[]){ 0, 100, 900, 50 });
}

static void outage(void **state)
{
    (void)state;
    struct site site = a_day();
    split(&site, 0, 0);
    expect(&site, (int64_t[]){ 0, 0, 0, 0 }, (int64_t[]){ 0, 0, 0, 0 });
}

static void no_choice(void **state)
{
    (void)state;
    struct site site = { .count = 2, .production = { 900, 800 }, .consumption = { 300, 100 } };
    split(&site, 40, 1340); /* surplus all along, and still something was bought */
    expect(&site, (int64_t[]){ 30, 10 }, (int64_t[]){ 630, 710 });
    site = (struct site){ .count = 2 }; /* neither made nor used, says everyone but the grid meter */
    split(&site, 7, 3);
    expect(&site, (int64_t[]){ 3, 4 }, (int64_t[]){ 1, 2 });
    site = (struct site){ .count = 2, .production = { 100, 300 } };
    split(&site, 0, 500); /* sold more than made: the meters disagree, the sums stay */
    expect(&site, (int64_t[]){ 0, 0 }, (int64_t[]){ 125, 375 });
}

static uint64_t random_state = 7;

static int64_t random_below(int64_t bound)
{
    random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (int64_t)((random_state >> 1) % (uint64_t)bound);
}

/* Any day and any totals that a site can have (no more sold than made, no more made for itself
 * than used): sums exact (split), nothing sold that was not made, nothing used below zero, and
 * nothing bought under surplus while any piece buys. */
static void any_day(void **state)
{
    (void)state;
    static struct site site;
    print_message("seed %" PRIu64 "\n", random_state);
    for (int run = 0; run < 3000; run++) {
        site.count = 1 + (int32_t)random_below(MOST);
        int64_t scale = INT64_C(1) << random_below(40);
        bool buying = false;
        for (int32_t i = 0; i < site.count; i++) {
            site.production[i] = random_below(3) == 0 ? 0 : random_below(scale);
            site.consumption[i] = random_below(4) == 0 ? 0 : random_below(scale);
            buying = buying || site.consumption[i] > site.production[i];
        }
        int64_t made = sum_of(site.production, site.count), used = sum_of(site.consumption, site.count);
        int64_t kept = random_below((made < used ? made : used) + 1);
        split(&site, used - kept, made - kept);
        for (int32_t i = 0; i < site.count; i++) {
            int64_t p = site.production[i], c = site.consumption[i];
            assert_true(site.export[i] <= p);
            assert_true(p + site.import[i] - site.export[i] >= 0);
            if (buying && p >= c)
                assert_int_equal(site.import[i], 0);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(follows_where_it_fits),
        cmocka_unit_test(scaled_down_where_it_is_too_much),
        cmocka_unit_test(added_where_it_is_too_little),
        cmocka_unit_test(outage),
        cmocka_unit_test(no_choice),
        cmocka_unit_test(any_day),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
