/* Taking up the accounts where the record left them. */
#include <string.h>

#include "collect_state.h"
#include "log.h"
#include "muldiv.h"

int resume_settings(struct collect *collect)
{
    struct store *store = collect->store;
    int64_t from_ms =
        collect->date.trusted ? date_utc_ms(&collect->date, collect_boot_ms(collect)) : STORE_NULL;
    int result = store_last_interval(store, &collect->last_interval_s);
    if (collect->last_interval_s == 0)
        collect->last_interval_s = collect->config->site.interval_s;
    if (result == STORE_OK)
        result = store_newest(store, 0, collect->last_interval_s, &collect->newest_s);
    collect->started_s = collect->newest_s;
    if (result == STORE_OK)
        result = store_begin(store);
    if (result == STORE_OK)
        result = store_put_setting(store, collect->config, collect->boot, collect_boot_ms(collect), from_ms,
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
    struct outbox *outbox = &collect->outbox;
    if (outbox->ended_count < OUTBOX_ENDED)
        outbox->ended[outbox->ended_count++] = (struct store_run){ .id = run->id,
                                                                   .meter = meter->config->number,
                                                                   .counter = c,
                                                                   .to_ms = run->frontier_s * 1000,
                                                                   .last = run->account,
                                                                   .ended = "settings" };
    int64_t account = refactor(run->account, run, meter->config);
    state->run = (struct store_run){ .meter = meter->config->number,
                                     .counter = c,
                                     .factor = meter->factor,
                                     .from_ms = run->frontier_s * 1000,
                                     .first = account,
                                     .base_s = run->frontier_s,
                                     .base = account,
                                     .step = run->step,
                                     .began = "settings" };
    memcpy(state->run.serial, run->serial, sizeof state->run.serial);
    account_resume(&state->account, account, run->step);
    collect_event(collect, "settings", meter->config->number, NULL,
                  "other factors: a new register run of %s begins", quantity_info((enum quantity)c)->name);
}

/* The counter whose register fed this one under the run's own direction. */
static int stored_counter(const struct collect *collect, const struct meter *meter, int c)
{
    struct store_open_run run;
    if (c > Q_ACTIVE_EXPORT ||
        store_read_run(collect->store, meter->config->number, c, collect->last_interval_s, &run) != 1)
        return c;
    return run.reversed != meter->config->reversed ? 1 - c : c;
}

static int resume_counter(struct collect *collect, struct meter *meter, int c, struct store_open_run *run)
{
    struct counter_state *state = &meter->counters[c];
    int result = store_read_run(collect->store, meter->config->number, stored_counter(collect, meter, c),
                                collect->last_interval_s, run);
    if (result != 1)
        return result;
    state->open = true;
    state->offset = 0;
    if (!same_factor(run, meter->config)) {
        change_factors(collect, meter, c, run);
        return 1;
    }
    state->run = (struct store_run){ .id = run->id,
                                     .meter = meter->config->number,
                                     .counter = c,
                                     .factor = meter->factor,
                                     .step = run->step };
    memcpy(state->run.serial, run->serial, sizeof state->run.serial);
    account_resume(&state->account, run->account, run->step);
    return 1;
}

/* Boot time at which the frontier was; negative when that was before this
 * boot, and as long ago as a gap may be when nothing is dated. */
static int64_t boot_of(const struct collect *collect, int64_t frontier_s)
{
    if (!collect->date.trusted)
        return collect_boot_ms(collect) - INT64_C(400) * 86400 * 1000;
    return frontier_s * 1000 - collect->date.offset_ms;
}

static int resume_series(struct collect *collect, struct meter *meter, int which)
{
    struct series *series = &meter->series[which];
    int64_t account[BOOK_COUNTERS] = { 0 }, at[COUNTER_COUNT] = { 0 }, step[COUNTER_COUNT] = { 0 };
    int64_t frontier_s = 0;
    int32_t found = 0;
    for (int32_t i = 0; i < series->check.count; i++) {
        struct store_open_run run = { 0 };
        int c = series->check.counters[i];
        int result = resume_counter(collect, meter, c, &run);
        if (result < 0)
            return result;
        if (result == 0)
            continue;
        account[i] = at[c] = meter->counters[c].account.account;
        step[c] = run.step;
        frontier_s = run.frontier_s > frontier_s ? run.frontier_s : frontier_s;
        found++;
    }
    if (found == 0)
        return STORE_OK;
    book_resume(&series->book, frontier_s * 1000, account);
    series->midnight_s = civil_day_start(collect->civil, civil_day_of(collect->civil, frontier_s) + 1);
    /* A counter that is new in the map has no track: the gate would take its
     * first reading for a rise. Only a whole track is taken up. */
    if (found == series->check.count)
        check_resume(&series->check, at, step, boot_of(collect, frontier_s));
    return STORE_OK;
}

/* What of today is in the record. */
static int resume_today(struct collect *collect, struct meter *meter)
{
    const struct book *book = &meter->series[SERIES_ACTIVE].book;
    int64_t now_s = (collect->date.trusted ? date_utc_ms(&collect->date, collect_boot_ms(collect))
                                           : collect->now.wall_ms) /
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
