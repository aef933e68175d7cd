#include "doubt.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "query_dating.h"
#include "query_outages.h"
#include "spans_own.h"
#include "stamp.h"

enum {
    DRIFT_S = 9, /* what a clock without network is off by after a day (dating says so too) */
    DAY_S = 86400,
};

struct stretch {
    int64_t from_s, to_s; /* rows that were dated so */
    int64_t doubt_s;      /* by how much they may be off; UNKNOWN: by the whole stretch */
    bool drifts;          /* and more with time since from_s */
    bool caught;          /* until the network set it right: less again towards to_s */
    char source[CLOCK_SOURCE_SIZE];
};

struct work {
    struct answer *answer;
    struct spans_own own;
    struct stretch *stretches; /* heap */
    int32_t count, room;
    bool memory_out;
    /* The end that was asked for last: one row's is the next one's begin. */
    int64_t end_s;
    int64_t end[TERM_COUNT];
    const struct stretch *end_why;
};

static void add(struct work *work, struct stretch stretch)
{
    if (work->count == work->room) {
        int32_t room = work->room ? 2 * work->room : 16;
        struct stretch *more = realloc(work->stretches, (size_t)room * sizeof(*more));
        if (!more) {
            work->memory_out = true;
            return;
        }
        work->stretches = more;
        work->room = room;
    }
    work->stretches[work->count++] = stretch;
}

static int64_t larger(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static int64_t smaller(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* By how much the date of a row may be off, s. */
static int64_t doubt_at(const struct stretch *stretch, int64_t at_s)
{
    int64_t inside_s = smaller(larger(at_s, stretch->from_s), stretch->to_s);
    int64_t since_s = inside_s - stretch->from_s;
    if (!stretch->drifts)
        return stretch->doubt_s;
    if (stretch->caught)
        since_s = smaller(since_s, stretch->to_s - inside_s);
    return stretch->doubt_s + since_s * DRIFT_S / DAY_S;
}

/* Each clock dates until the next one does. */
static void read_clocks(struct work *work, struct query *query)
{
    struct dated_row row, before = { .doubt_ms = 0 };
    if (!query_dating_doubt(query))
        return;
    query_dated(query);
    for (bool more = true; more; before = row) {
        more = query_next_dated(query, &row);
        bool drifts = strcmp(before.source, "holdover") == 0;
        struct stretch stretch = {
            .from_s = before.from_ms / 1000,
            .to_s = more ? row.from_ms / 1000 : INT64_MAX,
            .doubt_s = before.doubt_ms / 1000,
            .drifts = drifts,
            .caught = more && !row.first && strcmp(row.source, "network") == 0,
        };
        snprintf(stretch.source, sizeof(stretch.source), "%s", before.source);
        int64_t doubt_s =
            larger(doubt_at(&stretch, work->answer->from_s), doubt_at(&stretch, work->answer->to_s));
        bool near = stretch.from_s - doubt_s < work->answer->to_s &&
                    (!more || stretch.to_s + doubt_s > work->answer->from_s);
        if (near && (drifts || stretch.doubt_s >= DATING_DOUBT_S))
            add(work, stretch);
    }
}

/* From the last row before undated boots to the first one after them. */
static void read_undated(struct work *work, struct query *query)
{
    int64_t after_s;
    query_undated(query);
    while (query_next_undated(query, &after_s)) {
        if (after_s < work->answer->from_s)
            continue;
        int64_t last_s = query_last_sign(query, after_s);
        int32_t interval_s = query_interval_at(query, after_s);
        int64_t first_s = after_s + interval_s - 1;
        if (last_s != UNKNOWN && last_s < work->answer->to_s)
            add(work, (struct stretch){
                          .from_s = last_s, .to_s = first_s - first_s % interval_s, .doubt_s = UNKNOWN });
    }
}

/* ---- one end ---- */

/* What the record has of each term between two instants; 0 beyond its ends. */
static void energy_of(struct work *work, int64_t from_s, int64_t to_s, int64_t energy[TERM_COUNT])
{
    from_s = larger(from_s, work->answer->site.first_s);
    to_s = smaller(to_s, work->answer->record_s);
    for (int32_t t = 0; t < TERM_COUNT; t++)
        energy[t] = to_s > from_s ? spans_own(&work->own, (enum balance_term)t, from_s, to_s) : 0;
}

/* The larger of two; UNKNOWN where one of them is. */
static int64_t worst(int64_t a, int64_t b)
{
    return a == UNKNOWN || b == UNKNOWN ? UNKNOWN : larger(a, b);
}

/* How far to both sides of an end energy may have flowed that stands on the other; false: nowhere. */
static bool window(const struct stretch *stretch, int64_t at_s, int64_t *from_s, int64_t *to_s)
{
    int64_t doubt_s = stretch->doubt_s == UNKNOWN ? 0 : doubt_at(stretch, at_s);
    if (stretch->doubt_s != UNKNOWN && doubt_s < DATING_DOUBT_S)
        return false;
    if (at_s <= stretch->from_s - doubt_s || (stretch->to_s != INT64_MAX && at_s >= stretch->to_s + doubt_s))
        return false;
    *from_s = stretch->doubt_s == UNKNOWN ? stretch->from_s : at_s - doubt_s;
    *to_s = stretch->doubt_s == UNKNOWN ? stretch->to_s : at_s + doubt_s;
    return true;
}

static void add_doubt(int64_t sum[TERM_COUNT], const int64_t more[TERM_COUNT])
{
    for (int32_t t = 0; t < TERM_COUNT; t++)
        sum[t] = sum[t] == UNKNOWN || more[t] == UNKNOWN ? UNKNOWN : sum[t] + more[t];
}

/* What may have flowed on the other side of an instant, and a stretch that it comes from. */
static void look_at(struct work *work, int64_t at_s)
{
    int64_t before[TERM_COUNT], after[TERM_COUNT], from_s, to_s;
    unsigned sealed = sources_sealed(work->answer->sources, at_s);
    bool outside = at_s <= work->answer->site.first_s || at_s >= work->answer->record_s;
    work->end_s = at_s;
    work->end_why = NULL;
    memset(work->end, 0, sizeof(work->end));
    for (int32_t i = 0; !outside && sealed != TERMS_ALL && i < work->count; i++) {
        if (!window(&work->stretches[i], at_s, &from_s, &to_s))
            continue;
        work->end_why = &work->stretches[i];
        energy_of(work, from_s, at_s, before);
        energy_of(work, at_s, to_s, after);
        for (int32_t t = 0; t < TERM_COUNT; t++)
            if (!(sealed & 1U << t))
                work->end[t] = worst(work->end[t], worst(before[t], after[t]));
    }
}

/* Adds the doubt of an end to a row's; returns the stretch that it comes from, NULL without. */
static const struct stretch *add_end(struct work *work, int64_t at_s, int64_t doubt[TERM_COUNT])
{
    if (work->end_s != at_s)
        look_at(work, at_s);
    add_doubt(doubt, work->end);
    return work->end_why;
}

/* A row within an undated stretch may have had anything from none to all of its energy. */
static bool add_inside(struct work *work, int64_t from_s, int64_t to_s, int64_t doubt[TERM_COUNT])
{
    int64_t all[TERM_COUNT], here[TERM_COUNT];
    for (int32_t i = 0; i < work->count; i++) {
        const struct stretch *stretch = &work->stretches[i];
        if (stretch->doubt_s != UNKNOWN || from_s < stretch->from_s || to_s > stretch->to_s)
            continue;
        energy_of(work, stretch->from_s, stretch->to_s, all);
        energy_of(work, from_s, to_s, here);
        for (int32_t t = 0; t < TERM_COUNT; t++)
            here[t] = all[t] == UNKNOWN ? UNKNOWN : worst(here[t], all[t] - here[t]);
        add_doubt(doubt, here);
        return true;
    }
    return false;
}

/* ---- what is said of it ---- */

/* "production +- 1.2 kWh, import +- 0.3 kWh"; what the answer does not have is left out. */
static void name_amounts(const struct answer *answer, const int64_t doubt[TERM_COUNT], char *out, size_t size)
{
    static const char *const names[TERM_COUNT] = { "production", "import", "export" };
    char number[NUMBER_SIZE];
    size_t used = 0;
    out[0] = '\0';
    for (int32_t t = 0; t < TERM_COUNT && used < size; t++) {
        int64_t step = t == TERM_PRODUCTION ? answer->production_step : answer->grid_step;
        int32_t decimals = number_decimals_of_step(step, 3);
        const char *joint = used ? ", " : "";
        if (doubt[t] == 0 || balance_term(&answer->total.balance, (enum balance_term)t) == UNKNOWN)
            continue;
        used += doubt[t] == UNKNOWN
                    ? (size_t)snprintf(out + used, size - used, "%s%s by what is not known", joint, names[t])
                    : (size_t)snprintf(out + used, size - used, "%s%s +- %s kWh", joint, names[t],
                                       number_print(number, doubt[t], ENERGY_SCALE, decimals, ','));
    }
}

static void note_end(struct work *work, const char *end, int64_t at_s)
{
    char amounts[120], from[STAMP_SIZE], to[STAMP_SIZE];
    struct answer *answer = work->answer;
    int64_t doubt[TERM_COUNT] = { 0 };
    const struct stretch *why = add_end(work, at_s, doubt);
    name_amounts(answer, doubt, amounts, sizeof(amounts));
    if (!why || !amounts[0])
        return;
    if (why->doubt_s == UNKNOWN)
        answer_note(answer, "%s from dating at the %s: no clock from %s to %s", amounts, end,
                    stamp_minute(from, answer->civil, why->from_s),
                    stamp_minute(to, answer->civil, why->to_s));
    else
        answer_note(answer, "%s from dating at the %s: by %s, +- %d s", amounts, end,
                    strcmp(why->source, "hand") == 0      ? "a person"
                    : strcmp(why->source, "sun") == 0     ? "the sun"
                    : strcmp(why->source, "meter") == 0   ? "a meter's clock"
                    : strcmp(why->source, "battery") == 0 ? "the battery clock"
                                                          : "the network, a while ago",
                    (int)doubt_at(why, at_s));
}

static void add_row(struct work *work, struct answer_row *row)
{
    memset(row->doubt, 0, sizeof(row->doubt));
    if (add_inside(work, row->from_s, row->to_s, row->doubt))
        return;
    add_end(work, row->from_s, row->doubt);
    add_end(work, row->to_s, row->doubt);
}

/* More than a thousandth of a figure: then the head line says so. */
static bool is_much(const struct answer *answer)
{
    for (int32_t t = 0; t < TERM_COUNT; t++) {
        int64_t doubt = answer->total.doubt[t];
        int64_t share = number_share(doubt, balance_term(&answer->total.balance, (enum balance_term)t));
        if (doubt != 0 && share != UNKNOWN && share > SHARE_ONE / 1000)
            return true;
    }
    return false;
}

int doubt_add(struct answer *answer, struct query *query)
{
    struct work work = { .answer = answer,
                         .end_s = INT64_MIN,
                         .own = { .query = query, .civil = answer->civil, .meter = answer->what.meter } };
    query_begin(query);
    read_clocks(&work, query);
    read_undated(&work, query);
    query_end(query);
    if (work.count > 0 && !work.memory_out) {
        add_row(&work, &answer->total);
        for (int32_t i = 0; i < answer->row_count && answer->unit >= ROW_DAY; i++)
            add_row(&work, &answer->rows[i]);
        if (is_much(answer))
            answer_mark(answer, "dating in doubt");
        note_end(&work, "begin", answer->from_s);
        note_end(&work, "end", answer->to_s);
    }
    free(work.stretches);
    return work.memory_out ? -1 : 0;
}
