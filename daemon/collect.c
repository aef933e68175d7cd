#include "collect_state.h"

#include <stdio.h>
#include <stdlib.h>

#include "log.h"

void collect_turn(struct collect *collect)
{
    collect->setup.clock.read(collect->setup.clock.self, &collect->now);
    dating_turn(collect);
    anchors_turn(collect);
    while (inbox_take(collect->setup.inbox, &collect->message))
        answers_take(collect, &collect->message);
    int64_t dropped = inbox_dropped(collect->setup.inbox);
    if (dropped > 0)
        outbox_event(collect, "answers_dropped", 0, NULL,
                     "%lld answers came while the disk stalled: polls are missed", (long long)dropped);
    rejecting_turn(collect);
    sleeping_turn(collect);
    supply_turn(collect);
    derived_step(collect);
    if (commit_due(collect)) {
        replaced_look(collect);
        commit_now(collect);
    }
    refining_turn(collect);
    correcting_turn(collect);
    if (collect->latest && outbox_now_ms(collect) - collect->latest_ms >= 1000)
        latest_write(collect);
}

void collect_use_logbook(struct collect *collect, struct logbook *logbook)
{
    logbook_free(collect->setup.logbook);
    collect->setup.logbook = logbook;
    correcting_logbook(collect);
    collect->anchors_ms = 0;
    collect->earlier_due = true;
}

void collect_finish(struct collect *collect)
{
    collect->setup.clock.read(collect->setup.clock.self, &collect->now);
    rejecting_finish(collect);
    outbox_event(collect, "stop", 0, NULL, "stopped by request");
    collect->retry_ms = 0;
    replaced_look(collect);
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
    replaced_remember(collect);
    dating_start(collect);
    bool well, same_boot;
    result = store_last_end(collect->store, collect->boot, &well, &same_boot);
    collect->cut_off = !well;
    collect->cut_boot = !well && !same_boot;
    if (result == STORE_OK)
        result = resume_settings(collect);
    collect->cut_off_s = collect->newest_s;
    if (result == STORE_OK)
        result = derived_resume(collect);
    if (result != STORE_OK)
        log_write(LOG_ERROR, "cannot take up the record '%s': %s", collect->setup.database,
                  store_why(collect->store));
    return result;
}

static struct collect *give_up(struct collect *collect)
{
    collect->setup.logbook = NULL; /* still the caller's */
    collect_destroy(collect);
    return NULL;
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
    collect->born_ms = outbox_now_ms(collect);
    collect->civil = civil_open(collect->config->site.time_zone);
    if (!collect->civil) {
        log_write(LOG_ERROR, "cannot read the zone data of '%s'", collect->config->site.time_zone);
        *fatal = true;
        return give_up(collect);
    }
    int result = take_up(collect);
    if (result != STORE_OK) {
        *fatal = is_fatal(result);
        return give_up(collect);
    }
    collect->earlier_due = true;
    refining_start(collect);
    correcting_logbook(collect);
    if (setup->latest)
        latest_open(collect);
    outbox_event(collect, "start", 0, NULL, "version " METERBOOK_VERSION);
    return collect;
}

void collect_destroy(struct collect *collect)
{
    if (!collect)
        return;
    latest_close(collect);
    store_close(collect->store);
    civil_close(collect->civil);
    logbook_free(collect->setup.logbook);
    free(collect->corrections);
    free(collect);
}
