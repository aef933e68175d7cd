/* Trust in the clock, and what was read before it came. */
#include <stdio.h>
#include <string.h>

#include "collect_state.h"
#include "log.h"
#include "schema.h"

enum { PIECE = 200 }; /* held rows dated per transaction */

/* Poll times follow the clock where it moved by more than two readings of two
 * clocks may differ, not with each breath of it. */
#define GRID_US     2000

/* How long after the start a meter is waited for. */
#define PATIENCE_MS 60000

static void tell_grid(struct collect *collect)
{
    int64_t grid_us = collect->now.wall_us - collect->now.boot_us;
    int64_t moved = grid_us - collect->grid_us;
    if (!collect->date.trusted || (moved < GRID_US && moved > -GRID_US))
        return;
    if (grid_us / 1000 - collect->date.offset_ms > 1 || collect->date.offset_ms - grid_us / 1000 > 1)
        return; /* not believed (yet) */
    collect->grid_us = grid_us;
    if (collect->setup.on_grid)
        collect->setup.on_grid(collect->setup.self, grid_us);
}

static struct meter *meter_of(struct collect *collect, int32_t number)
{
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        if (collect->meters[i].config->number == number)
            return &collect->meters[i];
    return NULL;
}

/* What one meter held at one instant: `count` rows, one per counter. */
static void put_point(struct collect *collect, const struct store_held *held, int32_t count,
                      int64_t offset_ms)
{
    struct meter *meter = meter_of(collect, held->meter);
    for (int which = 0; meter && which < SERIES_COUNT; which++) {
        struct series *series = &meter->series[which];
        int64_t account[BOOK_COUNTERS] = { 0 };
        int32_t found = 0;
        bool unobserved = false;
        for (int32_t k = 0; k < count; k++) {
            int32_t i = series_position(series, held[k].counter);
            if (i < 0)
                continue;
            account[i] = held[k].account;
            unobserved = unobserved || held[k].unobserved_s > 0;
            found++;
        }
        if (found == 0 || found < series->check.count)
            continue;
        int64_t utc_ms = held->ms + offset_ms;
        posting_runs(meter, which, utc_ms, account);
        posting_point(collect, meter, which, utc_ms, account, unobserved, HOW_BACK_DATED);
    }
}

static bool is_same_point(const struct store_held *a, const struct store_held *b)
{
    return a->ms == b->ms && a->meter == b->meter;
}

/* A full piece may end inside a point: then it is left for the next. */
static int32_t whole_points(const struct store_held *held, int32_t count)
{
    int32_t whole = count;
    while (count == PIECE && whole > 1 && is_same_point(&held[whole - 1], &held[count - 1]))
        whole--;
    return whole;
}

/* Held rows of this boot become readings, in pieces, each deleted by the
 * transaction that stores what they gave. Where the disk refuses, the rows
 * that come of them wait like others. */
static void date_held(struct collect *collect)
{
    struct store_held *held = collect->outbox.held;
    int64_t after_id = 0;
    for (;;) {
        int32_t count =
            collect->store ? store_read_held(collect->store, collect->boot, after_id, held, PIECE) : -1;
        if (count == 0 && after_id == 0)
            return; /* nothing was held */
        if (count <= 0)
            break;
        int32_t whole = whole_points(held, count);
        for (int32_t first = 0, next; first < whole; first = next) {
            for (next = first + 1; next < whole && is_same_point(&held[next], &held[first]);)
                next++;
            put_point(collect, &held[first], next - first, collect->date.offset_ms);
        }
        after_id = held[whole - 1].id;
        collect->outbox.drop_held = true;
        collect->outbox.drop_id = after_id;
        if (!collect->failing)
            commit_now(collect);
    }
    /* What could not be read again is in the accounts all the same. */
    collect->outbox.drop_held = true;
    collect->outbox.drop_id = INT64_MAX;
}

/* Trust waits until all that is held is in the record. */
static bool flush_held(struct collect *collect)
{
    collect->date.trusted = false;
    return outbox_now_ms(collect) >= collect->retry_ms && commit_flush(collect);
}

/* What the process before held goes on in accounts that are taken up with each meter's first answer;
 * one that is silent is not waited for. */
static bool awaits_meters(struct collect *collect)
{
    struct store_held held;
    bool heard = true;
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        heard = heard && (collect->meters[m].series[SERIES_ACTIVE].mask != 0 ||
                          collect->config->meters[m].role == ROLE_WEATHER);
    return !heard && collect->store && outbox_now_ms(collect) < collect->born_ms + PATIENCE_MS &&
           store_read_held(collect->store, collect->boot, INT64_MIN, &held, 1) == 1;
}

static void gained(struct collect *collect)
{
    if (awaits_meters(collect)) {
        collect->date.trusted = false;
        collect->anchors_ms = 0;
        return;
    }
    if (!flush_held(collect))
        return;
    collect->date.trusted = redating_run(collect) == STORE_OK;
    /* Earlier boots come before this one. */
    collect->date.trusted = collect->date.trusted && placing_earlier(collect) == STORE_OK;
    if (!collect->date.trusted)
        return;
    log_write(LOG_NOTE, "the clock is trusted from now on (%s)", collect->date.source);
    outbox_event(collect, "clock", 0, NULL, "trusted: %s", collect->date.source);
    date_held(collect);
}

static void note_clock(struct collect *collect)
{
    collect->outbox.clock = true;
    collect->outbox.clock_from_ms = outbox_now_ms(collect);
}

/* Another source for the same clock. */
static void vouched(struct collect *collect)
{
    log_write(LOG_INFO, "the clock goes by: %s", collect->date.source);
    outbox_event(collect, "clock", 0, NULL, "%s", collect->date.source);
    note_clock(collect);
}

/* A step of an interval at most is absorbed; a longer one says that rows are
 * wrong. They are put right before anything else is dated. */
static void stepped(struct collect *collect)
{
    int64_t step = collect->date.step_ms, length = collect->config->site.interval_s * INT64_C(1000);
    log_write(LOG_NOTE, "the clock was stepped by %+.3f s", (double)step / 1000);
    outbox_event(collect, "clock", 0, NULL, "stepped by %+lld ms", (long long)step);
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        for (int which = 0; which < SERIES_COUNT; which++) {
            struct series *series = &collect->meters[m].series[which];
            if (series->book.open)
                book_flag(&series->book, HOW_CLOCK);
            series->skipped = series->skipped || step > length;
        }
    if (step > length || step < -length)
        gained(collect);
    else
        note_clock(collect);
}

static void changed(struct collect *collect, enum date_change change)
{
    switch (change) {
    case DATE_GAINED:
        gained(collect);
        break;
    case DATE_STEPPED:
        stepped(collect);
        break;
    case DATE_SOURCE:
        vouched(collect);
        break;
    case DATE_REFUSED:
        log_write(LOG_WARN, "the clock is not believed (%+lld ms): %s", (long long)collect->date.step_ms,
                  collect->date.trusted ? "readings are dated as before"
                                        : "readings keep their boot time until a clock is trusted");
        outbox_event(collect, "clock", 0, NULL, "not believed: %+lld ms", (long long)collect->date.step_ms);
        break;
    case DATE_SAME:
        break;
    }
}

void dating_turn(struct collect *collect)
{
    changed(collect, date_turn(&collect->date, &collect->now, collect->newest_s * 1000));
    tell_grid(collect);
}

void dating_anchor(struct collect *collect, const char *source, int64_t offset_ms, int64_t doubt_ms)
{
    struct date *date = &collect->date;
    changed(collect, date_anchor(date, outbox_now_ms(collect), source, offset_ms, doubt_ms));
    tell_grid(collect);
}

void dating_start(struct collect *collect)
{
    char source[16];
    int64_t offset_ms;
    if (store_read_clock(collect->store, collect->boot, &offset_ms, source) == 1) {
        date_resume(&collect->date, offset_ms, source);
        tell_grid(collect);
        /* Left over where the power went while they were dated: the accounts have it. */
        struct store_held first;
        collect->outbox.drop_held = store_read_held(collect->store, collect->boot, 0, &first, 1) != 0;
        collect->outbox.drop_id = INT64_MAX;
    }
    if (store_begin(collect->store) == STORE_OK) {
        store_mark_undated(collect->store, collect->boot);
        store_commit(collect->store);
    }
}

static void put_held(struct collect *collect, struct meter *meter, int which, int64_t boot_ms)
{
    struct series *series = &meter->series[which];
    struct outbox *outbox = &collect->outbox;
    struct store_held held = { .ms = boot_ms,
                               .meter = meter->config->number,
                               .unobserved_s = series->hold_unobserved,
                               .power = STORE_NULL,
                               .power_min = STORE_NULL,
                               .power_max = STORE_NULL,
                               .voltage = STORE_NULL };
    if (which == SERIES_ACTIVE)
        samples_power(&meter->samples, &held.power, &held.power_min, &held.power_max, &held.voltage);
    for (int32_t i = 0; i < series->check.count; i++) {
        const struct counter_state *state = &meter->counters[series->check.counters[i]];
        held.counter = series->check.counters[i];
        held.account = state->account.account + state->offset;
        held.shift = state->offset;
        held.value = state->account.value;
        held.step = state->account.step;
        held.raw = state->raw;
        outbox->held[outbox->held_count++] = held;
        held.power = held.power_min = held.power_max = held.voltage = STORE_NULL;
    }
    series->hold_unobserved = false;
    outbox_waits(collect, 0);
}

static void tell_waiting(struct collect *collect)
{
    if (!collect->told_to_wait)
        log_write(LOG_NOTE, "no clock is trusted yet: readings are held until one is; "
                            "'meterbook note DATE clock', then SIGHUP, says what time it is");
    collect->told_to_wait = true;
}

/* One held row per counter and interval of boot time. */
void dating_hold(struct collect *collect, struct meter *meter, int which, const struct accounted *accounted,
                 const struct reading *reading)
{
    struct series *series = &meter->series[which];
    struct outbox *outbox = &collect->outbox;
    int64_t length = series->book.length_ms;
    int64_t slice = accounted->boot_ms / length;
    tell_waiting(collect);
    /* The first one too: nobody watched since the record's last row. */
    if (accounted->gap)
        series->hold_unobserved = true;
    /* The first reading is held too: it is where the account sets out. */
    if ((!series->holding || slice != series->hold_slice) &&
        outbox->held_count + series->check.count <= OUTBOX_HELD)
        put_held(collect, meter, which, accounted->boot_ms);
    series->holding = true;
    series->hold_slice = slice;
    if (which == SERIES_ACTIVE)
        meter_sample(meter, reading, slice * length);
}
