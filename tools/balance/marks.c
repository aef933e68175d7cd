/* What an answer's head line must say of its figures, in a few words each. */
#include "notes.h"
#include "number.h"
#include "schema.h"
#include "stamp.h"

/* The one stretch in which sealed meters speak, or that there are several. */
static void mark_sealed(struct answer *answer)
{
    char from[STAMP_SIZE], to[STAMP_SIZE];
    const struct answer_piece *pieces = answer->pieces;
    int32_t stretches = 0, first = 0, last = 0;
    for (int32_t i = 0; i < answer->piece_count; i++) {
        if (!pieces[i].sealed)
            continue;
        if (i == 0 || !pieces[i - 1].sealed) {
            stretches++;
            first = i;
        }
        last = i;
    }
    if (stretches == 0)
        return;
    stamp_date(from, answer->civil, pieces[first].from_s);
    stamp_date(to, answer->civil, pieces[last].to_s);
    const char *what = answer_is_fine(answer) ? "readings left out" : "readings";
    bool begins = first > 0, ends = last + 1 < answer->piece_count;
    if (stretches > 1)
        answer_mark(answer, "sealed %s in part", what);
    else if (begins && ends)
        answer_mark(answer, "sealed %s from %s to %s", what, from, to);
    else if (begins || ends)
        answer_mark(answer, "sealed %s %s %s", what, begins ? "from" : "until", begins ? from : to);
    else
        answer_mark(answer, "sealed %s", what);
}

static bool any_row(const struct answer *answer, int32_t flag)
{
    for (int32_t i = 0; i < answer->row_count; i++)
        if (answer->rows[i].flags & flag)
            return true;
    return false;
}

/* Share of what the meters of the balance counted. */
static void mark_estimated(struct answer *answer)
{
    char number[NUMBER_SIZE];
    const struct balance *total = &answer->total.balance;
    const int64_t terms[] = { total->production, total->import,    total->export,
                              total->charge,     total->discharge, total->generated };
    int64_t counted = UNKNOWN;
    if (total->estimated == UNKNOWN || total->estimated == 0)
        return;
    for (size_t i = 0; i < sizeof(terms) / sizeof(terms[0]); i++)
        counted = number_sum(counted, terms[i]);
    if (total->import == UNKNOWN && total->export == UNKNOWN)
        counted = number_sum(counted, total->consumption);
    int64_t share = number_share(total->estimated, counted);
    if (share == UNKNOWN)
        answer_mark(answer, "estimated in part");
    else if (share < SHARE_ONE / 1000)
        answer_mark(answer, "estimated less than 0.1 %%");
    else
        answer_mark(answer, "estimated %s %%", number_print(number, share, SHARE_SCALE - 2, 1, 0));
}

/* Cut, not rounded: 100 % is the whole. */
static void mark_measured(struct answer *answer)
{
    char number[NUMBER_SIZE];
    int64_t share = answer_observed_share(&answer->total);
    if (!answer->what.measured_only)
        return;
    if (share == UNKNOWN)
        share = 0;
    answer_mark(answer, "measured values only, %s %% of the span%s",
                number_print(number, share - share % (SHARE_ONE / 1000), SHARE_SCALE - 2, 1, 0),
                answer->reach_s < answer->to_s ? " so far" : "");
}

void make_marks(struct answer *answer)
{
    mark_measured(answer);
    mark_sealed(answer);
    if (any_row(answer, ROW_PRORATED))
        answer_mark(answer, "prorated");
    if (any_row(answer, ROW_GUESSED))
        answer_mark(answer, "estimated readings");
    mark_estimated(answer);
    if (answer->total.flags & ROW_ENTERED)
        answer_mark(answer, "entered rows");
    if (answer->total.flags & HOW_CORRECTED)
        answer_mark(answer, "corrected");
}
