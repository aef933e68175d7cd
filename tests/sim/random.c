#include "random.h"

#include "disk.h"
#include "happen.h"
#include "invariants.h"

/* What a run is like. */
static struct {
    bool resets, turns, maps, steps;
    int64_t lacked; /* counter that a map may lose and gain */
} run;

static int any_meter(struct sim *sim)
{
    return (int)sim_up_to(sim, sim->config.meter_count);
}

static int any_bus(struct sim *sim)
{
    return (int)sim_up_to(sim, sim->config.bus_count);
}

static bool calm_for(const struct sim *sim, int meter, int64_t ms)
{
    return sim_now_ms(sim) - sim->meters[meter].disturbed_ms > ms;
}

/* ---- what can happen ---- */

static void nothing(struct sim *sim)
{
    (void)sim;
}

static void silent(struct sim *sim)
{
    int i = any_meter(sim);
    happen(sim, "silent", (int64_t[ARG_COUNT]){ [ARG_METER] = i, [ARG_ON] = !sim->meters[i].silent });
}

/* Three wrong readings in a row that agree would be a reset by the rule. */
static void misread(struct sim *sim)
{
    int i = any_meter(sim);
    const struct truth *truth = &sim->meters[i].truth;
    int64_t a[ARG_COUNT] = { [ARG_METER] = i, [ARG_POLLS] = 1 + sim_up_to(sim, 2) };
    if (sim->meters[i].silent || !calm_for(sim, i, 60000))
        return;
    switch (sim_up_to(sim, 4)) {
    case 0:
        happen(sim, "zero", a);
        break;
    case 1:
        /* A tear that could be energy is not told from it. */
        if (truth->form == FORM_UINT64 || (truth->form == FORM_UINT32 && truth->step >= 10)) {
            a[ARG_ON] = truth->form == FORM_UINT64 && (truth->step < 10 || sim_one_in(sim, 2));
            happen(sim, "torn", a);
            break;
        }
        /* fall through */
    default:
        if (truth_register(truth, 0) < 40 * truth->step || truth_register(truth, 1) < 40 * truth->step)
            return; /* zero again and again is no jitter */
        a[ARG_STEPS] = 1 + sim_up_to(sim, 4);
        if (a[ARG_STEPS] <= 2)
            a[ARG_POLLS] = 1 + sim_up_to(sim, 30);
        happen(sim, "back", a);
    }
}

static void disturbed_answer(struct sim *sim)
{
    static const char *const names[] = { "late", "garbled", "exception" };
    static const int64_t codes[] = { 2, 4, 6, 11 };
    int64_t a[ARG_COUNT] = { [ARG_METER] = any_meter(sim),
                             [ARG_POLLS] = 1 + sim_up_to(sim, sim_one_in(sim, 4) ? 40 : 3),
                             [ARG_MS] = 300 + sim_up_to(sim, 250),
                             [ARG_CODE] = codes[sim_up_to(sim, 4)] };
    happen(sim, names[sim_up_to(sim, 3)], a);
}

static void reset(struct sim *sim)
{
    int i = any_meter(sim);
    int64_t a[ARG_COUNT] = { [ARG_METER] = i, [ARG_COUNTER] = sim_up_to(sim, 2) };
    if (!run.resets)
        return;
    const struct truth *truth = &sim->meters[i].truth;
    if (sim_one_in(sim, 2))
        a[ARG_STEPS] = sim_up_to(sim, 1 + truth_register(truth, (int)a[ARG_COUNTER]) / truth->step / 2);
    happen(sim, "reset", a);
}

static void replace(struct sim *sim)
{
    int i = any_meter(sim);
    const struct truth *truth = &sim->meters[i].truth;
    if (run.resets)
        happen(sim, "replace",
               (int64_t[ARG_COUNT]){ [ARG_METER] = i, [ARG_STEPS] = 1 + INT64_C(400000000) / truth->step });
}

static void bus_fails(struct sim *sim)
{
    int b = any_bus(sim);
    const struct sim_bus *bus = &sim->buses[b];
    bool unplug = bus->unplugged || (!bus->swallows && sim_one_in(sim, 2));
    happen(sim, unplug ? "unplug" : "swallow",
           (int64_t[ARG_COUNT]){ [ARG_BUS] = b, [ARG_ON] = unplug ? !bus->unplugged : !bus->swallows });
}

static void clock_comes(struct sim *sim)
{
    static const int64_t right[ARG_COUNT] = { [ARG_ON] = 1 };
    if (sim->synchronised)
        return;
    happen(sim, "clock_error", right);
    happen(sim, "synchronised", right);
}

static void clock_steps(struct sim *sim)
{
    if (run.steps && sim->synchronised)
        happen(
            sim, "clock_error",
            (int64_t[ARG_COUNT]){ [ARG_MS] = sim_one_in(sim, 2) ? 0 : sim_up_to(sim, 14400000) - 7200000 });
}

static void disk_fails(struct sim *sim)
{
    happen(sim, "disk_fails",
           (int64_t[ARG_COUNT]){ [ARG_NTH] = 1 + sim_up_to(sim, 40), [ARG_CODE] = sim_up_to(sim, 3) });
}

static void disk_fills(struct sim *sim)
{
    happen(sim, "disk_full", (int64_t[ARG_COUNT]){ [ARG_ON] = sim_one_in(sim, 2) });
}

static void disk_cuts(struct sim *sim)
{
    sim->cut_off_ms = 1000 * (sim_one_in(sim, 3) ? sim_up_to(sim, 4000) : sim_up_to(sim, 60));
    happen(sim, "disk_cuts", (int64_t[ARG_COUNT]){ [ARG_NTH] = 1 + sim_up_to(sim, 60) });
}

static void stop(struct sim *sim)
{
    happen(sim, "stop", (int64_t[ARG_COUNT]){ [ARG_ON] = sim_one_in(sim, 2) });
}

static void power_off(struct sim *sim)
{
    bool right = !sim_one_in(sim, 3);
    happen(
        sim, "power_off",
        (int64_t[ARG_COUNT]){ [ARG_SECONDS] = sim_one_in(sim, 3) ? sim_up_to(sim, 4000) : sim_up_to(sim, 60),
                              [ARG_CLOCK] = right ? 0 : -sim_up_to(sim, 90000) });
}

static void reload(struct sim *sim)
{
    static const int64_t lengths[] = { 60, 300, 900 };
    if (sim_one_in(sim, 2))
        happen(sim, "interval", (int64_t[ARG_COUNT]){ [ARG_SECONDS] = lengths[sim_up_to(sim, 3)] });
    else if (run.turns)
        happen(sim, "turn_round", (int64_t[ARG_COUNT]){ [ARG_METER] = any_meter(sim) });
    else
        happen(sim, "role", (int64_t[ARG_COUNT]){ [ARG_ON] = sim_one_in(sim, 2) });
}

static void map_changes(struct sim *sim)
{
    if (run.maps)
        happen(sim, "map",
               (int64_t[ARG_COUNT]){
                   [ARG_METER] = any_meter(sim), [ARG_CODE] = sim_one_in(sim, 2) ? 0 : run.lacked });
}

static void other_program(struct sim *sim)
{
    if (disk_is_armed())
        return;
    happen(sim, "other_program",
           (int64_t[ARG_COUNT]){ [ARG_ON] = sim_one_in(sim, 2), [ARG_CODE] = sim_one_in(sim, 2) });
}

static void stall(struct sim *sim)
{
    happen(sim, "stall", (int64_t[ARG_COUNT]){ [ARG_SECONDS] = sim_up_to(sim, 400) });
}

static void (*const mixed[])(struct sim *sim) = {
    nothing,     silent,           silent,           misread,     misread,       reset,      clock_comes,
    clock_comes, clock_steps,      disk_fails,       disk_fails,  disk_fills,    disk_fills, disk_cuts,
    stop,        power_off,        reload,           map_changes, other_program, stall,      other_program,
    replace,     disturbed_answer, disturbed_answer, bus_fails,   bus_fails,
};

/* ---- a run ---- */

static void add_buses(struct sim *sim)
{
    static const enum bus_kind kinds[] = { BUS_TCP, BUS_RTU, BUS_RTU_TCP };
    static const int32_t speeds[] = { 9600, 19200, 115200 };
    for (int64_t n = 1 + sim_up_to(sim, 2); n > 0; n--) {
        int bus = sim_add_bus(sim, kinds[sim_up_to(sim, 3)], speeds[sim_up_to(sim, 3)]);
        sim->config.buses[bus].close_after_cycle = sim_one_in(sim, 5);
        sim->config.buses[bus].listen_ms = sim_one_in(sim, 2) ? 500 : 0;
    }
}

static void add_meters(struct sim *sim)
{
    static const enum meter_role sites[][3] = {
        { ROLE_GRID, ROLE_PRODUCTION, ROLE_BRANCH },
        { ROLE_CONSUMPTION, ROLE_PRODUCTION, ROLE_PRODUCTION },
        { ROLE_BRANCH, ROLE_GRID, ROLE_PART },
    };
    static const int64_t steps[] = { 1, 1000, 10000, 100000 };
    int64_t kind = sim_up_to(sim, 3), step = steps[sim_up_to(sim, 4)];
    for (int64_t i = 0, count = 1 + sim_up_to(sim, 3); i < count; i++) {
        enum truth_form form = sim_one_in(sim, 4)   ? FORM_FLOAT32
                               : sim_one_in(sim, 3) ? FORM_UINT32
                                                    : FORM_UINT64;
        int m = sim_add_meter(sim, sites[kind][i], any_bus(sim), form, step);
        struct truth *truth = &sim->meters[m].truth;
        sim->config.meters[m].delivers_by_export = sim_one_in(sim, 2);
        truth->error_ppm = sim_up_to(sim, 40000) - 20000;
        if (run.resets || sim_one_in(sim, 2) || form == FORM_FLOAT32)
            continue;
        truth->modulus = 100000000;
        for (int way = 0; way < 2; way++)
            truth->first[way] = truth->modulus - step - sim_up_to(sim, 30) * 100000 / step * step;
    }
}

static void set_out(struct sim *sim, uint64_t seed)
{
    static const int32_t lengths[] = { 60, 300, 900 };
    sim_begin(sim, seed, INT64_C(1790000000000)); /* in September 2026 */
    invariants_begin();
    sim->begin_ms += sim_up_to(sim, 86400000); /* a midnight may lie in it */
    sim->true_ms = sim->begin_ms;
    sim->true_after_gaps = true;
    run.resets = sim_one_in(sim, 2);
    run.steps = sim_one_in(sim, 3);
    run.turns = sim_one_in(sim, 3);
    run.maps = !run.turns && sim_one_in(sim, 3);
    run.lacked = 1 + sim_up_to(sim, 2);
    add_buses(sim);
    add_meters(sim);
    sim->config.site.interval_s = lengths[sim_up_to(sim, 3)];
    sim->config.site.commit_s = sim_one_in(sim, 2) ? 0 : 900;
    sim->config.site.poll_period_ms = sim_one_in(sim, 3) ? 5000 : 1000;
    sim->synchronised = !sim_one_in(sim, 4);
    sim->wall_error_ms = sim->synchronised ? 0 : -sim_up_to(sim, 90000000);
    sim_switch_on(sim);
}

static void go_on(struct sim *sim, int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s += 10) {
        for (int i = 0; i < sim->config.meter_count; i++)
            if (sim_one_in(sim, 4))
                sim->meters[i].truth.power_mw = sim_one_in(sim, 5) ? 0 : sim_up_to(sim, 12000000) - 6000000;
        sim_run_ms(sim, 10000);
    }
}

void random_run(struct sim *sim, uint64_t seed)
{
    static const int64_t none[ARG_COUNT];
    set_out(sim, seed);
    happen(sim, "start", none);
    for (int64_t k = 12 + sim_up_to(sim, 20); k > 0; k--) {
        go_on(sim, sim_one_in(sim, 3) ? sim_up_to(sim, 900) : sim_up_to(sim, 120));
        invariants_look(sim);
        mixed[sim_up_to(sim, (int64_t)(sizeof mixed / sizeof mixed[0]))](sim);
        if (!sim->collect) {
            go_on(sim, sim_up_to(sim, 400));
            happen(sim, "start", none);
        }
    }
    happen_calm(sim);
    invariants_check(sim);
    sim_finish(sim);
}
