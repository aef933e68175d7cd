/* A clock that is believed from now on: its row, and what a worse one dated,
 * in one transaction. The books then go on from where the record ends. */
#include <stdio.h>
#include <string.h>

#include "calendar.h"
#include "collect_state.h"
#include "log.h"
#include "redate.h"
#include "schema.h"

/* What the record says of the runs of all counters. */
struct standing {
    int64_t id; /* 0: none */
    int64_t account, frontier_s;
};

static int read_standing(struct collect *collect, struct standing standing[][COUNTER_COUNT])
{
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        for (int c = 0; c < COUNTER_COUNT; c++) {
            struct store_open_run run = { 0 };
            int result = store_read_run(collect->store, collect->config->meters[m].number, c,
                                        collect->config->site.interval_s, &run);
            if (result < 0)
                return result;
            standing[m][c] = (struct standing){ run.id, run.account, run.frontier_s };
        }
    return STORE_OK;
}

/* A book goes on from the frontier that its rows have now. Its account there:
 * the run's, or, where a run is not stored yet, by how much the one before changed. */
static void rebook(struct collect *collect, struct meter *meter, struct series *series,
                   const struct standing before[COUNTER_COUNT], const struct standing after[COUNTER_COUNT])
{
    int64_t account[BOOK_COUNTERS] = { 0 }, frontier_s = 0;
    for (int32_t i = 0; i < series->check.count; i++) {
        int c = series->check.counters[i];
        struct counter_state *state = &meter->counters[c];
        if (after[c].id == 0)
            return;
        /* Its first run was stored with what an earlier boot held. */
        if (before[c].id == 0 && state->open && state->run.id == 0)
            state->run.id = after[c].id;
        bool same = state->run.id == after[c].id;
        account[i] = same ? after[c].account + state->offset
                          : series->book.fixed[i] + after[c].account - before[c].account;
        frontier_s = after[c].frontier_s > frontier_s ? after[c].frontier_s : frontier_s;
    }
    if (frontier_s == 0 ||
        (series->book.open && series->book.frontier_ms == frontier_s * 1000 &&
         memcmp(series->book.fixed, account, sizeof account[0] * (size_t)series->check.count) == 0))
        return;
    book_resume(&series->book, frontier_s * 1000, account);
    book_flag(&series->book, HOW_CLOCK);
    series->midnight_s = civil_day_start(collect->civil, civil_day_of(collect->civil, frontier_s) + 1);
    series->skipped = true;
}

static int take_up(struct collect *collect, const struct redated *done,
                   struct standing before[][COUNTER_COUNT])
{
    struct standing after[CONFIG_MAX_METERS][COUNTER_COUNT];
    int result = read_standing(collect, after);
    for (int32_t m = 0; m < collect->config->meter_count && result == STORE_OK; m++) {
        struct meter *meter = &collect->meters[m];
        for (int which = 0; which < SERIES_COUNT; which++)
            rebook(collect, meter, &meter->series[which], before[m], after[m]);
        result = resume_today(collect, meter);
        if (collect->refine_from_s[m] > done->from_s)
            collect->refine_from_s[m] = done->from_s;
    }
    derived_init(collect);
    if (result == STORE_OK)
        result = derived_resume(collect);
    if (result == STORE_OK)
        result = store_newest(collect->store, 0, collect->config->site.interval_s, &collect->newest_s);
    collect->committed_end_s = collect->outbox.newest_end_s = collect->newest_s;
    collect->refine_due = true;
    return result;
}

/* A transaction whose sync failed may be in the record: the books go by what is there. */
static int settle_doubt(struct collect *collect)
{
    struct standing now[CONFIG_MAX_METERS][COUNTER_COUNT];
    const struct redated done = { .from_s = INT64_MAX };
    int result = STORE_OK;
    if (collect->redate_doubt) {
        result = read_standing(collect, now);
        if (result == STORE_OK)
            result = take_up(collect, &done, now);
    }
    collect->redate_doubt = result != STORE_OK;
    return result;
}

static int commit(struct collect *collect)
{
    int result = store_commit(collect->store);
    collect->redate_doubt = result == STORE_IO || result == STORE_CORRUPT;
    return result;
}

static struct redate_clock clock_of(const struct collect *collect)
{
    return (struct redate_clock){ .boot = collect->boot,
                                  .source = collect->date.source,
                                  .boot_ms = outbox_now_ms(collect),
                                  .offset_ms = collect->date.offset_ms,
                                  .doubt_ms = collect->date.doubt_ms,
                                  .interval_s = collect->config->site.interval_s,
                                  .civil = collect->civil };
}

/* Inside the transaction. Returns 1 where rows were dated anew, 0 or a failure. */
static int put(struct collect *collect, int64_t from_ms, struct redated *done)
{
    const struct date *date = &collect->date;
    const struct redate_clock clock = clock_of(collect);
    int64_t newest_s;
    int redated = redate_run(collect->store, &clock, done);
    if (redated < 0)
        return redated;
    int result = store_newest(collect->store, 0, clock.interval_s, &newest_s);
    if (done->clock_from_ms < from_ms) {
        from_ms = done->clock_from_ms;
        newest_s = done->clock_after_s;
    }
    if (result == STORE_OK)
        result = store_add_clock(collect->store, collect->boot, from_ms, date->offset_ms, date->source,
                                 date->doubt_ms, newest_s);
    if (result == STORE_OK)
        result = store_date_boot(collect->store, collect->boot, date->offset_ms);
    return result == STORE_OK ? redated : result;
}

static void tell(struct collect *collect, const struct redated *done)
{
    char from[64] = "";
    int32_t year, month, day, second = (int32_t)(done->from_s % 86400);
    civil_date(done->from_s / 86400, &year, &month, &day);
    if (done->from_s > 0) /* 0: all there are */
        snprintf(from, sizeof from, " from %04d-%02d-%02dT%02d:%02d:%02dZ on", (int)year, (int)month,
                 (int)day, (int)(second / 3600), (int)(second / 60 % 60), (int)(second % 60));
    log_write(LOG_WARN, "%d rows that a wrong clock had dated are dated anew%s", (int)done->rows, from);
    outbox_event(collect, "clock", 0, NULL, "%d rows%s are dated anew", (int)done->rows, from);
}

static int redate_all(struct collect *collect, int64_t from_ms)
{
    struct standing before[CONFIG_MAX_METERS][COUNTER_COUNT];
    struct redated done = { 0 };
    int redated = 0, result = store_begin(collect->store);
    if (result == STORE_OK)
        result = read_standing(collect, before);
    if (result == STORE_OK)
        redated = put(collect, from_ms, &done);
    if (result == STORE_OK && redated >= 0)
        result = commit(collect);
    if (redated < 0)
        result = redated;
    if (result != STORE_OK) {
        store_rollback(collect->store);
        return result;
    }
    collect->outbox.clock = false;
    if (redated == 0)
        return STORE_OK;
    tell(collect, &done);
    return take_up(collect, &done, before);
}

int redating_run(struct collect *collect)
{
    const struct redate_clock clock = clock_of(collect);
    char source[16];
    int64_t offset_ms, stays_s;
    int result = settle_doubt(collect);
    if (result == STORE_OK)
        result = store_read_clock(collect->store, collect->boot, &offset_ms, source);
    /* The first clock of a boot dates what was read before it came. */
    int64_t from_ms = result == 0 ? 0 : clock.boot_ms;
    if (result >= 0)
        result = redate_due(collect->store, &clock, &stays_s);
    if (result == 1) {
        result = redate_all(collect, from_ms);
    } else if (result == 0) {
        collect->outbox.clock = true;
        collect->outbox.clock_from_ms = from_ms;
    }
    if (result != STORE_OK)
        commit_failed(collect, result);
    return result;
}

int redating_place(struct collect *collect, const struct redate_clock *clock)
{
    struct standing before[CONFIG_MAX_METERS][COUNTER_COUNT];
    struct redated done = { 0 };
    int result = settle_doubt(collect);
    if (result == STORE_OK)
        result = store_begin(collect->store);
    if (result == STORE_OK)
        result = read_standing(collect, before);
    int placed = result == STORE_OK ? redate_place(collect->store, clock, &done) : result;
    result = placed < 0 ? placed : commit(collect);
    if (result == STORE_OK && placed == 1) {
        log_write(LOG_NOTE, "what boot %s held is dated (%s)", clock->boot, clock->source);
        outbox_event(collect, "clock", 0, NULL, "boot %s is dated: %s", clock->boot, clock->source);
        result = take_up(collect, &done, before);
    }
    if (result == STORE_OK)
        return placed;
    store_rollback(collect->store);
    commit_failed(collect, result);
    return result;
}
