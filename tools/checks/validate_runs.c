/* Register runs of the record beside the intervals of a span. */
#include <stdlib.h>
#include <string.h>

#include "validate_identity.h"
#include "validate_walk.h"

enum { MS = 1000 };

static bool add_run(struct validate *validate, const struct run_row *run, int32_t *room)
{
    if (validate->run_count == *room) {
        *room = *room ? 2 * *room : 64;
        struct run_row *more = realloc(validate->runs, (size_t)*room * sizeof(*more));
        if (!more)
            return false;
        validate->runs = more;
    }
    validate->runs[validate->run_count++] = *run;
    return true;
}

static bool same_counter(const struct run_row *a, const struct run_row *b)
{
    return a->meter == b->meter && a->counter == b->counter;
}

/* The run after or before another of the same counter; NULL where there is none. */
static const struct run_row *beside(const struct validate *validate, int32_t place, int32_t by)
{
    int32_t other = place + by;
    if (other < 0 || other >= validate->run_count ||
        !same_counter(&validate->runs[place], &validate->runs[other]))
        return NULL;
    return &validate->runs[other];
}

/* Has the run intervals in the span, or ends at its start? */
static bool of_span(const struct validate *validate, int32_t place)
{
    const struct run_row *run = &validate->runs[place], *next = beside(validate, place, 1);
    return run->base_s < validate->to_s && (!next || next->base_s >= validate->from_s);
}

/* What counted before the span. */
static void begin_run(struct validate *validate, int32_t place)
{
    const struct run_row *run = &validate->runs[place], *next = beside(validate, place, 1);
    struct run_check *check = &validate->run_checks[place];
    *check = (struct run_check){ .run = run, .next = next, .anchored = true };
    if (next && next->base_s > validate->to_s)
        check->next = NULL;
    if (run->base_s >= validate->from_s)
        return;
    check->anchored = run->anchor_s > validate->from_s;
    if (check->anchored || check->next)
        check->to_anchor = check->to_next =
            query_counted(validate->query, run->meter, run->counter, run->base_s, validate->from_s);
}

bool validate_runs_read(struct validate *validate)
{
    struct run_row run;
    int32_t room = 0;
    query_runs(validate->query);
    while (query_next_run(validate->query, &run))
        if (run.base_s > 0 && run.counter >= 0 && run.counter < CHECK_COUNTERS && run.meter >= 0 &&
            run.meter < METER_NUMBERS && !add_run(validate, &run, &room))
            return false;
    validate->run_checks = calloc((size_t)validate->run_count + 1, sizeof(*validate->run_checks));
    if (!validate->run_checks)
        return false;
    for (int32_t i = 0; i < validate->run_count; i++) {
        int16_t place = validate->index[validate->runs[i].meter];
        if (place < 0 || !of_span(validate, i))
            continue;
        begin_run(validate, i);
        int32_t *cursor = &validate->meters[place].cursor[validate->runs[i].counter];
        if (*cursor < 0)
            *cursor = i;
    }
    return true;
}

void validate_runs_row(struct validate *validate, struct validate_meter *meter, int32_t counter,
                       int64_t start_s, int64_t energy)
{
    int32_t *cursor = &meter->cursor[counter];
    if (*cursor < 0)
        return;
    for (const struct run_row *next; (next = beside(validate, *cursor, 1)) && next->base_s <= start_s;)
        ++*cursor;
    run_check_add(&validate->run_checks[*cursor], start_s, energy);
}

/* Did somebody write that the meter was exchanged about then? */
static bool is_declared(const struct validate *validate, const struct validate_meter *meter, int64_t at_s)
{
    int64_t day = civil_day_of(validate->civil, at_s);
    for (int32_t i = 0; validate->logbook && i < validate->logbook->count; i++) {
        const struct logbook_entry *entry = &validate->logbook->entries[i];
        if (entry->kind == LOGBOOK_EXCHANGE && !entry->revoked && entry->meter == meter->arranged.number &&
            llabs(civil_day_of(validate->civil, entry->at_s) - day) <= 1)
            return true;
    }
    return false;
}

void validate_runs_end(struct validate *validate)
{
    for (int32_t i = 0; i < validate->run_count; i++) {
        struct run_check *check = &validate->run_checks[i];
        const struct run_row *run = check->run;
        if (!run)
            continue;
        struct validate_meter *meter = &validate->meters[validate->index[run->meter]];
        const struct run_row *before = beside(validate, i, -1), *next = beside(validate, i, 1);
        if (check->anchored && run->anchor_s > validate->to_s)
            check->to_anchor +=
                query_counted(validate->query, run->meter, run->counter, validate->to_s, run->anchor_s);
        run_check_end(check, meter->tallies);
        bool began = run->from_ms >= validate->from_s * MS && run->from_ms < validate->to_s * MS;
        bool newest = !next || next->base_s >= validate->to_s;
        identity_check_run(meter->tallies, run, before, began, newest ? meter->serial : "",
                           is_declared(validate, meter, run->from_ms / MS));
    }
}
