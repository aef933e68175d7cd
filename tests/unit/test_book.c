/* links: daemon/record/book.c daemon/record/muldiv.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdint.h>

#include "book.h"
#include "schema.h"

#define L 300000

static struct book book;

static void read_at(int64_t at_ms, int64_t account, bool gap)
{
    book_read(&book, at_ms, &account, gap, 0);
}

static void begin_at(int64_t at_ms, int64_t account)
{
    book_init(&book, 1, L);
    book_begin(&book, at_ms, &account);
}

struct expected {
    int64_t start, energy, estimated, unobserved;
    int how;
};

static void expect(const struct expected *rows, int count)
{
    struct book_row row;
    for (int i = 0; i < count; i++) {
        assert_true(book_take(&book, &row));
        assert_int_equal(row.start_ms, rows[i].start);
        assert_int_equal(row.energy[0], rows[i].energy);
        assert_int_equal(row.estimated, rows[i].estimated);
        assert_int_equal(row.unobserved_ms, rows[i].unobserved);
        assert_int_equal(row.how, rows[i].how);
    }
    assert_false(book_take(&book, &row));
}

static void test_boundary_is_shared(void **state)
{
    (void)state;
    begin_at(3 * L, 100);
    read_at(4 * L - 400, 160, false);
    read_at(4 * L + 600, 170, false); /* 4 of 10 before the boundary */
    expect((const struct expected[]){ { 3 * L, 64, 0, 0, 0 } }, 1);
    read_at(5 * L, 200, false);
    expect((const struct expected[]){ { 4 * L, 36, 0, 0, 0 } }, 1);
}

static void test_first_row_begins_unobserved(void **state)
{
    (void)state;
    begin_at(3 * L + 120000, 5);
    read_at(4 * L, 25, false);
    expect((const struct expected[]){ { 3 * L, 20, 0, 120000, 0 } }, 1);
}

/* Gaps of up to two hours are interpolated, longer ones estimated (Standards for
 * Validating, Editing, and Estimating Monthly and Interval Data, California,
 * attachment VEE: the rule of two hours, read from its contents page). */
static void test_gap_is_spread(void **state)
{
    (void)state;
    begin_at(3 * L, 0);
    read_at(3 * L + 200000, 20, false);
    read_at(5 * L + 100000, 70, true); /* 500 s, 50: 0.1 a second */
    expect((const struct expected[]){ { 3 * L, 30, 10, 100000, HOW_INTERPOLATED },
                                      { 4 * L, 30, 30, L, HOW_INTERPOLATED } },
           2);
    read_at(6 * L, 90, false);
    expect((const struct expected[]){ { 5 * L, 30, 10, 100000, HOW_INTERPOLATED } }, 1);
    begin_at(0, 0);
    read_at(25 * L, 2500, true);
    struct book_row row;
    assert_true(book_take(&book, &row));
    assert_int_equal(row.how, HOW_ESTIMATED);
}

/* A counter cannot run back: standing still was still all the time. */
static void test_still_gap_is_measured(void **state)
{
    (void)state;
    begin_at(0, 7);
    read_at(2 * L, 7, true);
    expect((const struct expected[]){ { 0, 0, 0, 0, 0 }, { L, 0, 0, 0, 0 } }, 2);
}

static void test_gap_inside_a_row_estimates_nothing(void **state)
{
    (void)state;
    begin_at(0, 0);
    read_at(10000, 1, false);
    read_at(60000, 9, true);
    read_at(L, 20, false);
    expect((const struct expected[]){ { 0, 20, 0, 50000, 0 } }, 1);
}

static void test_held_clock_keeps_the_date(void **state)
{
    (void)state;
    begin_at(0, 0);
    read_at(L - 1000, 10, false);
    read_at(L - 5000, 12, false); /* stepped back: account moves, date does not */
    assert_int_equal(book.to_ms, L - 1000);
    read_at(L, 13, false);
    expect((const struct expected[]){ { 0, 13, 0, 0, 0 } }, 1);
}

/* Nobody takes the rows (the disk is full): the span grows, energy stays. */
static void test_untaken_rows_are_stretched(void **state)
{
    (void)state;
    struct book_row row;
    begin_at(0, 0);
    read_at(L, 30, false);
    assert_true(book_take(&book, &row));
    read_at(3 * L, 90, false);
    assert_true(book_take(&book, &row)); /* one of two rows taken */
    assert_int_equal(row.energy[0], 30);
    read_at(5 * L, 90, false);
    int64_t sum = 0;
    for (int n = 0; book_take(&book, &row); n++) {
        assert_true(row.energy[0] >= 0);
        sum += row.energy[0];
    }
    assert_int_equal(sum, 30);
    assert_int_equal(book.frontier_ms, 5 * L);
}

static void test_resumed(void **state)
{
    (void)state;
    int64_t account = 1000;
    book_init(&book, 1, L);
    book_resume(&book, 7 * L, &account);
    read_at(8 * L + L / 2, 1300, true);
    expect((const struct expected[]){ { 7 * L, 200, 200, L, HOW_INTERPOLATED } }, 1);
}

/* Another interval length: the first row ends where the new grid says. */
static void test_other_length(void **state)
{
    (void)state;
    int64_t account = 0;
    book_init(&book, 1, L);
    book_resume(&book, 7 * L + 60000, &account);
    read_at(8 * L, 24, false);
    expect((const struct expected[]){ { 7 * L + 60000, 24, 0, 0, 0 } }, 1);
}

/* Rows add up to the account exactly, whatever comes. */
static void test_rows_telescope(void **state)
{
    (void)state;
    uint64_t random = 88172645463325252U;
    int64_t t = 12345, account = 77, sum = 0, first = 77;
    begin_at(t, account);
    struct book_row row;
    for (int i = 0; i < 200000; i++) {
        random ^= random << 13;
        random ^= random >> 7;
        random ^= random << 17;
        int64_t span = random % 97 == 0 ? (int64_t)(random >> 40) % 40000000 : (int64_t)(random >> 40) % 3000;
        t += span;
        account += (int64_t)(random >> 20) % (span + 1) * 3;
        read_at(t, account, span > 10000);
        if (random % 53 == 0)
            continue; /* not taken in time */
        while (book_take(&book, &row)) {
            assert_true(row.energy[0] >= 0);
            sum += row.energy[0];
            assert_int_equal(first + sum, row.account[0]);
        }
        assert_int_equal(first + sum, book.fixed[0]);
        assert_true(book.to[0] == account);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_boundary_is_shared),
        cmocka_unit_test(test_first_row_begins_unobserved),
        cmocka_unit_test(test_gap_is_spread),
        cmocka_unit_test(test_still_gap_is_measured),
        cmocka_unit_test(test_gap_inside_a_row_estimates_nothing),
        cmocka_unit_test(test_held_clock_keeps_the_date),
        cmocka_unit_test(test_untaken_rows_are_stretched),
        cmocka_unit_test(test_resumed),
        cmocka_unit_test(test_other_length),
        cmocka_unit_test(test_rows_telescope),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
