#include "happen.h"

#include <sqlite3.h>
#include <stdio.h>
#include <string.h>

#include "disk.h"
#include "invariants.h"

static struct sim_meter *meter_of(struct sim *sim, const int64_t a[ARG_COUNT])
{
    return &sim->meters[a[ARG_METER]];
}

/* ---- meters ---- */

static void power(struct sim *sim, const int64_t a[ARG_COUNT])
{
    truth_advance(&meter_of(sim, a)->truth, sim_now_ms(sim));
    meter_of(sim, a)->truth.power_mw = a[ARG_WATTS] * 1000;
}

static void silent(struct sim *sim, const int64_t a[ARG_COUNT])
{
    meter_of(sim, a)->silent = a[ARG_ON];
    meter_of(sim, a)->truth.misread_polls = 0; /* what a gap ends with is believed */
    sim_disturb(sim, (int)a[ARG_METER]);
}

static void late(struct sim *sim, const int64_t a[ARG_COUNT])
{
    meter_of(sim, a)->late_polls = a[ARG_POLLS];
    meter_of(sim, a)->late_us = a[ARG_MS] * 1000;
}

static void garbled(struct sim *sim, const int64_t a[ARG_COUNT])
{
    meter_of(sim, a)->garbled_polls = a[ARG_POLLS];
}

static void exception(struct sim *sim, const int64_t a[ARG_COUNT])
{
    meter_of(sim, a)->exception_polls = a[ARG_POLLS];
    meter_of(sim, a)->exception = (uint8_t)a[ARG_CODE];
}

static void misread(struct sim *sim, const int64_t a[ARG_COUNT], enum misreading what)
{
    struct truth *truth = &meter_of(sim, a)->truth;
    truth->misread = what;
    truth->misread_polls = a[ARG_POLLS];
    truth->back_steps = a[ARG_STEPS];
    sim_contradict(meter_of(sim, a));
    sim_disturb(sim, (int)a[ARG_METER]);
}

static void zero(struct sim *sim, const int64_t a[ARG_COUNT])
{
    misread(sim, a, READ_ZERO);
}

static void back(struct sim *sim, const int64_t a[ARG_COUNT])
{
    misread(sim, a, READ_BACK);
}

static void torn(struct sim *sim, const int64_t a[ARG_COUNT])
{
    misread(sim, a, a[ARG_ON] ? READ_TORN_HALVES : READ_TORN);
}

static void reset(struct sim *sim, const int64_t a[ARG_COUNT])
{
    const struct truth *truth = &meter_of(sim, a)->truth;
    int way = (int)a[ARG_COUNTER];
    truth_advance(&meter_of(sim, a)->truth, sim_now_ms(sim));
    int64_t left = a[ARG_STEPS] * truth->step;
    sim_take_off(sim, (int)a[ARG_METER], way,
                 truth->first[way] + truth->energy[way] - truth->taken_off[way] - left);
}

/* Another meter in its place: both registers show something else. */
static void replace(struct sim *sim, const int64_t a[ARG_COUNT])
{
    int64_t up = a[ARG_STEPS] * meter_of(sim, a)->truth.step;
    sim_take_off(sim, (int)a[ARG_METER], 0, -up);
    sim_take_off(sim, (int)a[ARG_METER], 1, -up);
}

/* A walked map is found anew, without the counters whose bits are set in `code`. */
static void map(struct sim *sim, const int64_t a[ARG_COUNT])
{
    struct sim_meter *meter = meter_of(sim, a);
    struct plan *plan = &meter->plans[1];
    sim_forget_uncommitted(sim);
    meter->without = (unsigned)a[ARG_CODE];
    meter->truth.misread_polls = 0;
    uint32_t edition = plan->edition + 1;
    memset(plan, 0, sizeof *plan);
    plan->edition = edition;
    plan->point_count = truth_points(&meter->truth, meter->without, plan->points);
    plan->request_count = 1;
    plan->requests[0] = (struct request){ .function = 4,
                                          .count = TRUTH_REGISTERS,
                                          .point_count = (uint16_t)plan->point_count };
    meter->other_plan = true;
    /* What is taken up anew is known from its newest row on, and of a counter that the map lacks nothing. */
    int64_t around_ms = 2000 * sim->longest_s, now_ms = sim_now_ms(sim);
    truth_vague(&meter->truth, (meter->heard_ms ? meter->heard_ms : now_ms) - around_ms, now_ms + around_ms);
    if (meter->without != 0 || meter->truth.map_lacks)
        truth_blur(&meter->truth, now_ms - around_ms, now_ms + around_ms);
    meter->truth.map_lacks = meter->without != 0;
    sim_disturb(sim, (int)a[ARG_METER]);
}

/* ---- buses ---- */

static void swallow(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim->buses[a[ARG_BUS]].swallows = a[ARG_ON];
    sim_disturb(sim, -1);
}

static void unplug(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim->buses[a[ARG_BUS]].unplugged = a[ARG_ON];
    sim_disturb(sim, -1);
}

/* ---- clocks ---- */

static void clock_error(struct sim *sim, const int64_t a[ARG_COUNT])
{
    int64_t far_ms = sim->wall_error_ms - a[ARG_MS];
    far_ms = (far_ms < 0 ? -far_ms : far_ms) + 2000 * sim->longest_s;
    sim->wall_error_ms = a[ARG_MS];
    sim_disturb(sim, -1);
    /* A process that has just started will trust what the kernel vouches for. */
    if (!sim->collect || !(sim->collect->date.trusted || sim->synchronised))
        return;
    sim->clock_stepped = true;
    for (int i = 0; i < sim->config.meter_count; i++) { /* all of this boot may be dated anew */
        truth_blur(&sim->meters[i].truth, sim->true_ms - far_ms, sim_now_ms(sim) + far_ms);
        sim->meters[i].truth.clock_wrong = sim->wall_error_ms != 0;
    }
}

static void synchronised(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim->synchronised = a[ARG_ON];
    sim_disturb(sim, -1);
}

/* ---- the process and its power ---- */

static void start(struct sim *sim, const int64_t a[ARG_COUNT])
{
    (void)a;
    if (sim->collect)
        return;
    disk_fail_at(0, 0);
    disk_set_full(false);
    disk_cut_at_write(0);
    if (disk_is_cut()) /* the last commit before the end */
        sim_power_off(sim, 1000);
    for (int i = 0; i < sim->config.meter_count; i++)
        sim->meters[i].truth.misread_polls = 0;
    sim_start(sim);
    sim_disturb(sim, -1);
}

static void stop(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim_leave_other(sim);
    sim_forget_uncommitted(sim);
    sim_stop(sim, a[ARG_ON]);
    sim_disturb(sim, -1);
}

static void power_off(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim_leave_other(sim);
    disk_cut_at_write(0);
    sim_forget_uncommitted(sim);
    sim->clock_after_boot = a[ARG_CLOCK] * 1000;
    sim_power_off(sim, a[ARG_SECONDS] * 1000);
    start(sim, a);
}

/* Stops, is given another configuration, starts. */
static void reload(struct sim *sim)
{
    static const int64_t clean[ARG_COUNT] = { [ARG_ON] = 1 };
    stop(sim, clean);
    snprintf(sim->config.hash, sizeof sim->config.hash, "%016x", sim->generation + 2);
    start(sim, clean);
}

static void interval(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim->config.site.interval_s = (int32_t)a[ARG_SECONDS];
    if (a[ARG_SECONDS] > sim->longest_s)
        sim->longest_s = a[ARG_SECONDS];
    reload(sim);
}

static void turn_round(struct sim *sim, const int64_t a[ARG_COUNT])
{
    struct config_meter *meter = &sim->config.meters[a[ARG_METER]];
    meter->reversed = !meter->reversed;
    sim->turned = true;
    reload(sim);
}

static void exchange_roles(struct sim *sim, const int64_t a[ARG_COUNT])
{
    struct config_meter *meter = &sim->config.meters[a[ARG_METER]];
    sim->roles_changed = true;
    meter->role = a[ARG_ON] ? ROLE_GRID : ROLE_CONSUMPTION;
    reload(sim);
}

/* A sync that takes long: polls go on. */
static void stall(struct sim *sim, const int64_t a[ARG_COUNT])
{
    int64_t from_ms = sim_now_ms(sim);
    sim->stalled = true;
    sim_run_ms(sim, a[ARG_SECONDS] * 1000);
    sim->stalled = false;
    for (int i = 0; i < sim->config.meter_count; i++)
        truth_blur(&sim->meters[i].truth, from_ms - 60000, sim_now_ms(sim) + 60000);
    sim_disturb(sim, -1);
}

/* ---- the disk ---- */

static void disk_full(struct sim *sim, const int64_t a[ARG_COUNT])
{
    (void)sim;
    disk_set_full(a[ARG_ON]);
}

static void disk_fails(struct sim *sim, const int64_t a[ARG_COUNT])
{
    static const int codes[] = { SQLITE_IOERR_WRITE, SQLITE_FULL, SQLITE_IOERR_FSYNC };
    disk_fail_at(a[ARG_NTH], codes[a[ARG_CODE] % 3]);
    sim_disturb(sim, -1);
}

static void disk_cuts(struct sim *sim, const int64_t a[ARG_COUNT])
{
    (void)sim;
    disk_cut_at_write(a[ARG_NTH]);
}

static void other_program(struct sim *sim, const int64_t a[ARG_COUNT])
{
    sim_leave_other(sim);
    if (!a[ARG_ON] || disk_is_cut() || !sim->collect)
        return;
    const char *what = a[ARG_CODE] ? "BEGIN IMMEDIATE" : "BEGIN; SELECT count(*) FROM interval";
    if (sqlite3_open_v2("record.db", &sim->other, SQLITE_OPEN_READWRITE, NULL) == SQLITE_OK)
        sqlite3_exec(sim->other, what, NULL, NULL, NULL);
}

static void look(struct sim *sim, const int64_t a[ARG_COUNT])
{
    (void)a;
    invariants_look(sim);
}

#define BIT(argument) (1U << ARG_##argument)

const char *const happening_arguments[ARG_COUNT] = {
    [ARG_METER] = "meter", [ARG_BUS] = "bus",     [ARG_ON] = "on",           [ARG_SECONDS] = "seconds",
    [ARG_MS] = "ms",       [ARG_POLLS] = "polls", [ARG_STEPS] = "steps",     [ARG_WATTS] = "watts",
    [ARG_NTH] = "nth",     [ARG_CODE] = "code",   [ARG_COUNTER] = "counter", [ARG_CLOCK] = "clock_s",
};

const struct happening happenings[] = {
    { "power", BIT(METER) | BIT(WATTS), 0, power },
    { "silent", BIT(METER) | BIT(ON), 0, silent },
    { "late", BIT(METER) | BIT(POLLS) | BIT(MS), 0, late },
    { "garbled", BIT(METER) | BIT(POLLS), 0, garbled },
    { "exception", BIT(METER) | BIT(POLLS) | BIT(CODE), 0, exception },
    { "zero", BIT(METER) | BIT(POLLS), 0, zero },
    { "back", BIT(METER) | BIT(POLLS) | BIT(STEPS), 0, back },
    { "torn", BIT(METER) | BIT(POLLS), BIT(ON), torn },
    { "reset", BIT(METER) | BIT(COUNTER), BIT(STEPS), reset },
    { "replace", BIT(METER) | BIT(STEPS), 0, replace },
    { "map", BIT(METER) | BIT(CODE), 0, map },
    { "swallow", BIT(BUS) | BIT(ON), 0, swallow },
    { "unplug", BIT(BUS) | BIT(ON), 0, unplug },
    { "clock_error", BIT(MS), 0, clock_error },
    { "synchronised", BIT(ON), 0, synchronised },
    { "start", 0, 0, start },
    { "stop", BIT(ON), 0, stop },
    { "power_off", BIT(SECONDS), BIT(CLOCK), power_off },
    { "interval", BIT(SECONDS), 0, interval },
    { "turn_round", BIT(METER), 0, turn_round },
    { "role", BIT(METER) | BIT(ON), 0, exchange_roles },
    { "stall", BIT(SECONDS), 0, stall },
    { "disk_full", BIT(ON), 0, disk_full },
    { "disk_fails", BIT(NTH), BIT(CODE), disk_fails },
    { "disk_cuts", BIT(NTH), 0, disk_cuts },
    { "other_program", BIT(ON), BIT(CODE), other_program },
    { "look", 0, 0, look },
    { 0 },
};

const struct happening *happening_by_name(const char *name)
{
    const struct happening *row = happenings;
    while (row->name && strcmp(row->name, name) != 0)
        row++;
    return row->name ? row : NULL;
}

void happen(struct sim *sim, const char *name, const int64_t argument[ARG_COUNT])
{
    const struct happening *row = happening_by_name(name);
    char text[160] = "";
    for (int i = 0, length = 0; i < ARG_COUNT; i++)
        if ((row->needs | row->takes) & 1U << i)
            length +=
                snprintf(text + length, sizeof text - (size_t)length, " %s %lld", happening_arguments[i],
                         (long long)argument[i] + (i == ARG_METER || i == ARG_BUS));
    sim_tell(sim, "%s%s", name, text);
    row->happen(sim, argument);
}

void happen_calm(struct sim *sim)
{
    static const int64_t none[ARG_COUNT];
    sim_leave_other(sim);
    disk_cut_at_write(0);
    disk_fail_at(0, 0);
    disk_set_full(false);
    sim_tell(sim, "all is calm");
    if (sim->wall_error_ms != 0)
        happen(sim, "clock_error", none);
    sim->synchronised = true;
    for (int i = 0; i < SIM_BUSES; i++)
        sim->buses[i].unplugged = sim->buses[i].swallows = false;
    for (int i = 0; i < sim->config.meter_count; i++) {
        struct sim_meter *meter = &sim->meters[i];
        meter->silent = false;
        meter->late_polls = meter->garbled_polls = meter->exception_polls = meter->truth.misread_polls = 0;
        if (meter->without != 0)
            happen(sim, "map", (const int64_t[ARG_COUNT]){ [ARG_METER] = i });
    }
    start(sim, none);
    sim_run_ms(sim, 700000); /* a lost meter is tried again after 300 s at most */
    for (int i = 0; i < sim->config.meter_count; i++)
        while (sim->collect->meters[i].series[0].book.to_ms > sim_now_ms(sim))
            sim_run_ms(sim, 60000);
    int64_t every_s = sim->config.site.commit_s > sim->config.site.interval_s ? sim->config.site.commit_s
                                                                              : sim->config.site.interval_s;
    sim_run_ms(sim, (every_s + sim->config.site.interval_s) * 1000 + 20000);
    for (int i = 0; i < sim->config.meter_count; i++) /* a rollover of the last polls is not confirmed yet */
        if (sim->collect->meters[i].series[SERIES_ACTIVE].check.held_count > 0)
            sim_run_ms(sim, 20000);
}
