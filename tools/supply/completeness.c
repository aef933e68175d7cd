#include "completeness.h"

#include <stdlib.h>

#include "schema.h"

const struct completeness_shares completeness_nothing = { .import = UNKNOWN, .export = UNKNOWN };

static int64_t size_of(int64_t import, int64_t export)
{
    return (import == UNKNOWN ? 0 : llabs(import)) + (export == UNKNOWN ? 0 : llabs(export));
}

static bool is_entered(int32_t method)
{
    return method == HOW_ENTERED || method == HOW_ENTERED_ENERGY;
}

/* Where the time counts in which a row's meter was not observed. */
static int64_t *lost_of(struct completeness_shares *shares, int32_t method)
{
    if (method == HOW_INTERPOLATED)
        return &shares->interpolated_s;
    return method == HOW_ESTIMATED ? &shares->estimated_s : &shares->unanswered_s;
}

void completeness_row(struct completeness_shares *shares, const struct interval_row *row, int32_t length_s)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    int64_t energy = size_of(row->import, row->export);
    shares->rows++;
    *(is_entered(method) ? &shares->entered_s : &shares->observed_s) += length_s - row->unobserved;
    *lost_of(shares, method) += row->unobserved;
    shares->import = number_sum(shares->import, row->import);
    shares->export = number_sum(shares->export, row->export);
    shares->energy += energy;
    *(method == HOW_INTERPOLATED ? &shares->interpolated : &shares->estimated) += row->estimated;
    shares->entered += is_entered(method) ? energy : 0;
    shares->corrected += row->how & HOW_CORRECTED ? energy : 0;
    shares->stepped += (row->how & HOW_CLOCK) != 0;
    shares->back_dated += (row->how & HOW_BACK_DATED) != 0;
    shares->re_dated += (row->how & HOW_RE_DATED) != 0;
}

void completeness_day(struct completeness_shares *shares, const struct day_row *day)
{
    shares->rows += day->rows;
    shares->observed_s += day->to_s - day->from_s;
    shares->import = number_sum(shares->import, day->import);
    shares->export = number_sum(shares->export, day->export);
    shares->energy += size_of(day->import, day->export);
}

static int64_t known_s(const struct completeness_shares *shares)
{
    return shares->observed_s + shares->entered_s + shares->interpolated_s + shares->estimated_s +
           shares->unanswered_s;
}

void completeness_expect(struct completeness_shares *shares, int64_t expected_s)
{
    int64_t known = known_s(shares);
    shares->expected_s = expected_s > known ? expected_s : known; /* a row may begin before its settings */
    shares->missing_s = shares->expected_s - known;
}

void completeness_sum(struct completeness_shares *sum, const struct completeness_shares *part)
{
    sum->expected_s += part->expected_s;
    sum->observed_s += part->observed_s;
    sum->entered_s += part->entered_s;
    sum->interpolated_s += part->interpolated_s;
    sum->estimated_s += part->estimated_s;
    sum->unanswered_s += part->unanswered_s;
    sum->missing_s += part->missing_s;
    sum->rows += part->rows;
    sum->import = number_sum(sum->import, part->import);
    sum->export = number_sum(sum->export, part->export);
    sum->energy += part->energy;
    sum->interpolated += part->interpolated;
    sum->estimated += part->estimated;
    sum->entered += part->entered;
    sum->corrected += part->corrected;
    sum->stepped += part->stepped;
    sum->back_dated += part->back_dated;
    sum->re_dated += part->re_dated;
}

int64_t completeness_observed(const struct completeness_shares *shares)
{
    return number_share_down(shares->observed_s + shares->entered_s, shares->expected_s);
}

/* ---- gaps ---- */

void gap_search_begin(struct gap_search *search, int32_t meter, int64_t from_s)
{
    *search = (struct gap_search){ .end_s = from_s, .gap.meter = meter };
}

/* Adds [from, to), of which so much was not observed. */
static void extend(struct gap_search *search, int64_t from_s, int64_t to_s, int64_t lost_s, int64_t placed,
                   int32_t how)
{
    struct completeness_gap *gap = &search->gap;
    if (!search->in_gap) {
        *gap = (struct completeness_gap){ .meter = gap->meter, .from_s = to_s - lost_s };
        search->in_gap = true;
        search->first_lost_s = lost_s;
        search->first_end_s = to_s;
    }
    gap->to_s = from_s + lost_s;
    gap->unobserved_s += lost_s;
    gap->placed += placed;
    gap->how |= how;
    search->end_s = to_s;
}

static bool finish(struct gap_search *search, struct completeness_gap *done)
{
    if (!search->in_gap)
        return false;
    search->in_gap = search->ends = false;
    *done = search->gap;
    if (search->first_end_s == search->end_s) { /* one interval only: where in it is not known */
        done->from_s = search->first_end_s - search->first_lost_s;
        done->to_s = search->first_end_s;
    }
    return true;
}

static int32_t how_of(const struct interval_row *row)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    if (method == HOW_INTERPOLATED)
        return GAP_INTERPOLATED;
    if (method == HOW_ESTIMATED)
        return row->how & HOW_SHAPED ? GAP_SHAPED : GAP_EVENLY;
    return is_entered(method) ? GAP_ENTERED : GAP_COUNTED;
}

static void add_missing(struct gap_search *search, int64_t to_s)
{
    if (to_s <= search->end_s)
        return;
    search->ends = false;
    extend(search, search->end_s, to_s, to_s - search->end_s, 0, GAP_MISSING);
}

bool gap_search_row(struct gap_search *search, const struct interval_row *row, int32_t length_s,
                    struct completeness_gap *done)
{
    int64_t end_s = row->start_s - row->start_s % length_s + length_s, all_s = end_s - row->start_s;
    int64_t lost_s = row->unobserved < all_s ? row->unobserved : all_s;
    bool over = false;
    if (end_s <= search->end_s)
        return false; /* beneath another, as in a damaged record */
    add_missing(search, row->start_s);
    if (lost_s <= 0 || search->ends)
        over = finish(search, done);
    search->ends = search->in_gap && lost_s < all_s;
    if (lost_s > 0)
        extend(search, row->start_s, end_s, lost_s, row->estimated, how_of(row));
    search->end_s = end_s;
    return over;
}

bool gap_search_whole(struct gap_search *search, int64_t from_s, int64_t to_s, struct completeness_gap *done)
{
    add_missing(search, from_s);
    bool over = finish(search, done);
    search->end_s = to_s > search->end_s ? to_s : search->end_s;
    return over;
}

bool gap_search_end(struct gap_search *search, int64_t to_s, struct completeness_gap *done)
{
    bool lacks = to_s > search->end_s;
    add_missing(search, to_s);
    if (!finish(search, done))
        return false;
    done->open = lacks;
    return true;
}
