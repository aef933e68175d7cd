/* links: daemon/record/fill.c daemon/record/fill_reference.c daemon/record/sun.c daemon/record/muldiv.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <inttypes.h>
#include <stdint.h>
#include <stdlib.h>

#include "fill.h"
#include "muldiv.h"

#define HOUR_MS INT64_C(3600000)
#define DAY_MS  (24 * HOUR_MS)
#define L       INT64_C(300000)
#define KWH     INT64_C(1000000) /* mWh */

static struct civil *civil;
static int64_t spring; /* midnight of 2019-03-31 in Zurich: a day of 23 h, a Sunday */

static int set_up(void **state)
{
    (void)state;
    civil = civil_open("Europe/Zurich");
    if (civil == NULL)
        return -1;
    spring = civil_day_start(civil, civil_day_number(2019, 3, 31)) * 1000;
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    civil_close(civil);
    return 0;
}

/* Rows that tell local hour and kind of day: hour, + 100 on Saturdays, + 1000 on
 * Sundays. Rows in [hidden_from, hidden_to) are absent. */
struct rows {
    int64_t hidden_from, hidden_to;
    int64_t only_from, only_to; /* if set: no rows outside */
    int64_t asked_hidden;
};

static int64_t by_hour(void *self, int64_t start_s)
{
    struct rows *rows = self;
    if (start_s >= rows->hidden_from && start_s < rows->hidden_to) {
        rows->asked_hidden++;
        return -1;
    }
    if (rows->only_to != 0 && (start_s < rows->only_from || start_s >= rows->only_to))
        return -1;
    int64_t day = civil_day_of(civil, start_s), weekday = (day + 4) % 7;
    int64_t hour = (start_s + civil_offset(civil, start_s) - day * 86400) / 3600;
    return hour * KWH + (weekday == 6 ? 100 * KWH : 0) + (weekday == 0 ? 1000 * KWH : 0);
}

static struct fill gap(int64_t from_ms, int64_t to_ms, enum fill_method method, struct rows *rows)
{
    rows->hidden_from = from_ms / 1000 - 300;
    rows->hidden_to = to_ms / 1000;
    return (struct fill){ .from_ms = from_ms,
                          .to_ms = to_ms,
                          .length_ms = L,
                          .method = method,
                          .civil = civil,
                          .rows = { by_hour, rows },
                          .place = { 47.4, 8.1 },
                          .plane = { 170, 25 } };
}

static void pieces_end_at_boundaries(void **state)
{
    (void)state;
    struct fill fill = { .from_ms = spring + 100, .to_ms = spring + 2 * L + 7, .length_ms = L };
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_TIME);
    assert_true(fill_next(&fill));
    assert_true(fill.at_ms == spring + L);
    assert_true(fill_account(&fill, 500, 600007 - 100) == 500 + L - 100);
    assert_true(fill_next(&fill));
    assert_true(fill.at_ms == spring + 2 * L);
    assert_true(fill_next(&fill));
    assert_true(fill.at_ms == spring + 2 * L + 7);
    assert_true(fill_account(&fill, 500, 600007 - 100) == 500 + 600007 - 100);
    assert_false(fill_next(&fill));
}

/* The summer clock begins inside the gap: each hour is filled by that hour of other days' clocks. */
static void reference_by_the_clock_on_the_wall(void **state)
{
    (void)state;
    struct rows rows = { 0 };
    struct fill fill = gap(spring, spring + 23 * HOUR_MS, FILL_REFERENCE, &rows);
    fill.length_ms = HOUR_MS; /* so wide an interval is averaged with no neighbour */
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_REFERENCE);
    int64_t before = 0;
    for (int64_t i = 0; fill_next(&fill); i++, before = fill.sum) {
        int64_t hour = i < 2 ? i : i + 1; /* 02 does not exist */
        assert_true(fill.sum - before == (1000 + hour) * KWH);
    }
    assert_int_equal(rows.asked_hidden, 0);
}

/* A day on which the clock changes is a reference too, for the hours before the change as well. */
static void reference_on_the_day_of_change(void **state)
{
    (void)state;
    struct rows rows = { .only_from = spring / 1000 - 7 * 86400, .only_to = spring / 1000 + 15 * 86400 };
    int64_t from = spring + 7 * DAY_MS - HOUR_MS; /* the Sunday after, 00:00 of summer */
    struct fill fill = gap(from, from + 6 * HOUR_MS, FILL_REFERENCE, &rows);
    fill.length_ms = HOUR_MS;
    fill_begin(&fill);
    fill.share = 1000; /* the days as they are, however they differ */
    int64_t before = 0;
    for (int64_t hour = 0; fill_next(&fill); hour++, before = fill.sum)
        if (hour != 2) /* only two Sundays have it: Saturdays join them */
            assert_true(fill.sum - before == (1000 + hour) * KWH);
        else
            assert_in_range(fill.sum - before, 400 * KWH, 900 * KWH);
}

/* Up to 8 kWh an hour, by chance. */
static int64_t by_chance(void *self, int64_t start_s)
{
    struct rows *rows = self;
    uint64_t noise = (uint64_t)start_s * UINT64_C(6364136223846793005);
    if (start_s >= rows->hidden_from && start_s < rows->hidden_to)
        return -1;
    return (int64_t)((noise ^ noise >> 29) * UINT64_C(0x9E3779B97F4A7C15) >> 32) % 8000 * (KWH / 1000);
}

/* Days that are alike are the shape; days of which none is like another are none. */
static void chance_is_no_shape(void **state)
{
    (void)state;
    int64_t workday = spring + 9 * DAY_MS;
    struct rows rows = { 0 };
    struct fill fill = gap(workday, workday + DAY_MS, FILL_REFERENCE, &rows);
    fill.length_ms = HOUR_MS;
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_REFERENCE);
    assert_int_equal(fill.share, 1000);
    fill.rows.row = by_chance;
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_REFERENCE);
    assert_in_range(fill.share, 0, 700);
}

/* Before the gap as much as ever, after it three times as much: it bends up to there and no further. */
static int64_t more_after(void *self, int64_t start_s)
{
    struct rows *rows = self;
    if (start_s >= rows->hidden_from && start_s < rows->hidden_to)
        return -1;
    return start_s >= rows->hidden_to && start_s < rows->hidden_to + 7200 ? 3 * KWH : KWH;
}

static void meets_both_ends(void **state)
{
    (void)state;
    int64_t workday = spring + 9 * DAY_MS, energy = 288 * KWH, before = 0, pieces[288];
    struct rows rows = { 0 };
    struct fill fill = gap(workday, workday + DAY_MS, FILL_REFERENCE, &rows);
    fill.rows.row = more_after;
    fill_begin(&fill);
    assert_true(fill.bend[0] == 0 && fill.bend[1] == 0); /* the energy is not known */
    fill.energy = energy;
    fill_begin(&fill);
    for (int i = 0; fill_next(&fill); i++) {
        pieces[i] = fill_account(&fill, 0, energy) - before;
        before = fill_account(&fill, 0, energy);
    }
    assert_true(before == energy);
    assert_in_range(pieces[287], 22 * KWH / 10, 25 * KWH / 10);
    assert_in_range(pieces[275], 15 * KWH / 10, 18 * KWH / 10); /* an hour inside: half as much more */
    assert_in_range(pieces[262], 9 * KWH / 10, KWH);            /* two hours inside: as ever */
    assert_true(llabs(pieces[150] - pieces[262]) <= 1);
}

/* In the autumn an hour comes twice: both are filled, on ordinary days and on that one. */
static void the_hour_that_comes_twice(void **state)
{
    (void)state;
    int64_t autumn = civil_day_start(civil, civil_day_number(2019, 10, 27)) * 1000;
    struct rows rows = { 0 };
    struct fill fill = gap(autumn, autumn + 25 * HOUR_MS, FILL_REFERENCE, &rows);
    fill.length_ms = HOUR_MS;
    fill_begin(&fill);
    int64_t before = 0;
    for (int64_t i = 0; fill_next(&fill); i++, before = fill.sum)
        assert_true(fill.sum - before == (1000 + (i < 3 ? i : i - 1)) * KWH);
}

/* Days of the same kind; where too few are known, wider kinds, then none. */
static void kinds_of_days(void **state)
{
    (void)state;
    int64_t noon = spring + 11 * HOUR_MS; /* Sunday, 12:00 of summer */
    struct {
        int64_t day; /* from that Sunday */
        int64_t days_known;
        enum fill_method method;
        int64_t least, most; /* first hour's weight, kWh */
    } const cases[] = {
        { 0, 35, FILL_REFERENCE, 1012, 1012 },
        { 1, 35, FILL_REFERENCE, 12, 12 },
        { 6, 35, FILL_REFERENCE, 112, 112 },
        { 0, 16, FILL_REFERENCE, 1012, 1012 },
        { 0, 9, FILL_REFERENCE, 412, 712 },
        { 0, 3, FILL_REFERENCE, 12, 150 }, /* Saturday and workdays */
        { 0, 1, FILL_TIME, 0, 0 },
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct rows rows = { 0 };
        int64_t from = noon + cases[i].day * DAY_MS;
        struct fill fill = gap(from, from + 6 * HOUR_MS, FILL_REFERENCE, &rows);
        fill.length_ms = HOUR_MS;
        rows.only_from = from / 1000 - cases[i].days_known * 86400;
        rows.only_to = from / 1000 + cases[i].days_known * 86400;
        fill_begin(&fill);
        assert_int_equal(fill.method, cases[i].method);
        assert_true(fill_next(&fill));
        if (fill.method == FILL_REFERENCE)
            assert_in_range(fill.sum / KWH, cases[i].least, cases[i].most);
    }
}

static void short_gaps_point_to_point(void **state)
{
    (void)state;
    struct rows rows = { 0 };
    /* Thursday 09:30 of summer: 9 kWh before, 11 kWh after */
    int64_t from = spring + 4 * DAY_MS + 8 * HOUR_MS + 30 * 60000;
    struct fill fill = gap(from, from + 2 * HOUR_MS, FILL_REFERENCE, &rows);
    rows.hidden_from += 300;
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_LINE);
    int64_t sum = 0, last = 0;
    while (fill_next(&fill)) {
        assert_true(fill.sum - sum > last); /* it rises */
        last = fill.sum - sum;
        sum = fill.sum;
        assert_in_range(last, 9 * KWH, 11 * KWH);
    }
    assert_true(llabs(sum - 24 * 10 * KWH) < 100);
    rows.hidden_to += 300; /* one end is touched by a power failure: evenly */
    fill.method = FILL_REFERENCE;
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_TIME);
    fill.to_ms += L;
    fill.method = FILL_REFERENCE;
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_REFERENCE);
}

static void sun_gives_nothing_at_night(void **state)
{
    (void)state;
    struct rows rows = { 0 };
    struct fill fill = gap(spring + 12345, spring + 3 * DAY_MS + 777, FILL_SUN, &rows);
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_SUN);
    int64_t at = fill.at_ms, account = 0, nights = 0, days = 0;
    while (fill_next(&fill)) {
        int64_t next = fill_account(&fill, 0, 60 * KWH);
        if (sun_asleep(&fill.place, at, fill.at_ms)) {
            assert_true(next == account);
            nights++;
        }
        days += next > account;
        account = next;
        at = fill.at_ms;
    }
    assert_true(account == 60 * KWH);
    assert_true(nights > 3 * 130 && days > 3 * 140);
    /* energy that came at night after all: by the light there is, else evenly */
    fill = gap(spring - HOUR_MS, spring + HOUR_MS, FILL_SUN, &rows);
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_TIME);
    struct sun_day day = sun_day(&fill.place, spring, spring + DAY_MS);
    fill = gap(spring, day.rise_ms, FILL_SUN, &rows);
    fill.length_ms = 30000;
    fill_begin(&fill);
    assert_int_equal(fill.method, FILL_DAYLIGHT);
    assert_true(fill.total > 0 && fill.total < 10 * 60000);
}

struct fixed {
    int64_t from, to, energy;
};

static int64_t entered(void *self, int64_t start_s)
{
    const struct fixed *fixed = self;
    return start_s >= fixed->from && start_s < fixed->to ? fixed->energy : -1;
}

static void entered_rows_stay(void **state)
{
    (void)state;
    struct fixed fixed = { spring / 1000 + 3600, spring / 1000 + 7200, 100 };
    struct fill fill = {
        .from_ms = spring, .to_ms = spring + 3 * HOUR_MS, .length_ms = L, .fixed = { entered, &fixed }
    };
    fill_begin(&fill);
    assert_int_equal(fill.fixed_total, 1200);
    assert_true(fill_fits(&fill, 1200) && fill_fits(&fill, 3600));
    assert_false(fill_fits(&fill, 1199)); /* the entered rows say more than the counter */
    int64_t last = 7;
    for (int i = 0; fill_next(&fill); i++) {
        int64_t account = fill_account(&fill, 7, 3600);
        assert_true(account - last == 100);
        last = account;
    }
    assert_true(last == 3607);
    fill.to_ms = fixed.to * 1000;
    fill.from_ms = fixed.from * 1000; /* nothing free: the sums must be equal */
    fill_begin(&fill);
    assert_true(fill_fits(&fill, 1200));
    assert_false(fill_fits(&fill, 1201));
    while (fill_next(&fill))
        ;
    assert_true(fill_account(&fill, 0, 1200) == 1200);
    fill.method = FILL_SUN; /* only the night is free: the rest still finds a place */
    fill.from_ms = spring - HOUR_MS;
    fill_begin(&fill);
    assert_true(fill_fits(&fill, 5000));
}

static uint64_t random_state;

static int64_t random_below(int64_t bound)
{
    random_state = random_state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (int64_t)((random_state >> 1) % (uint64_t)bound);
}

/* Whatever the gap: accounts never fall, end at A0 + G, and filling a part and then the rest
 * puts the same where filling all at once does, unless the shape is that of the gap itself. */
static void any_gap(void **state)
{
    (void)state;
    random_state = 20190331;
    print_message("seed %" PRIu64 "\n", random_state);
    static const int64_t lengths[] = { 60000, 300000, 900000, 3600000 };
    for (int run = 0; run < 60; run++) {
        struct rows rows = { 0 };
        int64_t from = spring + random_below(300 * DAY_MS),
                span = 1 + random_below(run % 10 == 0 ? 9 * DAY_MS : DAY_MS);
        struct fill fill = gap(from, from + span, (enum fill_method)(run % 5), &rows);
        fill.length_ms = lengths[random_below(4)];
        int64_t start = random_below(1000 * KWH),
                energy = random_below(run % 3 == 0 ? 1000 : INT64_C(1) << 40);
        fill.energy = energy;
        fill_begin(&fill);
        assert_true(fill.total > 0 && fill_fits(&fill, energy));
        int64_t account = start, cut_ms = 0, cut_account = 0, cut_sum = 0;
        while (fill_next(&fill)) {
            int64_t next = fill_account(&fill, start, energy);
            assert_true(next >= account);
            account = next;
            if (cut_ms == 0 && fill.at_ms > from + span / 3)
                cut_ms = fill.at_ms, cut_account = account, cut_sum = fill.sum;
        }
        assert_true(fill.at_ms == from + span && account == start + energy && fill.sum == fill.total);
        if (cut_ms == 0 || cut_ms == fill.to_ms || fill.method == FILL_LINE ||
            fill.method == FILL_REFERENCE || cut_sum == fill.total)
            continue;
        struct fill rest = fill;
        rest.from_ms = cut_ms;
        int64_t whole = energy - (cut_account - start), sum = cut_sum;
        fill_begin(&rest);
        assert_int_equal(rest.method, fill.method);
        while (fill_next(&rest)) {
            int64_t at_once = start + mul_div(energy, sum + rest.sum, fill.total);
            assert_true(llabs(fill_account(&rest, cut_account, whole) - at_once) <= 1);
        }
    }
}

/* 10 kW for 400 days: nothing overflows. */
static void a_long_gap(void **state)
{
    (void)state;
    struct rows rows = { 0 };
    struct fill fill = gap(spring, spring + 400 * DAY_MS, FILL_SUN, &rows);
    fill.length_ms = HOUR_MS;
    int64_t account = 0, energy = 400 * 240 * KWH;
    fill_begin(&fill);
    while (fill_next(&fill)) {
        assert_true(fill_account(&fill, 0, energy) >= account);
        account = fill_account(&fill, 0, energy);
    }
    assert_true(account == energy);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pieces_end_at_boundaries),
        cmocka_unit_test(reference_by_the_clock_on_the_wall),
        cmocka_unit_test(reference_on_the_day_of_change),
        cmocka_unit_test(chance_is_no_shape),
        cmocka_unit_test(meets_both_ends),
        cmocka_unit_test(the_hour_that_comes_twice),
        cmocka_unit_test(kinds_of_days),
        cmocka_unit_test(short_gaps_point_to_point),
        cmocka_unit_test(sun_gives_nothing_at_night),
        cmocka_unit_test(entered_rows_stay),
        cmocka_unit_test(any_gap),
        cmocka_unit_test(a_long_gap),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
