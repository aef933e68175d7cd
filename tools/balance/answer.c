#include "answer.h"

#include <stdlib.h>
#include <string.h>

#include "answer_build.h"
#include "query_dating.h"
#include "schema.h"
#include "stamp.h"

static void cell_begin(struct build *build, const struct arrangement *arrangement, int64_t start_s)
{
    struct answer *answer = build->answer;
    struct cell *cell = &build->cell;
    while (build->piece < answer->piece_count && answer->pieces[build->piece].to_s <= start_s)
        build->piece++;
    cell->piece = build->piece < answer->piece_count ? &answer->pieces[build->piece] : NULL;
    cell->arrangement = arrangement;
    cell->start_s = start_s;
    cell->used = 0;
    cell->flags = 0;
    cell->placed = false;
    memset(cell->energy, 0, (size_t)arrangement->meter_count * sizeof(cell->energy[0]));
}

/* Does the balance of the cell need the meter? Not where a sealed one speaks in its stead. */
static bool cell_needs(const struct cell *cell, const struct arranged_meter *meter)
{
    return meter->slot >= 0 && cell->piece && !(use_terms(meter->use) & cell->piece->sealed);
}

/* Index of a meter that the balance needs, -1 for any other. */
static int32_t cell_meter(const struct cell *cell, int32_t number)
{
    for (int32_t i = 0; i < cell->arrangement->meter_count; i++)
        if (cell->arrangement->meters[i].number == number)
            return cell_needs(cell, &cell->arrangement->meters[i]) ? i : -1;
    return -1;
}

static void cell_put(struct cell *cell, int32_t index, struct meter_energy energy, int64_t observed_s,
                     int32_t flags)
{
    cell->used++;
    cell->energy[index] = energy;
    cell->observed_s[index] = observed_s;
    int32_t method = flags & HOW_METHOD_MASK;
    cell->flags |= flags & ~HOW_METHOD_MASK;
    cell->placed =
        cell->placed || energy.estimated > 0 || method == HOW_INTERPOLATED || method == HOW_ESTIMATED;
    if (method == HOW_ENTERED || method == HOW_ENTERED_ENERGY)
        cell->flags |= ROW_ENTERED;
}

/* Are all meters that stand for some of these terms in the cell? With no terms: storage and generators. */
static bool cell_has(const struct cell *cell, unsigned terms)
{
    for (int32_t i = 0; i < cell->arrangement->meter_count; i++) {
        enum use use = cell->arrangement->meters[i].use;
        bool wanted = terms ? use_terms(use) & terms : use == USE_STORAGE || use == USE_GENERATOR;
        if (wanted && !cell->energy[i].present)
            return false;
    }
    return true;
}

/* Beside sealed meters the record's part is kept until what they say is added. */
static void put_beside(const struct cell *cell, const struct balance *balance, int64_t length_s)
{
    struct balance_part *part = &cell->piece->part;
    balance_add(&part->balance, balance);
    for (int32_t t = 0; t < TERM_COUNT; t++)
        part->known_s[t] += cell_has(cell, 1U << t) ? length_s : 0;
    part->others_s += cell_has(cell, 0) ? length_s : 0;
}

static int32_t needed_meters(const struct cell *cell)
{
    int32_t needed = 0;
    for (int32_t k = 0; k < cell->arrangement->used_count; k++)
        needed += cell_needs(cell, &cell->arrangement->meters[cell->arrangement->used[k]]);
    return needed;
}

/* Did every meter of the balance measure all of it? */
static bool cell_measured(const struct cell *cell, int64_t end_s)
{
    bool whole = !cell->placed && cell->used == needed_meters(cell);
    for (int32_t i = 0; i < cell->arrangement->meter_count; i++)
        if (cell->energy[i].present)
            whole = whole && cell->observed_s[i] >= end_s - cell->start_s;
    return whole;
}

static void add_balance(struct build *build, int64_t length_s)
{
    const struct cell *cell = &build->cell;
    struct answer_row *row = &build->answer->rows[cell->piece->row];
    struct balance balance = balance_of(cell->arrangement, cell->energy);
    if (cell->piece->sealed)
        put_beside(cell, &balance, length_s);
    else
        balance_add(&row->balance, &balance);
    row->flags |= cell->flags;
    row->sources |= cell->piece->sealed == TERMS_ALL ? 0 : SOURCE_RECORD;
    build->cells++;
}

/* Turns the cell into a balance and adds that to its row. */
static void cell_end(struct build *build, int64_t end_s)
{
    struct answer *answer = build->answer;
    const struct cell *cell = &build->cell;
    if (cell->used == 0)
        return;
    const struct answer_piece *piece = cell->piece;
    bool taken = !answer->what.measured_only || cell_measured(cell, end_s);
    if (taken)
        add_balance(build, end_s - cell->start_s);
    int64_t *observed = answer->observed_s + (size_t)piece->row * (size_t)answer->history.slot_count;
    for (int32_t k = 0; k < cell->arrangement->used_count; k++) {
        int32_t i = cell->arrangement->used[k], slot = cell->arrangement->meters[i].slot;
        if (!cell->energy[i].present || !history_uses(&cell->arrangement->meters[i], piece->sealed))
            continue;
        observed[slot] += taken ? cell->observed_s[i] : 0;
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
    query_energies_of(build->query, from_s, to_s, build->meters);
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

/* Takes the closed day, where it says the same as its intervals would. */
static bool add_closed_day(struct build *build, int64_t day, int64_t from_s, int64_t to_s)
{
    struct cell *cell = &build->cell;
    const struct arrangement *arrangement = history_at(&build->answer->history, from_s, &build->arrangement);
    bool whole = arrangement->to_s >= to_s && sources_next(build->answer->sources, from_s) >= to_s;
    if (from_s < build->entered_to_s && to_s > build->entered_from_s)
        return false;
    cell_begin(build, arrangement, from_s);
    for (; build->has_day && build->day.day <= day;
         build->has_day = query_next_day(build->query, &build->day)) {
        const struct day_row *row = &build->day;
        int32_t index = row->day == day ? cell_meter(cell, row->meter) : -1;
        if (index < 0)
            continue;
        whole = whole && row->from_s == from_s && row->to_s == to_s;
        cell_put(cell, index, (struct meter_energy){ true, row->import, row->export, row->estimated },
                 to_s - from_s - row->unobserved, row->flags);
    }
    if (!whole || cell->used == 0 || cell->used != needed_meters(cell))
        return false;
    if (build->answer->what.measured_only && !cell_measured(cell, to_s))
        return false;
    cell_end(build, to_s);
    return true;
}

static void add_days(struct build *build, struct period period)
{
    struct answer *answer = build->answer;
    int64_t from = answer->from_s;
    bool rows_of_days = answer->unit >= ROW_DAY;
    if (rows_of_days) {
        query_whole_days_of(build->query, period.from_day, period.to_day, build->meters);
        build->has_day = query_next_day(build->query, &build->day);
    }
    for (int64_t day = period.from_day; day < period.to_day && from < answer->reach_s; day++) {
        int64_t to = civil_day_start(answer->civil, day + 1);
        bool reached = to > answer->site.first_s && to > from;
        if (reached && !(rows_of_days && add_closed_day(build, day, from, to)))
            add_intervals(build, from, to);
        from = to;
    }
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
    for (int32_t t = 0; t < TERM_COUNT && answer->total.sources & SOURCE_SEALED; t++) {
        int64_t step = sources_step(answer->sources, (enum balance_term)t, answer->from_s, answer->to_s);
        raise_step(t == TERM_PRODUCTION ? &answer->production_step : &answer->grid_step, step);
        raise_step(&answer->coarsest_step, step);
    }
}

static bool is_used(const struct answer *answer, int32_t number)
{
    for (int32_t slot = 0; slot < answer->history.slot_count; slot++)
        if (answer->history.slots[slot] == number)
            return true;
    return false;
}

static void read_corrections(struct answer *answer, struct query *query)
{
    struct correction_row row;
    query_corrections(query, answer->from_s, answer->reach_s);
    while (query_next_correction(query, &row)) {
        if (!is_used(answer, row.meter) && !is_used(answer, row.other) && !is_used(answer, METER_DERIVED))
            continue;
        if (answer->correction_count < ANSWER_MAX_CORRECTIONS)
            answer->corrections[answer->correction_count] = row;
        answer->correction_count++;
    }
    answer->correcting =
        answer->correction_count > 0 && query_correcting(query, answer->from_s, answer->reach_s);
}

/* Why there is no figure at all. */
static const char *without_figures(const struct build *build)
{
    const struct answer *answer = build->answer;
    bool reaches = answer->site.first_s < answer->to_s && answer->record_s > answer->from_s;
    if (answer->history.slot_count == 0 && answer->what.single)
        return reaches ? NULL : "the record holds nothing of that span";
    if (answer->history.slot_count == 0)
        return answer->what.meter ? "the meter was not configured in that span"
                                  : "no production, grid or consumption meter is configured: 'totals', "
                                    "'demand', 'duration' and 'profile' answer for one meter by '--meter'";
    if (build->cells > 0)
        return NULL;
    if (answer->what.measured_only)
        return "no interval of that span was measured whole by every meter";
    if (!sources_sealed(answer->sources, answer->from_s))
        return "the record holds nothing of that span";
    return answer_is_fine(answer)
               ? "sealed readings speak for that span, and know no hours: 'meterbook month' "
                 "has its share of them"
               : "neither the record nor sealed readings reach into that span";
}

/* Whoever asked for another time than the record's is told which it has. */
static void note_without(struct answer *answer, const char *without)
{
    char from[STAMP_SIZE], to[STAMP_SIZE];
    bool outside = answer->site.first_s >= answer->to_s || answer->record_s <= answer->from_s;
    if (answer->site.has_rows && outside)
        answer_note(answer, "%s; the record is of %s to %s", without,
                    stamp_date(from, answer->civil, answer->site.first_s),
                    stamp_date(to, answer->civil, answer->record_s - 1));
    else
        answer_note(answer, "%s", without);
}

static enum answer_result build_rows(struct build *build, struct period period)
{
    struct answer *answer = build->answer;
    for (int32_t i = 0; i < HISTORY_MAX_METERS; i++)
        answer->last_s[i] = INT64_MIN;
    build->meters = history_range(&answer->history);
    int32_t newest = 0;
    int32_t interval_s = history_at(&answer->history, answer->site.last_s, &newest)->interval_s;
    answer->record_s = answer->site.has_rows ? answer->site.last_s + interval_s : INT64_MIN;
    answer->reach_s = least(answer->to_s, answer->record_s);
    for (int32_t i = 0; answer->unit == ROW_HOUR && i < answer->history.count; i++)
        if (HOUR % answer->history.arrangements[i].interval_s != 0)
            answer->unit = ROW_INTERVAL;
    if (!query_entered(build->query, answer->from_s, answer->to_s, &build->entered_from_s,
                       &build->entered_to_s))
        build->entered_from_s = build->entered_to_s = INT64_MIN;
    if (rows_make(build, period.from_day) != 0)
        return ANSWER_FAILED;
    add_days(build, period);
    rows_add_up(build);
    read_steps(answer, build->query);
    read_corrections(answer, build->query);
    if (query_error(build->query))
        return ANSWER_FAILED;
    const char *without = without_figures(build);
    if (without)
        note_without(answer, without);
    return without ? ANSWER_NO_DATA : ANSWER_READY;
}

enum answer_result answer_build(struct answer *answer, struct query *query, const struct civil *civil,
                                const struct sources *sources, struct period period, enum row_unit unit)
{
    return answer_build_of(answer, query, civil, sources, period, unit, (struct answer_what){ 0 });
}

enum answer_result answer_build_of(struct answer *answer, struct query *query, const struct civil *civil,
                                   const struct sources *sources, struct period period, enum row_unit unit,
                                   struct answer_what what)
{
    *answer = (struct answer){ .civil = civil, .sources = sources, .unit = unit, .what = what };
    answer->from_s = civil_day_start(civil, period.from_day);
    answer->to_s = civil_day_start(civil, period.to_day);
    struct build build = { .answer = answer, .query = query };
    enum answer_result result = ANSWER_FAILED;
    query_begin(query);
    bool settings = query_site(query, &answer->site);
    if (query_error(query)) {
        result = ANSWER_FAILED;
    } else if (!settings || (!answer->site.has_rows && !sources)) {
        answer_note(answer, query_waits(query)
                                ? "the record has no interval yet: its readings " WAIT_FOR_CLOCK
                                : "the record is empty: the collector has not completed an interval yet");
        result = ANSWER_NO_DATA;
    } else if (history_read(&answer->history, query, answer->from_s, answer->to_s) == 0) {
        answer->site.first_s = answer->site.has_rows ? answer->site.first_s : INT64_MAX;
        if (what.meter)
            history_keep(&answer->history, what.meter);
        result = build_rows(&build, period);
    }
    answer->waiting = result == ANSWER_READY && query_waits(query);
    query_end(query);
    if (result == ANSWER_READY)
        answer_make_notes(answer);
    return result;
}

void answer_free(struct answer *answer)
{
    history_free(&answer->history);
    free(answer->rows);
    free(answer->pieces);
    free(answer->observed_s);
    answer->rows = NULL;
    answer->pieces = NULL;
    answer->observed_s = NULL;
}
