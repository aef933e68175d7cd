/* Events by kind and meter, and what dated the record. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "completeness_views.h"
#include "query_checks.h"
#include "query_dating.h"

#define COUNT(columns) ((int32_t)(sizeof(columns) / sizeof((columns)[0])))
enum { MOST_KINDS = 512, SECONDS_SCALE = 3 };

static const struct sheet_column event_columns[] = {
    { "kind", { "", "event" }, "", SHEET_TEXT, 0, false },
    { "meter", { "", "meter" }, "", SHEET_TEXT, 0, false },
    { "count", { "", "noted" }, "", SHEET_NUMBER, 0, false },
    { "repeated", { "with re-", "petitions" }, "", SHEET_NUMBER, 0, false },
    { "first", { "", "first" }, "", SHEET_INSTANT, 0, false },
    { "last", { "", "last" }, "", SHEET_INSTANT, 0, false },
};
static const struct sheet_column clock_columns[] = {
    { "from", { "", "from" }, "", SHEET_INSTANT, 0, false },
    { "source", { "", "vouched for by" }, "", SHEET_TEXT, 0, false },
    { "doubt_s", { "", "doubt" }, "s", SHEET_NUMBER, SECONDS_SCALE, false },
    { "begins", { "", "" }, "", SHEET_TEXT, 0, false },
};

/* Events of one kind and meter. */
struct tally_of_kind {
    char kind[CHECK_TEXT_SIZE];
    int32_t meter;
    int64_t count, repeated, first_s, last_s;
};

struct tallies {
    struct tally_of_kind list[MOST_KINDS];
    int32_t count;
    bool full;
};

static void take(struct tallies *tallies, const struct seen_row *row)
{
    int32_t i = 0;
    while (i < tallies->count &&
           (tallies->list[i].meter != row->meter || strcmp(tallies->list[i].kind, row->kind) != 0))
        i++;
    if (i == MOST_KINDS) {
        tallies->full = true;
        return;
    }
    struct tally_of_kind *tally = &tallies->list[i];
    if (i == tallies->count) {
        *tally = (struct tally_of_kind){ .meter = row->meter, .first_s = row->at_s };
        snprintf(tally->kind, sizeof(tally->kind), "%s", row->kind);
        tallies->count++;
    }
    tally->count++;
    tally->repeated += row->count;
    tally->first_s = row->at_s < tally->first_s ? row->at_s : tally->first_s;
    tally->last_s = row->at_s > tally->last_s ? row->at_s : tally->last_s;
}

static int by_kind(const void *left, const void *right)
{
    const struct tally_of_kind *a = left, *b = right;
    int order = strcmp(a->kind, b->kind);
    return order ? order : a->meter - b->meter;
}

static void write_meter(const struct completeness_work *work, int32_t number,
                        char out[COMPLETENESS_TEXT_SIZE])
{
    const struct history *history = &work->inquiry.head.history;
    if (number == 0)
        return;
    snprintf(out, COMPLETENESS_TEXT_SIZE, "%d", (int)number);
    for (int32_t a = 0; a < history->count; a++)
        for (int32_t i = 0; i < history->arrangements[a].meter_count; i++)
            if (history->arrangements[a].meters[i].number == number)
                snprintf(out, COMPLETENESS_TEXT_SIZE, "%s", history->arrangements[a].meters[i].name);
}

/* Two texts a row: kind and meter. */
static void add_kinds(struct completeness_work *work, const struct tallies *tallies)
{
    for (int32_t i = 0; i < tallies->count; i++) {
        const struct tally_of_kind *tally = &tallies->list[i];
        struct sheet_cell *cells = sheet_row(&work->sheet);
        char *kind = work->texts[2 * i], *meter = work->texts[2 * i + 1];
        if (!cells)
            return;
        snprintf(kind, COMPLETENESS_TEXT_SIZE, "%s", tally->kind);
        write_meter(work, tally->meter, meter);
        cells[0].text = kind;
        cells[1].text = meter;
        cells[2] = (struct sheet_cell){ .value = tally->count, .thousands = true };
        cells[3] = (struct sheet_cell){ .value = tally->repeated, .thousands = true };
        cells[4].value = tally->first_s;
        cells[5].value = tally->last_s;
    }
}

bool completeness_add_events(struct completeness_work *work)
{
    struct query *query = work->inquiry.session.query;
    struct tallies *tallies = calloc(1, sizeof(*tallies));
    struct seen_row row;
    work->sheet.columns = event_columns;
    work->sheet.column_count = COUNT(event_columns);
    work->texts = calloc(2 * MOST_KINDS, sizeof(*work->texts));
    bool good = tallies && work->texts;
    if (good) {
        query_begin(query);
        query_seen(query, work->inquiry.from_s, work->inquiry.to_s);
        while (query_next_seen(query, &row))
            take(tallies, &row);
        query_end(query);
        good = !query_error(query);
        qsort(tallies->list, (size_t)tallies->count, sizeof(tallies->list[0]), by_kind);
        add_kinds(work, tallies);
        if (tallies->full)
            sheet_note(&work->sheet, "more kinds of events than %d: the rest is left out", MOST_KINDS);
        if (tallies->count == 0)
            sheet_note(&work->sheet, "the record holds no event of that span");
        sheet_note(&work->sheet, "events are changes of state; one without a date is in no span");
    }
    free(tallies);
    return good;
}

/* ---- clocks ---- */

static void add_clock(struct completeness_work *work, const struct dated_row *row, int32_t place)
{
    struct sheet_cell *cells = sheet_row(&work->sheet);
    if (!cells)
        return;
    snprintf(work->texts[place], COMPLETENESS_TEXT_SIZE, "%s", row->source);
    cells[0].value = row->from_ms / 1000;
    cells[1].text = work->texts[place];
    cells[2] = (struct sheet_cell){ .value = row->doubt_ms, .decimals = 1, .thousands = true };
    cells[3].text = row->first ? "a boot" : "";
}

/* The intervals that clocks touched, by the meter that has most of them. */
static void note_touched(struct completeness_work *work)
{
    int64_t stepped = 0, back_dated = 0, re_dated = 0;
    for (int32_t m = 0; m < work->completeness.meter_count; m++) {
        struct completeness_shares shares = completeness_of_meter(&work->completeness, m);
        stepped = shares.stepped > stepped ? shares.stepped : stepped;
        back_dated = shares.back_dated > back_dated ? shares.back_dated : back_dated;
        re_dated = shares.re_dated > re_dated ? shares.re_dated : re_dated;
    }
    sheet_note(&work->sheet,
               "intervals a meter at most: the clock stepped in %lld, %lld were dated after the fact, %lld "
               "moved by a better clock",
               (long long)stepped, (long long)back_dated, (long long)re_dated);
}

static void note_undated(struct completeness_work *work)
{
    struct query *query = work->inquiry.session.query;
    int64_t after_s;
    int32_t count = 0;
    query_undated(query);
    while (query_next_undated(query, &after_s))
        count += after_s >= work->inquiry.from_s && after_s < work->inquiry.to_s;
    if (count > 0)
        sheet_note(&work->sheet, "boots that never got a clock: %d; what they read is in the span after each",
                   (int)count);
}

/* The clocks of the span, and the one that it begins with. */
bool completeness_add_clocks(struct completeness_work *work)
{
    struct query *query = work->inquiry.session.query;
    struct dated_row row, before = { 0 };
    bool has_before = false;
    int32_t count = 0, place = 0;
    work->sheet.columns = clock_columns;
    work->sheet.column_count = COUNT(clock_columns);
    query_begin(query);
    query_dated(query);
    while (query_next_dated(query, &row))
        count += row.from_ms < work->inquiry.to_s * 1000;
    work->texts = calloc((size_t)count + 1, sizeof(*work->texts));
    query_dated(query);
    while (work->texts && query_next_dated(query, &row)) {
        bool within = row.from_ms >= work->inquiry.from_s * 1000;
        if (row.from_ms >= work->inquiry.to_s * 1000)
            continue;
        if (within && has_before)
            add_clock(work, &before, place++);
        has_before = !within;
        before = row;
        if (within)
            add_clock(work, &row, place++);
    }
    if (work->texts && has_before)
        add_clock(work, &before, place++);
    note_undated(work);
    query_end(query);
    note_touched(work);
    if (place == 0)
        sheet_note(&work->sheet, "the record says of no clock what dated it");
    return work->texts && !query_error(query);
}
