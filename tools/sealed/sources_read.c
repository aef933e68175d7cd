/* Gathers which source speaks when, and shares out what sealed meters say. */
#include <stdlib.h>
#include <string.h>

#include "history.h"
#include "muldiv.h"
#include "schema.h"
#include "sources.h"
#include "spans.h"
#include "spans_own.h"

struct gather {
    struct sources *sources;
    struct query *query;
    struct spans_own own;
    struct spans_plant plant;
    struct spans spans;
    int64_t from_s, to_s; /* of the answer */
};

/* Room for one more of `size` bytes; false without memory. */
static bool grow(struct sources *sources, void **items, int32_t count, int32_t *room, size_t size)
{
    if (count < *room)
        return true;
    int32_t more = *room ? 2 * *room : 64;
    void *grown = realloc(*items, (size_t)more * size);
    if (!grown) {
        sources->memory_out = true;
        return false;
    }
    *items = grown;
    *room = more;
    return true;
}

/* ---- which source speaks when ---- */

static void add_change(struct sources *sources, enum source_subject subject, int64_t at_s, bool sealed)
{
    void *changes = sources->changes[subject];
    int32_t *count = &sources->change_count[subject];
    while (*count > 0 && sources->changes[subject][*count - 1].at_s >= at_s)
        --*count; /* a later word on the same or a later time */
    if (*count > 0 && sources->changes[subject][*count - 1].sealed == sealed)
        return;
    bool room = grow(sources, &changes, *count, &sources->change_room[subject], sizeof(*sources->changes[0]));
    sources->changes[subject] = changes;
    if (room)
        sources->changes[subject][(*count)++] = (struct sources_change){ at_s, sealed };
}

/* Where the record has its first interval of a meter that the subject needs. */
static int64_t record_begin(struct query *query, const struct history *history, unsigned terms)
{
    int64_t begin_s = INT64_MAX;
    for (int32_t a = 0; a < history->count; a++)
        for (int32_t m = 0; m < history->arrangements[a].meter_count; m++) {
            const struct arranged_meter *meter = &history->arrangements[a].meters[m];
            int64_t first_s =
                use_terms(meter->use) & terms ? query_begin_of(query, meter->number) : INT64_MAX;
            begin_s = first_s < begin_s ? first_s : begin_s;
        }
    return begin_s;
}

/* A source holds for whole intervals: from the one in which the entry's time lies. */
static int64_t on_grid(const struct history *history, int64_t at_s)
{
    int32_t hint = 0;
    return at_s - at_s % history_at(history, at_s, &hint)->interval_s;
}

static void read_subject(struct gather *gather, const struct logbook *logbook, const struct history *history,
                         enum source_subject subject)
{
    static const struct {
        const char *name;
        unsigned terms;
    } table[SOURCE_SUBJECTS] = { { "grid", TERMS_GRID }, { "production", TERMS_PRODUCTION } };
    struct sources *sources = gather->sources;
    bool any = false;
    for (int32_t t = 0; t < TERM_COUNT; t++)
        any |= table[subject].terms & 1U << t && sources->meter_count[t] > 0;
    add_change(sources, subject, INT64_MIN, any);
    int64_t begin_s = record_begin(gather->query, history, table[subject].terms);
    if (begin_s != INT64_MAX)
        add_change(sources, subject, begin_s, false);
    for (int32_t i = 0; i < logbook->count; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        if (entry->kind == LOGBOOK_PRECEDENCE && !entry->refused && !entry->revoked &&
            strcmp(entry->subject, table[subject].name) == 0)
            add_change(sources, subject, on_grid(history, entry->at_s), entry->number[LOGBOOK_SOURCE] == 0);
    }
}

/* ---- breaks ---- */

static void add_break(struct sources *sources, int64_t at_s)
{
    void *breaks = sources->breaks;
    bool room = grow(sources, &breaks, sources->break_count, &sources->break_room, sizeof(*sources->breaks));
    sources->breaks = breaks;
    if (room && at_s != INT64_MIN)
        sources->breaks[sources->break_count++] = at_s;
}

static int compare_breaks(const void *a, const void *b)
{
    const int64_t *left = a, *right = b;
    return *left < *right ? -1 : *left > *right;
}

static bool counts(const struct sources *sources, const struct spans_period *period)
{
    return sources_term(&sources->config->sealed[period->sealed], period->reg) != TERM_COUNT;
}

/* Where a source changes, and where what readings cover begins, ends or has a hole. */
static void find_breaks(struct gather *gather)
{
    struct sources *sources = gather->sources;
    const struct spans *spans = &gather->spans;
    for (int32_t s = 0; s < SOURCE_SUBJECTS; s++)
        for (int32_t i = 0; i < sources->change_count[s]; i++)
            add_break(sources, sources->changes[s][i].at_s);
    int64_t end_s[CONFIG_MAX_SEALED][SEALED_REGISTERS];
    for (int32_t i = 0; i < CONFIG_MAX_SEALED * SEALED_REGISTERS; i++)
        end_s[i / SEALED_REGISTERS][i % SEALED_REGISTERS] = INT64_MIN;
    for (int32_t i = 0; i < spans->count; i++) {
        const struct spans_period *period = &spans->periods[i];
        int64_t *end = &end_s[period->sealed][period->reg];
        if (!counts(sources, period) || period->energy == UNKNOWN)
            continue;
        if (*end != period->from_s) {
            add_break(sources, *end);
            add_break(sources, period->from_s);
        }
        *end = period->to_s;
    }
    for (int32_t i = 0; i < CONFIG_MAX_SEALED * SEALED_REGISTERS; i++)
        add_break(sources, end_s[i / SEALED_REGISTERS][i % SEALED_REGISTERS]);
    if (sources->break_count > 0)
        qsort(sources->breaks, (size_t)sources->break_count, sizeof(*sources->breaks), compare_breaks);
}

/* ---- what a reading period gives ---- */

static bool speaks(const struct sources *sources, enum balance_term term, int64_t at_s)
{
    return sources_sealed(sources, at_s) & 1U << term;
}

/* End of the stretch that begins at at_s and has one source for the term. */
static int64_t stretch_end(const struct sources *sources, enum balance_term term, int64_t at_s, int64_t to_s)
{
    bool sealed = speaks(sources, term, at_s);
    do
        at_s = sources_next(sources, at_s);
    while (at_s < to_s && speaks(sources, term, at_s) == sealed);
    return at_s < to_s ? at_s : to_s;
}

static bool add_part(struct sources *sources, const struct sources_part *part)
{
    void *parts = sources->parts;
    bool room = grow(sources, &parts, sources->part_count, &sources->part_room, sizeof(*sources->parts));
    sources->parts = parts;
    if (room)
        sources->parts[sources->part_count++] = *part;
    return room;
}

/* The stretches of the period in which the readings speak; true where one of them lies in the answer. */
static bool find_parts(struct gather *gather, const struct spans_period *period, enum balance_term term)
{
    struct sources *sources = gather->sources;
    struct sources_part part = {
        .term = term,
        .sealed = period->sealed,
        .period_from_s = period->from_s,
        .period_to_s = period->to_s,
        .period_energy = period->energy,
        .step = period->step,
        .along_sun = spans_along_sun(sources->config, &sources->config->sealed[period->sealed], period->reg),
        .guessed = period->from_estimated || period->to_estimated,
        .by_day = period->from_by_day || period->to_by_day,
    };
    bool inside = false;
    for (int64_t at_s = period->from_s, end_s; at_s < period->to_s; at_s = end_s) {
        end_s = stretch_end(sources, term, at_s, period->to_s);
        part.from_s = at_s;
        part.to_s = end_s;
        if (speaks(sources, term, at_s) && add_part(sources, &part))
            inside |= end_s > gather->from_s && at_s < gather->to_s;
    }
    return inside;
}

/* What the record counted of the period beside the parts; UNKNOWN where it does not have all of that. */
static int64_t counted_beside(struct gather *gather, const struct spans_period *period,
                              enum balance_term term, bool *missed)
{
    struct sources *sources = gather->sources;
    int64_t sum = 0;
    for (int64_t at_s = period->from_s, end_s; at_s < period->to_s; at_s = end_s) {
        end_s = stretch_end(sources, term, at_s, period->to_s);
        if (speaks(sources, term, at_s))
            continue;
        /* of several sealed meters none can be held against the one term */
        int64_t own = sources->meter_count[term] == 1 ? spans_own(&gather->own, term, at_s, end_s) : UNKNOWN;
        sum = sum == UNKNOWN || own == UNKNOWN ? UNKNOWN : sum + own;
        *missed |= own != UNKNOWN && gather->own.flags & HOW_RUN_CHANGE;
    }
    return sum;
}

static int64_t first_of(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Cuts a part at midnights and breaks; what a share weighs stands in place of its energy. */
static int64_t cut_part(struct gather *gather, int32_t index, bool along_sun)
{
    struct sources *sources = gather->sources;
    const struct sources_part *part = &sources->parts[index];
    const struct civil *civil = sources->civil;
    int64_t weight = 0;
    for (int64_t at_s = part->from_s, end_s; at_s < part->to_s; at_s = end_s) {
        void *shares = sources->shares;
        end_s = civil_day_start(civil, civil_day_of(civil, at_s) + 1);
        end_s = first_of(first_of(end_s, sources_next(sources, at_s)), part->to_s);
        struct sources_share share = { at_s, end_s, spans_weight(&gather->plant, along_sun, at_s, end_s),
                                       index };
        bool room = grow(sources, &shares, sources->share_count, &sources->share_room, sizeof(share));
        sources->shares = shares;
        if (!room)
            break;
        sources->shares[sources->share_count++] = share;
        weight += share.energy;
    }
    return weight;
}

static int64_t cut_parts(struct gather *gather, int32_t first_part, bool along_sun)
{
    int64_t weight = 0;
    for (int32_t i = first_part; i < gather->sources->part_count; i++)
        weight += cut_part(gather, i, along_sun);
    return weight;
}

/* Shares the energy out along the weights: what the period counted stays the same to the mWh. */
static void share_out(struct sources *sources, int32_t first_share, int64_t weight, int64_t energy)
{
    int64_t sum = 0, before = 0;
    for (int32_t i = first_share; i < sources->share_count; i++) {
        struct sources_share *share = &sources->shares[i];
        sum += share->energy;
        int64_t account = mul_div(energy, sum, weight);
        share->energy = account - before;
        sources->parts[share->part].energy += share->energy;
        before = account;
    }
}

static void add_period(struct gather *gather, const struct spans_period *period, enum balance_term term)
{
    struct sources *sources = gather->sources;
    int32_t first_part = sources->part_count, first_share = sources->share_count;
    if (!find_parts(gather, period, term)) {
        sources->part_count = first_part;
        return;
    }
    bool along_sun = sources->parts[first_part].along_sun;
    int64_t weight = cut_parts(gather, first_part, along_sun);
    if (weight == 0) { /* a polar night */
        along_sun = false;
        sources->share_count = first_share;
        weight = cut_parts(gather, first_part, along_sun);
    }
    bool whole = first_part + 1 == sources->part_count &&
                 sources->parts[first_part].from_s == period->from_s &&
                 sources->parts[first_part].to_s == period->to_s;
    bool missed = false;
    int64_t counted = whole ? 0 : counted_beside(gather, period, term, &missed);
    int64_t energy = counted == UNKNOWN
                         ? mul_div(period->energy, weight,
                                   spans_weight(&gather->plant, along_sun, period->from_s, period->to_s))
                         : period->energy - counted;
    for (int32_t i = first_part; i < sources->part_count; i++) {
        sources->parts[i].first_s = sources->parts[first_part].from_s;
        sources->parts[i].last_s = sources->parts[sources->part_count - 1].to_s;
        sources->parts[i].along_sun = along_sun;
        sources->parts[i].counted = counted;
        sources->parts[i].missed = missed;
        sources->parts[i].how = whole ? PART_WHOLE : counted == UNKNOWN ? PART_PRORATED : PART_LESS;
    }
    share_out(sources, first_share, weight, energy);
}

static void ignore_note(void *self, const char *line)
{
    (void)self, (void)line; /* `spans` says them */
}

static void read_periods(struct gather *gather, const struct logbook *logbook)
{
    struct sources *sources = gather->sources;
    const struct config *config = sources->config;
    for (int32_t i = 0; i < config->sealed_count; i++) {
        spans_read(&gather->spans, logbook, i);
        for (int32_t reg = 0; reg < SEALED_REGISTERS; reg++) {
            enum balance_term term = sources_term(&config->sealed[i], (enum sealed_register)reg);
            if (term != TERM_COUNT)
                sources->meter_count[term] += (config->sealed[i].registers >> reg) & 1;
        }
    }
    spans_sort(&gather->spans);
}

int sources_read(struct sources *sources, struct query *query, const struct civil *civil,
                 const struct config *config, const struct logbook *logbook, int64_t from_s, int64_t to_s)
{
    struct history history;
    struct gather gather = {
        .sources = sources,
        .query = query,
        .own = { .query = query, .civil = civil },
        .plant = spans_plant(config),
        .spans = { .config = config, .civil = civil, .note = ignore_note },
        .from_s = from_s,
        .to_s = to_s,
    };
    *sources = (struct sources){ .config = config, .civil = civil };
    int result = history_read(&history, query, INT64_MIN, INT64_MAX);
    if (result == 0) {
        read_periods(&gather, logbook);
        for (int32_t s = 0; s < SOURCE_SUBJECTS; s++)
            read_subject(&gather, logbook, &history, (enum source_subject)s);
        find_breaks(&gather);
        for (int32_t i = 0; i < gather.spans.count; i++) {
            const struct spans_period *period = &gather.spans.periods[i];
            bool inside = period->to_s > from_s && period->from_s < to_s && counts(sources, period);
            sources->unclear += inside && period->energy == UNKNOWN;
            if (inside && period->energy != UNKNOWN)
                add_period(&gather, period, sources_term(&config->sealed[period->sealed], period->reg));
        }
    }
    sources->memory_out |= gather.spans.memory_out;
    spans_free(&gather.spans);
    history_free(&history);
    return result == 0 && !sources->memory_out && !query_error(query) ? 0 : -1;
}
