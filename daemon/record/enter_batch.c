#include <stdlib.h>
#include <string.h>

#include "enter_private.h"

struct enter_batch *enter_batch_create(const struct enter_setup *setup)
{
    struct enter_batch *batch = calloc(1, sizeof *batch);
    if (batch)
        batch->setup = *setup;
    return batch;
}

void enter_batch_destroy(struct enter_batch *batch)
{
    if (batch) {
        enter_gap_free(&batch->gap);
        free(batch->spans);
    }
    free(batch);
}

static int flush(struct enter_batch *batch);

/* Without memory a span keeps its even shape. */
static void note_span(struct enter_batch *batch, int32_t meter, const struct enter_row *row)
{
    struct enter_span span = { meter, row->span_from_s, row->span_to_s };
    const struct enter_span *last = batch->span_count > 0 ? &batch->spans[batch->span_count - 1] : NULL;
    if (row->span_to_s == 0 || (last && last->meter == meter && last->from_s == span.from_s))
        return;
    if (!batch->spans || batch->span_count == batch->span_room) {
        int32_t room = batch->span_room > 0 ? 2 * batch->span_room : 64;
        struct enter_span *more = realloc(batch->spans, (size_t)room * sizeof *more);
        if (!more)
            return;
        batch->spans = more;
        batch->span_room = room;
    }
    batch->spans[batch->span_count++] = span;
}

static int take_row(void *self, struct enter_series *series, const struct enter_row *row)
{
    struct enter_batch *batch = self;
    struct waiting *waiting = &batch->rows[batch->count++];
    waiting->target = (int32_t)((struct target *)series - batch->targets);
    waiting->line = series->line;
    waiting->entered = *row;
    waiting->stands = true;
    note_span(batch, series->meter, row);
    return batch->count == ENTER_BATCH ? flush(batch) : ENTER_OK;
}

static int take_rejected(void *self, struct enter_series *series, const struct reading *reading, int32_t i)
{
    struct enter_batch *batch = self;
    char value[40], last[40];
    int c = series->counters[i];
    enter_say(batch->rejected, batch, (int64_t)reading->counter[c].raw,
              "meter %d %s: %s after %s %s is out of line and was left out", (int)series->meter,
              quantity_info((enum quantity)c)->name, enter_energy_text(value, reading->counter[c].value),
              enter_energy_text(last, series->check.last[c].value), quantity_info((enum quantity)c)->unit);
    return ENTER_OK;
}

static int take_ended(void *self, struct enter_series *series, int32_t i)
{
    struct enter_batch *batch = self;
    int32_t target = (int32_t)((struct target *)series - batch->targets);
    batch->ended[batch->ended_count++] = (struct ended){ target, i, series->runs[i] };
    return batch->ended_count == ENTER_MAX_ENDED ? flush(batch) : ENTER_OK;
}

struct enter_series *enter_batch_series(struct enter_batch *batch, int32_t meter, uint32_t mask,
                                        bool energies, int64_t rated_mw, bool same_register)
{
    if (batch->target_count == ENTER_MAX_SERIES)
        return NULL;
    struct target *target = &batch->targets[batch->target_count++];
    enter_series_init(&target->series, meter, mask, energies, rated_mw, batch->setup.grid,
                      (struct enter_sink){ take_row, take_rejected, take_ended, batch });
    target->same_register = same_register;
    target->last_day = INT64_MIN;
    return &target->series;
}

/* ---- writing ---- */

static int put_runs(struct enter_batch *batch, int32_t target_at)
{
    struct target *target = &batch->targets[target_at];
    const struct enter_series *series = &target->series;
    int result = STORE_OK;
    for (int32_t i = 0; i < batch->ended_count && result == STORE_OK; i++)
        if (batch->ended[i].target == target_at)
            result = store_enter_run(batch->setup.enter, series->meter,
                                     series->counters[batch->ended[i].position], &batch->ended[i].run);
    for (int32_t i = 0; i < series->count && result == STORE_OK; i++)
        result = store_enter_run(batch->setup.enter, series->meter, series->counters[i], &series->runs[i]);
    return result == STORE_OK ? ENTER_OK : ENTER_FAILED;
}

/* Every day from the first to the last changed row that is over: those between
 * come out as they were. */
static int close_days(struct enter_batch *batch, const struct target *target,
                      const struct enter_limits *limits)
{
    const struct civil *civil = batch->setup.civil;
    int64_t last = civil_day_of(civil, target->last_s);
    for (int64_t day = civil_day_of(civil, target->from_s); day <= last; day++) {
        int64_t day_s = civil_day_start(civil, day), end_s = civil_day_start(civil, day + 1);
        if (end_s > limits->frontier_s)
            break;
        if (store_close_day(batch->setup.store, target->series.meter, day, day_s, end_s,
                            enter_grid_length(&batch->setup.grid, day_s)) != STORE_OK)
            return ENTER_FAILED;
    }
    return ENTER_OK;
}

static int write_rows(struct enter_batch *batch, int32_t target_at, const struct enter_limits *limits)
{
    struct target *target = &batch->targets[target_at];
    int result = ENTER_OK;
    for (int32_t i = 0; i < batch->count && result == ENTER_OK; i++) {
        struct waiting *waiting = &batch->rows[i];
        if (waiting->target == target_at && !waiting->stands)
            result = enter_write(batch, target, limits, &waiting->result, waiting->verdict == ENTER_NEW);
    }
    return result;
}

static int flush_target(struct enter_batch *batch, int32_t target_at)
{
    struct target *target = &batch->targets[target_at];
    struct enter_limits limits;
    struct window window = { .upto_s = INT64_MIN };
    int64_t last_s = INT64_MIN;
    for (int32_t i = 0; i < batch->count; i++)
        if (batch->rows[i].target == target_at && batch->rows[i].entered.start_s > last_s)
            last_s = batch->rows[i].entered.start_s;
    target->changed = 0;
    batch->summed = (struct enter_span){ 0 };
    if (last_s == INT64_MIN)
        return ENTER_OK;
    if (store_enter_limits(batch->setup.enter, target->series.meter, target->series.other, &batch->setup.grid,
                           &limits) != STORE_OK)
        return ENTER_FAILED;
    target->from_s = INT64_MAX;
    target->last_s = INT64_MIN;
    int result = ENTER_OK;
    for (int32_t i = 0, next; i < batch->count && result == ENTER_OK; i = next) {
        next = i + 1;
        if (batch->rows[i].target == target_at)
            result = enter_judge(batch, target_at, &limits, &window, last_s, i, &next);
    }
    if (result == ENTER_OK && batch->differing > 0 && !batch->setup.trial)
        result = ENTER_REFUSED;
    if (result == ENTER_OK)
        result = write_rows(batch, target_at, &limits);
    if (result != ENTER_OK || target->changed == 0 || batch->setup.trial)
        return result;
    result = put_runs(batch, target_at);
    return result == ENTER_OK ? close_days(batch, target, &limits) : result;
}

/* Before its own first row the derived grid meter follows what was entered for
 * its sides; from there on the collector nets. */
static int derive(struct enter_batch *batch)
{
    int64_t from_s = INT64_MAX, to_s = INT64_MIN, count;
    struct enter_limits limits;
    struct target derived = { .series = { .meter = METER_DERIVED } };
    for (int32_t t = 0; t < batch->target_count; t++) {
        const struct target *target = &batch->targets[t];
        if (target->changed == 0 || target->series.other)
            continue;
        from_s = target->from_s < from_s ? target->from_s : from_s;
        to_s = target->last_s >= to_s ? target->last_s + 1 : to_s;
    }
    if (from_s >= to_s ||
        store_enter_limits(batch->setup.enter, METER_DERIVED, false, &batch->setup.grid, &limits) != STORE_OK)
        return from_s >= to_s ? ENTER_OK : ENTER_FAILED;
    int64_t end_s = limits.live_s < limits.frontier_s ? limits.live_s : limits.frontier_s;
    to_s = to_s < end_s ? to_s : end_s;
    if (from_s >= to_s)
        return ENTER_OK;
    if (store_enter_derive(batch->setup.enter, from_s, to_s, &count) != STORE_OK)
        return ENTER_FAILED;
    derived.from_s = from_s;
    derived.last_s = to_s - 1;
    return count > 0 ? close_days(batch, &derived, &limits) : ENTER_OK;
}

static int flush(struct enter_batch *batch)
{
    int result = ENTER_OK;
    if (!batch->setup.trial && store_begin(batch->setup.store) != STORE_OK)
        return ENTER_FAILED;
    for (int32_t t = 0; t < batch->target_count && result == ENTER_OK; t++)
        result = flush_target(batch, t);
    if (result == ENTER_OK && !batch->setup.trial)
        result = derive(batch);
    if (!batch->setup.trial) {
        if (result != ENTER_OK)
            store_rollback(batch->setup.store);
        else if (store_commit(batch->setup.store) != STORE_OK)
            result = ENTER_FAILED;
    }
    batch->count = batch->ended_count = 0;
    return result;
}

/* ---- the same register ---- */

/* The collector's first reading, as one more of the file. Without one there is
 * nothing to join. */
static int ask_join(struct enter_batch *batch, struct target *target)
{
    target->asked = true;
    target->join.boot_ms = INT64_MAX;
    for (int32_t i = 0; i < target->series.count; i++) {
        struct enter_join join;
        int c = target->series.counters[i];
        int found = store_enter_join(batch->setup.enter, target->series.meter, c, &join);
        if (found < 0)
            return ENTER_FAILED;
        if (found == 0)
            continue;
        target->join.boot_ms = join.from_ms;
        target->join.counter[c] = (struct counter_reading){ .value = join.first, .step = join.step };
        target->joined_before = target->joined_before || join.base < join.first;
    }
    return ENTER_OK;
}

static int join(struct enter_batch *batch, struct target *target)
{
    struct enter_series *series = &target->series;
    char ours[40], theirs[40];
    int c = series->counters[0];
    int64_t line = series->line;
    target->joined = true;
    for (int32_t i = 0; i < series->count; i++)
        target->join.counter[series->counters[i]].raw = (uint64_t)line;
    struct counter_reading last = series->check.last[c];
    int result = enter_series_read(series, &target->join, false);
    if (result != ENTER_OK || series->check.held_count == 0)
        return result;
    batch->differing++;
    enter_say(batch->why, batch, line,
              "meter %d %s: the collector's first reading %s does not follow from %s: not the same register",
              (int)series->meter, quantity_info((enum quantity)c)->name,
              enter_energy_text(ours, target->join.counter[c].value), enter_energy_text(theirs, last.value));
    return batch->setup.trial ? ENTER_OK : ENTER_REFUSED;
}

int enter_batch_read(struct enter_batch *batch, struct enter_series *series, const struct reading *reading,
                     bool begins)
{
    struct target *target = (struct target *)series;
    int result = ENTER_OK;
    if (target->same_register && !target->asked)
        result = ask_join(batch, target);
    if (result != ENTER_OK || !target->same_register || reading->boot_ms < target->join.boot_ms)
        return result == ENTER_OK ? enter_series_read(series, reading, begins) : result;
    target->counts.beyond++;
    return target->joined || series->readings == 0 ? ENTER_OK : join(batch, target);
}

int enter_batch_finish(struct enter_batch *batch)
{
    int result = ENTER_OK;
    for (int32_t t = 0; t < batch->target_count && result == ENTER_OK; t++) {
        struct target *target = &batch->targets[t];
        if (target->asked && !target->joined && target->join.boot_ms != INT64_MAX &&
            target->series.readings > 0)
            result = join(batch, target);
        if (result == ENTER_OK)
            result = enter_series_finish(&target->series);
    }
    return result == ENTER_OK ? flush(batch) : result;
}

const struct enter_counts *enter_batch_counts(const struct enter_batch *batch,
                                              const struct enter_series *series)
{
    (void)batch;
    return &((const struct target *)series)->counts;
}

const struct enter_span *enter_batch_spans(const struct enter_batch *batch, int32_t *count)
{
    *count = batch->span_count;
    return batch->spans;
}

int64_t enter_batch_differing(const struct enter_batch *batch)
{
    return batch->differing;
}

const char *enter_batch_why(const struct enter_batch *batch)
{
    return batch->why;
}

const char *enter_batch_rejected(const struct enter_batch *batch)
{
    return batch->rejected;
}
