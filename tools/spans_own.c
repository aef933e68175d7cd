#include "spans_own.h"

#include "answer.h"
#include "muldiv.h"

static int64_t figure_of(const struct balance *balance, enum own_figure figure)
{
    switch (figure) {
    case OWN_PRODUCTION:
        return balance->production;
    case OWN_IMPORT:
        return balance->import;
    default:
        return balance->export;
    }
}

static void add(struct spans_own *own, enum own_figure figure, int64_t energy)
{
    own->energy[figure] =
        own->energy[figure] == UNKNOWN || energy == UNKNOWN ? UNKNOWN : own->energy[figure] + energy;
}

static void know_nothing(struct spans_own *own)
{
    for (int32_t f = 0; f < OWN_FIGURES; f++)
        own->energy[f] = UNKNOWN;
}

/* Does the figure come from meters of this use? */
static bool belongs(enum own_figure figure, enum use use)
{
    if (figure == OWN_PRODUCTION)
        return use == USE_PRODUCTION || use == USE_GROSS;
    return use == USE_GRID || (figure == OWN_EXPORT && use == USE_GROSS);
}

/* Has every meter of the figure a row for all of the answer's span? */
static bool is_whole(const struct answer *answer, enum own_figure figure)
{
    if (answer->reach_s < answer->to_s || answer->site.first_s > answer->from_s)
        return false;
    for (int32_t a = 0; a < answer->history.count; a++) {
        const struct arrangement *arrangement = &answer->history.arrangements[a];
        for (int32_t m = 0; m < arrangement->meter_count; m++) {
            int32_t slot = arrangement->meters[m].slot;
            if (slot >= 0 && belongs(figure, arrangement->meters[m].use) &&
                answer->present_s[slot] <
                    history_used_s(&answer->history, slot, answer->from_s, answer->to_s))
                return false;
        }
    }
    return true;
}

/* Whole days. */
static void add_days(struct spans_own *own, int64_t from_day, int64_t to_day)
{
    struct answer answer = { 0 };
    struct period period = { from_day, to_day };
    if (answer_build(&answer, own->query, own->civil, period, ROW_DAY) != ANSWER_READY)
        know_nothing(own);
    else
        for (int32_t f = 0; f < OWN_FIGURES; f++)
            add(own, (enum own_figure)f,
                is_whole(&answer, (enum own_figure)f) ? figure_of(&answer.total.balance, (enum own_figure)f)
                                                      : UNKNOWN);
    answer_free(&answer);
}

/* A part of one day. */
static void add_part(struct spans_own *own, int64_t day, int64_t from_s, int64_t to_s)
{
    struct answer answer = { 0 };
    struct period period = { day, day + 1 };
    int64_t covered = 0;
    if (answer_build(&answer, own->query, own->civil, period, ROW_INTERVAL) == ANSWER_READY) {
        for (int32_t i = 0; i < answer.row_count; i++) {
            const struct answer_row *row = &answer.rows[i];
            int64_t begin_s = row->from_s > from_s ? row->from_s : from_s;
            int64_t end_s = row->to_s < to_s ? row->to_s : to_s;
            if (end_s <= begin_s)
                continue;
            covered += end_s - begin_s;
            for (int32_t f = 0; f < OWN_FIGURES; f++) {
                int64_t energy = figure_of(&row->balance, (enum own_figure)f);
                add(own, (enum own_figure)f,
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
    for (int32_t f = 0; f < OWN_FIGURES; f++)
        own->energy[f] = 0;
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

int64_t spans_own(struct spans_own *own, enum own_figure figure, int64_t from_s, int64_t to_s)
{
    if (own->from_s != from_s || own->to_s != to_s)
        sum_up(own, from_s, to_s);
    return own->energy[figure];
}
