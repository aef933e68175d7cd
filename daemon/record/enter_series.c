#include "enter_series.h"

#include <string.h>

#include "fill.h"
#include "schema.h"

/* A gap longer than this ends the register run: its energy is not placed. */
#define LONGEST_GAP_MS (INT64_C(400) * 86400 * 1000)
/* The gate's products stay small; no meter reaches it. */
#define NO_RATING_MW   INT64_C(1000000000000)

/* Marks a reading that nothing joins to the one before; the gate hands it on. */
#define BEGINS         Q_SERIAL_NUMBER

int64_t enter_grid_length(const struct enter_grid *grid, int64_t at_s)
{
    int32_t i = grid->count - 1;
    while (i > 0 && grid->from_s[i] > at_s)
        i--;
    return grid->length_s[i];
}

void enter_series_init(struct enter_series *series, int32_t meter, uint32_t mask, bool energies,
                       int64_t rated_mw, struct enter_grid grid, struct enter_sink sink)
{
    memset(series, 0, sizeof *series);
    series->meter = meter;
    series->energies = energies;
    series->grid = grid;
    series->sink = sink;
    /* Entered readings are far apart by nature: only what falls or rises too much is held back. */
    check_init(&series->check, mask, rated_mw > 0 ? rated_mw : NO_RATING_MW, INT64_MAX);
    series->count = series->check.count;
    memcpy(series->counters, series->check.counters, sizeof series->counters);
    series->other = series->count > 0 && series->counters[0] > Q_ACTIVE_EXPORT;
}

static int64_t length_ms(const struct enter_series *series, int64_t at_ms)
{
    return 1000 * enter_grid_length(&series->grid, at_ms / 1000);
}

/* End of the row that begins at the book's frontier. */
static int64_t row_end(const struct enter_series *series)
{
    int64_t at_ms = series->book.frontier_ms, length = length_ms(series, at_ms);
    return at_ms + length - at_ms % length;
}

/* Position of a counter in a row of its table. */
static int place_of(const struct enter_series *series, int32_t i)
{
    return series->counters[i] - (series->other ? Q_REACTIVE_IMPORT : 0);
}

/* Spans too long to be point to point may get a better shape later. */
static void find_span(const struct enter_series *series, const struct book_row *from, struct enter_row *row)
{
    const struct book *book = &series->book;
    int64_t length = length_ms(series, book->from_ms);
    int64_t first_ms = book->from_ms + length - 1, end_ms = book->to_ms - book->to_ms % length;
    first_ms -= first_ms % length;
    if (!book->gap || book->to_ms - book->from_ms <= FILL_DIRECT_MS || series->other ||
        length_ms(series, book->to_ms) != length || from->start_ms < first_ms || from->start_ms >= end_ms)
        return;
    row->span_from_s = first_ms / 1000;
    row->span_to_s = end_ms / 1000;
}

static int give_row(struct enter_series *series, const struct book_row *from)
{
    struct enter_row row = { .start_s = from->start_ms / 1000,
                             .estimated = from->estimated,
                             .unobserved_s = (from->unobserved_ms + 500) / 1000,
                             .lacking_s = (series->lacking_ms + 999) / 1000 };
    series->lacking_ms = 0;
    row.how =
        (uint16_t)((from->how & ~HOW_METHOD_MASK) | (series->energies ? HOW_ENTERED_ENERGY : HOW_ENTERED));
    for (int i = 0; i < ENTER_COUNTERS; i++)
        row.energy[i] = ENTER_NONE;
    for (int32_t i = 0; i < series->count; i++) {
        row.energy[place_of(series, i)] = from->energy[i];
        series->energy[i] += from->energy[i];
    }
    find_span(series, from, &row);
    return series->sink.row(series->sink.self, series, &row);
}

/* The interval's length may change on the way: each row has its own. */
static int take_rows(struct enter_series *series)
{
    struct book_row row;
    int result = 0;
    while (result == 0) {
        series->book.length_ms = length_ms(series, series->book.frontier_ms);
        if (!book_take(&series->book, &row))
            break;
        result = give_row(series, &row);
    }
    return result;
}

static void begin_run(struct enter_series *series, int32_t i, const struct reading *reading)
{
    const struct counter_reading *now = &reading->counter[series->counters[i]];
    account_begin(&series->account[i], now->value, now->step);
    series->runs[i] = (struct enter_run){ .from_ms = reading->boot_ms,
                                          .first = now->value,
                                          .step = now->step,
                                          .to_ms = reading->boot_ms,
                                          .last = now->value,
                                          .ended = "entered" };
    series->runs[i].base_s = series->book.frontier_ms / 1000;
    series->runs[i].base = series->book.fixed[i] - series->offset[i];
}

static int end_run(struct enter_series *series, int32_t i, const char *why)
{
    series->runs[i].ended = why;
    return series->sink.ended(series->sink.self, series, i);
}

static int begin_book(struct enter_series *series, const struct reading *reading)
{
    int64_t account[BOOK_COUNTERS];
    for (int32_t i = 0; i < series->count; i++) {
        series->offset[i] = 0;
        account[i] = reading->counter[series->counters[i]].value;
    }
    book_init(&series->book, series->count, length_ms(series, reading->boot_ms));
    book_begin(&series->book, reading->boot_ms, account);
    for (int32_t i = 0; i < series->count; i++)
        begin_run(series, i, reading);
    series->last_ms = reading->boot_ms;
    series->lacking_ms = reading->boot_ms - series->book.frontier_ms;
    return 0;
}

static bool tells_nothing(const struct book *book, int64_t end_ms, int64_t last_ms)
{
    for (int32_t i = 0; i < book->count; i++)
        if (book->to[i] != book->fixed[i])
            return false;
    return book->unobserved_ms + end_ms - last_ms >= end_ms - book->frontier_ms;
}

/* The row that is not whole: the rest of its time is unknown, its energy is not lost. */
static int flush_book(struct enter_series *series)
{
    struct book *book = &series->book;
    if (!book->open || series->last_ms == book->frontier_ms)
        return 0;
    int64_t end_ms = row_end(series);
    if (tells_nothing(book, end_ms, series->last_ms))
        return 0;
    int64_t account[BOOK_COUNTERS];
    memcpy(account, book->to, sizeof account);
    book->unobserved_ms += end_ms - series->last_ms;
    series->lacking_ms += end_ms - series->last_ms;
    book_read(book, end_ms, account, false, 0);
    return take_rows(series);
}

/* Interval energies that do not join: nothing is known of the time between. */
static int step_over(struct enter_series *series, const struct reading *reading)
{
    struct book *book = &series->book;
    if (reading->boot_ms < row_end(series)) {
        int64_t account[BOOK_COUNTERS];
        memcpy(account, book->to, sizeof account);
        book->unobserved_ms += reading->boot_ms - series->last_ms;
        series->lacking_ms += reading->boot_ms - series->last_ms;
        book_read(book, reading->boot_ms, account, false, 0);
        series->last_ms = reading->boot_ms;
        return 0;
    }
    int result = flush_book(series);
    if (result != 0)
        return result;
    int64_t account[BOOK_COUNTERS];
    for (int32_t i = 0; i < series->count; i++)
        account[i] = series->account[i].account + series->offset[i];
    book_init(book, series->count, length_ms(series, reading->boot_ms));
    book_begin(book, reading->boot_ms, account);
    series->last_ms = reading->boot_ms;
    series->lacking_ms = reading->boot_ms - book->frontier_ms;
    return 0;
}

/* Too long to be filled: the run ends, another begins with the same register. */
static int break_off(struct enter_series *series, const struct reading *reading)
{
    int result = flush_book(series);
    for (int32_t i = 0; i < series->count && result == 0; i++)
        result = end_run(series, i, "gap");
    series->unplaced_ms += reading->boot_ms - series->last_ms;
    return result == 0 ? begin_book(series, reading) : result;
}

/* Moves the accounts; a register that does not go on begins a run and adds nothing. */
static int move_accounts(struct enter_series *series, const struct reading *reading,
                         const enum run_end *ended, int64_t account[], uint16_t *flags)
{
    int result = 0;
    for (int32_t i = 0; i < series->count && result == 0; i++) {
        const struct counter_reading *now = &reading->counter[series->counters[i]];
        struct account *held = &series->account[i];
        if (ended && ended[i] != RUN_GOES_ON) {
            int64_t continuous = held->account + series->offset[i];
            result = end_run(series, i, ended[i] == RUN_RISE ? "rise" : "reset");
            series->offset[i] = continuous - now->value;
            begin_run(series, i, reading);
            *flags |= HOW_RUN_CHANGE;
        } else {
            account_read(held, now->value, now->step, 0, 0);
            series->runs[i].to_ms = reading->boot_ms;
            series->runs[i].last = now->value;
            if (now->step < series->runs[i].step)
                series->runs[i].step = now->step;
        }
        account[i] = held->account + series->offset[i];
    }
    return result;
}

static int account_reading(struct enter_series *series, const struct reading *reading,
                           const enum run_end *ended)
{
    int64_t account[BOOK_COUNTERS] = { 0 };
    uint16_t flags = 0;
    series->line = (int64_t)reading->counter[series->counters[0]].raw;
    series->readings++;
    if (!series->book.open)
        return begin_book(series, reading);
    if (reading->has[BEGINS])
        return step_over(series, reading);
    int64_t span = reading->boot_ms - series->last_ms;
    if (span > LONGEST_GAP_MS)
        return break_off(series, reading);
    int result = move_accounts(series, reading, ended, account, &flags);
    if (result != 0)
        return result;
    book_read(&series->book, reading->boot_ms, account, span > length_ms(series, series->last_ms), flags);
    series->last_ms = reading->boot_ms;
    return take_rows(series);
}

/* Which counter made the gate drop the reading: one that fell, else the one that rose most. */
static int32_t odd_counter(const struct enter_series *series, const struct reading *reading)
{
    int32_t odd = 0;
    int64_t most = INT64_MIN;
    for (int32_t i = 0; i < series->count; i++) {
        int c = series->counters[i];
        int64_t rise = reading->counter[c].value - series->check.last[c].value;
        if (rise < 0)
            rise = INT64_MAX;
        if (rise > most) {
            most = rise;
            odd = i;
        }
    }
    return odd;
}

static int reject(struct enter_series *series, const struct reading *reading)
{
    series->rejected++;
    return series->sink.rejected(series->sink.self, series, reading, odd_counter(series, reading));
}

/* The file's first reading has none before it to be judged by. */
static void begin_track(struct check *check, const struct reading *reading)
{
    memcpy(check->last, reading->counter, sizeof check->last);
    check->last_ms = reading->boot_ms;
    check->tracked = true;
}

int enter_series_read(struct enter_series *series, const struct reading *reading, bool begins)
{
    struct reading marked = *reading;
    struct verdict verdict;
    int result = 0;
    marked.has[BEGINS] = begins;
    if (!series->check.tracked) {
        begin_track(&series->check, &marked);
        return account_reading(series, &marked, NULL);
    }
    check_take(&series->check, &marked, &verdict);
    if (verdict.dropped)
        result = reject(series, &verdict.drop);
    for (int32_t i = 0; i < verdict.accepted && result == 0; i++)
        result = account_reading(series, &verdict.readings[i], i == 0 ? verdict.ended : NULL);
    return result;
}

int enter_series_finish(struct enter_series *series)
{
    int result = 0;
    /* What no later reading confirms is not taken. */
    for (int32_t i = 0; i < series->check.held_count && result == 0; i++)
        result = reject(series, &series->check.held[i]);
    series->check.held_count = 0;
    return result == 0 ? flush_book(series) : result;
}
