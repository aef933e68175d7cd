#include "site.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "disk.h"
#include "wire.h"

#define WORK_PER_MWH   3600000
#define SITE_REGISTERS 17

uint64_t site_random(struct site *site)
{
    site->random ^= site->random << 13;
    site->random ^= site->random >> 7;
    site->random ^= site->random << 17;
    return site->random;
}

/* Registers: import at 0, export at 4 (64 bits, in steps), power at 8 (mW), voltage at 10 (0.01 V),
 * serial number at 11, clock at 15. */
void site_replan(struct site_meter *meter)
{
    static const struct point points[6] = {
        { .quantity = Q_ACTIVE_IMPORT,
          .function = 4,
          .type = TYPE_UINT64,
          .size = 4,
          .multiplier = 1,
          .divisor = 1,
          .address = 0,
          .scale_address = NO_REGISTER },
        { .quantity = Q_ACTIVE_EXPORT,
          .function = 4,
          .type = TYPE_UINT64,
          .size = 4,
          .multiplier = 1,
          .divisor = 1,
          .address = 4,
          .scale_address = NO_REGISTER },
        { .quantity = Q_POWER,
          .function = 4,
          .type = TYPE_INT32,
          .size = 2,
          .multiplier = 1,
          .divisor = 1000,
          .address = 8,
          .scale_address = NO_REGISTER },
        { .quantity = Q_VOLTAGE_L1,
          .function = 4,
          .type = TYPE_UINT16,
          .size = 1,
          .multiplier = 1,
          .divisor = 100,
          .address = 10,
          .scale_address = NO_REGISTER },
        { .quantity = Q_SERIAL_NUMBER,
          .function = 4,
          .type = TYPE_STRING,
          .size = 4,
          .multiplier = 1,
          .divisor = 1,
          .address = 11,
          .scale_address = NO_REGISTER },
        { .quantity = Q_CLOCK,
          .function = 4,
          .type = TYPE_UINT32,
          .size = 2,
          .multiplier = 1,
          .divisor = 1,
          .address = 15,
          .scale_address = NO_REGISTER },
    };
    struct plan *plan = &meter->plans[meter->plan == &meter->plans[0]];
    memset(plan, 0, sizeof *plan);
    plan->edition = meter->plan ? meter->plan->edition + 1 : 0;
    for (int i = 0; i < 6; i++) {
        struct point *point = &plan->points[plan->point_count];
        if ((i < 2 && meter->without & 1U << i) || (i == 4 && !meter->serial) || (i == 5 && !meter->clock))
            continue;
        *point = points[i];
        plan->point_count++;
        if (i >= 2)
            continue;
        point->multiplier = (int32_t)meter->step;
        point->divisor = 1000; /* raw counts steps; value in Wh = raw * step / 1000 */
        point->modulus = meter->modulus / meter->step;
    }
    plan->request_count = 1;
    plan->requests[0] = (struct request){ .function = 4,
                                          .count = SITE_REGISTERS,
                                          .point_count = (uint16_t)plan->point_count };
    meter->plan = plan;
}

static void read_clock(void *self, struct instant *now)
{
    const struct site *site = self;
    now->boot_us = site->boot_ms * 1000;
    now->wall_us = (site->real_ms + site->wall_error_ms) * 1000;
    now->synchronised = site->synchronised;
}

void site_init(struct site *site, uint64_t seed, int count, const enum meter_role roles[], int64_t interval_s,
               int64_t step)
{
    static char empty[] = "";
    memset(site, 0, sizeof *site);
    site->random = seed * 2862933555777941757U + 3037000493U;
    site->map_text = empty;
    struct config *config = &site->config;
    config->site = (struct config_site){ .name = "test",
                                         .time_zone = "Europe/Paris",
                                         .interval_s = (int32_t)interval_s,
                                         .poll_period_ms = 1000,
                                         .voltage_max = 300,
                                         .frequency_max = 70 };
    snprintf(config->database, sizeof config->database, "record.db");
    snprintf(config->hash, sizeof config->hash, "%016d", 1);
    config->bus_count = 1;
    config->meter_count = count;
    config->map_count = 1;
    config->maps = &site->map;
    config->map_texts = &site->map_text;
    for (int i = 0; i < count; i++) {
        config->meters[i] = (struct config_meter){ .number = i + 1,
                                                   .role = roles[i],
                                                   .rated_w = 20000,
                                                   .ct_primary = 1,
                                                   .ct_secondary = 1,
                                                   .vt_primary = 1,
                                                   .vt_secondary = 1 };
        site->meters[i].step = step;
        site->meters[i].voltage_mv = 230000;
        site->meters[i].first[0] = (int64_t)(site_random(site) % 1000000) * step;
        site->meters[i].first[1] = (int64_t)(site_random(site) % 1000000) * step;
        site_replan(&site->meters[i]);
    }
    site->inbox = inbox_create(256);
    site->real_ms = INT64_C(1790000000000); /* in September 2026 */
    site->synchronised = true;
    site_power_off(site, 0);
}

void site_finish(struct site *site)
{
    site_stop(site, false);
    inbox_destroy(site->inbox);
}

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    fprintf(stderr, "%s: %s\n", error ? "error" : "warning", line);
}

static struct logbook *read_logbook(const struct site *site)
{
    struct problems problems = { .say = say_problem };
    struct civil *civil = civil_open(site->config.site.time_zone);
    char why[METER_NAMES_WHY];
    struct meter_names *names = meter_names_load(site->config.database, why);
    struct logbook_site where = { civil, &site->config, names };
    struct logbook *logbook =
        logbook_read(site->logbook, strlen(site->logbook), "logbook", &where, &problems);
    meter_names_free(names);
    civil_close(civil);
    if (logbook)
        logbook_sort(logbook);
    if (problems.errors == 0)
        return logbook;
    logbook_free(logbook);
    return NULL;
}

bool site_write_logbook(struct site *site, const char *text)
{
    site->logbook = text;
    struct logbook *logbook = read_logbook(site);
    if (logbook && site->collect)
        collect_use_logbook(site->collect, logbook);
    else
        logbook_free(logbook);
    return logbook != NULL;
}

bool site_start(struct site *site)
{
    struct collect_setup setup = { .config = &site->config,
                                   .logbook = site->logbook ? read_logbook(site) : NULL,
                                   .generation = 1,
                                   .database = site->config.database,
                                   .boot = site->boot,
                                   .inbox = site->inbox,
                                   .clock = { read_clock, site } };
    bool fatal;
    for (int i = 0; i < site->config.meter_count; i++)
        site_replan(&site->meters[i]);
    site->collect = collect_create(&setup, &fatal);
    if (!site->collect)
        logbook_free(setup.logbook);
    return site->collect != NULL;
}

void site_stop(struct site *site, bool clean)
{
    struct message message;
    if (site->collect && clean)
        collect_finish(site->collect);
    collect_destroy(site->collect);
    site->collect = NULL;
    while (inbox_take(site->inbox, &message))
        ;
}

static void flow(struct site *site, int64_t ms)
{
    for (int i = 0; i < site->config.meter_count; i++) {
        struct site_meter *meter = &site->meters[i];
        int way = meter->power_mw < 0;
        meter->work[way] += (way ? -meter->power_mw : meter->power_mw) * ms;
        meter->truth[way] += meter->work[way] / WORK_PER_MWH;
        meter->work[way] %= WORK_PER_MWH;
    }
}

void site_power_off(struct site *site, int64_t for_ms)
{
    site_stop(site, false);
    if (!disk_is_cut())
        disk_cut();
    disk_restore();
    flow(site, for_ms);
    site->real_ms += for_ms;
    site->boot_ms = 5000;
    snprintf(site->boot, sizeof site->boot, "boot-%d", ++site->boots);
}

static void put_value(uint16_t *registers, int64_t value, int words)
{
    for (int w = 0; w < words; w++)
        registers[w] = (uint16_t)((uint64_t)value >> 16 * (words - 1 - w));
}

static void answer(struct site *site, int index)
{
    struct site_meter *meter = &site->meters[index];
    struct message message = { .kind = MESSAGE_ANSWER,
                               .meter = (int16_t)index,
                               .generation = 1,
                               .boot_us = site->boot_ms * 1000,
                               .plan = meter->plan,
                               .count = SITE_REGISTERS };
    for (int way = 0; way < 2; way++) {
        int64_t value = meter->first[way] + meter->truth[way] - meter->taken_off[way];
        if (meter->modulus > 0)
            value %= meter->modulus;
        int64_t raw = value / meter->step;
        meter->shown[way] = raw * meter->step;
        if (meter->zero_polls > 0)
            raw = 0;
        else if (meter->back_polls > 0)
            raw -= meter->back_steps > 0 ? meter->back_steps : 5;
        put_value(message.registers + 4 * way, raw, 4);
    }
    meter->zero_polls -= meter->zero_polls > 0;
    meter->back_polls -= meter->back_polls > 0;
    put_value(message.registers + 8, meter->power_mw + meter->power_mw * meter->error_ppm / 1000000, 2);
    put_value(message.registers + 10, meter->voltage_mv / 10, 1);
    put_value(message.registers + 15, site->real_ms / 1000 + meter->clock_error_s, 2);
    for (int i = 0; meter->serial && meter->serial[i]; i++)
        message.registers[11 + i / 2] |= (uint16_t)((unsigned char)meter->serial[i] << (i % 2 ? 0 : 8));
    inbox_put(site->inbox, &message);
}

void site_second(struct site *site)
{
    flow(site, 1000);
    site->real_ms += 1000;
    site->boot_ms += 1000;
    if (!site->collect)
        return;
    bool poll =
        site->boot_ms % (site->config.site.poll_period_ms > 1000 ? site->config.site.poll_period_ms : 1000) <
        1000;
    for (int i = 0; poll && i < site->config.meter_count; i++) {
        struct message end = { .kind = MESSAGE_CYCLE_END,
                               .meter = (int16_t)i,
                               .generation = 1,
                               .result = site->meters[i].silent ? WIRE_SILENT : WIRE_OK };
        if (!site->meters[i].silent)
            answer(site, i);
        inbox_put(site->inbox, &end);
    }
    if (!site->stalled)
        collect_turn(site->collect);
}

void site_run(struct site *site, int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++)
        site_second(site);
}
