/* Taking up the accounts where the record left them. */
#include <string.h>

#include "collect_state.h"
#include "log.h"
#include "muldiv.h"

/* So many times what flowed in the last interval may have flowed around a
 * failure of the supply: what was not committed, and until the first reading after it. */
enum { USUALLY = 2 };

/* Rows since a run's anchor are of the interval's length in force, so a change
 * of it moves the anchors on. */
static int change_interval(struct collect *collect)
{
    int64_t before_s;
    int result = store_last_interval(collect->store, &before_s);
    if (result != STORE_OK || before_s == 0)
        return result;
    result = store_newest(collect->store, 0, before_s, &collect->newest_s);
    if (result == STORE_OK && before_s != collect->config->site.interval_s)
        result = store_move_anchors(collect->store, before_s);
    return result;
}

int resume_settings(struct collect *collect)
{
    struct store *store = collect->store;
    int64_t from_ms =
        collect->date.trusted ? date_utc_ms(&collect->date, outbox_now_ms(collect)) : STORE_NULL;
    int result = store_begin(store);
    if (result == STORE_OK)
        result = change_interval(collect);
    if (result == STORE_OK)
        result = store_put_setting(store, collect->config, collect->boot, outbox_now_ms(collect), from_ms,
                                   &collect->setting);
    for (int32_t i = 0; i < collect->config->meter_count && result == STORE_OK; i++)
        result =
            store_put_factor(store, collect->meters[i].config, collect->setting, &collect->meters[i].factor);
    if (result == STORE_OK)
        return store_commit(store);
    store_rollback(store);
    return result;
}

static bool same_factor(const struct store_open_run *run, const struct config_meter *meter)
{
    return run->ct_primary == meter->ct_primary && run->ct_secondary == meter->ct_secondary &&
           run->vt_primary == meter->vt_primary && run->vt_secondary == meter->vt_secondary &&
           run->reversed == meter->reversed;
}

/* The account under new factors: the register went on, what is read from it changed. */
static int64_t refactor(int64_t account, const struct store_open_run *run, const struct config_meter *meter)
{
    int64_t raw = mul_div(account, run->ct_secondary * run->vt_secondary, run->ct_primary * run->vt_primary);
    return mul_div(raw, (int64_t)meter->ct_primary * meter->vt_primary,
                   (int64_t)meter->ct_secondary * meter->vt_secondary);
}

/* Other factors: the run ends here and another begins with the same register. */
static void change_factors(struct collect *collect, struct meter *meter, int c,
                           const struct store_open_run *run)
{
    struct counter_state *state = &meter->counters[c];
    struct store_run over = { .id = run->id,
                              .meter = meter->config->number,
                              .counter = c,
                              .to_ms = run->frontier_s * 1000,
                              .last = run->account,
                              .ended = "settings" };
    outbox_end_run(collect, &over, 0);
    int64_t account = refactor(run->account, run, meter->config);
    int64_t step = refactor(run->step, run, meter->config);
    state->run = (struct store_run){ .meter = meter->config->number,
                                     .counter = c,
                                     .factor = meter->factor,
                                     .from_ms = run->frontier_s * 1000,
                                     .first = account,
                                     .base_s = run->frontier_s,
                                     .base = account,
                                     .step = step > 0 ? step : 1,
                                     .began = "settings" };
    memcpy(state->run.serial, run->serial, sizeof state->run.serial);
    outbox_event(collect, "settings", meter->config->number, NULL,
                 "other factors: a new register run of %s begins", quantity_info((enum quantity)c)->name);
}

/* The run whose register feeds this counter now: its own, or its opposite's
 * where the direction was turned. Returns 1, 0 or a failure. */
static int read_run(struct collect *collect, const struct meter *meter, int c, struct store_open_run *run)
{
    const int64_t interval_s = collect->config->site.interval_s;
    int32_t number = meter->config->number;
    struct store_open_run opposite;
    int own = store_read_run(collect->store, number, c, interval_s, run);
    if (own < 0 || (own == 1 && run->reversed == meter->config->reversed))
        return own;
    int other = store_read_run(collect->store, number, c ^ 1, interval_s, &opposite);
    if (other < 0)
        return other;
    if (other == 0 || opposite.reversed == meter->config->reversed)
        return 0;
    *run = opposite;
    return 1;
}

/* Where an earlier process of this boot, undated like this one, left the counter. */
static int resume_held(struct collect *collect, struct meter *meter, int c, int64_t *ms)
{
    struct counter_state *state = &meter->counters[c];
    struct store_held held;
    int result = store_last_held(collect->store, collect->boot, meter->config->number, c, &held);
    if (result != 1)
        return result;
    *ms = held.ms;
    /* Without a shift it is the run that the record knows. */
    if (!state->open || held.shift != 0) {
        struct store_run over = state->run;
        over.to_ms = STORE_NULL;
        over.last = state->account.account;
        over.ended = "reset";
        if (state->open)
            outbox_end_run(collect, &over, held.ms);
        state->run = (struct store_run){ .meter = meter->config->number,
                                         .counter = c,
                                         .factor = meter->factor,
                                         .first = held.value,
                                         .first_raw = held.raw,
                                         .step = held.step,
                                         .began = state->open ? "reset" : "first reading" };
    }
    state->open = true;
    account_resume(&state->account, held.account - held.shift, held.step);
    state->offset = held.shift;
    return 1;
}

/* What a series is taken up from. */
struct taken_up {
    int64_t account[BOOK_COUNTERS]; /* at the frontier */
    int64_t frontier_s;             /* 0: no run */
    int64_t known_s;    /* since then its accounts stand; earlier for one that the map lacked a while */
    int64_t held_ms;    /* boot time of the oldest held reading that a counter stands at */
    int32_t held_count; /* counters that stand at one */
};

static int resume_counter(struct collect *collect, struct meter *meter, int c, int32_t position,
                          struct taken_up *taken)
{
    struct counter_state *state = &meter->counters[c];
    struct store_open_run run;
    int result = read_run(collect, meter, c, &run);
    if (result < 0)
        return result;
    if (result == 1) {
        state->open = true;
        state->offset = 0;
        if (same_factor(&run, meter->config)) {
            state->run = (struct store_run){ .id = run.id,
                                             .meter = meter->config->number,
                                             .counter = c,
                                             .factor = meter->factor,
                                             .step = run.step };
            memcpy(state->run.serial, run.serial, sizeof state->run.serial);
        } else {
            change_factors(collect, meter, c, &run);
            run.account = state->run.base;
        }
        account_resume(&state->account, run.account, state->run.step);
        taken->account[position] = run.account;
        taken->frontier_s = run.frontier_s > taken->frontier_s ? run.frontier_s : taken->frontier_s;
        taken->known_s = run.known_s < taken->known_s ? run.known_s : taken->known_s;
    }
    int64_t held_ms;
    result = collect->date.trusted ? STORE_OK : resume_held(collect, meter, c, &held_ms);
    if (result != 1)
        return result;
    taken->held_count++;
    taken->held_ms = held_ms < taken->held_ms ? held_ms : taken->held_ms;
    return STORE_OK;
}

/* Is how long ago the rows of earlier boots end known? Not where one of the two
 * clocks may have stood still, or been anywhere: the energy since would look like too much. */
static bool outage_is_known(const struct collect *collect)
{
    char source[16] = "network";
    return date_rank(collect->date.source) <= date_rank("holdover") &&
           store_clock_before(collect->store, collect->boot, source) >= 0 &&
           date_rank(source) <= date_rank("holdover");
}

/* Did this boot date the rows that end there? */
static bool is_of_boot(const struct collect *collect, int64_t frontier_s)
{
    int64_t after_s;
    return store_boot_after(collect->store, collect->boot, &after_s) == 1 && frontier_s > after_s;
}

/* Boot time at which the frontier was; negative when that was before this
 * boot. As long ago as a gap may be when that cannot be known: nothing is
 * dated, or the clock was put back behind the frontier, or behind the begin of
 * this boot, which left no row yet. */
static int64_t boot_of(const struct collect *collect, int64_t frontier_s)
{
    int64_t now_s = outbox_now_ms(collect) / 1000, offset_s = collect->date.offset_ms / 1000;
    if (!collect->date.trusted || frontier_s - offset_s > now_s ||
        !(frontier_s < offset_s ? outage_is_known(collect) : is_of_boot(collect, frontier_s)))
        return outbox_now_ms(collect) - INT64_C(400) * 86400 * 1000;
    return frontier_s * 1000 - collect->date.offset_ms;
}

/* Where the supply failed with the computer, no more flowed than in an interval
 * before it and a little after it. */
static void take_up_after_failure(const struct collect *collect, const struct meter *meter,
                                  struct series *series, int64_t frontier_s)
{
    int64_t most[BOOK_COUNTERS];
    bool known = collect->cut_boot;
    for (int32_t i = 0; i < series->check.count; i++) {
        int c = series->check.counters[i];
        known = known &&
                store_sum(collect->store, meter->config->number, c,
                          frontier_s - collect->config->site.interval_s, frontier_s, &most[i]) == STORE_OK;
        most[i] = known ? USUALLY * most[i] + 2 * meter->counters[c].account.step : 0;
    }
    book_off(&series->book, collect->cut_off_s * 1000, known ? most : NULL);
}

static int resume_series(struct collect *collect, struct meter *meter, int which)
{
    struct series *series = &meter->series[which];
    struct taken_up taken = { .known_s = INT64_MAX, .held_ms = INT64_MAX };
    int64_t at[COUNTER_COUNT] = { 0 }, step[COUNTER_COUNT] = { 0 };
    bool found = false;
    for (int32_t i = 0; i < series->check.count; i++) {
        int c = series->check.counters[i];
        const struct counter_state *state = &meter->counters[c];
        int result = resume_counter(collect, meter, c, i, &taken);
        if (result < 0)
            return result;
        at[c] = state->account.account;
        step[c] = state->account.step;
        found = found || state->open;
    }
    if (taken.frontier_s > 0) {
        book_resume(&series->book, taken.frontier_s * 1000, taken.account);
        if (collect->cut_off && meter->read_ms < 0) /* not where only its map changes */
            take_up_after_failure(collect, meter, series, taken.frontier_s);
        series->midnight_s =
            civil_day_start(collect->civil, civil_day_of(collect->civil, taken.frontier_s) + 1);
    }
    if (found)
        check_resume(&series->check, at, step,
                     taken.held_count == series->check.count ? taken.held_ms
                                                             : boot_of(collect, taken.known_s));
    return STORE_OK;
}

int resume_today(struct collect *collect, struct meter *meter)
{
    const struct book *book = &meter->series[SERIES_ACTIVE].book;
    int64_t now_s = (collect->date.trusted ? date_utc_ms(&collect->date, outbox_now_ms(collect))
                                           : collect->now.wall_us / 1000) /
                    1000;
    int64_t at_s = book->open ? book->frontier_ms / 1000 : now_s;
    int64_t day = civil_day_of(collect->civil, at_s);
    meter->today_end_s = civil_day_start(collect->civil, day + 1);
    for (int c = 0; c <= Q_ACTIVE_EXPORT; c++) {
        int result = store_sum(collect->store, meter->config->number, c, civil_day_start(collect->civil, day),
                               meter->today_end_s, &meter->counters[c].today);
        if (result != STORE_OK)
            return result;
    }
    return STORE_OK;
}

int resume_meter(struct collect *collect, struct meter *meter)
{
    int result = STORE_OK;
    if (!collect->store)
        return STORE_FAILED;
    for (int which = 0; which < SERIES_COUNT && result == STORE_OK; which++)
        result = resume_series(collect, meter, which);
    if (result == STORE_OK)
        result = resume_today(collect, meter);
    if (result != STORE_OK)
        log_write(LOG_ERROR, "meter %d: cannot take up its account: %s", (int)meter->config->number,
                  store_why(collect->store));
    return result;
}
