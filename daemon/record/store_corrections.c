/* Which corrections are in force. */
#include <stdio.h>
#include <string.h>

#include "store_correct.h"
#include "store_private.h"

int store_nearest_change(struct store *store, int32_t meter, int32_t counter, int64_t at_ms,
                         struct store_change *change)
{
    sqlite3_stmt *s = store_statement(store, NEAREST_CHANGE);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, counter);
    sqlite3_bind_int64(s, 3, at_ms);
    int found = store_fetch(store, s);
    if (found != 1)
        return found;
    int64_t *fields[] = { &change->last_ms,    &change->last,        &change->step,
                          &change->first_ms,   &change->first,       &change->last_above,
                          &change->last_below, &change->first_above, &change->first_below };
    for (int i = 0; i < (int)(sizeof fields / sizeof fields[0]); i++)
        *fields[i] = sqlite3_column_type(s, i) == SQLITE_NULL ? 1 : sqlite3_column_int64(s, i);
    sqlite3_reset(s);
    return 1;
}

int store_corrections_are(struct store *store, const struct store_correction wanted[], int32_t count)
{
    sqlite3_stmt *s = store_statement(store, CORRECTION_ORDER);
    int found = store_fetch(store, s);
    if (found != 1)
        return found;
    bool none = sqlite3_column_type(s, 0) == SQLITE_NULL;
    bool same = none ? count == 0 : sqlite3_column_int64(s, 0) == count - 1;
    sqlite3_reset(s);
    for (int32_t i = 0; i < count && same; i++) {
        s = store_statement(store, CORRECTION_AT);
        sqlite3_bind_int64(s, 1, i);
        found = store_fetch(store, s);
        if (found < 0)
            return found;
        same = found == 1 && strcmp(store_text(s, 0), wanted[i].hash) == 0;
        sqlite3_reset(s);
    }
    return same;
}

static int with_ids(struct store *store, enum statement which, int64_t first, int64_t second)
{
    sqlite3_stmt *s = store_statement(store, which);
    sqlite3_bind_int64(s, 1, first);
    if (sqlite3_bind_parameter_count(s) > 1)
        sqlite3_bind_int64(s, 2, second);
    return store_run_statement(store, s);
}

static int add(struct store *store, const struct store_correction *wanted, int64_t place, int64_t now_ms)
{
    const struct correction *correction = &wanted->correction;
    sqlite3_stmt *s = store_statement(store, ADD_CORRECTION);
    sqlite3_bind_int64(s, 1, place);
    sqlite3_bind_text(s, 2, correction_names[correction->what], -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 3, correction->meter);
    store_bind(s, 4, correction->other > 0 ? correction->other : STORE_NULL);
    sqlite3_bind_int64(s, 5, correction->from_s);
    sqlite3_bind_int64(s, 6, correction->to_s);
    sqlite3_bind_int64(s, 7, correction->up);
    sqlite3_bind_int64(s, 8, correction->down);
    store_bind(s, 9, correction->added[0]);
    store_bind(s, 10, correction->added[1]);
    sqlite3_bind_int64(s, 11, wanted->at_s);
    sqlite3_bind_text(s, 12, wanted->entry, -1, SQLITE_STATIC);
    sqlite3_bind_text(s, 13, wanted->hash, -1, SQLITE_STATIC);
    store_bind(s, 14, now_ms);
    return store_run_statement(store, s);
}

/* One that is in force already keeps its rows, unless it passed another in the order. */
static int place(struct store *store, const struct store_correction *wanted, int64_t at, int64_t *last,
                 bool *added, int64_t now_ms)
{
    sqlite3_stmt *s = store_statement(store, CORRECTION_OF_HASH);
    sqlite3_bind_text(s, 1, wanted->hash, -1, SQLITE_STATIC);
    int found = store_fetch(store, s);
    if (found < 0)
        return found;
    int64_t id = found == 1 ? sqlite3_column_int64(s, 0) : 0;
    int64_t was_at = found == 1 ? -1 - sqlite3_column_int64(s, 1) : *last;
    bool moved = found == 0 || was_at < *last;
    sqlite3_reset(s);
    *added = found == 0;
    *last = was_at > *last ? was_at : *last;
    int result = *added ? add(store, wanted, at, now_ms) : with_ids(store, MOVE_CORRECTION, id, at);
    if (result == STORE_OK && moved)
        result = with_ids(store, MARK_DUE, wanted->correction.from_s, wanted->correction.to_s);
    return result;
}

/* Those that got no place are not in the logbook any more. */
static int withdraw(struct store *store, int (*told)(void *, bool, int32_t, const char *), void *self)
{
    for (;;) {
        char entry[LOGBOOK_LINE_SIZE];
        sqlite3_stmt *s = store_statement(store, NEXT_UNPLACED);
        int found = store_fetch(store, s);
        if (found != 1)
            return found;
        int64_t id = sqlite3_column_int64(s, 0), from_s = sqlite3_column_int64(s, 3),
                to_s = sqlite3_column_int64(s, 4);
        int32_t meter = sqlite3_column_int(s, 1);
        snprintf(entry, sizeof entry, "%s", store_text(s, 2));
        sqlite3_reset(s);
        int result = with_ids(store, DROP_CORRECTION, id, 0);
        if (result == STORE_OK)
            result = with_ids(store, DROP_CORRECTION_SUMS, id, 0);
        if (result == STORE_OK)
            result = with_ids(store, MARK_DUE, from_s, to_s);
        if (result == STORE_OK)
            result = told(self, false, meter, entry);
        if (result != STORE_OK)
            return result;
    }
}

int store_put_corrections(struct store *store, const struct store_correction wanted[], int32_t count,
                          int64_t now_ms,
                          int (*told)(void *self, bool taken, int32_t meter, const char *entry), void *self)
{
    int64_t last = -1;
    int result = store_run_statement(store, store_statement(store, UNPLACE_CORRECTIONS));
    for (int32_t i = 0; i < count && result == STORE_OK; i++) {
        bool added;
        result = place(store, &wanted[i], i, &last, &added, now_ms);
        if (result == STORE_OK && added)
            result = told(self, true, wanted[i].correction.meter, wanted[i].entry);
    }
    return result == STORE_OK ? withdraw(store, told, self) : result;
}
