/* Is the grid there? Two ways to know, both only while the computer runs on
 * something else: the voltage that the meters of the supply measure, and their
 * silence from the instant on at which production falls to zero (without a
 * grid an inverter stops by rule: common practice, no source).
 *
 * Only changes are noted. What the record says of spans without a collector
 * is found by the query (tools/outages/outages.h). */
#include <stdio.h>

#include "collect_state.h"
#include "log.h"

enum {
    CONFIRM = 3,       /* readings in a row that say the same */
    ALONE_MS = 15000,  /* a phase is lost by itself when the others are there for so long */
    WITH_MS = 60000,   /* so near to each other two meters fall at once */
    MADE_MW = 50000,   /* production is something from here on, */
    NOTHING_MW = 5000, /* and nothing below */
    BACK_TO_LOST = 2,  /* a phase is back at so many times the voltage below which it is lost */
};

static const enum quantity voltages[SUPPLY_PHASES] = { Q_VOLTAGE_L1, Q_VOLTAGE_L2, Q_VOLTAGE_L3 };

/* The grid's own meters; where it has none, those of the whole consumption. */
static bool is_supply(const struct collect *collect, const struct meter *meter)
{
    bool grid = false;
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        grid = grid || collect->config->meters[i].role == ROLE_GRID;
    return meter->config->role == (grid ? ROLE_GRID : ROLE_CONSUMPTION);
}

static bool makes(const struct meter *meter)
{
    return meter->config->role == ROLE_PRODUCTION || meter->config->role == ROLE_PART;
}

static void take_voltage(struct supply_phase *phase, int64_t voltage, int64_t limit, int64_t boot_ms)
{
    bool low = voltage < (phase->low ? BACK_TO_LOST * limit : limit);
    phase->known = true;
    if (low == phase->low) {
        phase->contrary = 0;
        return;
    }
    if (phase->contrary++ == 0)
        phase->changed_ms = boot_ms;
    if (phase->contrary < CONFIRM)
        return;
    phase->low = low;
    phase->contrary = 0;
}

void supply_reading(struct collect *collect, const struct meter *meter, struct reading *reading)
{
    struct supply *supply = &collect->supply;
    int64_t limit = (int64_t)(collect->config->site.outage_voltage * 1000);
    int32_t m = meter->index;
    if (makes(meter) && reading->has[Q_POWER] &&
        (reading->value[Q_POWER] >= MADE_MW || reading->value[Q_POWER] <= -MADE_MW))
        supply->made_ms[m] = reading->boot_ms;
    if (!is_supply(collect, meter))
        return;
    supply->heard_ms[m] = reading->boot_ms;
    bool any = false, none = true;
    for (int k = 0; k < SUPPLY_PHASES; k++) {
        bool *has = &reading->has[voltages[k]];
        int64_t voltage = reading->value[voltages[k]];
        if (!*has)
            continue;
        supply->voltage[m][k] = voltage;
        take_voltage(&supply->phases[m][k], voltage, limit, reading->boot_ms);
        any = true;
        none = none && voltage < limit;
        *has = voltage >= limit;
    }
    if (any && none)
        reading->has[Q_FREQUENCY] = false;
}

/* What all meters of the supply say together. */
struct survey {
    int32_t meters, silent;
    bool up, low;
    bool undecided;        /* a phase may be about to be lost */
    bool unmeasured;       /* one answers that measures no voltage */
    int64_t up_ms, low_ms; /* the first phase that came back, the last that was lost */
    int64_t heard_ms;      /* the last answer of any of them */
    int64_t voltage;       /* mV, the highest */
};

/* A phase is there while its meter answers; lost it stays without. */
static void add_phase(struct survey *survey, const struct supply_phase *phase, int64_t voltage, bool silent)
{
    if (!phase->known || (!phase->low && silent))
        return;
    if (!phase->low && phase->contrary > 0) {
        survey->undecided = true;
        return;
    }
    survey->voltage = voltage > survey->voltage ? voltage : survey->voltage;
    if (phase->low) {
        survey->low_ms = phase->changed_ms > survey->low_ms ? phase->changed_ms : survey->low_ms;
        survey->low = true;
    } else {
        survey->up_ms = !survey->up || phase->changed_ms < survey->up_ms ? phase->changed_ms : survey->up_ms;
        survey->up = true;
    }
}

static struct survey look(const struct collect *collect)
{
    const struct supply *supply = &collect->supply;
    struct survey survey = { 0 };
    for (int32_t m = 0; m < collect->config->meter_count; m++) {
        const struct meter *meter = &collect->meters[m];
        if (!is_supply(collect, meter))
            continue;
        survey.meters++;
        survey.silent += meter->lost;
        survey.heard_ms = supply->heard_ms[m] > survey.heard_ms ? supply->heard_ms[m] : survey.heard_ms;
        survey.unmeasured = survey.unmeasured || (!meter->lost && !supply->phases[m][0].known);
        for (int k = 0; k < SUPPLY_PHASES; k++)
            add_phase(&survey, &supply->phases[m][k], supply->voltage[m][k], meter->lost);
    }
    return survey;
}

/* A production meter that answers, made something until then, and makes nothing since. */
static bool production_fell(const struct collect *collect, int64_t at_ms)
{
    for (int32_t m = 0; m < collect->config->meter_count; m++) {
        const struct meter *meter = &collect->meters[m];
        int64_t made_ms = collect->supply.made_ms[m];
        if (makes(meter) && !meter->lost && made_ms > 0 && made_ms > at_ms - WITH_MS &&
            made_ms < at_ms + WITH_MS && meter->read_ms > made_ms && meter->power != STORE_NULL &&
            meter->power < NOTHING_MW && meter->power > -NOTHING_MW)
            return true;
    }
    return false;
}

static void tell_lost(struct collect *collect, int64_t at_ms, const char *how)
{
    collect->supply.lost = true;
    collect->supply.lost_ms = at_ms;
    log_write(LOG_WARN, "the grid is lost: %s", how);
    outbox_event_at(collect, at_ms, "grid_lost", 0, NULL, "%s", how);
}

static void tell_back(struct collect *collect, const struct survey *survey)
{
    bool changed = survey->up && survey->up_ms > collect->supply.lost_ms;
    collect->supply.lost = false;
    log_write(LOG_NOTE, "the grid is back");
    outbox_event_at(collect, changed ? survey->up_ms : survey->heard_ms, "grid_back", 0, NULL, "%s",
                    survey->up ? "voltage measured" : "a meter of the supply answers");
}

static void turn_grid(struct collect *collect, const struct survey *survey)
{
    char how[80];
    bool silent = survey->heard_ms > 0 && survey->silent == survey->meters;
    if (collect->supply.lost) {
        if (survey->up || (survey->unmeasured && !survey->low))
            tell_back(collect, survey);
    } else if (survey->low && !survey->up && !survey->undecided) {
        snprintf(how, sizeof how, "voltage measured: %lld.%lld V", (long long)(survey->voltage / 1000),
                 (long long)(survey->voltage % 1000 / 100));
        tell_lost(collect, survey->low_ms, how);
    } else if (silent && production_fell(collect, survey->heard_ms)) {
        tell_lost(collect, survey->heard_ms, "meter silent, and production fell to zero with it");
    }
}

/* Phases that are lost while others are there. */
static void turn_phases(struct collect *collect, const struct meter *meter, bool all)
{
    struct supply *supply = &collect->supply;
    uint8_t *told = &supply->told[meter->index];
    for (int k = 0; k < SUPPLY_PHASES; k++) {
        const struct supply_phase *phase = &supply->phases[meter->index][k];
        uint8_t bit = (uint8_t)(1U << k);
        bool lost = phase->low && !all;
        if (lost == ((*told & bit) != 0) || (lost && outbox_now_ms(collect) - phase->changed_ms < ALONE_MS))
            continue;
        *told ^= bit;
        log_write(lost ? LOG_WARN : LOG_NOTE, "phase L%d of meter %d '%s' is %s", k + 1,
                  (int)meter->config->number, meter->config->name, lost ? "lost" : "back");
        outbox_event_at(collect, all ? outbox_now_ms(collect) : phase->changed_ms,
                        lost ? "phase_lost" : "phase_back", meter->config->number, NULL, "L%d: %lld.%lld V",
                        k + 1, (long long)(supply->voltage[meter->index][k] / 1000),
                        (long long)(supply->voltage[meter->index][k] % 1000 / 100));
    }
}

void supply_turn(struct collect *collect)
{
    struct survey survey = look(collect);
    turn_grid(collect, &survey);
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        turn_phases(collect, &collect->meters[m], collect->supply.lost);
}
