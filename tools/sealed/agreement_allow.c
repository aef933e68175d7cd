#include "agreement_allow.h"

#include <stdlib.h>

#include "accuracy.h"
#include "muldiv.h"
#include "query_agreement.h"
#include "query_checks.h"

enum { HALF_DAY_S = 43200, HOUR_S = 3600 };
enum { IMPORT = 1, EXPORT = 2 }; /* a mask of counters */

struct gather {
    const struct config *config;
    struct query *query;
    const struct history *history;
};

/* Which of our meters make a term, and what each counted of it. */
struct component {
    int32_t number;
    int64_t energy;
};

/* What a meter's registers were multiplied by. */
struct ratio {
    int64_t primary, secondary;
};

struct components {
    int32_t count;
    bool derived; /* import and export are made of consumption and production */
    struct component of[HISTORY_MAX_METERS];
};

static const struct config_meter *find_own(const struct config *config, int32_t number)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].number == number)
            return &config->meters[i];
    return NULL;
}

static void add_component(struct components *components, int32_t number)
{
    for (int32_t i = 0; i < components->count; i++)
        if (components->of[i].number == number)
            return;
    if (components->count < HISTORY_MAX_METERS)
        components->of[components->count++] = (struct component){ number, UNKNOWN };
}

/* A derived grid meter is made of the consumption and the production meters. */
static bool is_component(const struct arrangement *arrangement, const struct arranged_meter *meter,
                         enum balance_term term)
{
    bool derived = arrangement->derived && TERMS_GRID & 1U << term;
    if (meter->number == METER_DERIVED)
        return false;
    if (derived && (meter->use == USE_CONSUMPTION || meter->use == USE_PRODUCTION))
        return !meter->only_compared;
    return use_terms(meter->use) & 1U << term;
}

/* The ratio of the register run that was counting in the middle of the row; as configured where the record
 * does not say, or where a correction set it right afterwards. */
static struct ratio find_ratio(const struct gather *gather, const struct config_meter *meter,
                               const struct agreement_row *row)
{
    struct ratio ratio = { meter->ct_primary, meter->ct_secondary };
    int64_t middle_ms = (row->from_s + (row->to_s - row->from_s) / 2) * 1000;
    struct run_row run;
    query_runs(gather->query);
    while (query_next_run(gather->query, &run)) {
        bool then = run.from_ms <= middle_ms && (run.to_ms == UNKNOWN || run.to_ms > middle_ms);
        bool known = run.factor[0] > 0 && run.factor[0] <= INT32_MAX && run.factor[1] > 0 &&
                     run.factor[1] <= INT32_MAX;
        if (run.meter == meter->number && run.counter < 2 && then && known && !(row->flags & HOW_CORRECTED))
            ratio = (struct ratio){ run.factor[0], run.factor[1] };
    }
    return ratio;
}

static void find_components(const struct history *history, enum balance_term term, int64_t from_s,
                            int64_t to_s, struct components *components)
{
    components->count = 0;
    components->derived = false;
    for (int32_t a = 0; a < history->count; a++) {
        const struct arrangement *arrangement = &history->arrangements[a];
        bool first = a == 0, last = a + 1 == history->count;
        if ((!first && arrangement->from_s >= to_s) || (!last && arrangement->to_s <= from_s))
            continue;
        components->derived |= arrangement->derived && TERMS_GRID & 1U << term;
        for (int32_t m = 0; m < arrangement->meter_count; m++)
            if (is_component(arrangement, &arrangement->meters[m], term))
                add_component(components, arrangement->meters[m].number);
    }
}

/* What a meter counted in the row's time: by the counters of the mask together. */
static int64_t counted(const struct gather *gather, int32_t number, int32_t counters,
                       const struct agreement_row *row)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < 2; i++)
        if (counters & 1 << i)
            sum += query_counted(gather->query, number, i, row->from_s, row->to_s);
    return sum;
}

/* Those of a meter that count the term; of a plant's the other one hardly moves. */
static int32_t counters_of(const struct config_meter *meter, enum balance_term term)
{
    if (!meter || meter->role != ROLE_GRID)
        return IMPORT | EXPORT;
    return term == TERM_EXPORT ? EXPORT : IMPORT;
}

/* Root mean square voltage of a phase, V; 0 where the record has none. */
static int64_t find_voltage(const struct gather *gather, int32_t number, int64_t at_s)
{
    struct interval_row interval;
    int64_t voltage = 0;
    for (int32_t i = 0; i < 2 && voltage == 0; i++, at_s += HALF_DAY_S) {
        query_intervals(gather->query, at_s, at_s + HOUR_S);
        while (query_next_interval(gather->query, &interval))
            if (interval.meter == number && interval.voltage != UNKNOWN)
                voltage = interval.voltage / 100;
    }
    return voltage;
}

/* Mean load of a meter behind transformers in millionths of their rated current, at power factor 1; UNKNOWN
 * without transformers or voltage. As P times the limit at P is nearly concave in P, the limit at the mean
 * load is hardly ever below the mean limit of the energy. */
static int64_t mean_load(const struct gather *gather, const struct config_meter *meter, struct ratio ratio,
                         const struct agreement_row *row)
{
    if (ratio.primary <= ratio.secondary)
        return UNKNOWN;
    int64_t middle_s = row->from_s + (row->to_s - row->from_s) / 2;
    int64_t voltage = find_voltage(gather, meter->number, middle_s);
    int64_t rated = ratio.primary * voltage * meter->phases; /* W */
    int64_t energy = counted(gather, meter->number, IMPORT | EXPORT, row);
    if (rated <= 0)
        return UNKNOWN;
    int64_t mean = mul_div(energy, HOUR_S, 1000 * (row->to_s - row->from_s));
    return mul_div(mean, SHARE_ONE, rated);
}

/* What a class allows of an energy; of one that is not stated, the widest goes to `open`. */
static void allow(struct agreement_row *row, enum agreement_part part, int64_t energy,
                  struct accuracy_limit limit, int64_t widest, int64_t *open)
{
    struct agreement_allowance *allowance = &row->allowance;
    energy = llabs(energy);
    if (limit.share == UNKNOWN) {
        *open += mul_div(energy, widest, SHARE_ONE);
        return;
    }
    int64_t parts[2] = { allowance->likely[part], mul_div(energy, limit.share, SHARE_ONE) };
    allowance->worst[part] += parts[1];
    allowance->likely[part] = accuracy_root_sum_square(parts, 2);
    row->below |= limit.below;
}

static void allow_component(const struct gather *gather, struct agreement_row *row,
                            const struct component *component, bool alone)
{
    struct agreement_allowance *allowance = &row->allowance;
    const struct config_meter *meter = find_own(gather->config, component->number);
    static const struct config_meter removed = { .ct_primary = 1, .ct_secondary = 1 };
    meter = meter ? meter : &removed; /* nothing is known of a meter that is no longer configured */
    struct ratio ratio = find_ratio(gather, meter, row);
    bool behind = ratio.primary != ratio.secondary;
    int64_t load = mean_load(gather, meter, ratio, row);
    row->ct_primary = behind && alone ? (int32_t)ratio.primary : 0;
    row->ct_secondary = behind && alone ? (int32_t)ratio.secondary : 0;
    row->by_load |= load != UNKNOWN;
    allow(row, PART_OUR_CLASS, component->energy, accuracy_meter(meter->accuracy_class, load),
          ACCURACY_WIDEST_METER, &allowance->open_ours);
    if (meter->ct_class[0] || behind)
        allow(row, PART_OUR_CT, component->energy, accuracy_ct(meter->ct_class, load), ACCURACY_WIDEST_CT,
              &allowance->open_ours);
    int64_t steps[2] = { allowance->likely[PART_OUR_STEP],
                         query_step(gather->query, component->number, row->from_s, row->to_s) };
    allowance->worst[PART_OUR_STEP] += steps[1];
    allowance->likely[PART_OUR_STEP] = accuracy_root_sum_square(steps, 2);
}

/* The record keeps what its collector says of a derived meter, in thousandths. */
static void allow_derived(const struct gather *gather, struct agreement_row *row)
{
    int64_t doubt = query_derived_doubt(gather->query, row->from_s, row->to_s);
    row->allowance.worst[PART_DERIVED] = row->allowance.likely[PART_DERIVED] =
        mul_div(llabs(row->ours), doubt, 1000);
}

static void allow_ours(const struct gather *gather, struct agreement_row *row)
{
    struct components components;
    find_components(gather->history, row->term, row->from_s, row->to_s, &components);
    for (int32_t i = 0; i < components.count; i++) {
        struct component *component = &components.of[i];
        int32_t counters = counters_of(find_own(gather->config, component->number), row->term);
        component->energy =
            components.count == 1 ? row->ours : counted(gather, component->number, counters, row);
        allow_component(gather, row, component, components.count == 1);
    }
    if (components.derived)
        allow_derived(gather, row);
}

void agreement_allow_theirs(struct agreement_row *row, const struct config *config)
{
    const struct config_sealed *meter = &config->sealed[row->sealed];
    allow(row, PART_THEIR_CLASS, row->theirs, accuracy_meter(meter->accuracy_class, UNKNOWN),
          ACCURACY_WIDEST_METER, &row->allowance.open_theirs);
    if (meter->ct_class[0] || meter->factor_thousandths != 1000)
        allow(row, PART_THEIR_CT, row->theirs, accuracy_ct(meter->ct_class, UNKNOWN), ACCURACY_WIDEST_CT,
              &row->allowance.open_theirs);
}

void agreement_allow(struct agreement_row *row, const struct config *config, struct query *query,
                     const struct history *history)
{
    const struct gather gather = { config, query, history };
    allow_ours(&gather, row);
}

struct agreement_side agreement_side(const struct config *config, const struct history *history,
                                     enum balance_term term)
{
    struct components components;
    struct agreement_side side = { 0 };
    find_components(history, term, INT64_MAX - 1, INT64_MAX, &components);
    for (int32_t i = 0; i < components.count; i++) {
        const struct config_meter *meter = find_own(config, components.of[i].number);
        if (!meter || side.count == CONFIG_MAX_METERS)
            continue;
        side.meters[side.count++] = (int32_t)(meter - config->meters);
        side.phases += meter->phases;
        side.transformers |= meter->ct_primary != meter->ct_secondary || meter->ct_class[0];
        side.phases_apart |= meter->phases_apart;
    }
    return side;
}
