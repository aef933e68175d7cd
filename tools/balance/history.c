#include "history.h"

#include <stdlib.h>
#include <string.h>

/* A later loaded setting replaces every older one from its date on. */
struct dated {
    struct setting_row *rows;
    int32_t count, room;
};

static int64_t start_of(const struct setting_row *row)
{
    return row->from_ms / 1000 + (row->from_ms % 1000 > 0);
}

static int dated_add(struct dated *dated, const struct setting_row *row)
{
    while (dated->count > 0 && dated->rows[dated->count - 1].from_ms >= row->from_ms)
        dated->count--;
    if (dated->count == dated->room) {
        int32_t room = dated->room ? dated->room * 2 : 16;
        struct setting_row *rows = realloc(dated->rows, (size_t)room * sizeof(*rows));
        if (!rows)
            return -1;
        dated->rows = rows;
        dated->room = room;
    }
    dated->rows[dated->count++] = *row;
    return 0;
}

/* Settings without a date hold only where there is no other. */
static int dated_read(struct dated *dated, struct query *query)
{
    struct setting_row row, undated = { 0 };
    query_settings(query);
    while (query_next_setting(query, &row)) {
        if (row.from_ms == UNKNOWN)
            undated = row;
        else if (dated_add(dated, &row) != 0)
            return -1;
    }
    if (dated->count == 0 && undated.id != 0)
        return dated_add(dated, &undated);
    return query_error(query) || dated->count == 0 ? -1 : 0;
}

/* Joins the next setting to the last arrangement where the balance is the same. */
static int history_add(struct history *history, struct query *query, const struct setting_row *row)
{
    struct arrangement *next = &history->arrangements[history->count];
    if (!query_meters(query, row, next))
        return -1;
    if (history->count > 0 && arrangement_same(next - 1, next)) {
        for (int32_t i = 0; i < next->meter_count; i++)
            memcpy(next[-1].meters[i].name, next->meters[i].name, sizeof(next->meters[i].name));
        return 0;
    }
    if (history->count > 0) {
        next->from_s = start_of(row);
        next[-1].to_s = next->from_s;
    }
    history->count++;
    return 0;
}

static void give_slot(struct history *history, struct arranged_meter *meter)
{
    int32_t slot = 0;
    while (slot < history->slot_count && history->slots[slot] != meter->number)
        slot++;
    if (slot == HISTORY_MAX_METERS)
        return;
    history->slots[slot] = meter->number;
    history->slot_count += slot == history->slot_count;
    meter->slot = slot;
}

static void give_slots(struct history *history)
{
    for (int32_t i = 0; i < history->count; i++)
        for (int32_t j = 0; j < history->arrangements[i].meter_count; j++)
            if (history->arrangements[i].meters[j].use != USE_NONE)
                give_slot(history, &history->arrangements[i].meters[j]);
}

int history_read(struct history *history, struct query *query, int64_t from_s, int64_t to_s)
{
    *history = (struct history){ 0 };
    struct dated dated = { 0 };
    int result = dated_read(&dated, query);
    if (result == 0) {
        int32_t first = 0, last = 0;
        while (first + 1 < dated.count && start_of(&dated.rows[first + 1]) <= from_s)
            first++;
        for (last = first; last + 1 < dated.count && start_of(&dated.rows[last + 1]) < to_s;)
            last++;
        history->arrangements = calloc((size_t)last - (size_t)first + 1, sizeof(*history->arrangements));
        if (!history->arrangements)
            result = -1;
        for (int32_t i = first; result == 0 && i <= last; i++)
            result = history_add(history, query, &dated.rows[i]);
    }
    free(dated.rows);
    if (result == 0)
        give_slots(history);
    return result;
}

static void keep_meter(struct arrangement *arrangement, int32_t number)
{
    int32_t kept = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        struct arranged_meter *meter = &arrangement->meters[i];
        if (meter->number != number || (number == METER_DERIVED && meter->use == USE_NONE))
            continue;
        meter->use = USE_GRID;
        meter->only_compared = false;
        arrangement->meters[kept++] = *meter;
    }
    memset(arrangement->count, 0, sizeof(arrangement->count));
    arrangement->meter_count = arrangement->count[USE_GRID] = kept;
    arrangement->derived = arrangement->from_parts = false;
    arrangement_list_used(arrangement);
}

void history_keep(struct history *history, int32_t meter)
{
    int32_t count = 0;
    for (int32_t i = 0; i < history->count; i++) {
        struct arrangement *next = &history->arrangements[i];
        keep_meter(next, meter);
        if (count > 0 && arrangement_same(&history->arrangements[count - 1], next))
            next->from_s = history->arrangements[--count].from_s; /* under the newest name */
        history->arrangements[count++] = *next;
    }
    history->count = count;
    history->slot_count = 0;
    give_slots(history);
}

void history_free(struct history *history)
{
    free(history->arrangements);
    *history = (struct history){ 0 };
}

const struct arrangement *history_at(const struct history *history, int64_t start_s, int32_t *hint)
{
    if (*hint >= history->count || history->arrangements[*hint].from_s > start_s)
        *hint = 0;
    while (*hint + 1 < history->count && history->arrangements[*hint].to_s <= start_s)
        ++*hint;
    return &history->arrangements[*hint];
}

bool history_uses(const struct arranged_meter *meter, unsigned sealed)
{
    unsigned terms = use_terms(meter->use);
    return meter->slot >= 0 && !meter->only_compared && sealed != TERMS_ALL && !(terms & sealed);
}

int64_t history_used_s(const struct history *history, int32_t slot, unsigned sealed, int64_t from_s,
                       int64_t to_s)
{
    int64_t used = 0;
    for (int32_t i = 0; i < history->count; i++) {
        const struct arrangement *arrangement = &history->arrangements[i];
        int64_t from = arrangement->from_s > from_s ? arrangement->from_s : from_s;
        int64_t to = arrangement->to_s < to_s ? arrangement->to_s : to_s;
        for (int32_t j = 0; from < to && j < arrangement->meter_count; j++)
            if (arrangement->meters[j].slot == slot && history_uses(&arrangement->meters[j], sealed))
                used += to - from;
    }
    return used;
}

struct meter_range history_range(const struct history *history)
{
    struct meter_range range = { INT32_MAX, 0 };
    for (int32_t slot = 0; slot < history->slot_count; slot++) {
        range.first = history->slots[slot] < range.first ? history->slots[slot] : range.first;
        range.last = history->slots[slot] > range.last ? history->slots[slot] : range.last;
    }
    return range;
}
