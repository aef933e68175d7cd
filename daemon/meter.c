#include "meter.h"

#include <string.h>

#include "muldiv.h"
#include "schema.h"

static const uint32_t series_mask[SERIES_COUNT] = {
    [SERIES_ACTIVE] = 1U << Q_ACTIVE_IMPORT | 1U << Q_ACTIVE_EXPORT,
    [SERIES_OTHER] =
        1U << Q_REACTIVE_IMPORT | 1U << Q_REACTIVE_EXPORT | 1U << Q_APPARENT_IMPORT | 1U << Q_APPARENT_EXPORT,
};

/* Readings further apart than three poll periods, at least 10 s, leave a gap. */
static int64_t gap_limit_ms(const struct config_site *site)
{
    int64_t limit = 3 * (int64_t)site->poll_period_ms;
    return limit > 10000 ? limit : 10000;
}

/* A series that is read once per interval has its gaps accordingly. */
static int64_t gap_limit_of(const struct plan *plan, uint32_t mask, const struct config_site *site)
{
    for (int32_t i = 0; i < plan->point_count; i++)
        if (plan->points[i].quantity < COUNTER_COUNT && mask & 1U << plan->points[i].quantity &&
            plan->points[i].read_class != READ_POLL)
            return 3 * INT64_C(1000) * site->interval_s;
    return gap_limit_ms(site);
}

static int32_t bits(uint32_t mask)
{
    int32_t n = 0;
    for (; mask; mask &= mask - 1)
        n++;
    return n;
}

static void set_factors(struct meter *meter)
{
    const struct config_meter *config = meter->config;
    for (int kind = 0; kind < FACTOR_KINDS; kind++) {
        meter->up[kind] = meter->down[kind] = 1;
        if (kind & FACTOR_CURRENT) {
            meter->up[kind] *= config->ct_primary;
            meter->down[kind] *= config->ct_secondary;
        }
        if (kind & FACTOR_VOLTAGE) {
            meter->up[kind] *= config->vt_primary;
            meter->down[kind] *= config->vt_secondary;
        }
    }
}

void meter_init(struct meter *meter, const struct config_meter *config, int32_t index,
                const struct config_site *site)
{
    memset(meter, 0, sizeof *meter);
    meter->config = config;
    meter->index = index;
    set_factors(meter);
    meter->read_ms = -1;
    meter->power = meter->voltage = STORE_NULL;
    samples_begin(&meter->samples, INT64_MIN);
    for (int i = 0; i < SERIES_COUNT; i++)
        book_init(&meter->series[i].book, 0, site->interval_s * INT64_C(1000));
}

/* Imports and exports are pairs of neighbours: currents that are turned round
 * turn every direction. */
_Static_assert(Q_ACTIVE_IMPORT == 0 && Q_REACTIVE_IMPORT == 2 && Q_APPARENT_IMPORT == 4,
               "direction() relies on the order of counters");
static int direction(const struct meter *meter, int counter)
{
    return meter->config->reversed ? counter ^ 1 : counter;
}

uint32_t meter_counters(const struct meter *meter, const struct plan *plan)
{
    uint32_t all = 0;
    for (int32_t i = 0; i < plan->point_count; i++)
        if (plan->points[i].quantity < COUNTER_COUNT)
            all |= 1U << direction(meter, plan->points[i].quantity);
    return all;
}

void meter_forget(struct meter *meter)
{
    meter->plan = NULL;
    memset(meter->series, 0, sizeof meter->series);
    memset(meter->counters, 0, sizeof meter->counters);
    memset(&meter->pending, 0, sizeof meter->pending);
    meter->pending_stamped = false;
}

void meter_set_plan(struct meter *meter, const struct plan *plan, const struct config_site *site)
{
    uint32_t all = meter_counters(meter, plan);
    meter->plan = plan;
    meter->edition = plan->edition;
    for (int32_t i = 0; i < plan->point_count; i++)
        decoder_make(&meter->decoders[i], &plan->points[i]);
    for (int i = 0; i < SERIES_COUNT; i++) {
        struct series *series = &meter->series[i];
        uint32_t mask = all & series_mask[i];
        if (mask == series->mask && series->check.gap_ms != 0)
            continue;
        series->mask = mask;
        check_init(&series->check, mask, meter->config->rated_w * 1000, gap_limit_of(plan, mask, site));
        series->check.window[0] = (int64_t)(site->voltage_min * 1000);
        series->check.window[1] = (int64_t)(site->voltage_max * 1000);
        series->check.window[2] = (int64_t)(site->frequency_min * 1000);
        series->check.window[3] = (int64_t)(site->frequency_max * 1000);
        book_init(&series->book, bits(mask), site->interval_s * INT64_C(1000));
    }
}

static enum factor_kind factor_kind(int quantity)
{
    if (quantity <= Q_APPARENT_POWER)
        return FACTOR_BOTH;
    if (quantity <= Q_VOLTAGE_L3)
        return FACTOR_VOLTAGE;
    return quantity <= Q_CURRENT_L3 ? FACTOR_CURRENT : FACTOR_NONE;
}
_Static_assert(Q_APPARENT_POWER < Q_VOLTAGE_L1 && Q_VOLTAGE_L3 < Q_CURRENT_L1 && Q_CURRENT_L3 < Q_FREQUENCY,
               "factor_kind relies on the order of quantities");

static bool scale(const struct meter *meter, int quantity, int64_t value, int64_t *out)
{
    enum factor_kind kind = factor_kind(quantity);
    if (meter->up[kind] == meter->down[kind]) {
        *out = value;
        return true;
    }
    return mul_div_fits(value, meter->up[kind], meter->down[kind], out);
}

static bool take_counter(struct meter *meter, int quantity, const struct decoded *decoded)
{
    int to = direction(meter, quantity);
    struct counter_reading *counter = &meter->pending.counter[to];
    struct counter_reading taken = { .raw = decoded->raw };
    if (!scale(meter, quantity, decoded->value, &taken.value) ||
        !scale(meter, quantity, decoded->step, &taken.step))
        return false;
    if (!scale(meter, quantity, decoded->modulus, &taken.modulus))
        taken.modulus = 0;
    if (taken.step < 1)
        taken.step = 1;
    *counter = taken;
    meter->pending.has[to] = true;
    return true;
}

static bool take_momentary(struct meter *meter, int quantity, const struct decoded *decoded)
{
    int64_t value;
    if (!scale(meter, quantity, decoded->value, &value))
        return false;
    if (meter->config->reversed && quantity >= Q_POWER && quantity <= Q_REACTIVE_POWER)
        value = -value;
    meter->pending.value[quantity] = value;
    meter->raw[quantity] = decoded->raw;
    meter->pending.has[quantity] = true;
    return true;
}

int32_t meter_decode(struct meter *meter, const struct plan *plan, uint16_t request,
                     const uint16_t *registers, int64_t boot_us, const struct point **refused)
{
    const struct request *r = &plan->requests[request];
    int32_t count = 0;
    *refused = NULL;
    for (int i = 0; i < r->point_count; i++) {
        int32_t at = r->first_point + i;
        const struct point *point = &plan->points[at];
        struct decoded decoded;
        if (quantity_info(point->quantity)->kind == KIND_TEXT)
            continue;
        enum decode_result result =
            decode_value(&meter->decoders[at], point, registers, r->address, &decoded);
        bool counter = point->quantity < COUNTER_COUNT;
        /* Read once more before its cycle ended (a lost meter that answered its probe): the older one is
         * void. */
        if (counter && meter->pending.has[direction(meter, point->quantity)])
            meter->pending_stamped = false;
        if (result == DECODE_OK && (counter ? take_counter(meter, point->quantity, &decoded)
                                            : take_momentary(meter, point->quantity, &decoded))) {
            /* The stamp of the counters: that is what is dated. */
            if (counter && !meter->pending_stamped) {
                meter->pending.boot_ms = boot_us / 1000;
                meter->pending_stamped = true;
            }
        } else if (result != DECODE_ABSENT && count++ == 0) {
            *refused = point;
        }
    }
    if (!meter->pending_stamped)
        meter->pending.boot_ms = boot_us / 1000;
    return count;
}

bool series_complete(const struct series *series, const struct reading *reading)
{
    for (int32_t i = 0; i < series->check.count; i++)
        if (!reading->has[series->check.counters[i]])
            return false;
    return true;
}

int32_t series_position(const struct series *series, int32_t counter)
{
    for (int32_t i = 0; i < series->check.count; i++)
        if (series->check.counters[i] == counter)
            return i;
    return -1;
}

static int64_t positive(int64_t x)
{
    return x > 0 ? x : 0;
}

/* Power that flows in a counter's direction, mW. No more than could: a register gone wrong. */
static int64_t power_of(const struct meter *meter, const struct reading *reading, int counter)
{
    int sign = counter & 1 ? -1 : 1;
    int quantity = counter <= Q_ACTIVE_EXPORT ? Q_POWER : Q_REACTIVE_POWER;
    int64_t power = 0, most = meter->config->rated_w * 1200;
    if (counter > Q_REACTIVE_EXPORT)
        return 0;
    if (quantity == Q_POWER && meter->config->phases_apart && reading->has[Q_POWER_L1] &&
        reading->has[Q_POWER_L2] && reading->has[Q_POWER_L3])
        power = positive(sign * reading->value[Q_POWER_L1]) + positive(sign * reading->value[Q_POWER_L2]) +
                positive(sign * reading->value[Q_POWER_L3]);
    else if (reading->has[quantity])
        power = positive(sign * reading->value[quantity]);
    return power < most ? power : most;
}

static const char *const end_names[] = {
    [RUN_GOES_ON] = "", [RUN_ROLLOVER] = "rollover", [RUN_RESET] = "reset", [RUN_RISE] = "rise"
};

static void begin_run(struct meter *meter, int c, const struct reading *reading, const char *began)
{
    struct counter_state *state = &meter->counters[c];
    const struct counter_reading *now = &reading->counter[c];
    account_begin(&state->account, now->value, now->step);
    state->open = true;
    state->run = (struct store_run){ .meter = meter->config->number,
                                     .counter = c,
                                     .factor = meter->factor,
                                     .first = now->value,
                                     .first_raw = now->raw,
                                     .step = now->step,
                                     .began = began };
    memcpy(state->run.serial, meter->serial, sizeof state->run.serial);
}

static bool is_exchanged(const struct meter *meter, const struct counter_state *state)
{
    return state->run.serial[0] && meter->serial[0] && strcmp(state->run.serial, meter->serial) != 0;
}

/* The register does not go on from where it stood: the continuous account
 * does, by what a rollover shows or by nothing. */
static void change_run(struct meter *meter, int c, const struct reading *reading, enum run_end ended,
                       struct accounted *out)
{
    struct counter_state *state = &meter->counters[c];
    const struct counter_reading *now = &reading->counter[c];
    int64_t continuous = state->account.account + state->offset;
    bool exchanged = is_exchanged(meter, state);
    if (ended == RUN_ROLLOVER && !exchanged)
        continuous += positive(now->value + now->modulus - state->account.account);
    struct store_run *over = &out->ended[out->ended_count++];
    *over = state->run;
    over->last = state->account.account;
    over->last_raw = state->raw;
    over->ended = exchanged ? "exchange" : end_names[ended];
    begin_run(meter, c, reading, over->ended);
    state->offset = continuous - now->value;
    if (ended != RUN_ROLLOVER || exchanged)
        out->flags |= HOW_RUN_CHANGE;
}

void meter_account(struct meter *meter, int which, const struct reading *reading, const enum run_end *ended,
                   struct accounted *out)
{
    struct series *series = &meter->series[which];
    int64_t span = series->heard ? reading->boot_ms - series->last_ms : 0;
    out->boot_ms = reading->boot_ms;
    out->last_ms = series->heard ? series->last_ms : -1;
    out->flags = 0;
    out->ended_count = 0;
    out->gap = !series->heard || span > series->check.gap_ms;
    for (int32_t i = 0; i < series->check.count; i++) {
        int c = series->check.counters[i];
        struct counter_state *state = &meter->counters[c];
        const struct counter_reading *now = &reading->counter[c];
        int64_t power = power_of(meter, reading, c);
        int64_t mean = (power + series->last_power[c & 1]) / 2;
        if (c <= Q_REACTIVE_EXPORT)
            series->last_power[c & 1] = power;
        if (!state->open) {
            /* What a register showed before its first reading is no energy. */
            begin_run(meter, c, reading, "first reading");
            state->offset = series->book.open ? series->book.to[i] - now->value : 0;
        } else if ((ended && ended[i] != RUN_GOES_ON) || is_exchanged(meter, state))
            change_run(meter, c, reading, ended && ended[i] != RUN_GOES_ON ? ended[i] : RUN_RESET, out);
        else
            account_read(&state->account, now->value, now->step, out->gap ? 0 : mean, out->gap ? 0 : span);
        state->raw = now->raw;
        out->account[which][i] = state->account.account + state->offset;
    }
    series->heard = true;
    series->last_ms = reading->boot_ms;
}

void meter_sample(struct meter *meter, const struct reading *reading, int64_t start_ms)
{
    if (meter->samples.start_ms != start_ms)
        samples_begin(&meter->samples, start_ms);
    samples_add(&meter->samples, reading);
}

void meter_row(struct meter *meter, int which, const struct book_row *from, struct store_row *row)
{
    const struct series *series = &meter->series[which];
    int64_t unobserved_s = (from->unobserved_ms + 500) / 1000;
    memset(row, 0, sizeof *row);
    row->start_s = from->start_ms / 1000;
    row->meter = meter->config->number;
    row->power = row->power_min = row->power_max = row->voltage = STORE_NULL;
    for (int c = 0; c < COUNTER_COUNT; c++)
        row->energy[c] = STORE_NULL;
    for (int32_t i = 0; i < series->check.count; i++)
        row->energy[series->check.counters[i]] = from->energy[i];
    if (which == SERIES_OTHER) {
        row->other_energy = true;
        row->other_unobserved_s = unobserved_s;
        row->other_how = from->how;
        return;
    }
    row->counts = series->mask != 0;
    row->estimated = from->estimated;
    row->unobserved_s = unobserved_s;
    row->how = from->how;
    if (meter->samples.start_ms == from->start_ms)
        samples_row(&meter->samples, row);
}
