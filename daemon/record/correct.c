#include "correct.h"

#include "muldiv.h"
#include "schema.h"

#define POINT_TO_POINT_S 7200 /* as in book.c */

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static int64_t most(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

int64_t correct_covers(const struct correction *correction, int64_t start_s, int64_t length_s)
{
    int64_t covered = least(correction->to_s, start_s + length_s) - most(correction->from_s, start_s);
    return most(covered, 0);
}

static bool is_entered(const struct correct_row *row)
{
    int64_t method = row->how & HOW_METHOD_MASK;
    return method == HOW_ENTERED || method == HOW_ENTERED_ENERGY;
}

static int64_t known(int64_t value)
{
    return value == CORRECT_NONE ? 0 : value;
}

static int64_t active(const struct correct_row *row)
{
    return known(row->energy[Q_ACTIVE_IMPORT]) + known(row->energy[Q_ACTIVE_EXPORT]);
}

static void mark(struct correct_row *row, bool split)
{
    row->how |= HOW_CORRECTED;
    if (!split)
        return;
    if ((row->how & HOW_METHOD_MASK) == HOW_MEASURED || (row->how & HOW_METHOD_MASK) == HOW_ASLEEP)
        row->how = (row->how & ~HOW_METHOD_MASK) | HOW_ESTIMATED;
    row->estimated = active(row);
    row->power = row->power_min = row->power_max = CORRECT_NONE;
}

static void swap(int64_t *a, int64_t *b)
{
    int64_t c = *a;
    *a = *b;
    *b = c;
}

/* The part of a row that lies in `covered` of `length` seconds. */
static int64_t part(int64_t energy, int64_t covered, int64_t length)
{
    return covered == length ? energy : mul_div(energy, covered, length);
}

static int64_t scale_power(const struct correction *correction, int64_t power)
{
    return power == CORRECT_NONE ? power : mul_div(power, correction->up, correction->down);
}

static bool apply_ratio(struct correction *correction, int64_t covered, int64_t length,
                        struct correct_row *row)
{
    const int64_t before = active(row);
    int64_t became[COUNTER_COUNT], now[COUNTER_COUNT];
    for (int c = 0; c < COUNTER_COUNT; c++) {
        int64_t inside = part(known(row->energy[c]), covered, length), was, is;
        now[c] = correction->seen[c] + inside;
        if (!mul_div_fits(correction->seen[c], correction->up, correction->down, &was) ||
            !mul_div_fits(now[c], correction->up, correction->down, &is))
            return false;
        became[c] = known(row->energy[c]) - inside + is - was;
    }
    for (int c = 0; c < COUNTER_COUNT; c++) {
        correction->seen[c] = now[c];
        if (row->energy[c] != CORRECT_NONE)
            row->energy[c] = became[c];
    }
    if (before > 0)
        row->estimated = least(mul_div(row->estimated, active(row), before), active(row));
    row->power = scale_power(correction, row->power);
    row->power_min = scale_power(correction, row->power_min);
    row->power_max = scale_power(correction, row->power_max);
    return true;
}

static int64_t negative(int64_t power)
{
    return power == CORRECT_NONE ? power : -power;
}

_Static_assert(Q_ACTIVE_IMPORT == 0 && Q_REACTIVE_IMPORT == 2 && Q_APPARENT_IMPORT == 4,
               "imports and exports are pairs of neighbours");
static void apply_exchanged(int64_t covered, int64_t length, struct correct_row *row)
{
    for (int c = 0; c < COUNTER_COUNT; c += 2) {
        int64_t *import = &row->energy[c], *export = &row->energy[c + 1];
        if (covered == length) {
            swap(import, export);
        } else if (*import != CORRECT_NONE || *export != CORRECT_NONE) {
            int64_t moved = part(known(*export), covered, length) - part(known(*import), covered, length);
            *import = known(*import) + moved;
            *export = known(*export) - moved;
        }
    }
    int64_t high = negative(row->power_min);
    row->power = negative(row->power);
    row->power_min = negative(row->power_max);
    row->power_max = high;
}

static void apply_swapped(int64_t covered, int64_t length, struct correct_row *row, struct correct_row *other)
{
    struct correct_row was = *row;
    if (covered == length) {
        *row = *other;
        *other = was;
        return;
    }
    for (int c = 0; c < COUNTER_COUNT; c++) {
        if (row->energy[c] == CORRECT_NONE || other->energy[c] == CORRECT_NONE)
            continue;
        int64_t moved = part(other->energy[c], covered, length) - part(row->energy[c], covered, length);
        row->energy[c] += moved;
        other->energy[c] -= moved;
    }
    row->unobserved_s = most(row->unobserved_s, other->unobserved_s);
    other->unobserved_s = row->unobserved_s;
    row->voltage = other->voltage = CORRECT_NONE;
}

/* Of the energy added, what belongs to time up to at_s. */
static int64_t added_up_to(const struct correction *correction, int64_t added, int64_t at_s)
{
    return mul_div(added, at_s - correction->from_s, correction->to_s - correction->from_s);
}

static void apply_added(const struct correction *correction, int64_t start_s, int64_t length_s,
                        struct correct_row *row)
{
    int64_t begin_s = most(start_s, correction->from_s), end_s = least(start_s + length_s, correction->to_s);
    bool all = true;
    for (int c = Q_ACTIVE_IMPORT; c <= Q_ACTIVE_EXPORT; c++) {
        if (row->energy[c] == CORRECT_NONE)
            continue;
        all = all && correction->added[c] != CORRECT_NONE;
        int64_t more = added_up_to(correction, known(correction->added[c]), end_s) -
                       added_up_to(correction, known(correction->added[c]), begin_s);
        row->energy[c] += more;
        row->estimated += more;
    }
    if ((row->how & HOW_METHOD_MASK) == HOW_MEASURED && row->estimated > 0)
        row->how |=
            correction->to_s - correction->from_s > POINT_TO_POINT_S ? HOW_ESTIMATED : HOW_INTERPOLATED;
    if (all)
        row->how &= ~(int64_t)HOW_RUN_CHANGE; /* nothing is unknown any more */
}

bool correct_apply(struct correction *correction, int64_t start_s, int64_t length_s, struct correct_row *row,
                   struct correct_row *other)
{
    const int64_t covered = correct_covers(correction, start_s, length_s);
    if (covered == 0 || is_entered(row))
        return false;
    bool split = covered < length_s;
    switch (correction->what) {
    case CORRECT_RATIO:
        if (!apply_ratio(correction, covered, length_s, row))
            return false;
        break;
    case CORRECT_EXCHANGED:
        apply_exchanged(covered, length_s, row);
        break;
    case CORRECT_SWAPPED:
        if (!other || is_entered(other))
            return false;
        apply_swapped(covered, length_s, row, other);
        mark(other, split);
        break;
    case CORRECT_ADDED:
        apply_added(correction, start_s, length_s, row);
        split = false;
        break;
    }
    mark(row, split);
    return true;
}

void correct_derive(struct correct_row *grid, int64_t consumption, int64_t production)
{
    int64_t *import = &grid->energy[Q_ACTIVE_IMPORT], *export = &grid->energy[Q_ACTIVE_EXPORT];
    int64_t both = least(least(known(*import), known(*export)), least(consumption, production));
    both = most(both, 0);
    *import = most(consumption - production, 0) + both;
    *export = most(production - consumption, 0) + both;
    mark(grid, true);
}
