/* Runs a scenario and looks for what it expects. */
#include <sqlite3.h>
#include <stdio.h>

#include "disk.h"
#include "invariants.h"
#include "scenario.h"

enum { NO_WATTS = 20001, MINUTE_MS = 60000 };

static void set_out(struct sim *sim, const struct scenario *scenario, uint64_t seed)
{
    sim_begin(sim, seed, scenario->start_ms);
    invariants_begin();
    for (int32_t i = 0; i < scenario->bus_count; i++) {
        const struct scenario_bus *from = &scenario->buses[i];
        int bus = sim_add_bus(sim, (enum bus_kind)from->kind, from->baud);
        sim->config.buses[bus].listen_ms = from->listen_ms;
        sim->config.buses[bus].close_after_cycle = from->close_after_cycle;
    }
    for (int32_t i = 0; i < scenario->meter_count; i++) {
        const struct scenario_meter *from = &scenario->meters[i];
        int m = sim_add_meter(sim, (enum meter_role)from->role, from->bus, (enum truth_form)from->form,
                              from->step);
        struct truth *truth = &sim->meters[m].truth;
        sim->config.meters[m].delivers_by_export = from->delivers;
        truth->error_ppm = from->error_ppm;
        truth->modulus = from->modulus_kwh * INT64_C(1000000);
        truth->first[0] = (int64_t)(from->import_kwh * 1e6);
        truth->first[1] = (int64_t)(from->export_kwh * 1e6);
        truth->power_mw = from->watts == NO_WATTS ? 0 : from->watts * INT64_C(1000);
    }
    struct config_site *site = &sim->config.site;
    snprintf(site->time_zone, sizeof site->time_zone, "%s", scenario->site.zone);
    site->interval_s = scenario->site.interval_s;
    site->poll_period_ms = scenario->site.poll_ms;
    site->commit_s = scenario->site.commit_s;
    site->clock_trust = (enum clock_trust)scenario->site.trust;
    sim->synchronised = scenario->site.synchronised;
    sim->wall_error_ms = scenario->site.clock_error_s * INT64_C(1000);
    sim->cut_off_ms = scenario->cut_off_s * INT64_C(1000);
    sim_switch_on(sim);
}

/* Meters whose power is not given have another one each minute. */
static void go_on(struct sim *sim, const struct scenario *scenario, int64_t until_ms)
{
    while (sim_now_ms(sim) < until_ms) {
        for (int32_t i = 0; i < scenario->meter_count; i++)
            if (scenario->meters[i].watts == NO_WATTS)
                sim->meters[i].truth.power_mw = sim_one_in(sim, 5) ? 0 : sim_up_to(sim, 12000000) - 6000000;
        int64_t left_ms = until_ms - sim_now_ms(sim);
        sim_run_ms(sim, left_ms < MINUTE_MS ? left_ms : MINUTE_MS);
    }
}

/* The event that comes next; NULL: none. `done`: how often each has come. */
static const struct scenario_event *next_event(const struct scenario *scenario, const int32_t done[],
                                               int64_t *at_s, int32_t *index)
{
    const struct scenario_event *next = NULL;
    for (int32_t i = 0; i < scenario->event_count; i++) {
        const struct scenario_event *event = &scenario->events[i];
        int64_t at = event->at_s + (int64_t)done[i] * event->every_s;
        if (done[i] < event->times && (!next || at < *at_s)) {
            next = event;
            *at_s = at;
            *index = i;
        }
    }
    return next;
}

static void arm(enum scenario_each each, int64_t nth, int64_t calls)
{
    static const int codes[] = {
        [EACH_WRITE] = SQLITE_IOERR_WRITE, [EACH_FULL] = SQLITE_FULL, [EACH_FSYNC] = SQLITE_IOERR_FSYNC
    };
    if (each == EACH_CUT)
        disk_cut_at_write(nth);
    else if (each != EACH_NONE)
        disk_fail_for(nth, calls, codes[each]);
}

static void expect(struct sim *sim, const struct scenario *scenario)
{
    for (int32_t i = 0; i < scenario->expectation_count; i++) {
        const struct scenario_expectation *e = &scenario->expectations[i];
        int64_t found = record_ask(sim, "%s", e->sql);
        if ((double)found < e->least || (double)found > e->most)
            sim_fail(sim, "%s: %lld, expected %.0f to %.0f", e->says, (long long)found, e->least, e->most);
    }
}

/* Returns whether the fault to be tried came. */
static bool run_once(struct sim *sim, const struct scenario *scenario, int64_t nth)
{
    int32_t done[SCENARIO_EVENTS] = { 0 }, index = 0;
    int64_t at_s = 0;
    const struct scenario_event *event;
    bool armed = false, came = false;
    set_out(sim, scenario, (uint64_t)nth);
    sim_start(sim);
    while ((event = next_event(scenario, done, &at_s, &index)) != NULL || !armed) {
        if (!armed && (!event || at_s >= scenario->each_from_s)) {
            go_on(sim, scenario, scenario->start_ms + 1000 * (int64_t)scenario->each_from_s);
            arm((enum scenario_each)scenario->each, nth, scenario->each_calls);
            armed = true;
            continue;
        }
        go_on(sim, scenario, scenario->start_ms + 1000 * at_s);
        int64_t argument[ARG_COUNT];
        for (int i = 0; i < ARG_COUNT; i++)
            argument[i] = event->argument.number[i];
        happen(sim, happenings[event->what].name, argument);
        done[index]++;
    }
    go_on(sim, scenario, scenario->start_ms + 1000 * (int64_t)scenario->seconds);
    came = scenario->each != EACH_NONE && !disk_is_armed();
    happen_calm(sim);
    invariants_check(sim);
    expect(sim, scenario);
    sim_finish(sim);
    return came;
}

int64_t scenario_run(struct sim *sim, const struct scenario *scenario)
{
    int64_t nth = 1;
    while (run_once(sim, scenario, nth))
        nth++;
    return nth;
}
