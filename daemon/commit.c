/* One transaction: rows, register runs, days, derived rows, events. Either all
 * of it is in the record or nothing, and the outbox is kept until it is. */
#include <stdio.h>
#include <string.h>

#include "collect_state.h"
#include "log.h"
#include "schema.h"

#define RETRY_MS      60000 /* after a full or failing disk */
#define RETRY_BUSY_MS 1000
#define EVENTS_MS     300000 /* events alone wait this long */

static int put_rows(struct collect *collect)
{
    int result = STORE_OK;
    for (int32_t i = 0; i < collect->outbox.row_count && result == STORE_OK; i++)
        result = store_add_row(collect->store, &collect->outbox.rows[i].row);
    return result;
}

/* Runs of a series end and begin together, in one transaction, so that each
 * counter always has one open run (where the direction was turned, it comes
 * from the other): they wait while one of them is not dated. */
static bool must_wait(const struct meter *meter, const struct series *series)
{
    for (int32_t i = 0; i < series->check.count; i++) {
        const struct counter_state *state = &meter->counters[series->check.counters[i]];
        if (state->open && state->run.id == 0 && state->run.base_s == 0)
            return true;
    }
    return false;
}

static bool end_must_wait(const struct collect *collect, const struct store_run *run)
{
    for (int32_t m = 0; m < collect->config->meter_count; m++) {
        const struct meter *meter = &collect->meters[m];
        for (int which = 0; meter->config->number == run->meter && which < SERIES_COUNT; which++)
            if (series_position(&meter->series[which], run->counter) >= 0 &&
                meter->counters[run->counter].open)
                return must_wait(meter, &meter->series[which]);
    }
    return run->to_ms == STORE_NULL;
}

static int put_ended(struct collect *collect)
{
    struct outbox *outbox = &collect->outbox;
    int result = STORE_OK;
    for (int32_t i = 0; i < outbox->ended_count && result == STORE_OK; i++) {
        if (outbox->ended[i].to_ms == STORE_NULL && collect->date.trusted)
            outbox->ended[i].to_ms = date_utc_ms(&collect->date, outbox->ended_boot_ms[i]);
        struct store_run run = outbox->ended[i];
        outbox->ended_stored[i] = !end_must_wait(collect, &run);
        if (!outbox->ended_stored[i] || (run.id == 0 && run.from_ms == 0))
            continue; /* the latter began and ended without a date: its energy stands in the held rows */
        result = store_put_run(collect->store, &run);
    }
    return result;
}

static int put_begun(struct collect *collect, struct meter *meter)
{
    int result = STORE_OK;
    for (int which = 0; which < SERIES_COUNT; which++) {
        struct series *series = &meter->series[which];
        for (int32_t i = 0; i < series->check.count && result == STORE_OK; i++) {
            struct counter_state *state = &meter->counters[series->check.counters[i]];
            state->new_id = state->run.id;
            if (!state->open || state->run.id != 0 || must_wait(meter, series))
                continue;
            struct store_run run = state->run;
            result = store_put_run(collect->store, &run);
            state->new_id = run.id;
        }
    }
    return result;
}

static int move_anchors(struct collect *collect, struct meter *meter, const struct series *series)
{
    int result = STORE_OK;
    for (int32_t i = 0; i < series->check.count && result == STORE_OK; i++) {
        const struct counter_state *state = &meter->counters[series->check.counters[i]];
        if (state->new_id != 0)
            result = store_move_anchor(collect->store, state->new_id, series->book.frontier_ms / 1000,
                                       series->book.fixed[i] - state->offset);
    }
    return result;
}

/* The transaction that stores a day's last row closes the day. */
static int close_days(struct collect *collect, struct meter *meter)
{
    int result = STORE_OK;
    for (int which = 0; which < SERIES_COUNT; which++) {
        struct series *series = &meter->series[which];
        const struct book *active = &meter->series[SERIES_ACTIVE].book;
        bool closed = false;
        series->closed_s = series->midnight_s;
        if (series->check.count == 0)
            continue;
        /* A day of the others waits until that of active energy is complete. */
        while (result == STORE_OK && series->closed_s != 0 &&
               series->closed_s * 1000 <= series->book.frontier_ms &&
               (active->count == 0 || series->closed_s * 1000 <= active->frontier_ms)) {
            int64_t day = civil_day_of(collect->civil, series->closed_s - 1);
            result = store_close_day(collect->store, meter->config->number, day,
                                     civil_day_start(collect->civil, day), series->closed_s,
                                     collect->config->site.interval_s);
            series->closed_s =
                civil_day_start(collect->civil, civil_day_of(collect->civil, series->closed_s) + 1);
            closed = true;
        }
        if (closed && result == STORE_OK)
            result = move_anchors(collect, meter, series);
    }
    return result;
}

static int put_events(struct collect *collect)
{
    const struct outbox *outbox = &collect->outbox;
    int result = STORE_OK;
    for (int32_t i = 0; i < outbox->event_count && result == STORE_OK; i++) {
        const struct waiting_event *event = &outbox->events[i];
        int64_t at_ms = collect->date.trusted ? date_utc_ms(&collect->date, event->boot_ms) : STORE_NULL;
        result = store_add_event(collect->store, at_ms, collect->boot, event->boot_ms, event->kind,
                                 event->meter, event->bus[0] ? event->bus : NULL, event->count, event->text);
    }
    if (result == STORE_OK && outbox->events_dropped > 0)
        result = store_add_event(collect->store, STORE_NULL, collect->boot, outbox_now_ms(collect),
                                 "events_dropped", 0, NULL, outbox->events_dropped, "too many at once");
    return result;
}

static int put_clock(struct collect *collect)
{
    struct outbox *outbox = &collect->outbox;
    int result = STORE_OK;
    if (outbox->clock) {
        result =
            store_add_clock(collect->store, collect->boot, outbox->clock_from_ms, collect->date.offset_ms,
                            collect->date.source, collect->date.doubt_ms, collect->newest_s);
        if (result == STORE_OK)
            result = store_date_boot(collect->store, collect->boot, collect->date.offset_ms);
    }
    if (result == STORE_OK && outbox->drop_held)
        result = store_drop_held(collect->store, collect->boot, outbox->drop_id);
    for (int32_t i = 0; i < outbox->held_count && result == STORE_OK; i++)
        result = store_add_held(collect->store, collect->boot, &outbox->held[i]);
    return result;
}

static int put_all(struct collect *collect)
{
    int result = put_rows(collect);
    if (result == STORE_OK)
        result = put_clock(collect);
    if (result == STORE_OK)
        result = put_ended(collect);
    for (int32_t i = 0; i < collect->config->meter_count && result == STORE_OK; i++)
        result = put_begun(collect, &collect->meters[i]);
    for (int32_t i = 0; i < collect->config->meter_count && result == STORE_OK; i++)
        result = close_days(collect, &collect->meters[i]);
    if (result == STORE_OK)
        result = derived_commit(collect);
    if (result == STORE_OK)
        result = correcting_commit(collect);
    if (result == STORE_OK)
        result = put_events(collect);
    return result;
}

static void settle_meter(struct meter *meter)
{
    for (int c = 0; c < COUNTER_COUNT; c++)
        if (meter->counters[c].open && meter->counters[c].run.id == 0)
            meter->counters[c].run.id = meter->counters[c].new_id;
    for (int which = 0; which < SERIES_COUNT; which++)
        if (meter->series[which].closed_s != 0)
            meter->series[which].midnight_s = meter->series[which].closed_s;
}

/* What is in the record need not wait any more. */
static void settle(struct collect *collect, struct outbox_mark stored)
{
    struct outbox *outbox = &collect->outbox;
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        settle_meter(&collect->meters[m]);
    for (int32_t i = 0; i < stored.rows; i++) {
        int64_t end_s = outbox->rows[i].row.start_s + collect->config->site.interval_s;
        if (end_s > collect->committed_end_s)
            collect->committed_end_s = end_s;
    }
    if (collect->committed_end_s > collect->newest_s)
        collect->newest_s = collect->committed_end_s;
    outbox_drop(collect, stored);
    collect->row_due_ms = collect->retry_ms = 0;
    collect->refine_due = true;
    if (stored.ended > 0)
        collect->corrections_read = false; /* an exchange may have been declared */
    if (collect->failing)
        log_write(LOG_NOTE, "the record is written again");
    collect->failing = false;
}

static void report(struct collect *collect, int result)
{
    collect->retry_ms = outbox_now_ms(collect) + (result == STORE_BUSY ? RETRY_BUSY_MS : RETRY_MS);
    if (collect->failing)
        return;
    collect->failing = true;
    log_write(LOG_ERROR, "cannot write the record '%s': %s; polling goes on, trying again each minute",
              collect->setup.database, collect->store ? store_why(collect->store) : collect->why);
}

/* Ids of the runs that the commit in doubt began, also of those that have ended since. */
static int find_runs(struct collect *collect)
{
    struct outbox *outbox = &collect->outbox;
    int result = STORE_OK;
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        for (int c = 0; c < COUNTER_COUNT && result == STORE_OK; c++) {
            struct counter_state *state = &collect->meters[m].counters[c];
            state->new_id = 0;
            if (state->open && state->run.id == 0 && state->run.base_s != 0)
                result = store_find_run(collect->store, &state->run, &state->new_id);
        }
    for (int32_t i = 0; i < outbox->ended_count && result == STORE_OK; i++)
        if (outbox->ended[i].id == 0)
            result = store_find_run(collect->store, &outbox->ended[i], &outbox->ended[i].id);
    return result;
}

/* Is the commit in doubt in the record? 1, 0 or a failure. By its first row;
 * without one by its newest event. */
static int find_doubt(struct collect *collect)
{
    const struct outbox_mark *doubt = &collect->doubt;
    for (int32_t i = 0; i < doubt->rows; i++) {
        const struct store_row *row = &collect->outbox.rows[i].row;
        if (row->counts || row->other_energy || row->momentary)
            return store_has_row(collect->store, row_id(row->start_s, row->meter));
    }
    int64_t last = 0;
    int result = store_last_event(collect->store, &last);
    return result == STORE_OK ? doubt->events > 0 && last == doubt->last_event : result;
}

/* A commit whose sync failed may be in the record all the same. */
static int settle_doubt(struct collect *collect)
{
    if (!collect->in_doubt)
        return STORE_OK;
    int found = find_doubt(collect);
    int result = found < 0 ? found : find_runs(collect);
    if (result != STORE_OK)
        return result;
    if (found == 1)
        settle(collect, collect->doubt);
    collect->in_doubt = false;
    return STORE_OK;
}

int commit_reopen(struct collect *collect)
{
    if (collect->store)
        return STORE_OK;
    int result = store_open(&collect->store, collect->setup.database, collect->why);
    if (result == STORE_OK)
        result = replaced_take_up(collect);
    if (result == STORE_OK)
        result = settle_doubt(collect);
    if (result == STORE_OK)
        result = derived_resume(collect);
    if (result != STORE_OK && collect->store) {
        snprintf(collect->why, sizeof collect->why, "%s", store_why(collect->store));
        store_close(collect->store);
        collect->store = NULL;
    }
    if (result == STORE_OK)
        replaced_remember(collect);
    return result;
}

/* A long outbox is not tried for nothing each minute: one small row first. */
static int probe(struct collect *collect)
{
    int64_t at_ms = collect->date.trusted ? date_utc_ms(&collect->date, outbox_now_ms(collect)) : STORE_NULL;
    int result = store_begin(collect->store);
    if (result == STORE_OK)
        result =
            store_add_event(collect->store, at_ms, collect->boot, outbox_now_ms(collect), "disk", 0, NULL,
                            collect->outbox.row_count, "written again after so many rows had to wait");
    if (result == STORE_OK)
        result = store_commit(collect->store);
    if (result != STORE_OK)
        store_rollback(collect->store);
    return result;
}

void commit_failed(struct collect *collect, int result)
{
    report(collect, result);
    if (result != STORE_IO && result != STORE_CORRUPT)
        return;
    store_close(collect->store);
    collect->store = NULL;
}

int commit_now(struct collect *collect)
{
    int result = commit_reopen(collect);
    if (result != STORE_OK) {
        report(collect, result);
        return result;
    }
    if (collect->failing && collect->outbox.row_count >= OUTBOX_PIECE) {
        result = probe(collect);
        if (result != STORE_OK) {
            commit_failed(collect, result);
            return result;
        }
    }
    struct derived saved = collect->derived;
    struct outbox_mark stored = outbox_mark(&collect->outbox);
    bool committing = false;
    result = store_begin(collect->store);
    if (result == STORE_OK) {
        result = put_all(collect);
        if (result == STORE_OK)
            result = store_last_event(collect->store, &stored.last_event);
        if (result == STORE_OK) {
            committing = true;
            result = store_commit(collect->store);
        }
    }
    if (result == STORE_OK) {
        settle(collect, stored);
        return STORE_OK;
    }
    store_rollback(collect->store);
    collect->derived = saved;
    collect->in_doubt = committing && (result == STORE_IO || result == STORE_CORRUPT);
    collect->doubt = stored;
    commit_failed(collect, result);
    return result;
}

bool commit_flush(struct collect *collect)
{
    const struct outbox *outbox = &collect->outbox;
    if (collect->store && !outbox->drop_held &&
        outbox->row_count + outbox->ended_count + outbox->held_count == 0)
        return true;
    return outbox_now_ms(collect) >= collect->retry_ms && commit_now(collect) == STORE_OK;
}

static bool all_passed(const struct collect *collect, int64_t end_s)
{
    for (int32_t i = 0; i < collect->config->meter_count; i++) {
        const struct meter *meter = &collect->meters[i];
        for (int which = 0; which < SERIES_COUNT; which++) {
            const struct book *book = &meter->series[which].book;
            if (!meter->lost && book->open && book->frontier_ms < end_s * 1000)
                return false;
        }
    }
    return true;
}

bool commit_due(const struct collect *collect)
{
    const struct outbox *outbox = &collect->outbox;
    int64_t now = outbox_now_ms(collect);
    int64_t every = collect->config->site.commit_s;
    if (every < collect->config->site.interval_s)
        every = collect->config->site.interval_s;
    if (now < collect->retry_ms)
        return false;
    if (outbox->row_count + 2 * CONFIG_MAX_METERS >= OUTBOX_PIECE || outbox->held_count * 2 >= OUTBOX_HELD)
        return true;
    if (outbox->event_count > 0 && now - outbox->events[0].boot_ms >= EVENTS_MS)
        return true;
    if (outbox->row_count == 0)
        return outbox->held_count > 0 && now >= collect->row_due_ms;
    if (outbox->newest_end_s / every == collect->committed_end_s / every)
        return false;
    return now >= collect->row_due_ms || all_passed(collect, outbox->newest_end_s);
}
