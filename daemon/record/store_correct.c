/* Rows corrected block by block: read as measured, corrected in memory, written beside. */
#include "store_correct.h"

#include <string.h>

#include "schema.h"
#include "store_private.h"

#define BLOCK_S INT64_C(86400)

enum {
    /* That cover one block; an exchange may reach further than the logbook knows. */
    MOST_CORRECTIONS = LOGBOOK_MOST_CORRECTIONS + CONFIG_MAX_METERS,
    MOST_METERS = CONFIG_MAX_METERS + 1,
    LONGEST_S = 3600,
};

struct side {
    int32_t meter, sign;
    bool by_export;
};

/* All meters in one interval. */
struct instant_rows {
    int64_t start_s;
    int32_t count;
    int32_t meter[MOST_METERS];
    int64_t by[MOST_METERS]; /* correction that changed the row last; 0 none */
    struct correct_row row[MOST_METERS];
};

struct block {
    struct store *store;
    int64_t number, from_s, to_s;
    int32_t count, side_count;
    struct correction corrections[MOST_CORRECTIONS];
    int64_t before[MOST_CORRECTIONS][COUNTER_COUNT]; /* seen up to the block */
    struct side sides[MOST_METERS];
    struct instant_rows at;
};

static sqlite3_stmt *prepare(struct store *store, enum statement which, const int64_t values[], int count)
{
    sqlite3_stmt *s = store_statement(store, which);
    for (int i = 0; i < count; i++)
        sqlite3_bind_int64(s, i + 1, values[i]);
    return s;
}

static int run(struct store *store, enum statement which, const int64_t values[], int count)
{
    return store_run_statement(store, prepare(store, which, values, count));
}

static int64_t column(sqlite3_stmt *s, int i)
{
    return sqlite3_column_type(s, i) == SQLITE_NULL ? CORRECT_NONE : sqlite3_column_int64(s, i);
}

/* ---- what a block needs ---- */

const char *const correction_names[CORRECT_KINDS + 1] = { [CORRECT_RATIO] = "ratio",
                                                          [CORRECT_EXCHANGED] = "exchanged",
                                                          [CORRECT_SWAPPED] = "swapped",
                                                          [CORRECT_ADDED] = "exchange" };

static int32_t what_of(const char *name)
{
    int32_t what = 0;
    while (correction_names[what] && strcmp(correction_names[what], name) != 0)
        what++;
    return what;
}

static int end_of(struct store *store, sqlite3_stmt *s, int code)
{
    int result = code == SQLITE_DONE || code == SQLITE_ROW ? STORE_OK : store_fail(store, code);
    sqlite3_reset(s);
    return result;
}

static int read_corrections(struct block *block)
{
    const int64_t span[2] = { block->from_s, block->to_s };
    sqlite3_stmt *s = prepare(block->store, BLOCK_CORRECTIONS, span, 2);
    int code = SQLITE_DONE;
    while (block->count < MOST_CORRECTIONS && (code = sqlite3_step(s)) == SQLITE_ROW)
        block->corrections[block->count++] = (struct correction){
            .id = sqlite3_column_int64(s, 0),
            .what = what_of(store_text(s, 1)),
            .meter = sqlite3_column_int(s, 2),
            .other = sqlite3_column_int(s, 3),
            .from_s = sqlite3_column_int64(s, 4),
            .to_s = sqlite3_column_int64(s, 5),
            .up = sqlite3_column_int64(s, 6),
            .down = sqlite3_column_int64(s, 7),
            .added = { column(s, 8), column(s, 9) },
        };
    return end_of(block->store, s, code);
}

static int read_sides(struct block *block)
{
    sqlite3_stmt *s = store_statement(block->store, DERIVED_SIDES);
    int code = SQLITE_DONE;
    while (block->side_count < MOST_METERS && (code = sqlite3_step(s)) == SQLITE_ROW)
        block->sides[block->side_count++] = (struct side){
            .meter = sqlite3_column_int(s, 0),
            .sign = sqlite3_column_int(s, 1),
            .by_export = sqlite3_column_int(s, 2) != 0,
        };
    return end_of(block->store, s, code);
}

/* Six sums by counter; 0 where there are none. */
static int read_seen(struct block *block, enum statement which, int64_t correction,
                     int64_t seen[COUNTER_COUNT])
{
    const int64_t key[2] = { correction, block->number };
    sqlite3_stmt *s = prepare(block->store, which, key, 2);
    int found = store_fetch(block->store, s);
    for (int c = 0; c < COUNTER_COUNT; c++)
        seen[c] = found == 1 ? sqlite3_column_int64(s, c) : 0;
    sqlite3_reset(s);
    return found < 0 ? found : STORE_OK;
}

static int read_all_seen(struct block *block)
{
    int result = STORE_OK;
    for (int32_t i = 0; i < block->count && result == STORE_OK; i++) {
        if (block->corrections[i].what == CORRECT_RATIO)
            result = read_seen(block, SEEN_BEFORE, block->corrections[i].id, block->before[i]);
        memcpy(block->corrections[i].seen, block->before[i], sizeof block->before[i]);
    }
    return result;
}

/* Where a ratio saw more or less than at the last time, what follows is rounded otherwise. */
static int put_all_seen(struct block *block)
{
    int result = STORE_OK;
    for (int32_t i = 0; i < block->count && result == STORE_OK; i++) {
        const struct correction *correction = &block->corrections[i];
        int64_t stored[COUNTER_COUNT], values[2 + COUNTER_COUNT] = { correction->id, block->number };
        if (correction->what != CORRECT_RATIO)
            continue;
        result = read_seen(block, SEEN_IN, correction->id, stored);
        for (int c = 0; c < COUNTER_COUNT; c++)
            values[2 + c] = correction->seen[c] - block->before[i][c];
        if (result != STORE_OK || memcmp(stored, values + 2, sizeof stored) == 0)
            continue;
        result = run(block->store, PUT_SEEN, values, 2 + COUNTER_COUNT);
        if (result == STORE_OK)
            result = run(block->store, MARK_LATER, values, 2);
    }
    return result;
}

/* ---- one interval ---- */

static struct correct_row *row_of(struct instant_rows *at, int32_t meter, int32_t *index)
{
    for (int32_t i = 0; i < at->count; i++)
        if (at->meter[i] == meter) {
            *index = i;
            return &at->row[i];
        }
    return NULL;
}

/* How long the interval is matters only where the edge of a correction may cut it. */
static int length_at(const struct block *block, int64_t start_s, int64_t *length_s)
{
    bool near = false;
    *length_s = 1;
    for (int32_t i = 0; i < block->count; i++) {
        int64_t covered = correct_covers(&block->corrections[i], start_s, LONGEST_S);
        near = near || (covered > 0 && covered < LONGEST_S);
    }
    if (!near)
        return STORE_OK;
    sqlite3_stmt *s = prepare(block->store, LENGTH_AT, &start_s, 1);
    int found = store_fetch(block->store, s);
    int64_t length = found == 1 ? sqlite3_column_int64(s, 0) : LONGEST_S;
    sqlite3_reset(s);
    *length_s = length - start_s % length; /* rows end on the grid */
    return found < 0 ? found : STORE_OK;
}

/* Consumption and production of an interval as corrected; false where a side has no row, or none was
 * corrected. *by: a correction that was. */
static bool add_sides(const struct block *block, int64_t *consumption, int64_t *production, int64_t *by)
{
    const struct instant_rows *at = &block->at;
    *consumption = *production = *by = 0;
    for (int32_t k = 0; k < block->side_count; k++) {
        const struct side *side = &block->sides[k];
        int32_t i = 0;
        while (i < at->count && at->meter[i] != side->meter)
            i++;
        int64_t energy = i < at->count
                             ? at->row[i].energy[side->by_export ? Q_ACTIVE_EXPORT : Q_ACTIVE_IMPORT]
                             : CORRECT_NONE;
        if (energy == CORRECT_NONE)
            return false;
        *(side->sign > 0 ? consumption : production) += energy;
        *by = at->by[i] != 0 ? at->by[i] : *by;
    }
    return *by != 0;
}

static int write_rows(struct block *block)
{
    const struct instant_rows *at = &block->at;
    int result = STORE_OK;
    for (int32_t i = 0; i < at->count && result == STORE_OK; i++) {
        const struct correct_row *row = &at->row[i];
        int64_t id = row_id(at->start_s, at->meter[i]);
        if (at->by[i] == 0) {
            result = run(block->store, DROP_CORRECTED, &id, 1);
            continue;
        }
        sqlite3_stmt *s = prepare(block->store, PUT_CORRECTED, &id, 1);
        const int64_t rest[] = { row->estimated, row->unobserved_s, row->how,     row->power,
                                 row->power_min, row->power_max,    row->voltage, at->by[i] };
        for (int c = 0; c < COUNTER_COUNT; c++)
            store_bind(s, 2 + c, row->energy[c]);
        for (int k = 0; k < (int)(sizeof rest / sizeof rest[0]); k++)
            store_bind(s, 2 + COUNTER_COUNT + k, rest[k]);
        result = store_run_statement(block->store, s);
    }
    return result;
}

static int correct_instant(struct block *block)
{
    struct instant_rows *at = &block->at;
    int64_t length_s, consumption, production, by;
    int32_t own = 0, others = 0, derived = 0;
    if (at->count == 0)
        return STORE_OK;
    int result = length_at(block, at->start_s, &length_s);
    if (result != STORE_OK)
        return result;
    for (int32_t i = 0; i < block->count; i++) {
        struct correction *correction = &block->corrections[i];
        struct correct_row *row = row_of(at, correction->meter, &own);
        struct correct_row *other = row_of(at, correction->other, &others);
        if (!row || !correct_apply(correction, at->start_s, length_s, row, other))
            continue;
        at->by[own] = correction->id;
        if (other)
            at->by[others] = correction->id;
    }
    struct correct_row *grid = row_of(at, METER_DERIVED, &derived);
    if (grid && add_sides(block, &consumption, &production, &by)) {
        correct_derive(grid, consumption, production);
        at->by[derived] = by;
    }
    return write_rows(block);
}

static void take_row(struct instant_rows *at, sqlite3_stmt *s, int32_t meter)
{
    struct correct_row *row = &at->row[at->count];
    int64_t *fields[] = { &row->estimated, &row->unobserved_s, &row->how,    &row->power,
                          &row->power_min, &row->power_max,    &row->voltage };
    for (int c = 0; c < COUNTER_COUNT; c++)
        row->energy[c] = column(s, 1 + c);
    for (int k = 0; k < (int)(sizeof fields / sizeof fields[0]); k++)
        *fields[k] = column(s, 1 + COUNTER_COUNT + k);
    at->meter[at->count] = meter;
    at->by[at->count++] = 0;
}

static int correct_rows(struct block *block)
{
    const int64_t span[2] = { block->from_s, block->to_s };
    struct instant_rows *at = &block->at;
    sqlite3_stmt *s = prepare(block->store, BLOCK_ROWS, span, 2);
    int code, result = STORE_OK;
    while (result == STORE_OK && (code = sqlite3_step(s)) == SQLITE_ROW) {
        int64_t id = sqlite3_column_int64(s, 0);
        if (at->count > 0 && at->start_s != id / 1024) {
            result = correct_instant(block);
            at->count = 0;
        }
        at->start_s = id / 1024;
        if (at->count < MOST_METERS)
            take_row(at, s, (int32_t)(id % 1024));
    }
    if (result != STORE_OK) {
        sqlite3_reset(s);
        return result;
    }
    result = end_of(block->store, s, code);
    return result == STORE_OK ? correct_instant(block) : result;
}

/* ---- a block ---- */

static int correct_days(struct block *block)
{
    const int64_t range[4] = { block->from_s, block->to_s, row_id(block->number - 1, 0),
                               row_id(block->number + 2, 0) };
    int result = run(block->store, PUT_CORRECTED_DAYS, range, 4);
    return result == STORE_OK ? run(block->store, DROP_CORRECTED_DAYS, range, 4) : result;
}

int store_correct_block(struct store *store, int64_t number)
{
    struct block block = {
        .store = store, .number = number, .from_s = number * BLOCK_S, .to_s = (number + 1) * BLOCK_S
    };
    const int64_t span[2] = { block.from_s, block.to_s };
    int result = read_corrections(&block);
    if (result == STORE_OK && block.count == 0)
        result = run(store, DROP_BLOCK, span, 2);
    if (result == STORE_OK && block.count > 0) {
        result = read_sides(&block);
        if (result == STORE_OK)
            result = read_all_seen(&block);
        if (result == STORE_OK)
            result = correct_rows(&block);
        if (result == STORE_OK)
            result = put_all_seen(&block);
        if (result == STORE_OK)
            result = run(store, DROP_ORPHANS, span, 2);
    }
    if (result == STORE_OK)
        result = correct_days(&block);
    return result == STORE_OK ? run(store, DROP_DUE, &number, 1) : result;
}

int store_correction_due(struct store *store, int64_t *block)
{
    sqlite3_stmt *s = store_statement(store, NEXT_DUE);
    int found = store_fetch(store, s);
    if (found != 1)
        return found;
    bool due = sqlite3_column_type(s, 0) != SQLITE_NULL;
    *block = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return due;
}

int store_correct_some(struct store *store, int32_t most)
{
    int32_t done = 0;
    int64_t block;
    int found = store_correction_due(store, &block);
    if (found != 1)
        return found;
    if (sqlite3_exec(store->db, "SAVEPOINT correcting", NULL, NULL, NULL) != SQLITE_OK)
        return store_fail(store, sqlite3_errcode(store->db));
    int result = STORE_OK;
    while (done < most && result == STORE_OK && found == 1) {
        result = store_correct_block(store, block);
        done += result == STORE_OK;
        if (result == STORE_OK)
            found = store_correction_due(store, &block);
    }
    result = found < 0 ? found : result;
    if (result != STORE_OK)
        sqlite3_exec(store->db, "ROLLBACK TO correcting", NULL, NULL, NULL);
    sqlite3_exec(store->db, "RELEASE correcting", NULL, NULL, NULL);
    return result == STORE_OK ? done : result;
}
