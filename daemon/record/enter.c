#include "enter.h"

#include <stdlib.h>

#include "muldiv.h"
#include "schema.h"

static int method(const struct enter_row *row)
{
    return row->how & HOW_METHOD_MASK;
}

/* Flags that outlive the row's energies; a shape does not. */
static uint16_t kept_flags(const struct enter_row *row)
{
    return (uint16_t)(row->how & ~(HOW_METHOD_MASK | HOW_SHAPED));
}

enum enter_rank enter_rank(const struct enter_row *row, int64_t length_s)
{
    bool blind = row->unobserved_s >= length_s;
    switch (method(row)) {
    case HOW_ENTERED:
        return blind ? RANK_PLACED_COUNTER : RANK_ENTERED_COUNTER;
    case HOW_ENTERED_ENERGY:
        return blind ? RANK_PLACED_ENERGY : RANK_ENTERED_ENERGY;
    case HOW_INTERPOLATED:
        return blind ? RANK_INTERPOLATED : RANK_MEASURED;
    case HOW_ESTIMATED:
        return blind ? RANK_ESTIMATED : RANK_MEASURED;
    default:
        return RANK_MEASURED;
    }
}

/* Do both rows say the same where both say something? */
static bool agrees(const struct enter_row *stored, const struct enter_row *entered)
{
    for (int i = 0; i < ENTER_COUNTERS; i++)
        if (entered->energy[i] != ENTER_NONE && stored->energy[i] != ENTER_NONE &&
            entered->energy[i] != stored->energy[i])
            return false;
    return true;
}

static bool same(const struct enter_row *a, const struct enter_row *b)
{
    bool equal = a->estimated == b->estimated && a->unobserved_s == b->unobserved_s && a->how == b->how;
    for (int i = 0; i < ENTER_COUNTERS && equal; i++)
        equal = a->energy[i] == b->energy[i];
    return equal;
}

/* Has the entered row a counter that the stored one lacks? */
static bool adds_counter(const struct enter_row *stored, const struct enter_row *entered)
{
    for (int i = 0; i < ENTER_COUNTERS; i++)
        if (entered->energy[i] != ENTER_NONE && stored->energy[i] == ENTER_NONE)
            return true;
    return false;
}

/* The entered row lays itself over the stored one. Of a counter that only the
 * stored row has, its estimated share is not known apart: it is kept whole. */
static void lay_over(const struct enter_row *stored, const struct enter_row *entered,
                     struct enter_row *result)
{
    bool partial = false;
    *result = *entered;
    result->how |= kept_flags(stored);
    result->lacking_s = 0;
    for (int i = 0; i < ENTER_COUNTERS; i++) {
        if (entered->energy[i] != ENTER_NONE || stored->energy[i] == ENTER_NONE)
            continue;
        result->energy[i] = stored->energy[i];
        partial = true;
    }
    if (!partial)
        return;
    result->estimated = stored->estimated > entered->estimated ? stored->estimated : entered->estimated;
    if (stored->unobserved_s > result->unobserved_s)
        result->unobserved_s = stored->unobserved_s;
}

/* Only the counters that are missing; what stands stays, with the worse mark. */
static void complete(const struct enter_row *stored, const struct enter_row *entered, int64_t length_s,
                     struct enter_row *result)
{
    *result = *stored;
    for (int i = 0; i < ENTER_COUNTERS; i++)
        if (stored->energy[i] == ENTER_NONE)
            result->energy[i] = entered->energy[i];
    result->estimated += entered->estimated;
    if (entered->unobserved_s > result->unobserved_s)
        result->unobserved_s = entered->unobserved_s;
    if (enter_rank(entered, length_s) < enter_rank(stored, length_s))
        result->how = (uint16_t)((stored->how & ~HOW_METHOD_MASK) | method(entered));
}

/* Is the entered row the stored one with more of its time seen? */
static bool extends(const struct enter_row *stored, const struct enter_row *entered)
{
    for (int i = 0; i < ENTER_COUNTERS; i++)
        if (stored->energy[i] != ENTER_NONE && entered->energy[i] != ENTER_NONE &&
            entered->energy[i] < stored->energy[i])
            return false;
    return entered->unobserved_s < stored->unobserved_s;
}

enum enter_verdict enter_merge(const struct enter_row *stored, const struct enter_row *entered,
                               int64_t length_s, bool replace, struct enter_row *result)
{
    *result = *entered;
    if (!stored)
        return ENTER_NEW;
    enum enter_rank old_rank = enter_rank(stored, length_s), new_rank = enter_rank(entered, length_s);
    /* Part of an interval's energy does not replace the whole of it. */
    if (new_rank > old_rank && entered->lacking_s > 0)
        return ENTER_LOWER;
    if (new_rank > old_rank) {
        lay_over(stored, entered, result);
        return same(stored, result) ? ENTER_EQUAL : ENTER_REPLACED;
    }
    if (adds_counter(stored, entered) && (agrees(stored, entered) || new_rank < old_rank)) {
        complete(stored, entered, length_s, result);
        return ENTER_COMPLETED;
    }
    if (new_rank < old_rank || (!replace && entered->unobserved_s > stored->unobserved_s))
        return ENTER_LOWER;
    if (agrees(stored, entered) && entered->unobserved_s == stored->unobserved_s)
        return ENTER_EQUAL;
    lay_over(stored, entered, result);
    if (extends(stored, entered))
        return ENTER_COMPLETED;
    return replace ? ENTER_REPLACED : ENTER_DIFFERS;
}

/* What becomes of one row of a gap. */
enum share { SHARE_KEPT, SHARE_FIXED, SHARE_REST };

static bool is_edge(const struct enter_gap *gap, int32_t row)
{
    return (row == 0 && gap->first_edge) || (row == gap->count - 1 && gap->last_edge);
}

/* Does what was entered stand against the stored row? */
static bool prevails(const struct enter_row *entered, const struct enter_row *stored, int64_t length_s)
{
    enum enter_rank rank = enter_rank(entered, length_s), old_rank = enter_rank(stored, length_s);
    return rank > old_rank || (rank == old_rank && entered->unobserved_s <= stored->unobserved_s);
}

static enum share share_of(const struct enter_gap *gap, int32_t row, int counter)
{
    const struct enter_row *stored = &gap->stored[row], *entered = gap->entered[row];
    if (is_edge(gap, row))
        return SHARE_REST;
    if (entered && entered->energy[counter] != ENTER_NONE && prevails(entered, stored, gap->length_s))
        return SHARE_FIXED;
    return enter_rank(stored, gap->length_s) >= RANK_PLACED_ENERGY ? SHARE_KEPT : SHARE_REST;
}

/* Of a row's energy what was placed in it. At an edge that is known for all
 * counters together: it is parted as in the gap's row beside it. */
static int64_t placed_in(const struct enter_gap *gap, int32_t row, int counter)
{
    const struct enter_row *stored = &gap->stored[row];
    if (!is_edge(gap, row))
        return stored->energy[counter];
    const struct enter_row *beside = &gap->stored[row == 0 ? 1 : row - 1];
    int64_t all = 0, part;
    for (int c = 0; c < ENTER_COUNTERS; c++)
        all += beside->energy[c] == ENTER_NONE ? 0 : beside->energy[c];
    if (all == 0)
        return 0;
    part = mul_div(stored->estimated, beside->energy[counter], all);
    return part < stored->energy[counter] ? part : stored->energy[counter];
}

struct sums {
    int64_t fixed, rest, known; /* known: of the whole gap less what is kept */
    int32_t fixed_rows, rest_rows;
};

static struct sums add_up(const struct enter_gap *gap, int counter)
{
    struct sums sums = { 0 };
    for (int32_t i = 0; i < gap->count; i++) {
        int64_t stored = placed_in(gap, i, counter);
        enum share share = share_of(gap, i, counter);
        if (share != SHARE_KEPT)
            sums.known += stored;
        if (share == SHARE_FIXED) {
            sums.fixed += gap->entered[i]->energy[counter];
            sums.fixed_rows++;
        } else if (share == SHARE_REST) {
            sums.rest += stored;
            sums.rest_rows += !is_edge(gap, i) || stored > 0;
        }
    }
    return sums;
}

/* Where entered rows take more than is known, or nothing is left to take the
 * rest, they are fitted: within what the registers can tell, or on request. */
static bool must_fit(const struct sums *sums)
{
    return sums->fixed > sums->known || (sums->rest_rows == 0 && sums->fixed != sums->known);
}

/* Places a counter's energy. Each row gets the difference of two cumulative
 * shares, so that nothing is lost to rounding. */
static void place(const struct enter_gap *gap, int counter, const struct sums *sums, struct enter_row *result)
{
    bool fitted = must_fit(sums);
    int64_t fixed_total = fitted ? sums->known : sums->fixed, rest_total = sums->known - fixed_total;
    int64_t fixed_done = 0, rest_done = 0, fixed_weight = 0, rest_weight = 0;
    int64_t rest_whole = sums->rest > 0 ? sums->rest : sums->rest_rows;
    for (int32_t i = 0; i < gap->count; i++) {
        int64_t placed = placed_in(gap, i, counter), upto;
        switch (share_of(gap, i, counter)) {
        case SHARE_KEPT:
            continue;
        case SHARE_FIXED:
            fixed_weight += gap->entered[i]->energy[counter];
            upto = fitted ? mul_div(fixed_total, fixed_weight, sums->fixed) : fixed_weight;
            result[i].energy[counter] = upto - fixed_done;
            fixed_done = upto;
            break;
        case SHARE_REST:
            rest_weight += sums->rest > 0 ? placed : !is_edge(gap, i);
            upto = rest_whole > 0 ? mul_div(rest_total, rest_weight, rest_whole) : 0;
            result[i].energy[counter] += upto - rest_done - placed;
            rest_done = upto;
            break;
        }
    }
}

static enum enter_verdict judge(const struct enter_gap *gap, int32_t i, const struct enter_row *result)
{
    const struct enter_row *stored = &gap->stored[i], *entered = gap->entered[i];
    if (entered && !prevails(entered, stored, gap->length_s))
        return ENTER_LOWER;
    if (same(stored, result))
        return ENTER_EQUAL;
    if (!entered)
        return ENTER_REPLACED;
    enum enter_rank rank = enter_rank(entered, gap->length_s), old_rank = enter_rank(stored, gap->length_s);
    if (rank > old_rank || (agrees(stored, result) && result->unobserved_s < stored->unobserved_s))
        return ENTER_REPLACED;
    if (agrees(stored, result))
        return ENTER_EQUAL;
    return gap->replace ? ENTER_REPLACED : ENTER_DIFFERS;
}

/* The marks of a row whose energies are placed. */
static void mark(const struct enter_gap *gap, int32_t i, struct enter_row *result)
{
    const struct enter_row *entered = gap->entered[i];
    int64_t placed = 0;
    bool taken = false, all = true;
    for (int c = 0; c < ENTER_COUNTERS; c++) {
        if (result->energy[c] == ENTER_NONE)
            continue;
        bool fixed = share_of(gap, i, c) == SHARE_FIXED;
        taken = taken || fixed;
        all = all && fixed;
        placed += fixed ? 0 : result->energy[c];
    }
    if (is_edge(gap, i)) {
        for (int c = 0; c < ENTER_COUNTERS; c++)
            if (result->energy[c] != ENTER_NONE)
                result->estimated += result->energy[c] - gap->stored[i].energy[c];
        return;
    }
    if (!taken) {
        if (enter_rank(result, gap->length_s) <= RANK_INTERPOLATED)
            result->estimated = placed;
        return;
    }
    result->how = (uint16_t)(kept_flags(result) | entered->how);
    result->estimated = entered->estimated + placed;
    if (all)
        result->unobserved_s = entered->unobserved_s;
}

bool enter_into_gap(const struct enter_gap *gap, struct enter_row *result, enum enter_verdict *verdict,
                    struct enter_misfit *misfit)
{
    for (int32_t i = 0; i < gap->count; i++)
        result[i] = gap->stored[i];
    for (int c = 0; c < ENTER_COUNTERS; c++) {
        if (gap->stored[0].energy[c] == ENTER_NONE)
            continue;
        struct sums sums = add_up(gap, c);
        if (sums.fixed_rows == 0)
            continue;
        bool close = llabs(sums.known - sums.fixed) <= gap->tolerance[c] || gap->fit;
        if (must_fit(&sums) && (!close || sums.fixed == 0)) {
            *misfit = (struct enter_misfit){ c, sums.known, sums.fixed };
            return false;
        }
        place(gap, c, &sums, result);
    }
    for (int32_t i = 0; i < gap->count; i++) {
        mark(gap, i, &result[i]);
        verdict[i] = judge(gap, i, &result[i]);
    }
    return true;
}
