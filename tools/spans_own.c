#include "spans_own.h"

#include "answer.h"
#include "muldiv.h"

static void add(struct spans_own *own, enum balance_term term, int64_t energy)
{
    own->energy[term] =
        own->energy[term] == UNKNOWN || energy == UNKNOWN ? UNKNOWN : own->energy[term] + energy;
}

static void know_nothing(struct spans_own *own)
{
    for (int32_t t = 0; t < TERM_COUNT; t++)
        own->energy[t] = UNKNOWN;
}

/* Has every meter of the term a row for all of the answer's span? */
static bool is_whole(const struct answer *answer, enum balance_term term)
{
    if (answer->reach_s < answer->to_s || answer->site.first_s > answer->from_s)
        return false;
    for (int32_t a = 0; a < answer->history.count; a++) {
        const struct arrangement *arrangement = &answer->history.arrangements[a];
        for (int32_t m = 0; m < arrangement->meter_count; m++) {
            int32_t slot = arrangement->meters[m].slot;
            if (slot >= 0 && (use_terms(arrangement->meters[m].use) & 1U << term) &&
                answer->present_s[slot] < answer_used_s(answer, slot, answer->from_s, answer->to_s))
                return false;
        }
    }
    return true;
}

static void add_marks(struct spans_own *own, const struct answer_row *row)
{
    own->flags |= row->flags;
    if (row->balance.estimated != UNKNOWN)
        own->estimated += row->balance.estimated;
}

/* Whole days. */
static void add_days(struct spans_own *own, int64_t from_day, int64_t to_day)
{
    struct answer answer = { 0 };
    struct period period = { from_day, to_day };
    if (answer_build_of(&answer, own->query, own->civil, NULL, period, ROW_DAY,
                        (struct answer_what){ .meter = own->meter }) != ANSWER_READY)
        know_nothing(own);
    else
        for (int32_t t = 0; t < TERM_COUNT; t++)
            add(own, (enum balance_term)t,
                is_whole(&answer, (enum balance_term)t)
                    ? balance_term(&answer.total.balance, (enum balance_term)t)
                    : UNKNOWN);
    add_marks(own, &answer.total);
    answer_free(&answer);
}

/* A part of one day. */
static void add_part(struct spans_own *own, int64_t day, int64_t from_s, int64_t to_s)
{
    struct answer answer = { 0 };
    struct period period = { day, day + 1 };
    int64_t covered = 0;
    if (answer_build_of(&answer, own->query, own->civil, NULL, period, ROW_INTERVAL,
                        (struct answer_what){ .meter = own->meter }) == ANSWER_READY) {
        for (int32_t i = 0; i < answer.row_count; i++) {
            const struct answer_row *row = &answer.rows[i];
            int64_t begin_s = row->from_s > from_s ? row->from_s : from_s;
            int64_t end_s = row->to_s < to_s ? row->to_s : to_s;
            if (end_s <= begin_s)
                continue;
            covered += end_s - begin_s;
            add_marks(own, row);
            for (int32_t t = 0; t < TERM_COUNT; t++) {
                int64_t energy = balance_term(&row->balance, (enum balance_term)t);
                add(own, (enum balance_term)t,
                    energy == UNKNOWN ? UNKNOWN : mul_div(energy, end_s - begin_s, row->to_s - row->from_s));
            }
        }
    }
    if (covered < to_s - from_s)
        know_nothing(own);
    answer_free(&answer);
}

static void sum_up(struct spans_own *own, int64_t from_s, int64_t to_s)
{
    for (int32_t t = 0; t < TERM_COUNT; t++)
        own->energy[t] = 0;
    own->flags = 0;
    own->estimated = 0;
    own->from_s = from_s;
    own->to_s = to_s;
    for (int64_t at_s = from_s; at_s < to_s;) {
        int64_t day = civil_day_of(own->civil, at_s), last = civil_day_of(own->civil, to_s);
        int64_t next_s = civil_day_start(own->civil, day + 1);
        if (at_s == civil_day_start(own->civil, day) && next_s <= to_s) {
            add_days(own, day, last);
            at_s = civil_day_start(own->civil, last);
        } else {
            int64_t end_s = next_s < to_s ? next_s : to_s;
            add_part(own, day, at_s, end_s);
            at_s = end_s;
        }
    }
}

int64_t spans_own(struct spans_own *own, enum balance_term term, int64_t from_s, int64_t to_s)
{
    if (own->from_s != from_s || own->to_s != to_s)
        sum_up(own, from_s, to_s);
    return own->energy[term];
}
