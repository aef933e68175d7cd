#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "enter_private.h"
#include "schema.h"

void enter_say(char text[ENTER_TEXT], const struct enter_batch *batch, int64_t line, const char *format, ...)
{
    if (text[0])
        return;
    int n = snprintf(text, ENTER_TEXT, "%s:%lld: ", batch->setup.name, (long long)line);
    va_list arguments;
    va_start(arguments, format);
    if (n > 0 && n < ENTER_TEXT)
        vsnprintf(text + n, ENTER_TEXT - (size_t)n, format, arguments);
    va_end(arguments);
}

const char *enter_energy_text(char text[40], int64_t mwh)
{
    unsigned long long size = mwh < 0 ? 0ULL - (unsigned long long)mwh : (unsigned long long)mwh;
    snprintf(text, 40, "%s%llu.%06llu", mwh < 0 ? "-" : "", size / 1000000, size % 1000000);
    return text;
}

static const char *stamp_text(const struct enter_batch *batch, char text[48], int64_t utc_s)
{
    int32_t year, month, day, offset = civil_offset(batch->setup.civil, utc_s);
    int64_t local = utc_s + offset, number = local / 86400 - (local % 86400 < 0);
    civil_date(number, &year, &month, &day);
    int32_t minute = (int32_t)((local - number * 86400) / 60), size = abs(offset) / 60;
    snprintf(text, 48, "%04d-%02d-%02d %02d:%02d%c%02d:%02d", year, month, day, minute / 60, minute % 60,
             offset < 0 ? '-' : '+', size / 60, size % 60);
    return text;
}

static const char *counter_name(const struct enter_series *series, int place)
{
    return quantity_info((enum quantity)(place + (series->other ? Q_REACTIVE_IMPORT : 0)))->name;
}

static int window_find(struct enter_batch *batch, const struct enter_series *series, struct window *window,
                       int64_t start_s, int64_t last_s, const struct enter_row **found)
{
    *found = NULL;
    for (;;) {
        while (window->at < window->count && window->rows[window->at].start_s < start_s)
            window->at++;
        if (window->at < window->count) {
            if (window->rows[window->at].start_s == start_s)
                *found = &window->rows[window->at];
            return ENTER_OK;
        }
        if (window->upto_s > last_s || window->upto_s > start_s)
            return ENTER_OK;
        if (window->upto_s < start_s)
            window->upto_s = start_s;
        if (store_enter_rows(batch->setup.enter, series->meter, series->other, window->upto_s, last_s + 1,
                             false, window->rows, LOOK_AHEAD, &window->count) != STORE_OK)
            return ENTER_FAILED;
        window->at = 0;
        window->upto_s =
            window->count == LOOK_AHEAD ? window->rows[window->count - 1].start_s + 1 : last_s + 1;
    }
}

static void differs(struct enter_batch *batch, const struct waiting *waiting, const struct enter_row *stored)
{
    const struct enter_series *series = &batch->targets[waiting->target].series;
    char at[48], ours[40], theirs[40];
    batch->differing++;
    for (int i = 0; i < ENTER_COUNTERS; i++) {
        int64_t entered = waiting->entered.energy[i];
        if (entered == ENTER_NONE || stored->energy[i] == ENTER_NONE || entered == stored->energy[i])
            continue;
        enter_say(batch->why, batch, waiting->line,
                  "meter %d %s from %s: the record has %s, the file %s, as good; --replace takes the file's",
                  (int)series->meter, counter_name(series, i), stamp_text(batch, at, stored->start_s),
                  enter_energy_text(ours, stored->energy[i]), enter_energy_text(theirs, entered));
        return;
    }
    enter_say(batch->why, batch, waiting->line,
              "meter %d from %s: the record has more of its time observed; --replace takes the file's",
              (int)series->meter, stamp_text(batch, at, stored->start_s));
}

static void misfit(struct enter_batch *batch, const struct waiting *waiting, const struct enter_misfit *m)
{
    const struct enter_series *series = &batch->targets[waiting->target].series;
    char at[48], known[40], entered[40];
    batch->differing++;
    enter_say(
        batch->why, batch, waiting->line,
        "meter %d %s: the gap at %s has %s between its ends, the file puts %s into it; --fit shares out the "
        "difference",
        (int)series->meter, counter_name(series, m->counter), stamp_text(batch, at, waiting->entered.start_s),
        enter_energy_text(known, m->known), enter_energy_text(entered, m->entered));
}

static void tally(struct enter_batch *batch, struct waiting *waiting, const struct enter_row *stored,
                  enum enter_verdict verdict)
{
    struct target *target = &batch->targets[waiting->target];
    waiting->verdict = verdict;
    waiting->stands = verdict == ENTER_EQUAL || verdict == ENTER_LOWER || verdict == ENTER_DIFFERS;
    target->counts.rows[verdict]++;
    if (verdict == ENTER_DIFFERS && stored)
        differs(batch, waiting, stored);
}

int enter_write(struct enter_batch *batch, struct target *target, const struct enter_limits *limits,
                const struct enter_row *row, bool insert)
{
    const struct enter_series *series = &target->series;
    int64_t day = civil_day_of(batch->setup.civil, row->start_s);
    target->changed++;
    if (row->start_s < target->from_s)
        target->from_s = row->start_s;
    if (row->start_s > target->last_s)
        target->last_s = row->start_s;
    if (day > target->last_day) {
        int64_t end_s = civil_day_start(batch->setup.civil, day + 1);
        target->last_day = day;
        target->counts.days += end_s <= limits->frontier_s;
    }
    if (batch->setup.trial)
        return ENTER_OK;
    int result = insert ? store_enter_insert(batch->setup.enter, series->meter, series->other, row)
                        : store_enter_update(batch->setup.enter, series->meter, series->other, row);
    return result == STORE_OK ? ENTER_OK : ENTER_FAILED;
}

static int settle_runs(struct enter_batch *batch, const struct target *target)
{
    const struct enter_series *series = &target->series;
    const struct enter_gap_rows *gap = &batch->gap;
    int32_t first = series->other ? Q_REACTIVE_IMPORT : Q_ACTIVE_IMPORT;
    for (int i = 0; i < ENTER_COUNTERS && first + i < COUNTER_COUNT; i++)
        if (store_enter_settle(batch->setup.enter, series->meter, first + i, i, gap->rows, gap->result,
                               gap->count) != STORE_OK)
            return ENTER_FAILED;
    return ENTER_OK;
}

/* Over a long span only the sum was entered. Where the record has that sum, in a
 * better shape than the even one, it holds what the file says. */
static int recognise(struct enter_batch *batch, struct waiting *waiting, const struct enter_row *stored)
{
    struct enter_row *entered = &waiting->entered;
    int32_t meter = batch->targets[waiting->target].series.meter;
    if (entered->span_to_s == 0 || (stored->how & HOW_SHAPED) == 0 ||
        (stored->how & HOW_METHOD_MASK) != (entered->how & HOW_METHOD_MASK))
        return ENTER_OK;
    if (batch->summed.meter != meter || batch->summed.from_s != entered->span_from_s ||
        batch->summed.to_s != entered->span_to_s) {
        batch->summed = (struct enter_span){ meter, entered->span_from_s, entered->span_to_s };
        for (int c = 0; c < 2; c++)
            if (store_sum(batch->setup.store, meter, c, entered->span_from_s, entered->span_to_s,
                          &batch->sum[c]) != STORE_OK)
                return ENTER_FAILED;
    }
    int64_t count = (entered->span_to_s - entered->span_from_s) /
                    enter_grid_length(&batch->setup.grid, entered->span_from_s);
    for (int c = 0; c < 2; c++)
        if (entered->energy[c] != ENTER_NONE && stored->energy[c] != ENTER_NONE &&
            llabs(entered->energy[c] * count - batch->sum[c]) > count)
            return ENTER_OK;
    for (int c = 0; c < 2; c++)
        if (entered->energy[c] != ENTER_NONE && stored->energy[c] != ENTER_NONE)
            entered->energy[c] = stored->energy[c];
    entered->estimated = stored->estimated;
    entered->how |= HOW_SHAPED;
    return ENTER_OK;
}

/* Rows of one target that lie in a gap of the collector's account: all that
 * wait for it at once. Returns with *next behind the last of them. */
static int enter_gap(struct enter_batch *batch, int32_t target_at, const struct enter_limits *limits,
                     int32_t first, int32_t *next)
{
    struct target *target = &batch->targets[target_at];
    struct enter_gap_rows *rows = &batch->gap;
    int64_t length_s = enter_grid_length(&batch->setup.grid, batch->rows[first].entered.start_s);
    if (enter_gap_read(rows, batch->setup.enter, &target->series, batch->rows[first].entered.start_s,
                       length_s, limits) != 0)
        return ENTER_FAILED;
    int64_t end_s = rows->rows[rows->count - 1 - rows->last_edge].start_s;
    for (*next = first; *next < batch->count && (batch->rows[*next].target != target_at ||
                                                 batch->rows[*next].entered.start_s <= end_s);
         ++*next)
        if (batch->rows[*next].target != target_at)
            continue;
        else if (batch->rows[*next].entered.lacking_s > 0)
            tally(batch, &batch->rows[*next], NULL, ENTER_LOWER);
        else
            enter_gap_offer(rows, &batch->rows[*next].entered, *next);
    for (int32_t i = 0; i < rows->count; i++)
        if (rows->entered[i] && recognise(batch, &batch->rows[rows->waiting[i]], &rows->rows[i]) != ENTER_OK)
            return ENTER_FAILED;
    struct enter_gap gap = { .count = rows->count,
                             .first_edge = rows->first_edge,
                             .last_edge = rows->last_edge,
                             .stored = rows->rows,
                             .entered = rows->entered,
                             .length_s = length_s,
                             .fit = batch->setup.fit,
                             .replace = batch->setup.replace };
    for (int i = 0; i < ENTER_COUNTERS; i++)
        gap.tolerance[i] = limits->step[i];
    for (int32_t i = 0; i < target->series.count; i++)
        gap.tolerance[target->series.counters[i] - (target->series.other ? Q_REACTIVE_IMPORT : 0)] +=
            target->series.runs[i].step;
    struct enter_misfit m;
    if (!enter_into_gap(&gap, rows->result, rows->verdict, &m)) {
        misfit(batch, &batch->rows[first], &m);
        return ENTER_OK;
    }
    int result = ENTER_OK;
    for (int32_t i = 0; i < rows->count; i++)
        if (rows->entered[i])
            tally(batch, &batch->rows[rows->waiting[i]], &rows->rows[i], rows->verdict[i]);
    for (int32_t i = 0; i < rows->count && result == ENTER_OK; i++) {
        bool refused = rows->verdict[i] == ENTER_EQUAL || rows->verdict[i] == ENTER_DIFFERS;
        if (rows->entered[i])
            batch->rows[rows->waiting[i]].stands = true; /* written here */
        else
            target->counts.spread += !refused;
        if (!refused && rows->verdict[i] != ENTER_LOWER)
            result = enter_write(batch, target, limits, &rows->result[i], false);
        else
            rows->result[i] = rows->rows[i];
    }
    return result == ENTER_OK && !batch->setup.trial ? settle_runs(batch, target) : result;
}

/* The row in which the collector's account began: what the entered register
 * counted in it before is added, and its run's account there lowered by it. */
static int join_row(struct enter_batch *batch, struct target *target, struct waiting *waiting,
                    const struct enter_row *stored, const struct enter_limits *limits)
{
    const struct enter_series *series = &target->series;
    struct enter_row result = *stored;
    int64_t length_s = enter_grid_length(&batch->setup.grid, stored->start_s);
    bool done = stored->unobserved_s == 0 || target->joined_before;
    int code = STORE_OK;
    tally(batch, waiting, stored, done ? ENTER_EQUAL : ENTER_COMPLETED);
    waiting->stands = true;
    if (done)
        return ENTER_OK;
    for (int32_t i = 0; i < series->count && code == STORE_OK; i++) {
        int c = series->counters[i], place = c - (series->other ? Q_REACTIVE_IMPORT : 0);
        struct enter_join join;
        int found = store_enter_join(batch->setup.enter, series->meter, c, &join);
        if (found < 0)
            return ENTER_FAILED;
        if (found == 0 || stored->energy[place] == ENTER_NONE)
            continue;
        result.energy[place] += waiting->entered.energy[place];
        if (!batch->setup.trial)
            code = store_enter_lower(batch->setup.enter, join.run, waiting->entered.energy[place]);
    }
    if (code != STORE_OK)
        return ENTER_FAILED;
    result.estimated += waiting->entered.estimated;
    if (result.estimated > 0 && (result.how & HOW_METHOD_MASK) == HOW_MEASURED)
        result.how |= HOW_INTERPOLATED;
    /* Each saw what the other did not, or nobody did. */
    result.unobserved_s += waiting->entered.unobserved_s - length_s;
    if (result.unobserved_s < 0)
        result.unobserved_s = 0;
    return enter_write(batch, target, limits, &result, false);
}

int enter_judge(struct enter_batch *batch, int32_t target_at, const struct enter_limits *limits,
                struct window *window, int64_t last_s, int32_t at, int32_t *next)
{
    struct target *target = &batch->targets[target_at];
    struct waiting *waiting = &batch->rows[at];
    const struct enter_row *stored;
    int64_t start_s = waiting->entered.start_s;
    int64_t length_s = enter_grid_length(&batch->setup.grid, start_s);
    *next = at + 1;
    if (start_s + length_s > limits->frontier_s) {
        target->counts.beyond++;
        return ENTER_OK;
    }
    int result = window_find(batch, &target->series, window, start_s, last_s, &stored);
    if (result == ENTER_OK && stored)
        result = recognise(batch, waiting, stored);
    if (result != ENTER_OK)
        return result;
    if (start_s < limits->live_s) {
        enum enter_verdict verdict =
            enter_merge(stored, &waiting->entered, length_s, batch->setup.replace, &waiting->result);
        waiting->result.start_s = start_s;
        tally(batch, waiting, stored, verdict);
        return ENTER_OK;
    }
    if (!stored) {
        target->counts.absent++;
        return ENTER_OK;
    }
    if (target->joined && start_s == limits->live_s)
        return join_row(batch, target, waiting, stored, limits);
    if (enter_rank(stored, length_s) == RANK_MEASURED || waiting->entered.lacking_s > 0) {
        tally(batch, waiting, stored, ENTER_LOWER);
        return ENTER_OK;
    }
    return enter_gap(batch, target_at, limits, at, next);
}
