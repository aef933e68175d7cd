/* From a dated account to rows: points to the books, rows to the outbox. */
#include "collect_state.h"
#include "schema.h"

static int64_t next_midnight(const struct collect *collect, int64_t at_s)
{
    return civil_day_start(collect->civil, civil_day_of(collect->civil, at_s) + 1);
}

static void count_today(struct collect *collect, struct meter *meter, int which, const struct book_row *row)
{
    struct series *series = &meter->series[which];
    int64_t start_s = row->start_ms / 1000;
    if (series->midnight_s == 0)
        series->midnight_s = next_midnight(collect, start_s);
    if (start_s >= meter->today_end_s) {
        meter->today_end_s = next_midnight(collect, start_s);
        for (int c = 0; c < COUNTER_COUNT; c++)
            meter->counters[c].today = 0;
    }
    for (int32_t i = 0; i < series->check.count; i++)
        meter->counters[series->check.counters[i]].today += row->energy[i];
}

static bool take_rows(struct collect *collect, struct meter *meter, int which)
{
    struct outbox *outbox = &collect->outbox;
    struct book *book = &meter->series[which].book;
    struct book_row row;
    int32_t room = collect->failing ? OUTBOX_ROWS : OUTBOX_PIECE;
    /* Room for a row of each series and of the derived meter. */
    while (outbox->row_count + 2 < room) {
        if (!book_take(book, &row))
            return true;
        struct waiting_row *waiting = &outbox->rows[outbox->row_count++];
        waiting->which = (uint8_t)which;
        waiting->meter = (int16_t)meter->index;
        meter_row(meter, which, &row, &waiting->row);
        count_today(collect, meter, which, &row);
        outbox_waits(collect, book->frontier_ms / 1000);
        if (which == SERIES_ACTIVE)
            derived_crossed(collect, meter, &row);
    }
    return false;
}

/* A long gap has more rows than the outbox: write piece by piece, each a full
 * commit. While the disk refuses, the book keeps what is left as one span. */
static void take_all_rows(struct collect *collect, struct meter *meter, int which)
{
    while (!take_rows(collect, meter, which))
        if (collect->failing || !collect->store || commit_now(collect) != STORE_OK)
            return;
}

void posting_point(struct collect *collect, struct meter *meter, int which, int64_t utc_ms,
                   const int64_t account[], bool gap, uint16_t flags)
{
    struct book *book = &meter->series[which].book;
    if (!book->open)
        book_begin(book, utc_ms, account);
    else
        book_read(book, utc_ms, account, gap, flags);
    take_all_rows(collect, meter, which);
}

/* A run that begins at this reading counts from the frontier of its book on. */
void posting_runs(struct meter *meter, int which, int64_t utc_ms, const int64_t account[])
{
    const struct series *series = &meter->series[which];
    for (int32_t i = 0; i < series->check.count; i++) {
        struct counter_state *state = &meter->counters[series->check.counters[i]];
        if (state->run.id != 0 || state->run.base_s != 0)
            continue;
        const struct book *book = &series->book;
        int64_t frontier_ms = book->open ? book->frontier_ms : book_start_of(book, utc_ms);
        state->run.from_ms = state->run.from_ms == 0 ? utc_ms : state->run.from_ms;
        state->run.base_s = frontier_ms / 1000;
        state->run.base = (book->open ? book->fixed[i] : account[i]) - state->offset;
    }
}
