#include "balance.h"

#include <stddef.h>
#include <string.h>

enum counter_of { IMPORT, EXPORT, DELIVERED, TAKEN };

/* A sum over the meters of one use. */
struct part_sum {
    int64_t value; /* of those that are known; UNKNOWN without any */
    bool complete; /* all of them are known; true without any such meter */
};

/* Every field is one int64_t, so that a balance can be walked as an array. */
enum { FIELDS = sizeof(struct balance) / sizeof(int64_t) };
_Static_assert(offsetof(struct balance, metered_compared) == (FIELDS - 1) * sizeof(int64_t), "only int64_t");

const struct balance balance_nothing = {
    UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN,
    UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN,
};

static int32_t count_role(const struct arrangement *arrangement, enum meter_role role, bool derived)
{
    int32_t count = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        count += arrangement->meters[i].role == role &&
                 (arrangement->meters[i].number == METER_DERIVED) == derived;
    return count;
}

static enum use use_of(const struct arrangement *arrangement, const struct arranged_meter *meter,
                       bool real_grid)
{
    switch (meter->role) {
    case ROLE_PART:
        if (!arrangement->from_parts)
            return USE_NONE;
        return meter->gross ? USE_GROSS : USE_PRODUCTION;
    case ROLE_PRODUCTION:
        return meter->gross ? USE_GROSS : USE_PRODUCTION;
    case ROLE_GRID:
        return (meter->number == METER_DERIVED) == real_grid ? USE_NONE : USE_GRID;
    case ROLE_CONSUMPTION:
        return USE_CONSUMPTION;
    case ROLE_STORAGE:
        return USE_STORAGE;
    case ROLE_GENERATOR:
        return USE_GENERATOR;
    default:
        return USE_NONE;
    }
}

/* With nothing made behind the house meter there is nothing to derive. */
static void drop_derived(struct arrangement *arrangement)
{
    arrangement->derived = false;
    arrangement->count[USE_GRID] = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        if (arrangement->meters[i].use == USE_GRID)
            arrangement->meters[i].use = USE_NONE;
}

void arrangement_prepare(struct arrangement *arrangement)
{
    bool real_grid = count_role(arrangement, ROLE_GRID, false) > 0;
    arrangement->from_parts = count_role(arrangement, ROLE_PRODUCTION, false) == 0;
    memset(arrangement->count, 0, sizeof(arrangement->count));
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        struct arranged_meter *meter = &arrangement->meters[i];
        meter->use = use_of(arrangement, meter, real_grid);
        meter->only_compared = meter->use == USE_CONSUMPTION && real_grid;
        arrangement->count[meter->use]++;
    }
    const int32_t *count = arrangement->count;
    arrangement->derived = !real_grid && count[USE_GRID] > 0;
    arrangement->from_parts = arrangement->from_parts && count[USE_PRODUCTION] + count[USE_GROSS] > 0;
    if (arrangement->derived && !count[USE_PRODUCTION])
        drop_derived(arrangement);
    arrangement_list_used(arrangement);
}

void arrangement_list_used(struct arrangement *arrangement)
{
    arrangement->used_count = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        if (arrangement->meters[i].use != USE_NONE)
            arrangement->used[arrangement->used_count++] = i;
}

bool arrangement_same(const struct arrangement *a, const struct arrangement *b)
{
    if (a->interval_s != b->interval_s || a->meter_count != b->meter_count)
        return false;
    for (int32_t i = 0; i < a->meter_count; i++) {
        const struct arranged_meter *x = &a->meters[i], *y = &b->meters[i];
        if (x->number != y->number || x->role != y->role || x->delivers_by_export != y->delivers_by_export ||
            x->gross != y->gross || x->phases_apart != y->phases_apart)
            return false;
    }
    return true;
}

static int64_t counter_value(const struct arranged_meter *meter, const struct meter_energy *energy,
                             enum counter_of counter)
{
    bool export = counter == EXPORT || (counter == DELIVERED && meter->delivers_by_export) ||
                  (counter == TAKEN && !meter->delivers_by_export);
    if (!energy->present)
        return UNKNOWN;
    return export ? energy->export : energy->import;
}

static struct part_sum sum_of(const struct arrangement *arrangement, const struct meter_energy *energy,
                              enum use use, enum counter_of counter)
{
    struct part_sum sum = { UNKNOWN, true };
    for (int32_t k = 0; arrangement->count[use] > 0 && k < arrangement->used_count; k++) {
        int32_t i = arrangement->used[k];
        if (arrangement->meters[i].use != use)
            continue;
        int64_t value = counter_value(&arrangement->meters[i], &energy[i], counter);
        sum.complete = sum.complete && value != UNKNOWN;
        sum.value = number_sum(sum.value, value);
    }
    return sum;
}

static struct part_sum join(struct part_sum a, struct part_sum b)
{
    return (struct part_sum){ number_sum(a.value, b.value), a.complete && b.complete };
}

static int64_t or_zero(int64_t value)
{
    return value == UNKNOWN ? 0 : value;
}

static int64_t sum_estimated(const struct arrangement *arrangement, const struct meter_energy *energy)
{
    int64_t sum = UNKNOWN;
    for (int32_t k = 0; k < arrangement->used_count; k++) {
        int32_t i = arrangement->used[k];
        const struct arranged_meter *meter = &arrangement->meters[i];
        /* beside a derived grid meter the consumption's estimate is already in I and E */
        bool counted = !meter->only_compared && !(meter->use == USE_CONSUMPTION && arrangement->derived);
        if (counted && energy[i].present)
            sum = number_sum(sum, energy[i].estimated);
    }
    return sum;
}

/* What the shares compare, once the figures stand. */
static void set_shared(struct balance *balance)
{
    if (balance->self_consumption != UNKNOWN)
        balance->production_shared = balance->production;
    if (balance->consumption != UNKNOWN && balance->import != UNKNOWN) {
        balance->import_shared = balance->import;
        balance->consumption_shared = balance->consumption;
    }
    if (balance->consumption != UNKNOWN && balance->consumption_metered != UNKNOWN) {
        balance->consumption_compared = balance->consumption;
        balance->metered_compared = balance->consumption_metered;
    }
}

struct balance balance_of(const struct arrangement *arrangement, const struct meter_energy *energy)
{
    const int32_t *count = arrangement->count;
    struct part_sum made = sum_of(arrangement, energy, USE_PRODUCTION, DELIVERED);
    struct part_sum sold_whole = sum_of(arrangement, energy, USE_GROSS, DELIVERED);
    struct part_sum production = join(made, sold_whole);
    struct part_sum metered = sum_of(arrangement, energy, USE_CONSUMPTION, IMPORT);
    struct part_sum import = sum_of(arrangement, energy, USE_GRID, IMPORT);
    struct part_sum export = sum_of(arrangement, energy, USE_GRID, EXPORT);
    bool gross_only = count[USE_GROSS] && !count[USE_PRODUCTION];
    if (!count[USE_GRID] && gross_only)
        import = metered; /* nothing is made behind the house meter: what it counts is bought */
    bool export_known = count[USE_GRID] || gross_only;
    export = join(export, sold_whole);

    struct part_sum charge = sum_of(arrangement, energy, USE_STORAGE, TAKEN);
    struct part_sum discharge = sum_of(arrangement, energy, USE_STORAGE, DELIVERED);
    struct part_sum generated = sum_of(arrangement, energy, USE_GENERATOR, DELIVERED);

    struct balance balance = balance_nothing;
    balance.production = production.value;
    balance.import = import.value;
    balance.export = export.value;
    balance.charge = charge.value;
    balance.discharge = discharge.value;
    balance.generated = generated.value;
    balance.estimated = sum_estimated(arrangement, energy);

    bool both = production.value != UNKNOWN && production.complete && export_known &&
                export.value != UNKNOWN && export.complete;
    if (both)
        balance.self_consumption = production.value - export.value;

    bool real_grid = count[USE_GRID] && !arrangement->derived;
    bool all = both && import.value != UNKNOWN && import.complete && charge.complete && discharge.complete &&
               generated.complete;
    if (real_grid && all)
        balance.consumption = balance.self_consumption + or_zero(generated.value) + or_zero(discharge.value) -
                              or_zero(charge.value) + import.value;
    if (!real_grid && metered.complete)
        balance.consumption = metered.value;
    if (real_grid && metered.complete)
        balance.consumption_metered = metered.value;
    set_shared(&balance);
    return balance;
}

unsigned use_terms(enum use use)
{
    switch (use) {
    case USE_PRODUCTION:
        return TERMS_PRODUCTION;
    case USE_GROSS:
        return 1 << TERM_PRODUCTION | 1 << TERM_EXPORT;
    case USE_GRID:
        return TERMS_GRID;
    default:
        return 0;
    }
}

int64_t balance_term(const struct balance *balance, enum balance_term term)
{
    switch (term) {
    case TERM_PRODUCTION:
        return balance->production;
    case TERM_IMPORT:
        return balance->import;
    default:
        return balance->export;
    }
}

/* The term from whoever speaks for it, and whether it is known for all of the span. */
static struct part_sum term_of(const struct balance_part *part, unsigned sealed, const int64_t *energy,
                               enum balance_term term)
{
    if (sealed & 1U << term)
        return (struct part_sum){ energy[term], energy[term] != UNKNOWN };
    int64_t value = balance_term(&part->balance, term);
    return (struct part_sum){ value, value != UNKNOWN && part->known_s[term] >= part->span_s };
}

/* What is sold whole is exported: where the sealed meters speak for one of the two, it is the other too. */
static void join_gross(const struct arrangement *arrangement, unsigned sealed, struct part_sum *production,
                       struct part_sum *export)
{
    if (!arrangement->count[USE_GROSS] || (sealed & 1U << TERM_EXPORT && export->complete))
        return;
    if (sealed & TERMS_ALL)
        *export = arrangement->count[USE_PRODUCTION] ? (struct part_sum){ UNKNOWN, false } : *production;
}

struct balance balance_join(const struct arrangement *arrangement, const struct balance_part *part,
                            unsigned sealed, const int64_t energy[TERM_COUNT])
{
    struct balance joined = part->balance;
    struct part_sum production = term_of(part, sealed, energy, TERM_PRODUCTION);
    struct part_sum import = term_of(part, sealed, energy, TERM_IMPORT);
    struct part_sum export = term_of(part, sealed, energy, TERM_EXPORT);
    join_gross(arrangement, sealed, &production, &export);
    joined.production = production.value;
    joined.import = import.value;
    joined.export = export.value;
    joined.self_consumption =
        production.complete && export.complete ? production.value - export.value : UNKNOWN;
    if (arrangement->derived || !arrangement->count[USE_GRID]) {
        /* what the consumption meter counts stands beside the figure, or for it */
        joined.consumption_metered = joined.consumption;
    }
    if (joined.self_consumption != UNKNOWN && import.complete && part->others_s >= part->span_s)
        joined.consumption = joined.self_consumption + or_zero(joined.generated) + or_zero(joined.discharge) -
                             or_zero(joined.charge) + import.value;
    joined.production_shared = joined.import_shared = joined.consumption_shared = UNKNOWN;
    joined.consumption_compared = joined.metered_compared = UNKNOWN;
    set_shared(&joined);
    return joined;
}

void balance_add(struct balance *sum, const struct balance *span)
{
    int64_t into[FIELDS], from[FIELDS];
    memcpy(into, sum, sizeof(into));
    memcpy(from, span, sizeof(from));
    for (int32_t i = 0; i < FIELDS; i++)
        into[i] = number_sum(into[i], from[i]);
    memcpy(sum, into, sizeof(into));
}

int64_t balance_self_consumption_share(const struct balance *balance)
{
    return number_share(balance->self_consumption, balance->production_shared);
}

int64_t balance_self_sufficiency_share(const struct balance *balance)
{
    if (balance->consumption_shared == UNKNOWN)
        return UNKNOWN;
    return number_share(balance->consumption_shared - balance->import_shared, balance->consumption_shared);
}

int64_t balance_residual_share(const struct balance *balance)
{
    if (balance->metered_compared == UNKNOWN)
        return UNKNOWN;
    return number_share(balance->metered_compared - balance->consumption_compared,
                        balance->consumption_compared);
}
