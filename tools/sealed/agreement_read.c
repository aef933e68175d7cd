/* Gathers what agreement.h judges: reading periods of the logbook, our account of the same time, what the
 * classes, steps and reading times leave open. */
#include <stdlib.h>
#include <string.h>

#include "accuracy.h"
#include "agreement_allow.h"
#include "history.h"
#include "muldiv.h"
#include "query_outages.h"
#include "spans_own.h"

enum { HALF_DAY_S = 43200, DAY_S = 86400 };
/* A stated time is somebody's watch and handwriting: off by five minutes, own choice. */
enum { WATCH_S = 300 };

/* What flows around a reading. */
struct instant {
    int64_t at_s;
    bool by_day;
    int64_t doubt[TERM_COUNT];  /* mWh, in the doubt of its time, to the side on which it is more */
    int64_t around[TERM_COUNT]; /* mWh, 12 hours to each side */
};

struct gather {
    struct agreement *agreement;
    struct session *session;
    struct spans_own own;
    struct history history;
    int32_t point_count, point_room;
    struct instant *points; /* heap */
};

/* ---- rows from reading periods ---- */

static struct agreement_row *add_row(struct agreement *agreement, const struct agreement_row *row)
{
    if (agreement->count == agreement->room) {
        int32_t room = agreement->room ? 2 * agreement->room : 64;
        struct agreement_row *rows = realloc(agreement->rows, (size_t)room * sizeof(*rows));
        if (!rows) {
            agreement->memory_out = true;
            return NULL;
        }
        agreement->rows = rows;
        agreement->room = room;
    }
    agreement->rows[agreement->count] = *row;
    return &agreement->rows[agreement->count++];
}

static struct agreement_row begin_row(const struct spans_period *period, enum balance_term term)
{
    return (struct agreement_row){ .sealed = period->sealed,
                                   .together = UINT32_C(1) << period->sealed,
                                   .reg = period->reg,
                                   .term = term,
                                   .from_s = period->from_s,
                                   .from_by_day = period->from_by_day,
                                   .theirs = 0,
                                   .ours = UNKNOWN,
                                   .other = UNKNOWN,
                                   .around_begin = UNKNOWN,
                                   .around_end = UNKNOWN };
}

/* Readings that nobody took are passed over: from one that was taken to the next the sum is exact. */
static void read_register(struct gather *gather, const struct spans *spans, int32_t sealed,
                          enum sealed_register reg, enum balance_term term, const int64_t span[2])
{
    struct agreement_row row = { 0 };
    int64_t step = 0;
    bool open = false;
    for (int32_t i = 0; i < spans->count; i++) {
        const struct spans_period *period = &spans->periods[i];
        if (period->sealed != sealed || period->reg != reg)
            continue;
        open &= row.to_s == period->from_s;
        if (!open && period->from_estimated)
            continue;
        if (!open) {
            row = begin_row(period, term);
            step = 0;
            open = true;
        }
        bool known = row.theirs != UNKNOWN && period->energy != UNKNOWN;
        row.theirs = known ? row.theirs + period->energy : UNKNOWN;
        row.to_s = period->to_s;
        row.to_by_day = period->to_by_day;
        row.rolled |= period->rolled;
        row.exchanges += period->exchanged;
        row.passed += period->to_estimated;
        step = period->step > step ? period->step : step;
        if (period->to_estimated)
            continue;
        open = false;
        if (row.theirs <
            0) /* below the reading before, and no rollover: over estimated ones nobody else sees it */
            row.theirs = UNKNOWN;
        row.allowance.worst[PART_THEIR_STEP] = row.allowance.likely[PART_THEIR_STEP] =
            step * (1 + row.exchanges);
        if (row.theirs != UNKNOWN)
            agreement_allow_theirs(&row, gather->agreement->config);
        if (row.from_s >= span[0] && row.to_s <= span[1])
            add_row(gather->agreement, &row);
    }
}

/* ---- readings ---- */

static int64_t larger(int64_t a, int64_t b)
{
    return a > b ? a : b; /* UNKNOWN is below all */
}

static struct instant *find_instant(struct gather *gather, int64_t at_s, bool by_day)
{
    for (int32_t i = gather->point_count - 1; i >= 0; i--)
        if (gather->points[i].at_s == at_s && gather->points[i].by_day == by_day)
            return &gather->points[i];
    if (gather->point_count == gather->point_room) {
        int32_t room = gather->point_room ? 2 * gather->point_room : 64;
        struct instant *points = realloc(gather->points, (size_t)room * sizeof(*points));
        if (!points) {
            gather->agreement->memory_out = true;
            return NULL;
        }
        gather->points = points;
        gather->point_room = room;
    }
    const struct civil *civil = gather->session->civil;
    int64_t day = civil_day_of(civil, at_s),
            watch_s = larger(WATCH_S, query_interval_at(gather->session->query, at_s));
    int64_t first_s = by_day ? civil_day_start(civil, day) : at_s - watch_s;
    int64_t last_s = by_day ? civil_day_start(civil, day + 1) : at_s + watch_s;
    struct instant *point = &gather->points[gather->point_count++];
    *point = (struct instant){ .at_s = at_s, .by_day = by_day };
    for (int32_t t = 0; t < TERM_COUNT; t++) {
        enum balance_term term = (enum balance_term)t;
        point->doubt[t] = spans_own(&gather->own, term, first_s, at_s);
    }
    for (int32_t t = 0; t < TERM_COUNT; t++)
        point->doubt[t] =
            larger(point->doubt[t], spans_own(&gather->own, (enum balance_term)t, at_s, last_s));
    for (int32_t t = 0; t < TERM_COUNT; t++)
        point->around[t] =
            spans_own(&gather->own, (enum balance_term)t, at_s - HALF_DAY_S, at_s + HALF_DAY_S);
    return point;
}

/* Where the record does not reach around the reading, the row's mean stands for it. */
static void allow_time(struct gather *gather, struct agreement_row *row)
{
    int64_t length_s = row->to_s - row->from_s;
    for (int32_t i = 0; i < 2; i++) {
        bool by_day = i ? row->to_by_day : row->from_by_day;
        const struct instant *point = find_instant(gather, i ? row->to_s : row->from_s, by_day);
        if (!point)
            return;
        int64_t doubt = point->doubt[row->term], *around = i ? &row->around_end : &row->around_begin;
        int64_t mean = mul_div(llabs(row->ours), by_day ? HALF_DAY_S : WATCH_S, length_s);
        enum agreement_part part = i ? PART_END : PART_BEGIN;
        row->allowance.worst[part] = row->allowance.likely[part] = doubt == UNKNOWN ? mean : llabs(doubt);
        *around = point->around[row->term];
        if (*around == UNKNOWN)
            *around = mul_div(llabs(row->ours), DAY_S, length_s);
    }
}

/* ---- all together ---- */

static void fill_row(struct gather *gather, struct agreement_row *row)
{
    struct spans_own *own = &gather->own;
    row->ours = spans_own(own, row->term, row->from_s, row->to_s);
    row->flags = own->flags;
    row->lacking_s = own->lacking_s[row->term];
    row->unobserved_s = own->unobserved_s[row->term];
    if (row->term != TERM_PRODUCTION)
        row->other = own->energy[row->term == TERM_IMPORT ? TERM_EXPORT : TERM_IMPORT];
    if (row->ours == UNKNOWN || row->theirs == UNKNOWN || row->shared)
        return;
    agreement_allow(row, gather->agreement->config, gather->session->query, &gather->history);
    allow_time(gather, row);
}

/* Periods before the record began have nothing to be held against. */
static void fill_rows(struct gather *gather, int32_t only)
{
    struct agreement *agreement = gather->agreement;
    int32_t kept = 0;
    for (int32_t i = 0; i < agreement->count; i++) {
        struct agreement_row *row = &agreement->rows[i];
        if (only >= 0 && !(row->together & UINT32_C(1) << only))
            continue;
        fill_row(gather, row);
        if (row->lacking_s < row->to_s - row->from_s)
            agreement->rows[kept++] = *row;
        else
            agreement->left_out++;
    }
    agreement->count = kept;
}

static void ignore_note(void *self, const char *line)
{
    (void)self, (void)line; /* `spans` says them */
}

/* Sealed meters that have a register for the term, one bit each. */
static uint32_t find_sealed(const struct config *config, enum balance_term term)
{
    uint32_t mask = 0;
    for (int32_t i = 0; i < config->sealed_count; i++)
        for (int32_t reg = SEALED_IMPORT; reg <= SEALED_EXPORT; reg++)
            if (config->sealed[i].registers >> reg & 1 &&
                sources_term(&config->sealed[i], (enum sealed_register)reg) == term)
                mask |= UINT32_C(1) << i;
    return mask;
}

static void read_rows(struct gather *gather, const int64_t span[2])
{
    struct agreement *agreement = gather->agreement;
    const struct config *config = agreement->config;
    struct spans spans = { .config = config, .civil = gather->session->civil, .note = ignore_note };
    for (int32_t i = 0; i < config->sealed_count; i++) {
        int32_t first = spans.count;
        spans_read(&spans, gather->session->logbook, i);
        for (int32_t reg = SEALED_IMPORT; reg <= SEALED_EXPORT && spans.count > first; reg++) {
            enum balance_term term = sources_term(&config->sealed[i], (enum sealed_register)reg);
            int32_t before = agreement->count;
            if (term != TERM_COUNT)
                read_register(gather, &spans, i, (enum sealed_register)reg, term, span);
            for (int32_t r = before; r < agreement->count; r++)
                agreement->rows[r].shared = find_sealed(config, term) != agreement->rows[r].together;
        }
    }
    agreement->memory_out |= spans.memory_out;
    spans_free(&spans);
}

/* ---- several sealed meters that count a term together ---- */

static void add_to_sum(struct agreement_row *sum, const struct agreement_row *row)
{
    sum->theirs += row->theirs;
    sum->together |= row->together;
    sum->from_by_day |= row->from_by_day;
    sum->to_by_day |= row->to_by_day;
    sum->rolled |= row->rolled;
    sum->exchanges += row->exchanges;
    sum->passed += row->passed;
    sum->allowance.open_theirs += row->allowance.open_theirs;
    for (int32_t i = 0; i < AGREEMENT_PARTS; i++) {
        int64_t likely[2] = { sum->allowance.likely[i], row->allowance.likely[i] };
        sum->allowance.worst[i] += row->allowance.worst[i];
        sum->allowance.likely[i] = accuracy_root_sum_square(likely, 2);
    }
}

/* The sum of the meters' rows over the same span as `first`; false where one of them is missing. Those that
 * are in it are marked. */
static bool sum_rows(struct agreement *agreement, int32_t first, int32_t end, uint32_t wanted,
                     struct agreement_row *sum)
{
    struct agreement_row *rows = agreement->rows;
    *sum = rows[first];
    sum->shared = false;
    if (sum->theirs == UNKNOWN)
        return false;
    for (int32_t pass = 0; pass < 2; pass++) {
        for (int32_t i = first; i < end; i++) {
            bool same =
                rows[i].term == sum->term && rows[i].from_s == sum->from_s && rows[i].to_s == sum->to_s;
            if (!same || rows[i].theirs == UNKNOWN || !(rows[i].together & wanted))
                continue;
            if (pass == 0 && !(rows[i].together & sum->together))
                add_to_sum(sum, &rows[i]);
            if (pass == 1)
                rows[i].together = 0;
        }
        if (sum->together != wanted)
            return false;
    }
    return true;
}

/* Periods that all of them have become rows of their own and take the place of theirs. */
static void join_sealed(struct agreement *agreement)
{
    int32_t end = agreement->count, kept = 0;
    for (int32_t t = 0; t < TERM_COUNT; t++) {
        uint32_t wanted = find_sealed(agreement->config, (enum balance_term)t);
        for (int32_t i = 0; i < end && wanted & (wanted - 1); i++) {
            struct agreement_row sum;
            if ((int32_t)agreement->rows[i].term == t && agreement->rows[i].together &&
                sum_rows(agreement, i, end, wanted, &sum))
                add_row(agreement, &sum);
        }
    }
    for (int32_t i = 0; i < agreement->count; i++)
        if (agreement->rows[i].together)
            agreement->rows[kept++] = agreement->rows[i];
    agreement->count = kept;
}

int agreement_read(struct agreement *agreement, struct session *session, int32_t only, int64_t from_s,
                   int64_t to_s)
{
    *agreement = (struct agreement){ .config = session->config };
    if (!session->config || !session->logbook)
        return 0;
    struct gather gather = { .agreement = agreement,
                             .session = session,
                             .own = { .query = session->query, .civil = session->civil } };
    int result = history_read(&gather.history, session->query, INT64_MIN, INT64_MAX);
    if (result == 0) {
        for (int32_t t = 0; t < TERM_COUNT; t++)
            agreement->sides[t] = agreement_side(agreement->config, &gather.history, (enum balance_term)t);
        read_rows(&gather, (int64_t[]){ from_s, to_s });
        join_sealed(agreement);
        fill_rows(&gather, only);
        agreement_judge(agreement);
    }
    free(gather.points);
    history_free(&gather.history);
    return result == 0 && !agreement->memory_out && !query_error(session->query) ? 0 : -1;
}
