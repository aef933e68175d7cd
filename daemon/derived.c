/* The derived grid meter within the collector: which meters it nets, its rows,
 * its register runs. */
#include <string.h>

#include "arrangement.h"
#include "collect_state.h"
#include "log.h"
#include "schema.h"

static int delivery_counter(const struct config_meter *meter)
{
    return meter->delivers_by_export ? Q_ACTIVE_EXPORT : Q_ACTIVE_IMPORT;
}

void derived_init(struct collect *collect)
{
    struct derived *derived = &collect->derived;
    const struct config *config = collect->config;
    memset(derived, 0, sizeof *derived);
    net_init(&derived->net, config->site.interval_s * INT64_C(1000));
    derived->used = arrangement_derives(config);
    derived->behind = true;
    for (int32_t i = 0; i < config->meter_count; i++) {
        const struct config_meter *meter = &config->meters[i];
        derived->side_of[i] = -1;
        bool produces = arrangement_produces(config, meter);
        if (!derived->used || (meter->role != ROLE_CONSUMPTION && !produces))
            continue;
        derived->side_of[i] = net_add(&derived->net, meter->number, produces);
        if (derived->side_of[i] < 0)
            continue;
        if (meter->role == ROLE_CONSUMPTION) {
            derived->consumption[derived->consumption_count++] = meter->number;
        } else {
            derived->by_export[derived->production_count] = meter->delivers_by_export;
            derived->production[derived->production_count++] = meter->number;
        }
    }
}

/* What stepping production against consumption hides: flows that turn between
 * two readings, and more where the power register is itself an average.
 * Import derived from an invented household of 20 days at 1 s, r.m.s. of the
 * daily difference (point samples), share that is lost (averages). */
static const struct {
    int64_t up_to_s, sampled, averaged; /* s; per mille */
} doubts[] = { { 10, 2, 2 }, { 60, 8, 54 }, { 300, 47, 96 }, { INT64_MAX, 142, 142 } };

static int64_t doubt(const struct collect *collect)
{
    const struct config *config = collect->config;
    int64_t poll_s = (config->site.poll_period_ms + 999) / 1000, average_s = 0, sampled = 0, averaged = 0;
    for (int32_t i = 0; i < config->meter_count; i++)
        if (collect->derived.side_of[i] >= 0 &&
            config->maps[config->meters[i].map].power_average_s > average_s)
            average_s = config->maps[config->meters[i].map].power_average_s;
    for (size_t i = sizeof doubts / sizeof doubts[0]; i-- > 0;) {
        sampled = poll_s <= doubts[i].up_to_s ? doubts[i].sampled : sampled;
        averaged = average_s > 0 && average_s <= doubts[i].up_to_s ? doubts[i].averaged : averaged;
    }
    return sampled > averaged ? sampled : averaged;
}

/* A site that has a real grid meter now: what that one measured is not derived afterwards. */
static int end_runs(struct collect *collect)
{
    int result = STORE_OK;
    for (int32_t i = 0; i < collect->outbox.ended_count; i++)
        if (collect->outbox.ended[i].meter == METER_DERIVED)
            return STORE_OK; /* noted already */
    for (int c = 0; c <= Q_ACTIVE_EXPORT && result >= 0; c++) {
        struct store_open_run run = { 0 };
        result = store_read_run(collect->store, METER_DERIVED, c, collect->config->site.interval_s, &run);
        struct store_run over = { .id = run.id, .meter = METER_DERIVED, .counter = c, .ended = "settings" };
        over.to_ms = run.frontier_s * 1000;
        over.last = run.account;
        if (result == 1)
            outbox_end_run(collect, &over, 0);
    }
    return result < 0 ? result : STORE_OK;
}

/* A derived meter that is new begins with the rows that its sides do not have
 * yet: where the first of them stands. */
static int find_begin(struct collect *collect)
{
    int result = STORE_OK;
    collect->started_s = collect->newest_s;
    for (int32_t i = 0; i < collect->config->meter_count && result == STORE_OK; i++) {
        int64_t end_s;
        if (collect->derived.side_of[i] < 0)
            continue;
        result = store_newest(collect->store, collect->config->meters[i].number,
                              collect->config->site.interval_s, &end_s);
        if (result == STORE_OK && end_s > 0 && end_s < collect->started_s)
            collect->started_s = end_s;
    }
    return result;
}

int derived_resume(struct collect *collect)
{
    struct derived *derived = &collect->derived;
    if (!derived->used)
        return end_runs(collect);
    if (collect->started_s == 0) {
        int result = find_begin(collect);
        if (result != STORE_OK)
            return result;
    }
    for (int c = 0; c <= Q_ACTIVE_EXPORT; c++) {
        struct store_open_run run;
        int result = store_read_run(collect->store, METER_DERIVED, c, collect->config->site.interval_s, &run);
        if (result < 0)
            return result;
        derived->runs[c] =
            (struct store_run){ .meter = METER_DERIVED, .counter = c, .step = 1, .began = "derived" };
        if (result == 0)
            continue;
        derived->runs[c].id = run.id;
        derived->account[c] = run.account;
        derived->frontier_s = run.frontier_s;
    }
    if (derived->frontier_s > 0)
        derived->next_midnight_s =
            civil_day_start(collect->civil, civil_day_of(collect->civil, derived->frontier_s) + 1);
    return STORE_OK;
}

static int32_t position(const struct meter *meter)
{
    int counter = meter->config->role == ROLE_CONSUMPTION ? Q_ACTIVE_IMPORT : delivery_counter(meter->config);
    return series_position(&meter->series[SERIES_ACTIVE], counter);
}

void derived_now(struct collect *collect, const struct meter *meter, const int64_t account[])
{
    int32_t i = position(meter);
    if (i >= 0)
        net_now(&collect->derived.net, collect->derived.side_of[meter->index], account[i]);
}

void derived_step(struct collect *collect)
{
    if (collect->derived.used && collect->date.trusted)
        net_step(&collect->derived.net);
}

/* What the rows that make this one had to have filled, and missed. */
static void look_at_sides(const struct collect *collect, struct store_row *row)
{
    for (int32_t i = 0; i < collect->outbox.row_count; i++) {
        const struct waiting_row *waiting = &collect->outbox.rows[i];
        const struct store_row *side = &waiting->row;
        if (waiting->meter < 0 || waiting->which != SERIES_ACTIVE || side->start_s != row->start_s ||
            collect->derived.side_of[waiting->meter] < 0)
            continue;
        row->estimated += side->estimated;
        row->how |= side->how & ~HOW_METHOD_MASK;
        row->unobserved_s = side->unobserved_s > row->unobserved_s ? side->unobserved_s : row->unobserved_s;
    }
    if (row->estimated > 0)
        row->how |= HOW_INTERPOLATED;
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

void derived_crossed(struct collect *collect, const struct meter *meter, const struct book_row *row)
{
    struct derived *derived = &collect->derived;
    struct net_row netted;
    int32_t i = position(meter);
    if (!derived->used || i < 0 || derived->side_of[meter->index] < 0)
        return;
    bool complete = net_cross(&derived->net, derived->side_of[meter->index],
                              meter->series[SERIES_ACTIVE].book.frontier_ms, row->account[i], &netted);
    if (!derived->net.live)
        derived->behind = true;
    /* Rows before a live one that were not netted live come from the record first. */
    if (!complete || collect->outbox.row_count == OUTBOX_ROWS)
        return;
    struct store_row derived_row = { .start_s = netted.start_ms / 1000,
                                     .meter = METER_DERIVED,
                                     .counts = true,
                                     .energy = { netted.import, netted.export },
                                     .how = HOW_MEASURED,
                                     .power = STORE_NULL,
                                     .power_min = STORE_NULL,
                                     .power_max = STORE_NULL,
                                     .voltage = STORE_NULL };
    look_at_sides(collect, &derived_row);
    derived_row.estimated = least(derived_row.estimated, netted.import + netted.export);
    collect->outbox.rows[collect->outbox.row_count++] =
        (struct waiting_row){ .which = SERIES_ACTIVE, .meter = -1, .row = derived_row };
}

static int put_runs(struct collect *collect, int64_t first_s)
{
    struct derived *derived = &collect->derived;
    int result = STORE_OK;
    for (int c = 0; c <= Q_ACTIVE_EXPORT && result == STORE_OK; c++) {
        if (derived->runs[c].id != 0)
            continue;
        derived->runs[c].factor = 0;
        derived->runs[c].from_ms = first_s * 1000;
        derived->runs[c].base_s = first_s;
        derived->runs[c].doubt = doubt(collect);
        result = store_put_run(collect->store, &derived->runs[c]);
    }
    return result;
}

/* Adds up what was stored since the last commit and closes the days it completed. */
static int follow(struct collect *collect, int64_t end_s)
{
    struct derived *derived = &collect->derived;
    int result = STORE_OK;
    for (int c = 0; c <= Q_ACTIVE_EXPORT && result == STORE_OK; c++) {
        int64_t sum;
        result = store_sum(collect->store, METER_DERIVED, c, derived->frontier_s, end_s, &sum);
        derived->account[c] += result == STORE_OK ? sum : 0;
    }
    derived->frontier_s = end_s;
    while (result == STORE_OK && derived->next_midnight_s <= end_s) {
        int64_t day = civil_day_of(collect->civil, derived->next_midnight_s - 1);
        result = store_close_day(collect->store, METER_DERIVED, day, civil_day_start(collect->civil, day),
                                 derived->next_midnight_s, collect->config->site.interval_s);
        for (int c = 0; c <= Q_ACTIVE_EXPORT && result == STORE_OK; c++)
            result = store_move_anchor(collect->store, derived->runs[c].id, end_s, derived->account[c]);
        derived->next_midnight_s =
            civil_day_start(collect->civil, civil_day_of(collect->civil, derived->next_midnight_s) + 1);
    }
    return result;
}

int derived_commit(struct collect *collect)
{
    struct derived *derived = &collect->derived;
    int64_t end_s = 0;
    if (!derived->used)
        return STORE_OK;
    int result = STORE_OK;
    int64_t from_s = derived->frontier_s > 0 ? derived->frontier_s : collect->started_s;
    if (derived->behind)
        result = store_derive(collect->store, from_s, collect->config->site.interval_s, derived->consumption,
                              derived->consumption_count, derived->production, derived->by_export,
                              derived->production_count, &end_s);
    else
        result = store_newest(collect->store, METER_DERIVED, collect->config->site.interval_s, &end_s);
    if (result != STORE_OK || end_s <= derived->frontier_s)
        return result;
    if (derived->frontier_s == 0) {
        int64_t first_s;
        result = store_oldest(collect->store, METER_DERIVED, from_s, &first_s);
        if (result != STORE_OK)
            return result;
        derived->frontier_s = first_s;
        derived->next_midnight_s = civil_day_start(collect->civil, civil_day_of(collect->civil, first_s) + 1);
    }
    result = put_runs(collect, derived->frontier_s);
    if (result == STORE_OK)
        result = follow(collect, end_s);
    if (result == STORE_OK && derived->net.live)
        derived->behind = false;
    return result;
}
