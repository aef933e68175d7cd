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

static int64_t larger(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* The slot of a meter that counts the term, one after the other; -1 at the end. */
static int32_t next_slot(const struct answer *answer, enum balance_term term, int32_t *at)
{
    for (; *at < answer->history.count * ARRANGEMENT_MAX_METERS; ++*at) {
        const struct arrangement *arrangement = &answer->history.arrangements[*at / ARRANGEMENT_MAX_METERS];
        int32_t m = *at % ARRANGEMENT_MAX_METERS;
        if (m < arrangement->meter_count && arrangement->meters[m].slot >= 0 &&
            use_terms(arrangement->meters[m].use) & 1U << term) {
            ++*at;
            return arrangement->meters[m].slot;
        }
    }
    return -1;
}

/* Seconds of the answer's span for which some meter of the term has no row. */
static int64_t lacking_of(const struct answer *answer, enum balance_term term)
{
    int64_t lacking_s = 0;
    for (int32_t at = 0, slot; (slot = next_slot(answer, term, &at)) >= 0;)
        lacking_s = larger(lacking_s, answer_used_s(answer, slot, answer->from_s, answer->to_s) -
                                          answer->present_s[slot]);
    /* before the record begins and after it ends nothing is used */
    return lacking_s + larger(answer->site.first_s - answer->from_s, 0) +
           larger(answer->to_s - answer->reach_s, 0);
}

/* Seconds for which the least observed of them has rows that were filled in; from and to are rows. */
static int64_t unobserved_of(const struct answer *answer, enum balance_term term, int32_t from, int32_t to)
{
    int64_t unobserved_s = 0;
    for (int32_t at = 0, slot; (slot = next_slot(answer, term, &at)) >= 0;) {
        int64_t lost_s = 0;
        for (int32_t i = from; i < to; i++)
            lost_s += answer_used_s(answer, slot, answer->rows[i].from_s, answer->rows[i].to_s) -
                      answer->observed_s[(size_t)i * (size_t)answer->history.slot_count + (size_t)slot];
        unobserved_s = larger(unobserved_s, lost_s);
    }
    return unobserved_s;
}

/* Has every meter of the term a row for all of the answer's span? */
static bool is_whole(const struct answer *answer, enum balance_term term)
{
    return answer->reach_s >= answer->to_s && answer->site.first_s <= answer->from_s &&
           lacking_of(answer, term) == 0;
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
    bool known = answer_build_of(&answer, own->query, own->civil, NULL, period, ROW_DAY,
                                 (struct answer_what){ .meter = own->meter }) == ANSWER_READY;
    for (int32_t t = 0; t < TERM_COUNT; t++) {
        enum balance_term term = (enum balance_term)t;
        int64_t lacking_s = known
                                ? lacking_of(&answer, term)
                                : civil_day_start(own->civil, to_day) - civil_day_start(own->civil, from_day);
        own->lacking_s[t] += lacking_s;
        own->unobserved_s[t] +=
            known ? larger(unobserved_of(&answer, term, 0, answer.row_count) - lacking_s, 0) : 0;
        add(own, term,
            known && is_whole(&answer, term) ? balance_term(&answer.total.balance, term) : UNKNOWN);
    }
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
                int64_t lost_s = unobserved_of(&answer, (enum balance_term)t, i, i + 1);
                if (energy == UNKNOWN)
                    own->lacking_s[t] += end_s - begin_s;
                else
                    own->unobserved_s[t] += lost_s < end_s - begin_s ? lost_s : end_s - begin_s;
                add(own, (enum balance_term)t,
                    energy == UNKNOWN ? UNKNOWN : mul_div(energy, end_s - begin_s, row->to_s - row->from_s));
            }
        }
    }
    for (int32_t t = 0; t < TERM_COUNT; t++)
        own->lacking_s[t] += to_s - from_s - covered;
    if (covered < to_s - from_s)
        know_nothing(own);
    answer_free(&answer);
}

static void sum_up(struct spans_own *own, int64_t from_s, int64_t to_s)
{
    for (int32_t t = 0; t < TERM_COUNT; t++)
        own->energy[t] = own->lacking_s[t] = own->unobserved_s[t] = 0;
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
