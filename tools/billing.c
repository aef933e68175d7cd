#include "billing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "instants.h"
#include "schema.h"
#include "walk.h"

/* ---- periods ---- */

static bool add(struct billing *billing, int64_t from_day, int64_t to_day)
{
    if (to_day <= from_day)
        return true;
    if (billing->count == billing->room) {
        int32_t room = billing->room ? 2 * billing->room : 32;
        struct period *grown = realloc(billing->periods, (size_t)room * sizeof(*grown));
        if (!grown)
            return false;
        billing->periods = grown;
        billing->room = room;
    }
    billing->periods[billing->count++] = (struct period){ from_day, to_day };
    return true;
}

static bool add_months(struct billing *billing)
{
    const struct period *span = &billing->inquiry->period;
    for (int64_t day = span->from_day; day < span->to_day;) {
        int64_t next = period_next_month(day);
        if (!add(billing, day, next < span->to_day ? next : span->to_day))
            return false;
        day = next;
    }
    return true;
}

static int64_t day_of(const struct billing *billing, int64_t at_s)
{
    return civil_day_of(billing->inquiry->session.civil, at_s);
}

static bool add_readings(struct billing *billing)
{
    const struct period *span = &billing->inquiry->period;
    for (int32_t i = 0; i < billing->spans.count; i++) {
        const struct spans_period *period = &billing->spans.periods[i];
        int64_t from_day = day_of(billing, period->from_s), to_day = day_of(billing, period->to_s);
        if (period->reg == SEALED_IMPORT && from_day >= span->from_day && to_day <= span->to_day &&
            !add(billing, from_day, to_day))
            return false;
    }
    return true;
}

static int32_t find_sealed(const struct config *config)
{
    for (int32_t i = 0; config && i < config->sealed_count; i++)
        if (config->sealed[i].role == ROLE_GRID && config->sealed[i].registers & UINT32_C(1) << SEALED_IMPORT)
            return i;
    return -1;
}

static void hear_nothing(void *self, const char *line)
{
    (void)self, (void)line;
}

/* `meterbook spans` says what is wrong with the readings. */
static bool read_spans(struct billing *billing)
{
    struct session *session = &billing->inquiry->session;
    billing->sealed = find_sealed(session->config);
    if (billing->sealed < 0)
        return true;
    if (!session->logbook && !session_logbook(session))
        return false;
    billing->spans =
        (struct spans){ .config = session->config, .civil = session->civil, .note = hear_nothing };
    if (session->logbook)
        spans_read(&billing->spans, session->logbook, billing->sealed);
    spans_sort(&billing->spans);
    return !billing->spans.memory_out;
}

bool billing_open(struct billing *billing)
{
    bool good = read_spans(billing);
    if (good)
        good = billing->tariff->by_readings && billing->sealed >= 0 ? add_readings(billing)
                                                                    : add_months(billing);
    if (!good)
        session_failed(&billing->inquiry->session);
    return good;
}

void billing_free(struct billing *billing)
{
    spans_free(&billing->spans);
    free(billing->periods);
    billing->periods = NULL;
}

/* ---- energies from the record, or from sealed readings shared out to days ---- */

/* What is gathered while the rows of a period go by. */
struct gather {
    const struct billing *billing;
    const struct tariff *tariff;
    struct billing_period *result;
    bool by_interval;
    int64_t day, day_s, next_day_s; /* the civil day of the row before: most rows are of the same */
    struct demand {
        int64_t block_s;                  /* begin of the demand interval that is being filled */
        int64_t covered_s, with, without; /* mWh */
        bool doubtful;
    } demand;
};

static bool wants_hours(const struct schedule *schedule)
{
    bool wants = schedule->block_count > 1;
    for (int32_t i = 0; i < schedule->item_count; i++)
        wants |= schedule->items[i].of == MEASURE_DEMAND || schedule->items[i].of == MEASURE_DEMAND_APPARENT;
    return wants;
}

static bool period_wants_hours(const struct tariff *tariff, struct period period)
{
    for (int32_t i = 0; i < tariff->schedule_count; i++) {
        const struct schedule *schedule = &tariff->schedules[i];
        bool reaches =
            schedule->from_day < period.to_day &&
            (i + 1 == tariff->schedule_count || tariff->schedules[i + 1].from_day > period.from_day);
        if (reaches && wants_hours(schedule))
            return true;
    }
    return false;
}

/* Stretches of the period by schedule. */
static void lay_out(const struct tariff *tariff, struct period period, struct billing_period *result)
{
    for (int64_t day = period.from_day; day < period.to_day; day++) {
        const struct schedule *schedule = tariff_at(tariff, day);
        struct usage *last = result->use_count > 0 ? &result->with[result->use_count - 1] : NULL;
        if (schedule && (!last || last->schedule != schedule) && result->use_count < BILL_STRETCHES) {
            last = &result->with[result->use_count++];
            *last = (struct usage){ .from_day = day, .to_day = day, .schedule = schedule };
        }
        if (last)
            last->to_day = day + 1;
    }
    memcpy(result->without, result->with, sizeof(result->with));
}

static int32_t stretch_at(const struct billing_period *result, int64_t day)
{
    int32_t i = 0;
    while (i < result->use_count && day >= result->with[i].to_day)
        i++;
    return i < result->use_count && day >= result->with[i].from_day ? i : -1;
}

static void take_demand(struct gather *gather, int32_t stretch, int32_t block)
{
    struct demand *demand = &gather->demand;
    struct usage *with = &gather->result->with[stretch], *without = &gather->result->without[stretch];
    if (demand->covered_s < gather->tariff->demand_s || demand->doubtful) {
        with->demand_at_least = without->demand_at_least = true;
        return;
    }
    /* mWh in `covered_s` are millionths of a kW times hours */
    int64_t kilowatts = multiply_round(demand->with, 3600, demand->covered_s);
    int64_t without_kilowatts = multiply_round(demand->without, 3600, demand->covered_s);
    if (kilowatts > with->demand[block])
        with->demand[block] = kilowatts;
    if (without_kilowatts > without->demand[block])
        without->demand[block] = without_kilowatts;
}

static void add_demand(struct gather *gather, const struct instant *row, int32_t stretch, int32_t block)
{
    struct demand *demand = &gather->demand;
    int64_t block_s = row->from_s - row->from_s % gather->tariff->demand_s,
            length_s = row->to_s - row->from_s;
    if (block_s != demand->block_s)
        *demand = (struct demand){ .block_s = block_s };
    demand->covered_s += length_s;
    demand->doubtful |= !row->watched || row->balance.import == UNKNOWN || row->flags & HOW_CLOCK;
    demand->with += row->balance.import != UNKNOWN ? row->balance.import : 0;
    demand->without += row->balance.consumption != UNKNOWN ? row->balance.consumption : 0;
    if (row->to_s >= block_s + gather->tariff->demand_s)
        take_demand(gather, stretch, block);
}

static int64_t known(int64_t value)
{
    return value == UNKNOWN ? 0 : value;
}

static int64_t day_at(struct gather *gather, int64_t at_s)
{
    const struct civil *civil = gather->billing->inquiry->session.civil;
    if (at_s < gather->day_s || at_s >= gather->next_day_s) {
        gather->day = civil_day_of(civil, at_s);
        gather->day_s = civil_day_start(civil, gather->day);
        gather->next_day_s = civil_day_start(civil, gather->day + 1);
    }
    return gather->day;
}

/* Returns the civil day that it is of. */
static int64_t take_row(struct gather *gather, const struct instant *row)
{
    const struct civil *civil = gather->billing->inquiry->session.civil;
    const struct balance *balance = &row->balance;
    int64_t day = day_at(gather, row->from_s);
    int32_t stretch = stretch_at(gather->result, day), block = 0;
    if (stretch < 0)
        return day;
    struct usage *with = &gather->result->with[stretch], *without = &gather->result->without[stretch];
    if (gather->by_interval) {
        bool plain = gather->next_day_s - gather->day_s == 86400;
        int32_t second = (int32_t)(plain ? row->from_s - gather->day_s
                                         : (row->from_s + civil_offset(civil, row->from_s)) % 86400);
        block = schedule_block(gather->tariff, with->schedule, day, second);
        add_demand(gather, row, stretch, block);
    }
    const struct {
        enum measure measure;
        int64_t with, without;
    } energies[] = {
        { MEASURE_IMPORT, known(balance->import), known(balance->consumption) },
        { MEASURE_EXPORT, known(balance->export), 0 },
        { MEASURE_CONSUMPTION, known(balance->consumption), known(balance->consumption) },
        { MEASURE_PRODUCTION, known(balance->production), 0 },
        { MEASURE_SELF_CONSUMPTION, known(balance->self_consumption), 0 },
    };
    for (size_t i = 0; i < sizeof(energies) / sizeof(energies[0]); i++) {
        with->energy[energies[i].measure][block] += energies[i].with;
        without->energy[energies[i].measure][block] += energies[i].without;
    }
    with->estimated += known(balance->estimated);
    without->estimated += known(balance->estimated);
    gather->result->has_production &= balance->consumption != UNKNOWN;
    return day;
}

/* ---- energies of the sealed meter's registers ---- */

/* What registers of the sealed meter went on by from reading to reading; UNKNOWN where the period's ends are
 * no readings. */
static int64_t register_energy(const struct billing *billing, enum sealed_register reg, struct period period,
                               bool *guessed)
{
    int64_t sum = 0, reached = period.from_day;
    for (int32_t i = 0; i < billing->spans.count; i++) {
        const struct spans_period *part = &billing->spans.periods[i];
        int64_t from_day = day_of(billing, part->from_s), to_day = day_of(billing, part->to_s);
        if (part->reg != reg || from_day < period.from_day || to_day > period.to_day || from_day != reached)
            continue;
        if (part->energy == UNKNOWN)
            return UNKNOWN;
        sum += part->energy;
        reached = to_day;
        *guessed |= part->from_estimated || part->to_estimated;
    }
    return reached == period.to_day && reached > period.from_day ? sum : UNKNOWN;
}

static int64_t sum_of(const struct billing_period *result, enum measure measure)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < result->use_count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
            sum += result->with[i].energy[measure][b];
    return sum;
}

/* Makes the energies of a measure add up to what a register says, in proportion to what was there; where
 * nothing was, by days. */
static void scale_to(struct billing_period *result, enum measure measure, int64_t energy)
{
    int64_t whole = sum_of(result, measure), before = 0, reached = 0;
    int64_t days = result->to_day - result->from_day, days_reached = 0;
    for (int32_t i = 0; i < result->use_count; i++) {
        struct usage *use = &result->with[i];
        days_reached += use->to_day - use->from_day;
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            reached += use->energy[measure][b];
            if (whole == 0 && b > 0)
                continue;
            int64_t to = whole > 0 ? multiply_round(energy, reached, whole)
                                   : multiply_round(energy, days_reached, days);
            use->energy[measure][b] = to - before;
            before = to;
        }
    }
}

/* Registers of tariff periods say which block their energy fell into. */
static bool take_tariff_registers(const struct billing *billing, struct billing_period *result,
                                  struct period period)
{
    int64_t energy[TARIFF_BLOCKS] = { 0 };
    bool any = false;
    struct usage *use = &result->with[0];
    for (int32_t t = 0; t < CONTRACT_REGISTERS && result->use_count == 1; t++) {
        const char *name = billing->contract->registers[t];
        int64_t counted = UNKNOWN;
        if (name[0])
            counted =
                register_energy(billing, (enum sealed_register)(SEALED_T1 + t), period, &result->guessed);
        for (int32_t b = 0; counted != UNKNOWN && b < use->schedule->block_count; b++)
            if (strcmp(use->schedule->blocks[b].name, name) == 0) {
                energy[use->schedule->blocks[b].same] += counted;
                any = true;
                break;
            }
    }
    if (any)
        memcpy(use->energy[MEASURE_IMPORT], energy, sizeof(energy));
    return any;
}

static void balance_uses(struct billing_period *result)
{
    for (int32_t i = 0; i < result->use_count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            struct usage *with = &result->with[i], *without = &result->without[i];
            int64_t self = with->energy[MEASURE_PRODUCTION][b] - with->energy[MEASURE_EXPORT][b];
            with->energy[MEASURE_SELF_CONSUMPTION][b] = self;
            with->energy[MEASURE_CONSUMPTION][b] = self + with->energy[MEASURE_IMPORT][b];
            without->energy[MEASURE_CONSUMPTION][b] = without->energy[MEASURE_IMPORT][b] =
                with->energy[MEASURE_CONSUMPTION][b];
        }
}

static void take_readings(const struct billing *billing, struct billing_period *result, struct period period)
{
    int64_t import = register_energy(billing, SEALED_IMPORT, period, &result->guessed);
    int64_t export = register_energy(billing, SEALED_EXPORT, period, &result->guessed);
    if (import == UNKNOWN)
        return;
    result->by_readings = true;
    result->missing_days = 0;
    bool by_registers = take_tariff_registers(billing, result, period);
    result->no_hours &= !by_registers;
    if (!by_registers)
        scale_to(result, MEASURE_IMPORT, import);
    if (export != UNKNOWN)
        scale_to(result, MEASURE_EXPORT, export);
    result->shaped = !by_registers && (result->use_count > 1 || period_wants_hours(billing->tariff, period));
    /* a gross plant is not behind the meter: its balance stays as it is */
    if (result->has_production && billing->tariff->settlement != SETTLEMENT_GROSS)
        balance_uses(result);
}

/* ---- both ---- */

static void count_day(struct gather *gather, int64_t day, int64_t *last_day)
{
    gather->result->missing_days -= day != *last_day;
    *last_day = day;
}

static bool take_instants(struct gather *gather, struct period period)
{
    struct instants instants;
    const struct instant *instant;
    int64_t last_day = INT64_MIN;
    instants_begin(&instants, gather->billing->inquiry, period);
    while ((instant = instants_next(&instants)) != NULL)
        count_day(gather, take_row(gather, instant), &last_day);
    return instants_end(&instants);
}

static bool walk_rows(struct gather *gather, struct period period, enum row_unit unit)
{
    struct inquiry inquiry = *gather->billing->inquiry;
    struct walk walk;
    const struct answer_row *row;
    int64_t last_day = INT64_MIN;
    inquiry.period = period;
    gather->result->missing_days = period.to_day - period.from_day;
    if (unit == ROW_INTERVAL && instants_can(&inquiry, period))
        return take_instants(gather, period);
    walk_begin(&walk, &inquiry, unit);
    while ((row = walk_next(&walk)) != NULL) {
        const struct instant instant = { .from_s = row->from_s,
                                         .to_s = row->to_s,
                                         .balance = row->balance,
                                         .watched = row->lost_s == 0 && known(row->balance.estimated) == 0,
                                         .flags = row->flags };
        int64_t day = take_row(gather, &instant);
        if (row->sources != 0)
            count_day(gather, day, &last_day);
    }
    return walk_end(&walk);
}

bool billing_read(struct billing *billing, const struct tariff *tariff, struct period period,
                  struct billing_period *result)
{
    struct gather gather = { .billing = billing, .tariff = tariff, .result = result };
    *result = (struct billing_period){ .from_day = period.from_day,
                                       .to_day = period.to_day,
                                       .has_production = true };
    lay_out(tariff, period, result);
    gather.by_interval = period_wants_hours(tariff, period);
    if (!walk_rows(&gather, period, gather.by_interval ? ROW_INTERVAL : ROW_DAY))
        return false;
    if (gather.by_interval && result->missing_days == period.to_day - period.from_day) {
        /* sealed readings may know the days */
        result->no_hours = true;
        gather.by_interval = false;
        if (!walk_rows(&gather, period, ROW_DAY))
            return false;
    }
    if (billing->sealed >= 0)
        take_readings(billing, result, period);
    return true;
}
