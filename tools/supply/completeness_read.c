#include "completeness_read.h"

#include <stdlib.h>
#include <string.h>

#include "query_supply.h"
#include "schema.h"

enum { NUMBERS = 1024 };

/* Flags of a day whose rows must be looked at one by one. */
enum { ODD_FLAGS = HOW_CLOCK | HOW_BACK_DATED | HOW_RE_DATED | HOW_CORRECTED };

struct reading {
    struct completeness *completeness;
    const struct inquiry *inquiry;
    int16_t index[NUMBERS]; /* by number, -1 none */
    struct gap_search searches[HISTORY_MAX_METERS];
    bool whole[HISTORY_MAX_METERS]; /* of the day that is being read */
    int64_t entered_from_s, entered_to_s;
    int32_t hint;
};

static const struct history *history_of(const struct reading *reading)
{
    return &reading->inquiry->head.history;
}

/* ---- meters and months ---- */

static int by_number(const void *left, const void *right)
{
    const struct arranged_meter *a = left, *b = right;
    return a->number - b->number;
}

static void find_meters(struct reading *reading)
{
    struct completeness *completeness = reading->completeness;
    const struct history *history = history_of(reading);
    memset(reading->index, -1, sizeof(reading->index));
    for (int32_t a = history->count - 1; a >= 0; a--) {
        const struct arrangement *arrangement = &history->arrangements[a];
        for (int32_t i = 0; i < arrangement->meter_count; i++) {
            const struct arranged_meter *meter = &arrangement->meters[i];
            bool counts = meter->number >= 0 && meter->number < NUMBERS &&
                          (meter->number != METER_DERIVED || meter->use != USE_NONE);
            if (!counts || reading->index[meter->number] >= 0 ||
                completeness->meter_count == HISTORY_MAX_METERS)
                continue;
            reading->index[meter->number] = 0;
            completeness->meters[completeness->meter_count++] = *meter;
        }
    }
    qsort(completeness->meters, (size_t)completeness->meter_count, sizeof(completeness->meters[0]),
          by_number);
    for (int32_t m = 0; m < completeness->meter_count; m++)
        reading->index[completeness->meters[m].number] = (int16_t)m;
}

static int64_t later(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

static int64_t earlier(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* Where the record reaches of the span. */
static int64_t begin_of(const struct reading *reading)
{
    return later(reading->inquiry->from_s, reading->inquiry->head.site.first_s);
}

static int64_t end_of(const struct reading *reading)
{
    return earlier(reading->inquiry->to_s, reading->inquiry->head.record_s);
}

static bool make_months(struct reading *reading)
{
    struct completeness *completeness = reading->completeness;
    const struct civil *civil = reading->inquiry->session.civil;
    int64_t begin_s = begin_of(reading), end_s = end_of(reading);
    for (int64_t day = reading->inquiry->period.from_day; day < reading->inquiry->period.to_day;) {
        int64_t next = earlier(period_next_month(day), reading->inquiry->period.to_day);
        struct completeness_month month = { civil_day_start(civil, day), civil_day_start(civil, next) };
        day = next;
        if (month.to_s <= begin_s || month.from_s >= end_s)
            continue;
        struct completeness_month *grown =
            realloc(completeness->months, ((size_t)completeness->month_count + 1) * sizeof(*grown));
        if (!grown)
            return false;
        completeness->months = grown;
        completeness->months[completeness->month_count++] = month;
    }
    size_t cells = (size_t)completeness->month_count * (size_t)completeness->meter_count + 1;
    completeness->cells = malloc(cells * sizeof(*completeness->cells));
    for (size_t i = 0; completeness->cells && i < cells; i++)
        completeness->cells[i] = completeness_nothing;
    return completeness->cells != NULL;
}

/* Seconds of [from, to) for which the settings have the meter. */
static int64_t arranged_s(const struct history *history, int32_t number, int64_t from_s, int64_t to_s)
{
    int64_t sum = 0;
    for (int32_t a = 0; a < history->count; a++) {
        const struct arrangement *arrangement = &history->arrangements[a];
        int64_t begin_s = later(arrangement->from_s, from_s), end_s = earlier(arrangement->to_s, to_s);
        for (int32_t i = 0; begin_s < end_s && i < arrangement->meter_count; i++)
            if (arrangement->meters[i].number == number)
                sum += end_s - begin_s;
    }
    return sum;
}

/* Where the settings first have the meter, and where they last do. */
static void arranged_ends(const struct history *history, int32_t number, int64_t *from_s, int64_t *to_s)
{
    *from_s = INT64_MAX;
    *to_s = INT64_MIN;
    for (int32_t a = 0; a < history->count; a++)
        for (int32_t i = 0; i < history->arrangements[a].meter_count; i++)
            if (history->arrangements[a].meters[i].number == number) {
                *from_s = earlier(*from_s, history->arrangements[a].from_s);
                *to_s = later(*to_s, history->arrangements[a].to_s);
            }
}

/* ---- gaps ---- */

static void keep_gap(struct completeness *completeness, const struct completeness_gap *gap,
                     int32_t interval_s)
{
    if (gap->unobserved_s < interval_s) {
        completeness->short_gaps++;
        completeness->short_s += gap->unobserved_s;
        return;
    }
    if (completeness->gap_count == completeness->gap_room) {
        int32_t room = completeness->gap_room ? 2 * completeness->gap_room : 64;
        struct completeness_gap *grown = realloc(completeness->gaps, (size_t)room * sizeof(*grown));
        if (!grown) {
            completeness->failed = true;
            return;
        }
        completeness->gaps = grown;
        completeness->gap_room = room;
    }
    completeness->gaps[completeness->gap_count++] = *gap;
}

static int by_meter(const void *left, const void *right)
{
    const struct completeness_gap *a = left, *b = right;
    if (a->meter != b->meter)
        return a->meter - b->meter;
    return a->from_s < b->from_s ? -1 : a->from_s > b->from_s;
}

static void begin_searches(struct reading *reading)
{
    for (int32_t m = 0; m < reading->completeness->meter_count; m++) {
        int32_t number = reading->completeness->meters[m].number;
        int64_t from_s, to_s;
        arranged_ends(history_of(reading), number, &from_s, &to_s);
        gap_search_begin(&reading->searches[m], number, later(from_s, begin_of(reading)));
    }
}

/* A meter's newest row may be two intervals older than another's. */
static void end_searches(struct reading *reading)
{
    for (int32_t m = 0; m < reading->completeness->meter_count; m++) {
        struct gap_search *search = &reading->searches[m];
        struct completeness_gap gap;
        int64_t from_s, to_s, end_s = end_of(reading);
        int32_t interval_s = history_at(history_of(reading), end_s - 1, &reading->hint)->interval_s;
        arranged_ends(history_of(reading), search->gap.meter, &from_s, &to_s);
        end_s = earlier(end_s, to_s);
        bool late = end_s - search->end_s <= 2 * interval_s;
        if (gap_search_end(search, late ? search->end_s : end_s, &gap))
            keep_gap(reading->completeness, &gap, interval_s);
    }
    if (reading->completeness->gap_count > 0)
        qsort(reading->completeness->gaps, (size_t)reading->completeness->gap_count,
              sizeof(reading->completeness->gaps[0]), by_meter);
}

/* ---- rows ---- */

static struct completeness_shares *cell_of(struct completeness *completeness, int32_t month, int32_t meter)
{
    return &completeness->cells[(size_t)month * (size_t)completeness->meter_count + (size_t)meter];
}

/* Closed days of meters that were observed whole. */
static void read_days(struct reading *reading, int32_t month, int64_t day, int64_t from_s, int64_t to_s)
{
    struct completeness *completeness = reading->completeness;
    struct query *query = reading->inquiry->session.query;
    const struct arrangement *arrangement = history_at(history_of(reading), from_s, &reading->hint);
    bool plain =
        arrangement->to_s >= to_s && (from_s >= reading->entered_to_s || to_s <= reading->entered_from_s);
    struct day_row row;
    memset(reading->whole, 0, sizeof(reading->whole));
    query_day(query, day);
    while (query_next_day(query, &row)) {
        int32_t m = row.meter >= 0 && row.meter < NUMBERS ? reading->index[row.meter] : -1;
        struct completeness_gap gap;
        if (m < 0 || !plain || row.from_s != from_s || row.to_s != to_s || row.rows != row.expected ||
            row.estimated != 0 || row.unobserved != 0 || row.flags & ODD_FLAGS)
            continue;
        reading->whole[m] = true;
        completeness_day(cell_of(completeness, month, m), &row);
        if (gap_search_whole(&reading->searches[m], from_s, to_s, &gap))
            keep_gap(completeness, &gap, arrangement->interval_s);
    }
}

/* Meters without counters have no intervals, but those of their momentary values. */
static bool has_intervals(const struct arranged_meter *meter)
{
    return meter->role != ROLE_WEATHER;
}

static bool all_whole(const struct reading *reading)
{
    for (int32_t m = 0; m < reading->completeness->meter_count; m++)
        if (!reading->whole[m] && has_intervals(&reading->completeness->meters[m]))
            return false;
    return true;
}

static void read_rows(struct reading *reading, int32_t month, int64_t from_s, int64_t to_s)
{
    struct completeness *completeness = reading->completeness;
    struct query *query = reading->inquiry->session.query;
    struct interval_row row;
    query_intervals(query, from_s, to_s);
    while (query_next_interval(query, &row)) {
        int32_t m = reading->index[row.meter];
        struct completeness_gap gap;
        if (m < 0 || reading->whole[m] || !has_intervals(&completeness->meters[m]))
            continue;
        int32_t length_s = history_at(history_of(reading), row.start_s, &reading->hint)->interval_s;
        completeness_row(cell_of(completeness, month, m), &row, length_s);
        if (gap_search_row(&reading->searches[m], &row, length_s, &gap))
            keep_gap(completeness, &gap, length_s);
    }
}

static void read_momentary(struct reading *reading, int32_t month, int32_t m)
{
    struct completeness *completeness = reading->completeness;
    struct query *query = reading->inquiry->session.query;
    const struct completeness_month *of = &completeness->months[month];
    struct interval_row row = { .import = UNKNOWN, .export = UNKNOWN };
    query_momentary(query, completeness->meters[m].number, of->from_s, of->to_s);
    while (query_next_momentary(query, &row.start_s)) {
        struct completeness_gap gap;
        int32_t length_s = history_at(history_of(reading), row.start_s, &reading->hint)->interval_s;
        completeness_row(cell_of(completeness, month, m), &row, length_s);
        if (gap_search_row(&reading->searches[m], &row, length_s, &gap))
            keep_gap(completeness, &gap, length_s);
    }
}

static bool read_month(struct reading *reading, int32_t month)
{
    struct completeness *completeness = reading->completeness;
    const struct civil *civil = reading->inquiry->session.civil;
    struct query *query = reading->inquiry->session.query;
    const struct completeness_month *of = &completeness->months[month];
    query_begin(query);
    for (int64_t day = civil_day_of(civil, of->from_s); civil_day_start(civil, day) < of->to_s; day++) {
        int64_t from_s = civil_day_start(civil, day), to_s = civil_day_start(civil, day + 1);
        if (to_s <= begin_of(reading) || from_s >= end_of(reading))
            continue;
        read_days(reading, month, day, from_s, to_s);
        if (!all_whole(reading))
            read_rows(reading, month, from_s, to_s);
    }
    for (int32_t m = 0; m < completeness->meter_count; m++)
        if (!has_intervals(&completeness->meters[m]))
            read_momentary(reading, month, m);
    query_end(query);
    for (int32_t m = 0; m < completeness->meter_count; m++)
        completeness_expect(cell_of(completeness, month, m),
                            arranged_s(history_of(reading), completeness->meters[m].number,
                                       later(of->from_s, begin_of(reading)),
                                       earlier(of->to_s, end_of(reading))));
    return !query_error(query) && !completeness->failed;
}

bool completeness_read(struct completeness *completeness, const struct inquiry *inquiry, bool causes)
{
    struct reading *reading = calloc(1, sizeof(*reading));
    *completeness = (struct completeness){ .failed = !reading };
    if (!reading)
        return false;
    reading->completeness = completeness;
    reading->inquiry = inquiry;
    query_begin(inquiry->session.query);
    if (!query_entered(inquiry->session.query, inquiry->from_s, inquiry->to_s, &reading->entered_from_s,
                       &reading->entered_to_s))
        reading->entered_from_s = reading->entered_to_s = INT64_MIN;
    query_end(inquiry->session.query);
    find_meters(reading);
    bool good = make_months(reading);
    begin_searches(reading);
    for (int32_t month = 0; good && month < completeness->month_count; month++)
        good = read_month(reading, month);
    if (good)
        end_searches(reading);
    free(reading);
    good = good && !completeness->failed && (!causes || completeness_find_causes(completeness, inquiry));
    completeness->failed = !good;
    return good;
}

void completeness_free(struct completeness *completeness)
{
    free(completeness->months);
    free(completeness->cells);
    free(completeness->gaps);
    free(completeness->causes);
    *completeness = (struct completeness){ 0 };
}

const struct completeness_shares *completeness_cell(const struct completeness *completeness, int32_t month,
                                                    int32_t meter)
{
    return &completeness->cells[(size_t)month * (size_t)completeness->meter_count + (size_t)meter];
}

struct completeness_shares completeness_of_meter(const struct completeness *completeness, int32_t meter)
{
    struct completeness_shares sum = completeness_nothing;
    for (int32_t month = 0; month < completeness->month_count; month++)
        completeness_sum(&sum, completeness_cell(completeness, month, meter));
    return sum;
}

struct completeness_residual completeness_parts(const struct completeness *completeness, int32_t month)
{
    struct completeness_residual residual = { UNKNOWN, UNKNOWN };
    bool whole = true;
    for (int32_t m = 0; m < completeness->meter_count; m++) {
        const struct arranged_meter *meter = &completeness->meters[m];
        const struct completeness_shares *shares = completeness_cell(completeness, month, m);
        int64_t delivered = meter->delivers_by_export ? shares->export : shares->import;
        if (meter->role != ROLE_PART && meter->role != ROLE_PRODUCTION)
            continue;
        int64_t *sum = meter->role == ROLE_PART ? &residual.parts : &residual.production;
        *sum = number_sum(*sum, delivered);
        whole = whole && shares->missing_s == 0 && delivered != UNKNOWN;
    }
    if (!whole || residual.parts == UNKNOWN || residual.production == UNKNOWN)
        residual.parts = residual.production = UNKNOWN;
    return residual;
}
