#include "book.h"

#include <string.h>

#include "muldiv.h"
#include "schema.h"

/* Gaps up to this long are point to point; longer ones are estimates (the
 * contents page of the VEE standards named in DEVELOPERS.md). */
#define POINT_TO_POINT_MS (2 * 3600 * INT64_C(1000))

static int64_t floor_to(int64_t t, int64_t length)
{
    int64_t rest = t % length;
    return t - (rest < 0 ? rest + length : rest);
}

void book_init(struct book *book, int32_t count, int64_t length_ms)
{
    *book = (struct book){ .count = count, .length_ms = length_ms };
}

static void set_point(struct book *book, int64_t at_ms, const int64_t account[])
{
    book->from_ms = book->to_ms = at_ms;
    for (int32_t i = 0; i < book->count; i++)
        book->from[i] = book->to[i] = account[i];
}

void book_begin(struct book *book, int64_t at_ms, const int64_t account[])
{
    book_resume(book, floor_to(at_ms, book->length_ms), account);
    set_point(book, at_ms, account);
    book->unobserved_ms = at_ms - book->frontier_ms;
}

void book_resume(struct book *book, int64_t frontier_ms, const int64_t account[])
{
    book->open = true;
    book->frontier_ms = frontier_ms;
    for (int32_t i = 0; i < book->count; i++)
        book->fixed[i] = account[i];
    set_point(book, frontier_ms, account);
    book->gap = false;
    book->estimated = book->unobserved_ms = 0;
    book->how = 0;
}

/* A span whose first rows are taken already goes on from there. */
static void shorten_to_frontier(struct book *book)
{
    if (book->from_ms >= book->frontier_ms)
        return;
    book->from_ms = book->frontier_ms;
    memcpy(book->from, book->fixed, sizeof book->from);
}

/* End of the row that begins at the frontier: a whole interval, or less where
 * the interval's length was changed. */
int64_t book_due_ms(const struct book *book)
{
    return floor_to(book->frontier_ms, book->length_ms) + book->length_ms;
}

/* Rows of the last span that nobody has taken yet? */
static bool pending(const struct book *book)
{
    return book->to_ms >= book_due_ms(book);
}

static bool moved(const struct book *book)
{
    for (int32_t i = 0; i < book->count; i++)
        if (book->to[i] != book->from[i])
            return true;
    return false;
}

/* Did the counters stand still while nobody watched? */
static bool stood(const struct book *book)
{
    for (int32_t i = 0; i < book->count; i++)
        if (book->to[i] - book->from[i] > book->off_most[i])
            return false;
    return true;
}

void book_read(struct book *book, int64_t at_ms, const int64_t account[], bool gap, uint16_t flags)
{
    book->how |= flags;
    if (at_ms <= book->to_ms) {
        /* Held clock: keep the date. */
        for (int32_t i = 0; i < book->count; i++)
            book->to[i] = account[i];
        if (pending(book))
            shorten_to_frontier(book);
        else
            set_point(book, book->to_ms, account);
        return;
    }
    if (pending(book)) {
        gap = true;
        shorten_to_frontier(book);
    } else {
        book->from_ms = book->to_ms;
        memcpy(book->from, book->to, sizeof book->from);
    }
    book->to_ms = at_ms;
    for (int32_t i = 0; i < book->count; i++)
        book->to[i] = account[i];
    book->stood = book->off_to_ms == INT64_MAX && stood(book);
    if (book->off_to_ms == INT64_MAX)
        book->off_to_ms = at_ms;
    /* A counter cannot run back: one that stands where it stood was still all
     * the time, which is as good as having watched it. Not so where its register
     * was set anew: what flowed before that is not known. */
    book->gap = gap && (book->count == 0 || flags & HOW_RUN_CHANGE || moved(book));
    if (book->gap && !pending(book))
        book->unobserved_ms += book->to_ms - book->from_ms;
}

void book_off(struct book *book, int64_t from_ms, const int64_t most[])
{
    book->off_from_ms = from_ms;
    book->off_to_ms = INT64_MAX;
    for (int32_t i = 0; i < book->count; i++)
        book->off_most[i] = most ? most[i] : -1;
}

void book_flag(struct book *book, uint16_t flags)
{
    book->how |= flags;
}

int64_t book_start_of(const struct book *book, int64_t utc_ms)
{
    return floor_to(utc_ms, book->length_ms);
}

void book_unobserved(struct book *book, int64_t ms)
{
    book->unobserved_ms += ms;
}

static int64_t account_at(const struct book *book, int32_t i, int64_t at_ms)
{
    if (book->stood)
        return book->to[i];
    return book->from[i] +
           mul_div(book->to[i] - book->from[i], at_ms - book->from_ms, book->to_ms - book->from_ms);
}

/* The part of a gap that lies in the row that ends at `end`. */
static void fill(struct book *book, int64_t end, const int64_t at_end[])
{
    int64_t begin = book->from_ms > book->frontier_ms ? book->from_ms : book->frontier_ms;
    book->unobserved_ms += end - begin;
    for (int32_t i = 0; i < book->count; i++) {
        int64_t at_begin = begin == book->frontier_ms ? book->fixed[i] : book->from[i];
        book->estimated += at_end[i] - at_begin;
    }
    bool longer = book->to_ms - book->from_ms > POINT_TO_POINT_MS;
    if (book->estimated > 0 && (book->how & HOW_METHOD_MASK) == HOW_MEASURED)
        book->how |= longer ? HOW_ESTIMATED : HOW_INTERPOLATED;
}

/* After the last whole row of a gap: what of it reaches into the next row. */
static void fill_tail(struct book *book)
{
    book->unobserved_ms += book->to_ms - book->frontier_ms;
    for (int32_t i = 0; i < book->count; i++)
        book->estimated += book->to[i] - book->fixed[i];
    if (book->estimated > 0)
        book->how |= book->to_ms - book->from_ms > POINT_TO_POINT_MS ? HOW_ESTIMATED : HOW_INTERPOLATED;
}

bool book_take(struct book *book, struct book_row *row)
{
    if (!book->open || !pending(book))
        return false;
    int64_t end = book_due_ms(book);
    int64_t at_end[BOOK_COUNTERS] = { 0 };
    for (int32_t i = 0; i < book->count; i++)
        at_end[i] = account_at(book, i, end);
    if (book->gap)
        fill(book, end, at_end);
    if (book->off_from_ms < end && book->off_to_ms > book->frontier_ms)
        book->how |= HOW_POWER_FAILED;
    *row = (struct book_row){
        .start_ms = book->frontier_ms,
        .estimated = book->estimated,
        .unobserved_ms = book->unobserved_ms,
        .how = book->how,
    };
    for (int32_t i = 0; i < book->count; i++) {
        row->energy[i] = at_end[i] - book->fixed[i];
        row->account[i] = book->fixed[i] = at_end[i];
    }
    book->frontier_ms = end;
    book->estimated = book->unobserved_ms = 0;
    book->how = 0;
    if (book->gap && !pending(book) && book->to_ms > end)
        fill_tail(book);
    return true;
}
