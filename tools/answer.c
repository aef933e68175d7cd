#include "answer.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "schema.h"

enum { HOUR = 3600 };

/* What is gathered for one instant (or one closed day) before it becomes a balance. */
struct cell {
    const struct arrangement *arrangement;
    int64_t start_s;
    int32_t used; /* meters of the balance seen in it */
    struct meter_energy energy[ARRANGEMENT_MAX_METERS];
    int64_t observed_s[ARRANGEMENT_MAX_METERS];
    int32_t flags;
};

/* Where the build stands. */
struct build {
    struct answer *answer;
    struct query *query;
    int32_t room;        /* rows that fit */
    int32_t row;         /* the row being filled */
    int32_t arrangement; /* hint for history_at() */
    int32_t cells;
    struct cell cell;
};

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

/* End of the row that begins at start_s. */
static int64_t row_end(struct build *build, int64_t start_s, int64_t *day)
{
    const struct answer *answer = build->answer;
    int64_t end;
    switch (answer->unit) {
    case ROW_INTERVAL: {
        int32_t length = history_at(&answer->history, start_s, &build->arrangement)->interval_s;
        end = start_s - start_s % length + length;
        break;
    }
    case ROW_HOUR: {
        /* hours of the site's clock: after a change of offset by half an hour one is shorter */
        int64_t local = start_s + civil_offset(answer->civil, start_s);
        end = start_s + HOUR - local % HOUR;
        break;
    }
    case ROW_DAY:
        end = civil_day_start(answer->civil, ++*day);
        break;
    default:
        *day = period_next_month(*day);
        end = civil_day_start(answer->civil, *day);
        break;
    }
    return least(end, answer->to_s);
}

static int rows_add(struct build *build, int64_t from_s, int64_t to_s)
{
    struct answer *answer = build->answer;
    if (answer->row_count == build->room) {
        int32_t room = build->room ? build->room * 2 : 64;
        struct answer_row *rows = realloc(answer->rows, (size_t)room * sizeof(*rows));
        if (!rows)
            return -1;
        answer->rows = rows;
        build->room = room;
    }
    answer->rows[answer->row_count++] = (struct answer_row){
        .from_s = from_s,
        .to_s = to_s,
        .span_s = least(to_s, answer->reach_s) - from_s,
        .balance = balance_nothing,
    };
    return 0;
}

/* Lays out the rows from the record's beginning to its end. */
static int rows_make(struct build *build, int64_t day)
{
    struct answer *answer = build->answer;
    for (int64_t start = answer->from_s; start < answer->reach_s;) {
        int64_t end = row_end(build, start, &day);
        if (end > answer->site.first_s && end > start && rows_add(build, start, end) != 0)
            return -1;
        start = end;
    }
    size_t slots = answer->history.slot_count ? (size_t)answer->history.slot_count : 1;
    answer->observed_s = calloc((size_t)answer->row_count + 1, slots * sizeof(*answer->observed_s));
    return answer->observed_s ? 0 : -1;
}

static void cell_begin(struct build *build, const struct arrangement *arrangement, int64_t start_s)
{
    struct cell *cell = &build->cell;
    cell->arrangement = arrangement;
    cell->start_s = start_s;
    cell->used = 0;
    cell->flags = 0;
    memset(cell->energy, 0, (size_t)arrangement->meter_count * sizeof(cell->energy[0]));
}

/* Index of a meter that the balance uses, -1 for any other. */
static int32_t cell_meter(const struct cell *cell, int32_t number)
{
    for (int32_t i = 0; i < cell->arrangement->meter_count; i++)
        if (cell->arrangement->meters[i].number == number)
            return cell->arrangement->meters[i].slot >= 0 ? i : -1;
    return -1;
}

static void cell_put(struct cell *cell, int32_t index, struct meter_energy energy, int64_t observed_s,
                     int32_t flags)
{
    cell->used++;
    cell->energy[index] = energy;
    cell->observed_s[index] = observed_s;
    cell->flags |= flags & ~HOW_METHOD_MASK;
}

/* Turns the cell into a balance and adds that to its row. */
static void cell_end(struct build *build, int64_t end_s)
{
    struct answer *answer = build->answer;
    const struct cell *cell = &build->cell;
    while (build->row < answer->row_count && answer->rows[build->row].to_s <= cell->start_s)
        build->row++;
    if (cell->used == 0 || build->row == answer->row_count)
        return;
    struct answer_row *row = &answer->rows[build->row];
    struct balance balance = balance_of(cell->arrangement, cell->energy);
    balance_add(&row->balance, &balance);
    row->flags |= cell->flags;
    build->cells++;
    int64_t *observed = answer->observed_s + (size_t)build->row * (size_t)answer->history.slot_count;
    for (int32_t i = 0; i < cell->arrangement->meter_count; i++) {
        int32_t slot = cell->arrangement->meters[i].slot;
        if (slot < 0 || !cell->energy[i].present)
            continue;
        observed[slot] += cell->observed_s[i];
        answer->present_s[slot] += end_s - cell->start_s;
        answer->last_s[slot] = end_s;
    }
}

/* Adds up the intervals that start in [from, to). */
static void add_intervals(struct build *build, int64_t from_s, int64_t to_s)
{
    struct interval_row row;
    struct cell *cell = &build->cell;
    cell->arrangement = NULL;
    query_intervals(build->query, from_s, to_s);
    while (query_next_interval(build->query, &row)) {
        if (!cell->arrangement || cell->start_s != row.start_s) {
            if (cell->arrangement)
                cell_end(build, cell->start_s + cell->arrangement->interval_s);
            cell_begin(build, history_at(&build->answer->history, row.start_s, &build->arrangement),
                       row.start_s);
        }
        int32_t index = cell_meter(cell, row.meter);
        if (index >= 0)
            cell_put(cell, index, (struct meter_energy){ true, row.import, row.export, row.estimated },
                     cell->arrangement->interval_s - row.unobserved, row.how);
    }
    if (cell->arrangement)
        cell_end(build, cell->start_s + cell->arrangement->interval_s);
}

static int32_t used_meters(const struct arrangement *arrangement)
{
    int32_t used = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        used += arrangement->meters[i].slot >= 0;
    return used;
}

/* Takes the closed day, where it says the same as its intervals would. */
static bool add_closed_day(struct build *build, int64_t day, int64_t from_s, int64_t to_s)
{
    struct day_row row;
    struct cell *cell = &build->cell;
    const struct arrangement *arrangement = history_at(&build->answer->history, from_s, &build->arrangement);
    bool whole = arrangement->to_s >= to_s;
    cell_begin(build, arrangement, from_s);
    query_day(build->query, day);
    while (query_next_day(build->query, &row)) {
        int32_t index = cell_meter(cell, row.meter);
        if (index < 0)
            continue;
        whole = whole && row.from_s == from_s && row.to_s == to_s && row.rows == row.expected;
        cell_put(cell, index, (struct meter_energy){ true, row.import, row.export, row.estimated },
                 to_s - from_s - row.unobserved, row.flags);
    }
    if (!whole || cell->used == 0 || cell->used != used_meters(arrangement))
        return false;
    cell_end(build, to_s);
    return true;
}

static void add_days(struct build *build, struct period period)
{
    struct answer *answer = build->answer;
    int64_t from = answer->from_s;
    bool rows_of_days = answer->unit == ROW_DAY || answer->unit == ROW_MONTH;
    for (int64_t day = period.from_day; day < period.to_day && from < answer->reach_s; day++) {
        int64_t to = civil_day_start(answer->civil, day + 1);
        bool reached = to > answer->site.first_s && to > from;
        if (reached && !(rows_of_days && add_closed_day(build, day, from, to)))
            add_intervals(build, from, to);
        from = to;
    }
}

/* What the least observed meter was not observed, in each row and in the whole span. */
static void count_lost(struct answer *answer)
{
    struct answer_row *total = &answer->total;
    for (int32_t slot = 0; slot < answer->history.slot_count; slot++) {
        int64_t observed = 0;
        for (int32_t i = 0; i < answer->row_count; i++) {
            struct answer_row *row = &answer->rows[i];
            int64_t here = answer->observed_s[(size_t)i * (size_t)answer->history.slot_count + (size_t)slot];
            int64_t used = history_used_s(&answer->history, slot, row->from_s, row->from_s + row->span_s);
            int64_t lost = used - here;
            row->lost_s = lost > row->lost_s ? lost : row->lost_s;
            observed += here;
        }
        int64_t used = history_used_s(&answer->history, slot, total->from_s, total->from_s + total->span_s);
        total->lost_s = used - observed > total->lost_s ? used - observed : total->lost_s;
    }
}

static void add_up(struct answer *answer)
{
    struct answer_row *total = &answer->total;
    *total = (struct answer_row){
        .from_s = answer->from_s,
        .to_s = answer->to_s,
        .span_s = answer->reach_s - answer->from_s,
        .balance = balance_nothing,
    };
    for (int32_t i = 0; i < answer->row_count; i++) {
        balance_add(&total->balance, &answer->rows[i].balance);
        total->flags |= answer->rows[i].flags;
    }
    count_lost(answer);
}

static void raise_step(int64_t *step, int64_t candidate)
{
    *step = candidate > *step ? candidate : *step;
}

/* What the registers can tell: a figure is as coarse as the coarsest it is made of. */
static void read_steps(struct answer *answer, struct query *query)
{
    answer->production_step = answer->grid_step = answer->coarsest_step = 1;
    for (int32_t i = 0; i < answer->history.count; i++) {
        const struct arrangement *arrangement = &answer->history.arrangements[i];
        for (int32_t j = 0; j < arrangement->meter_count; j++) {
            const struct arranged_meter *meter = &arrangement->meters[j];
            if (meter->slot < 0)
                continue;
            int64_t step = query_step(query, meter->number, answer->from_s, answer->to_s);
            if (meter->use == USE_PRODUCTION || meter->use == USE_GROSS)
                raise_step(&answer->production_step, step);
            if (meter->use == USE_GRID || meter->use == USE_GROSS || arrangement->derived)
                raise_step(&answer->grid_step, step);
            raise_step(&answer->coarsest_step, step);
        }
    }
}

static enum answer_result build_rows(struct build *build, struct period period)
{
    struct answer *answer = build->answer;
    for (int32_t i = 0; i < HISTORY_MAX_METERS; i++)
        answer->last_s[i] = INT64_MIN;
    int32_t newest = 0;
    int32_t interval_s = history_at(&answer->history, answer->site.last_s, &newest)->interval_s;
    answer->reach_s = least(answer->to_s, answer->site.last_s + interval_s);
    for (int32_t i = 0; answer->unit == ROW_HOUR && i < answer->history.count; i++)
        if (HOUR % answer->history.arrangements[i].interval_s != 0)
            answer->unit = ROW_INTERVAL;
    if (rows_make(build, period.from_day) != 0)
        return ANSWER_FAILED;
    add_days(build, period);
    add_up(answer);
    read_steps(answer, build->query);
    if (query_error(build->query))
        return ANSWER_FAILED;
    if (answer->history.slot_count == 0)
        answer_note(answer, "no production, grid or consumption meter is configured");
    else if (build->cells == 0)
        answer_note(answer, "the record holds nothing of that span");
    return answer->note_count ? ANSWER_NO_DATA : ANSWER_READY;
}

enum answer_result answer_build(struct answer *answer, struct query *query, const struct civil *civil,
                                struct period period, enum row_unit unit)
{
    *answer = (struct answer){ .civil = civil, .unit = unit };
    answer->from_s = civil_day_start(civil, period.from_day);
    answer->to_s = civil_day_start(civil, period.to_day);
    struct build build = { .answer = answer, .query = query };
    enum answer_result result = ANSWER_FAILED;
    query_begin(query);
    bool settings = query_site(query, &answer->site);
    if (query_error(query)) {
        result = ANSWER_FAILED;
    } else if (!settings || !answer->site.has_rows) {
        answer_note(answer, "the record is empty: the collector has not completed an interval yet");
        result = ANSWER_NO_DATA;
    } else if (history_read(&answer->history, query, answer->from_s, answer->to_s) == 0) {
        result = build_rows(&build, period);
    }
    query_end(query);
    if (result == ANSWER_READY)
        answer_make_notes(answer);
    return result;
}

void answer_free(struct answer *answer)
{
    history_free(&answer->history);
    free(answer->rows);
    free(answer->observed_s);
    answer->rows = NULL;
    answer->observed_s = NULL;
}
