#include "agreement.h"

#include <stdlib.h>
#include <string.h>

#include "accuracy.h"

void agreement_free(struct agreement *agreement)
{
    free(agreement->rows);
    agreement->rows = NULL;
}

static int64_t sum_of(const int64_t parts[AGREEMENT_PARTS])
{
    int64_t sum = 0;
    for (int32_t i = 0; i < AGREEMENT_PARTS; i++)
        sum += parts[i];
    return sum;
}

static bool is_compared(const struct agreement_row *row)
{
    return row->theirs != UNKNOWN && row->ours != UNKNOWN && !row->shared;
}

static void judge_row(struct agreement_row *row)
{
    row->worst = sum_of(row->allowance.worst);
    row->likely = accuracy_root_sum_square(row->allowance.likely, AGREEMENT_PARTS);
    row->fit_count = 0;
    if (!is_compared(row)) {
        row->verdict = VERDICT_NONE;
        return;
    }
    int64_t apart = llabs(row->ours - row->theirs);
    int64_t open = row->allowance.open_theirs + row->allowance.open_ours;
    if (apart <= row->likely)
        row->verdict = VERDICT_AGREES;
    else if (apart <= row->worst)
        row->verdict = VERDICT_WITHIN;
    else
        row->verdict = apart <= row->worst + open ? VERDICT_OPEN : VERDICT_DIFFERS;
}

/* The row of the other register over the same span, if both sides of it are known. */
static const struct agreement_row *partner_of(const struct agreement *agreement,
                                              const struct agreement_row *row)
{
    for (int32_t i = 0; i < agreement->count; i++) {
        const struct agreement_row *other = &agreement->rows[i];
        if (other->together == row->together && other->reg != row->reg && other->from_s == row->from_s &&
            other->to_s == row->to_s)
            return is_compared(other) ? other : NULL;
    }
    return NULL;
}

/* ---- a register as a whole ---- */

static int64_t larger(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* What belongs to readings counts once from the first to the last of rows that follow one another; an
 * exchange between them brings two readings more. */
static int64_t follow(enum agreement_part part, int64_t sum, int64_t last, int64_t more, int32_t exchanges)
{
    switch (part) {
    case PART_BEGIN:
        return sum;
    case PART_END:
        return sum - last + more; /* the row before ends inside now */
    case PART_THEIR_STEP:
        return sum + more / (1 + exchanges) * exchanges;
    case PART_OUR_STEP:
        return larger(sum, more);
    default:
        return sum + more; /* what grows with the energy */
    }
}

/* `before`: the row that this one follows; NULL. */
static void add_allowance(struct agreement_row *whole, const struct agreement_row *before,
                          const struct agreement_row *row)
{
    struct agreement_allowance *sum = &whole->allowance;
    const struct agreement_allowance *more = &row->allowance;
    for (int32_t i = 0; i < AGREEMENT_PARTS; i++) {
        enum agreement_part part = (enum agreement_part)i;
        if (before) {
            const struct agreement_allowance *last = &before->allowance;
            sum->worst[i] = follow(part, sum->worst[i], last->worst[i], more->worst[i], row->exchanges);
            sum->likely[i] = follow(part, sum->likely[i], last->likely[i], more->likely[i], row->exchanges);
        } else {
            sum->worst[i] += more->worst[i];
            sum->likely[i] += more->likely[i];
        }
    }
    sum->open_theirs += more->open_theirs;
    sum->open_ours += more->open_ours;
}

/* `before`: the row that was added last; NULL. */
static void add_to_whole(struct agreement_register *of, const struct agreement_row *before,
                         const struct agreement_row *row)
{
    struct agreement_row *whole = &of->whole;
    bool first = !before, follows = before && before->to_s == row->from_s;
    add_allowance(whole, follows ? before : NULL, row);
    of->gapless = first || (of->gapless && follows);
    whole->theirs = first ? row->theirs : whole->theirs + row->theirs;
    whole->ours = first ? row->ours : whole->ours + row->ours;
    whole->from_s = first ? row->from_s : whole->from_s;
    whole->from_by_day = first ? row->from_by_day : whole->from_by_day;
    whole->to_s = row->to_s;
    whole->to_by_day = row->to_by_day;
    whole->unobserved_s += row->unobserved_s;
    whole->flags |= row->flags;
    whole->exchanges += row->exchanges;
    whole->rolled |= row->rolled;
    whole->passed += row->passed;
    whole->below |= row->below;
    whole->by_load |= row->by_load;
}

static void judge_register(struct agreement *agreement, struct agreement_register *of)
{
    struct agreement_row *rows = &agreement->rows[of->first];
    of->whole = (struct agreement_row){ .sealed = rows->sealed,
                                        .together = rows->together,
                                        .reg = rows->reg,
                                        .term = rows->term,
                                        .from_s = rows->from_s,
                                        .to_s = rows[of->count - 1].to_s,
                                        .theirs = UNKNOWN,
                                        .ours = UNKNOWN,
                                        .other = UNKNOWN,
                                        .around_begin = UNKNOWN,
                                        .around_end = UNKNOWN };
    const struct agreement_row *before = NULL;
    for (int32_t i = 0; i < of->count; i++) {
        of->verdicts[rows[i].verdict]++;
        if (rows[i].verdict == VERDICT_NONE)
            continue;
        add_to_whole(of, before, &rows[i]);
        before = &rows[i];
    }
    of->gapless &= of->verdicts[VERDICT_NONE] == 0;
    judge_row(&of->whole);
    agreement->memory_out |= !agreement_find_unlike(rows, of->count, of);
    of->drift = agreement_drift(rows, of->count);
    agreement_sum_fits(agreement, of);
}

void agreement_judge(struct agreement *agreement)
{
    for (int32_t i = 0; i < agreement->count; i++)
        judge_row(&agreement->rows[i]);
    for (int32_t i = 0; i < agreement->count; i++)
        if (agreement->rows[i].verdict == VERDICT_DIFFERS)
            agreement_find_fits(agreement, &agreement->rows[i], partner_of(agreement, &agreement->rows[i]));
    agreement->register_count = 0;
    for (int32_t i = 0, end; i < agreement->count; i = end) {
        const struct agreement_row *rows = agreement->rows;
        for (end = i; end < agreement->count && rows[end].together == rows[i].together &&
                      rows[end].reg == rows[i].reg;)
            end++;
        struct agreement_register *of = &agreement->registers[agreement->register_count++];
        *of = (struct agreement_register){ .first = i, .count = end - i };
        judge_register(agreement, of);
    }
}
