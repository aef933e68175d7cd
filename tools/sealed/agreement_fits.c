/* Which causes fit a difference that is beyond the worst case. Every figure is kept, so that whoever reads it
 * can judge: a fit is no proof, and readings alone cannot tell some of them apart. */
#include <math.h>
#include <stdlib.h>

#include "agreement.h"
#include "muldiv.h"

enum { DAY_S = 86400, HOUR_S = 3600 };
/* A date that is noted wrong is so by little; own choice. */
enum { MOST_DAYS = 3 };

/* A quotient that is known no better than this fits everything. */
#define VAGUE        0.1
/* Phases are never loaded alike: a third is between these; own choice. */
#define PHASE_SPREAD 0.06
/* Powers of rows that may be of one load; own choice. */
#define LOAD_SPREAD  0.3

/* Rated primary currents in use [IEC 61869-2 has 10, 12.5, 15, 20, 25, 30, 40, 50, 60, 75 and their decimal
 * multiples, from memory; 80, 120, 250, 500 are common practice, no source]. */
static const int32_t primaries[] = { 25,  30,  40,  50,  60,  75,  80,  100,  120,  125,  150, 200,
                                     250, 300, 400, 500, 600, 750, 800, 1000, 1200, 1500, 2000 };
enum { PRIMARIES = sizeof(primaries) / sizeof(primaries[0]) };

/* Of those, what a household or a shop has: where nothing is known of the transformer any two of many would
 * fit. */
enum { FIRST_COMMON = 3, LAST_COMMON = 15 };

static const int32_t factors[] = { 1,  2,   5,   10,  12,  15,  16,  20,  24,  25,  30,  40,  50,  60,
                                   80, 100, 120, 160, 200, 240, 250, 300, 400, 500, 600, 800, 1000 };
enum { FACTORS = sizeof(factors) / sizeof(factors[0]) };

static double quotient_of(const struct agreement_row *row)
{
    return (double)row->ours / (double)row->theirs;
}

/* What the quotient may be off by, as a share of itself, were it for a factor on one side. */
static double doubt_of(const struct agreement_row *row)
{
    const int64_t *worst = row->allowance.worst;
    double theirs = (double)(worst[PART_THEIR_CLASS] + worst[PART_THEIR_CT] + worst[PART_THEIR_STEP] +
                             row->allowance.open_theirs);
    double ours =
        (double)(worst[PART_OUR_CLASS] + worst[PART_OUR_CT] + worst[PART_DERIVED] + worst[PART_OUR_STEP] +
                 worst[PART_BEGIN] + worst[PART_END] + row->allowance.open_ours);
    return theirs / (double)row->theirs + ours / (double)row->ours;
}

static bool is_near(const struct agreement_row *row, double expected)
{
    return row->theirs > 0 && row->ours > 0 && doubt_of(row) <= VAGUE &&
           fabs(quotient_of(row) / expected - 1) <= doubt_of(row);
}

static struct agreement_fit *add_fit(struct agreement_row *row, enum agreement_fit_kind kind)
{
    struct agreement_fit *fit = &row->fits[row->fit_count++];
    *fit = (struct agreement_fit){ .kind = kind };
    if (row->theirs > 0)
        fit->quotient = llround(fmax(fmin(quotient_of(row), 1e9), -1e9) * 1e6);
    return fit;
}

/* What is wrong with a whole meter is so for both its registers. */
static bool both_near(const struct agreement_row *row, const struct agreement_row *partner, double expected)
{
    bool told = partner && partner->theirs > 0 && partner->ours > 0 && doubt_of(partner) <= VAGUE;
    return is_near(row, expected) && (!told || is_near(partner, expected));
}

/* Keeps the nearest of many quotients. */
struct nearest_quotient {
    const struct agreement_row *row, *partner;
    double off;
    double expected;
    int32_t up, down;
};

static void try_quotient(struct nearest_quotient *best, double expected, int32_t up, int32_t down)
{
    double off = fabs(quotient_of(best->row) / expected - 1);
    /* written the short way where two of them say the same */
    if (up == down || (best->up != 0 && off > best->off - 1e-9) ||
        !both_near(best->row, best->partner, expected))
        return;
    best->off = off;
    best->expected = expected;
    best->up = up;
    best->down = down;
}

static void add_quotient(struct agreement_row *row, const struct nearest_quotient *best,
                         enum agreement_fit_kind kind)
{
    if (best->up == 0)
        return;
    struct agreement_fit *fit = add_fit(row, kind);
    fit->expected = llround(best->expected * 1e6);
    fit->up = best->up;
    fit->down = best->down;
}

/* ---- factors ---- */

static void fit_ratio(const struct agreement *agreement, struct agreement_row *row,
                      const struct agreement_row *partner)
{
    const struct agreement_side *side = &agreement->sides[row->term];
    const struct config_sealed *meter = &agreement->config->sealed[row->sealed];
    struct nearest_quotient best = { .row = row, .partner = partner };
    int32_t set = row->ct_primary;
    bool transformers = side->transformers || meter->ct_class[0] || meter->factor_thousandths != 1000;
    for (int32_t i = 0; i < PRIMARIES && set > 0; i++)
        try_quotient(&best, (double)set / primaries[i], set, primaries[i]);
    for (int32_t i = FIRST_COMMON; i <= LAST_COMMON && set == 0 && transformers; i++)
        for (int32_t j = FIRST_COMMON; j <= LAST_COMMON; j++)
            try_quotient(&best, (double)primaries[i] / primaries[j], primaries[i], primaries[j]);
    if (set > 0 && best.up == 0) { /* the secondary side: 5 A for 1 A */
        try_quotient(&best, 5, 5, 1);
        try_quotient(&best, 0.2, 1, 5);
    }
    add_quotient(row, &best, FIT_RATIO);
}

static void fit_factor(const struct agreement *agreement, struct agreement_row *row,
                       const struct agreement_row *partner)
{
    int32_t set = agreement->config->sealed[row->sealed].factor_thousandths;
    struct nearest_quotient best = { .row = row, .partner = partner };
    for (int32_t i = 0; i < FACTORS; i++)
        try_quotient(&best, (double)factors[i] * 1000 / set, factors[i] * 1000, set);
    if (row->together & (row->together - 1)) /* of several meters, which? */
        return;
    bool common = set != 1000 || best.up >= 5000; /* 2 in place of 1 is no factor that stands on a meter */
    if (common)
        add_quotient(row, &best, FIT_FACTOR);
}

static void fit_scale(struct agreement_row *row, const struct agreement_row *partner)
{
    struct nearest_quotient best = { .row = row, .partner = partner };
    for (int32_t i = 10; i <= 1000; i *= 10) {
        try_quotient(&best, i, i, 1);
        try_quotient(&best, 1.0 / i, 1, i);
    }
    add_quotient(row, &best, FIT_SCALE);
}

static void fit_phase(const struct agreement *agreement, struct agreement_row *row)
{
    static const struct {
        int32_t up, down;
    } table[] = { { 1, 3 }, { 2, 3 }, { 3, 2 }, { 3, 1 } };
    if (agreement->sides[row->term].phases < 3 || row->theirs <= 0)
        return;
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++) {
        double expected = (double)table[i].up / table[i].down;
        if (fabs(quotient_of(row) / expected - 1) > PHASE_SPREAD || row->ours <= 0 || doubt_of(row) > VAGUE)
            continue;
        struct agreement_fit *fit = add_fit(row, FIT_PHASE);
        fit->expected = llround(expected * 1e6);
        fit->up = table[i].up;
        fit->down = table[i].down;
    }
}

/* ---- directions and phases ---- */

/* Is `theirs` what `ours` is, by the doubt of the row, were the two the same energy? */
static bool is_same(const struct agreement_row *row, int64_t theirs, int64_t ours)
{
    double most = (double)(row->worst + row->allowance.open_theirs + row->allowance.open_ours);
    double larger = fmax(fabs((double)row->theirs), fabs((double)row->ours));
    double now = fmax(fabs((double)theirs), fabs((double)ours));
    /* the classes' part grows with the energy */
    return fabs((double)theirs - (double)ours) <= most * fmax(1, larger > 0 ? now / larger : 1);
}

static void fit_directions(struct agreement_row *row, const struct agreement_row *partner)
{
    if (row->other == UNKNOWN || row->term == TERM_PRODUCTION)
        return;
    bool other_too = !partner || is_same(partner, partner->theirs, row->ours);
    if (is_same(row, row->theirs, row->other) && other_too && !is_same(row, row->ours, row->other))
        add_fit(row, FIT_EXCHANGED)->energy = row->other;
    if (row->term == TERM_IMPORT && row->other > row->worst &&
        is_same(row, row->theirs, row->ours + row->other))
        add_fit(row, FIT_ABSOLUTE)->energy = row->ours + row->other;
}

/* Both differ by the same, and what is left of import after export does not. */
static void fit_method(struct agreement_row *row, const struct agreement_row *partner)
{
    if (!partner)
        return;
    int64_t one = row->ours - row->theirs, two = partner->ours - partner->theirs;
    int64_t most = row->worst + partner->worst + row->allowance.open_theirs + row->allowance.open_ours +
                   partner->allowance.open_theirs + partner->allowance.open_ours;
    bool apart = llabs(two) > partner->likely && (one > 0) == (two > 0);
    if (apart && llabs(one - two) <= most && llabs(one - two) <= llabs(one) / 2)
        add_fit(row, FIT_METHOD)->energy = (one + two) / 2;
}

/* ---- a reading's time ---- */

static bool joint_agrees(const struct agreement_row *a, const struct agreement_row *b)
{
    int64_t apart = llabs(a->ours - a->theirs + b->ours - b->theirs);
    return apart <= a->worst + b->worst + a->allowance.open_ours + a->allowance.open_theirs +
                        b->allowance.open_ours + b->allowance.open_theirs;
}

/* The row before (-1) or after (1) that shares a reading and is compared; NULL. */
static const struct agreement_row *beside(const struct agreement *agreement, const struct agreement_row *row,
                                          int32_t step)
{
    int64_t at = row - agreement->rows + step;
    if (at < 0 || at >= agreement->count)
        return NULL;
    const struct agreement_row *other = &agreement->rows[at];
    bool joins = step < 0 ? other->to_s == row->from_s : other->from_s == row->to_s;
    return other->together == row->together && other->reg == row->reg && joins &&
                   other->verdict != VERDICT_NONE
               ? other
               : NULL;
}

/* The row beyond an end that differs the other way, so that both together agree; NULL. */
static const struct agreement_row *opposite(const struct agreement_row *row, const struct agreement_row *next)
{
    bool turns = next && (row->ours > row->theirs) != (next->ours > next->theirs);
    return turns && llabs(next->ours - next->theirs) > next->likely && joint_agrees(row, next) ? next : NULL;
}

/* Were a reading misread or taken at another time, the row beyond it would differ the other way. At the end
 * of all rows nothing can say so: there a day may be what is missing. */
static void fit_reading(const struct agreement *agreement, struct agreement_row *row)
{
    const struct {
        int64_t around, at_s;
        int32_t step;
    } ends[] = { { row->around_begin, row->from_s, -1 }, { row->around_end, row->to_s, 1 } };
    int64_t apart = row->theirs - row->ours;
    struct agreement_fit found = { .kind = FIT_TIME };
    bool settled = false;
    for (int32_t i = 0; i < 2 && !settled; i++) {
        const struct agreement_row *next = beside(agreement, row, ends[i].step);
        settled = opposite(row, next) != NULL;
        if (next && !settled)
            continue;
        bool told = ends[i].around != UNKNOWN && ends[i].around > 0;
        int64_t most = told ? ends[i].around * (settled ? MOST_DAYS : 1) : 0;
        found.seconds = llabs(apart) <= most ? mul_div(llabs(apart), DAY_S, ends[i].around) : 0;
        found.at_s = ends[i].at_s;
        found.energy = ends[i].step * apart;
    }
    if (settled) {
        struct agreement_fit *fit = add_fit(row, FIT_READING);
        fit->at_s = found.at_s;
        fit->energy = found.energy;
    }
    if (found.seconds > 0)
        *add_fit(row, FIT_TIME) = found;
}

/* ---- loads ahead of our transformers ---- */

/* A load between the sealed meter and ours: it is in their import and not in ours, and it takes
 * of our export before they see it; behind a production meter of ours it takes of theirs. */
static void fit_ahead(struct agreement_row *row, const struct agreement_row *partner)
{
    int64_t missing = row->theirs - row->ours;
    if (row->term == TERM_PRODUCTION || row->term == TERM_EXPORT)
        missing = -missing;
    if (missing <= 0)
        return;
    if (partner) {
        int64_t other = partner->theirs - partner->ours;
        other = partner->term == TERM_EXPORT ? -other : other;
        if (other < -partner->worst)
            return;
        missing += other > 0 ? other : 0;
    }
    add_fit(row, FIT_AHEAD)->watts = mul_div(missing, HOUR_S, (row->to_s - row->from_s) * INT64_C(1000));
}

void agreement_find_fits(const struct agreement *agreement, struct agreement_row *row,
                         const struct agreement_row *partner)
{
    fit_ratio(agreement, row, partner);
    fit_factor(agreement, row, partner);
    fit_scale(row, partner);
    fit_directions(row, partner);
    fit_phase(agreement, row);
    fit_method(row, partner);
    fit_reading(agreement, row);
    fit_ahead(row, partner);
}

/* ---- over all rows of a register ---- */

static const struct agreement_fit *find_fit(const struct agreement_row *row, enum agreement_fit_kind kind)
{
    for (int32_t i = 0; i < row->fit_count; i++)
        if (row->fits[i].kind == kind)
            return &row->fits[i];
    return NULL;
}

static void drop_fit(struct agreement_row *row, enum agreement_fit_kind kind)
{
    int32_t kept = 0;
    for (int32_t i = 0; i < row->fit_count; i++)
        if (row->fits[i].kind != kind)
            row->fits[kept++] = row->fits[i];
    row->fit_count = kept;
}

/* A load that is always there draws about the same in all rows, and is not gone in a later one. */
static bool is_steady(const struct agreement_row *rows, int32_t count)
{
    int64_t least = INT64_MAX, most = 0;
    for (int32_t i = 0; i < count; i++) {
        const struct agreement_fit *fit = find_fit(&rows[i], FIT_AHEAD);
        if (fit) {
            least = fit->watts < least ? fit->watts : least;
            most = fit->watts > most ? fit->watts : most;
        } else if (most > 0 && rows[i].verdict != VERDICT_NONE) {
            /* within this row's allowance it may still be there */
            int64_t room = rows[i].worst + rows[i].allowance.open_ours + rows[i].allowance.open_theirs;
            int64_t seen = mul_div(room, HOUR_S, (rows[i].to_s - rows[i].from_s) * INT64_C(1000));
            if ((double)seen < (double)least * (1 - LOAD_SPREAD))
                return false;
        }
    }
    return (double)least >= (double)most * (1 - LOAD_SPREAD);
}

void agreement_sum_fits(struct agreement *agreement, struct agreement_register *of)
{
    struct agreement_row *rows = &agreement->rows[of->first];
    if (!is_steady(rows, of->count))
        for (int32_t i = 0; i < of->count; i++)
            drop_fit(&rows[i], FIT_AHEAD);
    for (int32_t kind = 0; kind < AGREEMENT_FIT_KINDS; kind++) {
        struct agreement_common *common = &of->common[kind];
        int32_t compared = 0;
        for (int32_t i = 0; i < of->count; i++) {
            if (rows[i].verdict == VERDICT_NONE)
                continue;
            if (!find_fit(&rows[i], (enum agreement_fit_kind)kind)) {
                common->tail = 0;
                compared++;
                continue;
            }
            if (common->rows == compared) {
                common->head++;
                common->until_s = rows[i].to_s;
            }
            compared++;
            common->rows++;
            common->example = of->first + i;
            common->since_s = common->tail++ == 0 ? rows[i].from_s : common->since_s;
        }
    }
}
