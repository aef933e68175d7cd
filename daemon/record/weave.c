#include "weave.h"

#include <string.h>

#include "schema.h"

/* Gaps up to this long are point to point, as in the book. */
#define POINT_TO_POINT_MS (2 * 3600 * INT64_C(1000))

void weave_begin(struct weave *weave, int32_t counters, int64_t length_ms, int64_t from_ms, uint16_t mark)
{
    static const int64_t nothing[BOOK_COUNTERS];
    memset(weave, 0, sizeof *weave);
    weave->counters = counters;
    weave->mark = mark;
    weave->last_ms = weave->span_ms = from_ms;
    /* Two counters more: what is estimated, and the time not watched. */
    book_init(&weave->book, counters + 2, length_ms);
    book_resume(&weave->book, from_ms, nothing);
}

static void add(struct weave *weave, const struct weave_row *row)
{
    for (int32_t i = 0; i < weave->counters; i++)
        weave->account[i] += row->energy[i];
    weave->flags |= row->how & (uint16_t) ~(HOW_METHOD_MASK | HOW_SHAPED);
}

void weave_break(struct weave *weave)
{
    weave->joined = false;
    weave->key_before = weave->key = 0;
}

void weave_pass(struct weave *weave, const struct weave_row *row)
{
    add(weave, row);
    weave_break(weave);
}

static void read_point(struct weave *weave, int64_t at_ms)
{
    int64_t account[BOOK_COUNTERS] = { 0 };
    memcpy(account, weave->account, sizeof weave->account);
    account[weave->counters] = weave->estimated;
    account[weave->counters + 1] = weave->unobserved_ms;
    book_read(&weave->book, at_ms, account, false, weave->flags);
    memcpy(weave->placed, weave->account, sizeof weave->placed);
    weave->flags = 0;
}

/* Nobody watched since the last point: all of it is placed along a line. A
 * counter that stands where it stood was still all the time. */
static void add_gap(struct weave *weave, int64_t length_ms)
{
    int64_t moved = 0;
    for (int32_t i = 0; i < weave->counters; i++)
        moved += weave->account[i] - weave->placed[i];
    weave->estimated += moved;
    weave->unobserved_ms += moved > 0 ? length_ms : 0;
    weave->method = length_ms > POINT_TO_POINT_MS ? HOW_ESTIMATED : HOW_INTERPOLATED;
}

bool weave_point(struct weave *weave, const struct weave_row *row, int64_t at_ms)
{
    if (at_ms <= weave->last_ms) {
        weave_pass(weave, row);
        return false;
    }
    add(weave, row);
    int64_t length_ms = at_ms - weave->last_ms;
    bool joined = weave->joined && length_ms < 2 * row->length_ms;
    if (joined) {
        weave->estimated += row->estimated;
        weave->unobserved_ms += row->unobserved_ms;
        weave->method = row->how & HOW_METHOD_MASK;
    } else {
        add_gap(weave, length_ms);
    }
    weave->key_before = joined ? weave->key : 0;
    weave->key = row->key;
    weave->span_ms = weave->last_ms;
    weave->last_ms = at_ms;
    weave->joined = true;
    read_point(weave, at_ms);
    return true;
}

static int64_t within(int64_t x, int64_t most)
{
    return x < 0 ? 0 : x < most ? x : most;
}

/* The old row that lies over more than half of this one. */
static int64_t key_of(const struct weave *weave, int64_t start_ms, int64_t end_ms)
{
    int64_t begin_ms = start_ms > weave->span_ms ? start_ms : weave->span_ms;
    return 2 * (end_ms - begin_ms) >= end_ms - start_ms ? weave->key : weave->key_before;
}

bool weave_take(struct weave *weave, struct woven *row)
{
    struct book_row taken;
    if (!book_take(&weave->book, &taken))
        return false;
    int64_t sum = 0, end_ms = weave->book.frontier_ms;
    *row = (struct woven){ .start_ms = taken.start_ms };
    for (int32_t i = 0; i < weave->counters; i++) {
        row->energy[i] = taken.energy[i];
        sum += taken.energy[i];
    }
    row->estimated = within(taken.energy[weave->counters], sum);
    row->unobserved_ms = within(taken.energy[weave->counters + 1], end_ms - taken.start_ms);
    bool placed = weave->method == HOW_INTERPOLATED || weave->method == HOW_ESTIMATED;
    uint16_t method = weave->method;
    if (placed != (row->estimated > 0))
        method = placed ? HOW_MEASURED : HOW_INTERPOLATED;
    row->how = (uint16_t)(taken.how | method | weave->mark);
    row->key = key_of(weave, taken.start_ms, end_ms);
    return true;
}
