#include "collect_state.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "log.h"
#include "schema.h"

int64_t collect_boot_ms(const struct collect *collect)
{
    return collect->now.boot_us / 1000;
}

void collect_event(struct collect *collect, const char *kind, int32_t meter, const char *bus,
                   const char *format, ...)
{
    struct outbox *outbox = &collect->outbox;
    char text[160];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    struct waiting_event *last = outbox->event_count > 0 ? &outbox->events[outbox->event_count - 1] : NULL;
    if (last && last->kind == kind && last->meter == meter && strcmp(last->text, text) == 0 &&
        strcmp(last->bus, bus ? bus : "") == 0) {
        last->count++;
        return;
    }
    if (outbox->event_count == OUTBOX_EVENTS) {
        outbox->events_dropped++;
        return;
    }
    struct waiting_event *event = &outbox->events[outbox->event_count++];
    *event = (struct waiting_event){
        .boot_ms = collect_boot_ms(collect), .kind = kind, .meter = meter, .count = 1
    };
    snprintf(event->bus, sizeof event->bus, "%s", bus ? bus : "");
    memcpy(event->text, text, sizeof event->text);
}

/* After two poll periods, at most 10 s, late meters join the next commit. */
void collect_waits(struct collect *collect, int64_t end_s)
{
    int64_t wait_ms = 2 * (int64_t)collect->config->site.poll_period_ms + 1000;
    if (end_s <= collect->outbox.newest_end_s && collect->row_due_ms != 0)
        return;
    collect->outbox.newest_end_s = end_s;
    collect->row_due_ms = collect_boot_ms(collect) + (wait_ms < 10000 ? wait_ms : 10000);
}

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

bool collect_take_rows(struct collect *collect, struct meter *meter, int which)
{
    struct outbox *outbox = &collect->outbox;
    struct book *book = &meter->series[which].book;
    struct book_row row;
    /* Room for a row of each series and of the derived meter. */
    while (outbox->row_count + 2 < OUTBOX_ROWS) {
        if (!book_take(book, &row))
            return true;
        struct waiting_row *waiting = &outbox->rows[outbox->row_count++];
        waiting->which = (uint8_t)which;
        waiting->meter = (int16_t)meter->index;
        meter_row(meter, which, &row, &waiting->row);
        count_today(collect, meter, which, &row);
        collect_waits(collect, book->frontier_ms / 1000);
        if (which == SERIES_ACTIVE)
            derived_crossed(collect, meter, &row);
    }
    return false;
}

/* A long gap has more rows than the outbox: write piece by piece, each a full
 * commit. While the disk refuses, the book keeps what is left as one span. */
static void take_all_rows(struct collect *collect, struct meter *meter, int which)
{
    while (!collect_take_rows(collect, meter, which))
        if (collect->failing || commit_now(collect) != STORE_OK)
            return;
}

void collect_date_point(struct collect *collect, struct meter *meter, int which, int64_t utc_ms,
                        const int64_t account[], bool gap, uint16_t flags)
{
    struct book *book = &meter->series[which].book;
    if (!book->open)
        book_begin(book, utc_ms, account);
    else
        book_read(book, utc_ms, account, gap, flags);
    take_all_rows(collect, meter, which);
}

static void note_ended(struct collect *collect, const struct accounted *accounted)
{
    for (int32_t i = 0; i < accounted->ended_count; i++) {
        struct store_run run = accounted->ended[i];
        run.to_ms = collect->date.trusted ? date_utc_ms(&collect->date, accounted->boot_ms) : STORE_NULL;
        commit_end_run(collect, &run, accounted->boot_ms);
        log_write(LOG_NOTE, "meter %d: register run of %s ended: %s at %lld mWh", (int)run.meter,
                  quantity_info((enum quantity)run.counter)->name, run.ended, (long long)run.last);
        collect_event(collect, "run", run.meter, NULL, "%s: %s at %lld",
                      quantity_info((enum quantity)run.counter)->name, run.ended, (long long)run.last);
    }
}

static int64_t floor_to(int64_t t, int64_t length)
{
    int64_t rest = t % length;
    return t - (rest < 0 ? rest + length : rest);
}

/* A run that begins at this reading counts from the frontier of its book on. */
void collect_date_runs(struct meter *meter, int which, int64_t utc_ms, const int64_t account[])
{
    const struct series *series = &meter->series[which];
    for (int32_t i = 0; i < series->check.count; i++) {
        struct counter_state *state = &meter->counters[series->check.counters[i]];
        if (state->run.id != 0 || state->run.base_s != 0)
            continue;
        const struct book *book = &series->book;
        int64_t frontier_ms = book->open ? book->frontier_ms : floor_to(utc_ms, book->length_ms);
        state->run.from_ms = state->run.from_ms == 0 ? utc_ms : state->run.from_ms;
        state->run.base_s = frontier_ms / 1000;
        state->run.base = (book->open ? book->fixed[i] : account[i]) - state->offset;
    }
}

void collect_account(struct collect *collect, struct meter *meter, int which, const struct reading *reading,
                     const enum run_end *ended)
{
    struct accounted accounted;
    meter_account(meter, which, reading, ended, &accounted);
    note_ended(collect, &accounted);
    if (!collect->date.trusted) {
        dating_hold(collect, meter, which, &accounted, reading);
        return;
    }
    int64_t utc_ms = date_utc_ms(&collect->date, accounted.boot_ms);
    collect_date_runs(meter, which, utc_ms, accounted.account[which]);
    collect_date_point(collect, meter, which, utc_ms, accounted.account[which],
                       accounted.gap || meter->series[which].skipped, accounted.flags);
    meter->series[which].skipped = false;
    if (which == SERIES_ACTIVE) {
        meter_sample(meter, reading, floor_to(utc_ms, meter->series[which].book.length_ms));
        if (collect->derived.used && collect->derived.side_of[meter->index] >= 0)
            derived_now(collect, meter, accounted.account[which]);
    }
}

void collect_turn(struct collect *collect)
{
    collect->setup.clock.read(collect->setup.clock.self, &collect->now);
    dating_turn(collect);
    while (inbox_take(collect->setup.inbox, &collect->message))
        answers_take(collect, &collect->message);
    sleeping_turn(collect);
    derived_step(collect);
    if (commit_due(collect))
        commit_now(collect);
    refining_turn(collect);
    if (collect->latest && collect_boot_ms(collect) - collect->latest_ms >= 1000)
        latest_write(collect);
}

void collect_finish(struct collect *collect)
{
    collect->setup.clock.read(collect->setup.clock.self, &collect->now);
    collect_event(collect, "stop", 0, NULL, "stopped by request");
    collect->retry_ms = 0;
    commit_now(collect);
}

/* Trying again does not help where the file is not ours or must not be touched. */
static bool is_fatal(int result)
{
    return result == STORE_NEWER || result == STORE_ALIEN || result == STORE_READONLY ||
           result == STORE_MISSING;
}

static int take_up(struct collect *collect)
{
    char why[256];
    int result = store_open(&collect->store, collect->setup.database, why);
    if (result != STORE_OK) {
        log_write(LOG_ERROR, "cannot open the record '%s': %s", collect->setup.database, why);
        return result;
    }
    dating_start(collect);
    result = resume_settings(collect);
    if (result == STORE_OK)
        result = derived_resume(collect);
    if (result != STORE_OK)
        log_write(LOG_ERROR, "cannot take up the record '%s': %s", collect->setup.database,
                  store_why(collect->store));
    return result;
}

struct collect *collect_create(const struct collect_setup *setup, bool *fatal)
{
    struct collect *collect = calloc(1, sizeof *collect);
    *fatal = false;
    if (!collect) {
        log_write(LOG_ERROR, "out of memory");
        return NULL;
    }
    collect->setup = *setup;
    collect->config = setup->config;
    snprintf(collect->boot, sizeof collect->boot, "%s", setup->boot);
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        meter_init(&collect->meters[i], &collect->config->meters[i], i, &collect->config->site);
    date_init(&collect->date, collect->config->site.clock_trust == TRUST_BATTERY);
    derived_init(collect);
    collect->setup.clock.read(collect->setup.clock.self, &collect->now);
    collect->civil = civil_open(collect->config->site.time_zone);
    if (!collect->civil) {
        log_write(LOG_ERROR, "cannot read the zone data of '%s'", collect->config->site.time_zone);
        *fatal = true;
        collect_destroy(collect);
        return NULL;
    }
    int result = take_up(collect);
    if (result != STORE_OK) {
        *fatal = is_fatal(result);
        collect_destroy(collect);
        return NULL;
    }
    refining_start(collect);
    if (setup->latest)
        latest_open(collect);
    collect_event(collect, "start", 0, NULL, "version " METERBOOK_VERSION);
    return collect;
}

void collect_destroy(struct collect *collect)
{
    if (!collect)
        return;
    latest_close(collect);
    store_close(collect->store);
    civil_close(collect->civil);
    free(collect);
}
