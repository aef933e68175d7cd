#include "sim.h"

#include <sqlite3.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "allocation.h"
#include "disk.h"
#include "log.h"
#include "record.h"

enum { TURN_US = 2000000, BOOTED_US = 5000000, STEADY_MS = 200000 };

/* ---- saying ---- */

void sim_tell(const struct sim *sim, const char *format, ...)
{
    va_list arguments;
    if (!sim->telling)
        return;
    printf("%lld.%03lld +%lld  ", (long long)(sim_now_ms(sim) / 1000), (long long)(sim_now_ms(sim) % 1000),
           (long long)(sim->boot_us / 1000000));
    va_start(arguments, format);
    vprintf(format, arguments);
    va_end(arguments);
    printf("\n");
}

void sim_fail(struct sim *sim, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sim->failure, sizeof sim->failure, format, arguments);
    va_end(arguments);
    longjmp(*sim->escape, 1);
}

/* ---- chance ---- */

uint64_t sim_random(struct sim *sim)
{
    sim->random ^= sim->random << 13;
    sim->random ^= sim->random >> 7;
    sim->random ^= sim->random << 17;
    return sim->random;
}

int64_t sim_up_to(struct sim *sim, int64_t n)
{
    return (int64_t)(sim_random(sim) % (uint64_t)n);
}

bool sim_one_in(struct sim *sim, int64_t n)
{
    return sim_up_to(sim, n) == 0;
}

/* ---- building a site ---- */

void sim_begin(struct sim *sim, uint64_t seed, int64_t at_ms)
{
    static char empty[] = "";
    jmp_buf *escape = sim->escape;
    bool telling = sim->telling, sparse = sim->sparse;
    const char *name = sim->name;
    memset(sim, 0, sizeof *sim);
    sim->escape = escape;
    sim->telling = telling;
    sim->sparse = sparse;
    sim->name = name;
    sim->seed = seed;
    sim->random = seed * 2862933555777941757U + 3037000493U;
    for (int i = 0; i < 10; i++)
        sim_random(sim);
    disk_install(seed);
    disk_format();
    log_set_level(telling ? LOG_FINE : LOG_ERROR - 1);
    struct config *config = &sim->config;
    config->site = (struct config_site){ .name = "simulated",
                                         .time_zone = "Europe/Paris",
                                         .interval_s = 300,
                                         .poll_period_ms = 1000,
                                         .voltage_max = 300,
                                         .frequency_max = 70 };
    snprintf(config->database, sizeof config->database, "record.db");
    snprintf(config->hash, sizeof config->hash, "%016d", 1);
    config->maps = sim->maps;
    config->map_texts = sim->map_texts;
    for (int i = 0; i < SIM_METERS; i++)
        sim->map_texts[i] = empty;
    sim->begin_ms = sim->true_ms = at_ms;
    sim->synchronised = true;
    sim->cut_off_ms = 30000;
}

int sim_add_bus(struct sim *sim, enum bus_kind kind, int32_t baud)
{
    int32_t i = sim->config.bus_count++;
    struct config_bus *bus = &sim->config.buses[i];
    *bus = (struct config_bus){ .kind = kind, .baud = baud, .stop_bits = 1, .response_timeout_ms = 300 };
    snprintf(bus->name, sizeof bus->name, "bus %d", (int)i + 1);
    sim->buses[i] = (struct sim_bus){ .sim = sim };
    return i;
}

int sim_add_meter(struct sim *sim, enum meter_role role, int bus, enum truth_form form, int64_t step)
{
    int32_t i = sim->config.meter_count++;
    sim->config.map_count = i + 1;
    sim->config.meters[i] = (struct config_meter){ .number = i + 1,
                                                   .bus = bus,
                                                   .unit_id = i + 1,
                                                   .map = i,
                                                   .role = role,
                                                   .phases = 1,
                                                   .rated_w = 20000,
                                                   .plane_azimuth = -1,
                                                   .tilt = -1,
                                                   .ct_primary = 1,
                                                   .ct_secondary = 1,
                                                   .vt_primary = 1,
                                                   .vt_secondary = 1 };
    snprintf(sim->config.meters[i].name, sizeof sim->config.meters[i].name, "meter %d", (int)i + 1);
    struct truth *truth = &sim->meters[i].truth;
    truth->form = form;
    truth->step = step;
    truth->voltage_mv = 230000;
    truth->first[0] = sim_up_to(sim, 1000000) * step;
    truth->first[1] = sim_up_to(sim, 1000000) * step;
    return i;
}

static void make_map(struct sim *sim, int index)
{
    struct register_map *map = &sim->maps[index];
    *map = (struct register_map){ .max_registers = MAP_MAX_REGISTERS, .range_count = 1 };
    map->ranges[0] = (struct readable_range){ .function = 4, .from = 0, .to = TRUTH_REGISTERS - 1 };
    map->point_count = truth_points(&sim->meters[index].truth, sim->meters[index].without, map->points);
    if (sim->meters[index].truth.modulus > 0)
        map->counter_modulus = sim->meters[index].truth.modulus / sim->meters[index].truth.step;
    if (sim->meters[index].truth.form == FORM_UINT32 && map->counter_modulus == INT64_C(1) << 32)
        map->counter_modulus = 0; /* nothing needs be said */
}

/* Room for what all meters answer in twenty seconds, as the daemon has it. */
static int32_t inbox_size(const struct sim *sim)
{
    return 64 + sim->config.meter_count * (20000 / sim->config.site.poll_period_ms * 4);
}

void sim_switch_on(struct sim *sim)
{
    for (int i = 0; i < sim->config.meter_count; i++) {
        struct truth *truth = &sim->meters[i].truth;
        if (truth->form == FORM_UINT32 && truth->modulus == 0)
            truth->modulus = truth->step << 32; /* the type's own */
        truth_begin(truth, sim->begin_ms);
    }
    sim->inbox = inbox_create(inbox_size(sim));
    if (!sim->inbox)
        sim_fail(sim, "out of memory");
    sim->longest_s = sim->rows_of_s = sim->config.site.interval_s;
    sim_power_off(sim, 0);
}

void sim_finish(struct sim *sim)
{
    sim_stop(sim, false);
    sim_leave_other(sim);
    inbox_destroy(sim->inbox);
    sim->inbox = NULL;
    for (int i = 0; i < SIM_METERS; i++)
        truth_finish(&sim->meters[i].truth);
}

/* ---- time ---- */

int64_t sim_now_ms(const struct sim *sim)
{
    return sim->boot_us / 1000 + sim->true_ms;
}

int64_t sim_gap_ms(const struct sim *sim)
{
    int64_t limit = 3 * (int64_t)sim->config.site.poll_period_ms;
    return limit > 10000 ? limit : 10000;
}

static void read_clock(void *self, struct instant *now)
{
    const struct sim *sim = self;
    now->boot_us = sim->boot_us;
    now->wall_us = sim->boot_us + (sim->true_ms + sim->wall_error_ms) * 1000;
    now->synchronised = sim->synchronised;
}

static void on_grid(void *self, int64_t offset_us)
{
    struct sim *sim = self;
    for (int32_t i = 0; i < sim->config.bus_count; i++) {
        struct sim_bus *bus = &sim->buses[i];
        if (!bus->machine)
            continue;
        bus_set_grid(bus->machine, offset_us);
        if (bus->action.kind == ACTION_WAIT && bus->next_us > sim->boot_us)
            bus->next_us = sim->boot_us;
    }
}

/* ---- what the record is held to ---- */

void sim_disturb(struct sim *sim, int meter)
{
    for (int i = 0; i < sim->config.meter_count; i++)
        if (meter < 0 || meter == i)
            sim->meters[i].disturbed_ms = sim_now_ms(sim);
}

void sim_forget_uncommitted(struct sim *sim)
{
    for (int i = 0; sim->collect && i < sim->config.meter_count; i++)
        for (int way = 0; way < 2; way++) {
            struct sim_allowance *allow = &sim->meters[i].allow[way];
            const struct counter_state *counter = &sim->collect->meters[i].counters[way];
            if (allow->resets > 0 &&
                (counter->run.id == 0 || sim_now_ms(sim) - sim->meters[i].disturbed_ms < STEADY_MS))
                allow->lost = true;
        }
}

void sim_contradict(struct sim_meter *meter)
{
    if (meter->since_gap < CHECK_CONFIRM)
        meter->unsure_ms = meter->gap_end_ms;
}

void sim_take_off(struct sim *sim, int meter, int way, int64_t amount)
{
    struct sim_meter *m = &sim->meters[meter];
    struct sim_allowance *allow = &m->allow[way];
    bool watched = sim->collect && sim_now_ms(sim) - m->heard_ms < sim_gap_ms(sim) &&
                   sim->collect->date.trusted && !sim->collect->failing &&
                   sim_now_ms(sim) - m->disturbed_ms > STEADY_MS;
    truth_advance(&m->truth, sim_now_ms(sim));
    allow->more += truth_step(&m->truth, way); /* a float's may be another afterwards */
    allow->less += truth_step(&m->truth, way);
    m->truth.taken_off[way] += amount;
    allow->resets++;
    allow->crossing = true;
    allow->unknown |= !sim->collect || sim->collect->meters[meter].counters[way].run.id == 0;
    allow->lost |= !watched;
    allow->replaced |= amount < 0;
    sim_contradict(m);
    sim_disturb(sim, meter);
}

/* ---- the process ---- */

/* What was read since a meter's newest row is not known any more: what is read
 * next ends a gap that began there. */
static void forget_heard(struct sim *sim)
{
    int64_t now_ms = sim_now_ms(sim), length_ms = sim->rows_of_s * INT64_C(1000);
    for (int i = 0; i < sim->config.meter_count; i++) {
        struct sim_meter *meter = &sim->meters[i];
        int64_t newest_ms =
            1000 * record_ask(sim, "SELECT coalesce(max(ts), 0) FROM interval WHERE meter = %d", i + 1);
        int64_t begun_ms =
            1000 * record_ask(sim, "SELECT coalesce(max(base_s), 0) FROM run WHERE meter = %d", i + 1);
        int64_t known_ms = newest_ms == 0 ? begun_ms : newest_ms - newest_ms % length_ms + length_ms;
        if (newest_ms == 0)
            newest_ms = begun_ms;
        meter->usable = false;
        meter->unknown_since = true;
        meter->undated = meter->undated || (known_ms == 0 && meter->heard_ms != 0);
        if (known_ms == 0)
            truth_blur(&meter->truth, 0, now_ms);
        /* Without a date it goes on from what is held: an interval of boot time is all that is known. */
        if (!sim->collect->date.trusted)
            truth_vague(&meter->truth, (meter->heard_ms ? meter->heard_ms : now_ms) - 2000 * sim->longest_s,
                        now_ms + 2000 * sim->longest_s);
        if (meter->heard_ms == 0 || known_ms < meter->heard_ms) /* else rows of a sleeping meter are newer */
            meter->heard_ms = known_ms < now_ms ? known_ms : now_ms;
        if (newest_ms != 0)
            truth_forget(&meter->truth, meter->heard_ms);
        if (newest_ms != 0 && sim->rows_of_s != sim->config.site.interval_s)
            truth_blur(&meter->truth, newest_ms, now_ms + 1000 * sim->longest_s);
    }
    sim->rows_of_s = sim->config.site.interval_s;
}

void sim_start(struct sim *sim)
{
    if (sim->collect)
        return;
    struct collect_setup setup = { .config = &sim->config,
                                   .generation = ++sim->generation,
                                   .database = sim->config.database,
                                   .boot = sim->boot,
                                   .inbox = sim->inbox,
                                   .clock = { read_clock, sim },
                                   .on_grid = on_grid,
                                   .self = sim };
    bool fatal;
    for (int i = 0; i < sim->config.meter_count; i++) {
        make_map(sim, i);
        sim->meters[i].other_plan = false;
    }
    sim->collect = collect_create(&setup, &fatal);
    if (!sim->collect)
        sim_fail(sim, "invariant 4, power cuts: the process cannot start");
    forget_heard(sim);
    for (int32_t i = 0; i < sim->config.bus_count; i++) {
        struct sim_bus *bus = &sim->buses[i];
        bus->machine = bus_create(&sim->config, i, sim->generation, sim_wire_deliver, bus);
        bus->next_us = sim->boot_us;
        bus->steps_at_once = -1;
        bus->stale.any = false;
        if (!bus->machine)
            sim_fail(sim, "out of memory");
        bus_set_grid(bus->machine, sim->collect->grid_us);
    }
    sim->turn_us = sim->boot_us;
    sim_tell(sim, "the process starts");
}

void sim_stop(struct sim *sim, bool clean)
{
    struct message message;
    if (!sim->collect)
        return;
    sim_tell(sim, "the process ends%s", clean ? "" : " at once");
    if (clean) {
        collect_turn(sim->collect);
        collect_finish(sim->collect);
    }
    collect_destroy(sim->collect);
    sim->collect = NULL;
    for (int32_t i = 0; i < sim->config.bus_count; i++) {
        bus_destroy(sim->buses[i].machine);
        sim->buses[i].machine = NULL;
    }
    while (inbox_take(sim->inbox, &message))
        ;
}

void sim_leave_other(struct sim *sim)
{
    sqlite3_close(sim->other);
    sim->other = NULL;
}

void sim_power_off(struct sim *sim, int64_t for_ms)
{
    sim_stop(sim, false);
    sim_leave_other(sim);
    if (!disk_is_cut())
        disk_cut();
    disk_restore();
    int64_t back_ms = sim_now_ms(sim) + for_ms;
    for (int i = 0; i < sim->config.meter_count; i++)
        truth_advance(&sim->meters[i].truth, back_ms);
    sim->boot_us = BOOTED_US;
    sim->true_ms = back_ms - BOOTED_US / 1000;
    sim->stalled = false;
    if (sim->boots > 0) {
        sim->wall_error_ms = sim->clock_after_boot;
        sim->synchronised = sim->clock_after_boot == 0;
        sim->clock_after_boot = 0;
    }
    snprintf(sim->boot, sizeof sim->boot, "boot-%d", ++sim->boots);
}

/* ---- the queue ---- */

bool sim_leaves_out(const struct sim *sim, int meter)
{
    const struct meter *m = &sim->collect->meters[meter];
    const struct sim_meter *own = &sim->meters[meter];
    return sim->collect->failing && (!m->plan || (own->other_plan && m->plan != &own->plans[1]));
}

/* Held readings are an interval apart; a meter whose account cannot be taken up yet is not read at all: less
 * is known of who watched. */
static void note_vague(struct sim *sim)
{
    int64_t around_ms = 2000 * sim->longest_s, now_ms = sim_now_ms(sim);
    for (int i = 0; i < sim->config.meter_count; i++)
        if (sim_leaves_out(sim, i) || !sim->collect->date.trusted)
            truth_vague(&sim->meters[i].truth, now_ms - around_ms, now_ms + around_ms);
}

void sim_turn(struct sim *sim)
{
    int64_t before = allocation_counted();
    bool opens = !sim->collect->store; /* the record, again: that needs memory as a start does */
    sim->turn_us += TURN_US;
    if (sim->stalled)
        return;
    allocation_count(true);
    collect_turn(sim->collect);
    allocation_count(false);
    note_vague(sim);
    sim->allocations += opens ? 0 : allocation_counted() - before;
    if (!disk_is_cut() && !sim->collect->failing && sim->collect->committed_end_s > sim->committed_s)
        sim->committed_s = sim->collect->committed_end_s;
}

/* The bus whose step comes first, or NULL where the collector's turn does. */
static struct sim_bus *first_bus(struct sim *sim, int64_t *at_us)
{
    struct sim_bus *first = NULL;
    *at_us = sim->turn_us;
    for (int32_t i = 0; i < sim->config.bus_count; i++)
        if (sim->buses[i].next_us < *at_us) {
            first = &sim->buses[i];
            *at_us = first->next_us;
        }
    return first;
}

static void cut(struct sim *sim)
{
    disk_cut_at_write(0);
    sim_forget_uncommitted(sim);
    sim_tell(sim, "the power goes for %lld ms", (long long)sim->cut_off_ms);
    sim_power_off(sim, sim->cut_off_ms);
    sim_start(sim);
    sim_disturb(sim, -1);
}

void sim_run_ms(struct sim *sim, int64_t ms)
{
    int64_t end_ms = sim_now_ms(sim) + ms, at_us;
    while (sim->collect) {
        struct sim_bus *bus = first_bus(sim, &at_us);
        if (at_us / 1000 + sim->true_ms >= end_ms)
            break;
        if (at_us > sim->boot_us)
            sim->boot_us = at_us;
        if (bus)
            sim_wire_step(bus);
        else
            sim_turn(sim);
        if (disk_is_cut())
            cut(sim);
    }
    if (sim_now_ms(sim) < end_ms)
        sim->boot_us = (end_ms - sim->true_ms) * 1000;
    for (int i = 0; i < sim->config.meter_count; i++)
        truth_advance(&sim->meters[i].truth, end_ms);
}
