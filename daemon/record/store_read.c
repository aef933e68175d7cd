/* What the daemon reads back: at start, at trust, at day close. */
#include <stdio.h>
#include <string.h>

#include "store_private.h"

/* Start of a row, -1 without. */
static int64_t start_of(sqlite3_stmt *s, int column)
{
    return sqlite3_column_type(s, column) == SQLITE_NULL ? -1 : sqlite3_column_int64(s, column) / 1024;
}

/* Sum of one counter's rows from from_s on; starts of the meter's newest row
 * and of the newest that has the counter. */
static int sum_rows(struct store *store, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s,
                    int64_t *sum, int64_t *newest_s, int64_t *known_s)
{
    bool active = counter <= Q_ACTIVE_EXPORT;
    sqlite3_stmt *s = store_statement(store, active ? SUM_ACTIVE : SUM_OTHER);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, from_s);
    sqlite3_bind_int64(s, 3, to_s);
    int result = store_fetch(store, s);
    if (result < 0)
        return result;
    int column = 1 + 2 * (active ? counter : counter - Q_REACTIVE_IMPORT);
    *sum = sqlite3_column_int64(s, column);
    *newest_s = start_of(s, 0);
    *known_s = start_of(s, column + 1);
    sqlite3_reset(s);
    return STORE_OK;
}

/* Rows end on the grid; the first one after a change of the interval's length
 * may begin off it. */
static int64_t row_end(int64_t start_s, int64_t interval_s)
{
    return start_s - start_s % interval_s + interval_s;
}

#define FAR_S INT64_C(8000000000000)

int store_sum(struct store *store, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s, int64_t *sum)
{
    int64_t newest, known;
    return sum_rows(store, meter, counter, from_s, to_s, sum, &newest, &known);
}

/* End of the newest row before an anchor for which a counter was read, back to from_s; the anchor without.
 * Where the interval's length was changed since, within one interval. */
static int known_before(struct store *store, const int64_t counter[4], int64_t interval_s, int64_t *known_s)
{
    sqlite3_stmt *s = store_statement(store, counter[1] <= Q_ACTIVE_EXPORT ? KNOWN_ACTIVE : KNOWN_OTHER);
    for (int i = 0; i < 4; i++)
        sqlite3_bind_int64(s, i + 1, counter[i]);
    int result = store_fetch(store, s);
    *known_s = counter[3];
    if (result != 1)
        return result;
    int64_t end_s = row_end(sqlite3_column_int64(s, 0), interval_s);
    if (end_s < *known_s)
        *known_s = end_s;
    sqlite3_reset(s);
    return STORE_OK;
}

int store_read_run(struct store *store, int32_t meter, int32_t counter, int64_t interval_s,
                   struct store_open_run *run)
{
    sqlite3_stmt *s = store_statement(store, READ_RUN);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, counter);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    int64_t anchor_s = sqlite3_column_int64(s, 2), anchor = sqlite3_column_int64(s, 3), sum, newest, known;
    const int64_t before[4] = { meter, counter, sqlite3_column_int64(s, 10), anchor_s };
    *run = (struct store_open_run){
        .id = sqlite3_column_int64(s, 0),
        .step = sqlite3_column_int64(s, 1),
        .ct_primary = sqlite3_column_int64(s, 5),
        .ct_secondary = sqlite3_column_int64(s, 6),
        .vt_primary = sqlite3_column_int64(s, 7),
        .vt_secondary = sqlite3_column_int64(s, 8),
        .reversed = sqlite3_column_int64(s, 9) != 0,
    };
    snprintf(run->serial, sizeof run->serial, "%s", store_text(s, 4));
    sqlite3_reset(s);
    result = sum_rows(store, meter, counter, anchor_s, FAR_S, &sum, &newest, &known);
    if (result != STORE_OK)
        return result;
    run->frontier_s = newest < 0 ? anchor_s : row_end(newest, interval_s);
    run->known_s = known < 0 ? anchor_s : row_end(known, interval_s);
    if (known < 0 && (result = known_before(store, before, interval_s, &run->known_s)) != STORE_OK)
        return result;
    run->account = anchor + sum;
    return 1;
}

int store_newest(struct store *store, int32_t meter, int64_t interval_s, int64_t *end_s)
{
    sqlite3_stmt *s = store_statement(store, meter > 0 ? NEWEST_OF_METER : NEWEST_ROW);
    if (meter > 0)
        sqlite3_bind_int64(s, 1, meter);
    int result = store_fetch(store, s);
    *end_s = 0;
    if (result != 1)
        return result;
    if (sqlite3_column_type(s, 0) != SQLITE_NULL)
        *end_s = row_end(sqlite3_column_int64(s, 0), interval_s);
    sqlite3_reset(s);
    return STORE_OK;
}

int store_oldest(struct store *store, int32_t meter, int64_t from_s, int64_t *start_s)
{
    sqlite3_stmt *s = store_statement(store, OLDEST_OF_METER);
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, from_s);
    int result = store_fetch(store, s);
    *start_s = 0;
    if (result != 1)
        return result;
    *start_s = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return STORE_OK;
}

int store_last_interval(struct store *store, int64_t *interval_s)
{
    sqlite3_stmt *s = store_statement(store, NEWEST_SETTING);
    int result = store_fetch(store, s);
    *interval_s = 0;
    if (result != 1)
        return result;
    *interval_s = sqlite3_column_int64(s, 4);
    sqlite3_reset(s);
    return STORE_OK;
}

int store_read_clock(struct store *store, const char *boot, int64_t *offset_ms, char source[16])
{
    sqlite3_stmt *s = store_statement(store, READ_CLOCK);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    *offset_ms = sqlite3_column_int64(s, 0);
    snprintf(source, 16, "%s", store_text(s, 1));
    sqlite3_reset(s);
    return 1;
}

int store_has_row(struct store *store, int64_t id)
{
    sqlite3_stmt *s = store_statement(store, HAS_ROW);
    sqlite3_bind_int64(s, 1, id);
    int result = store_fetch(store, s);
    sqlite3_reset(s);
    return result;
}

int store_find_run(struct store *store, const struct store_run *run, int64_t *id)
{
    sqlite3_stmt *s = store_statement(store, FIND_STORED_RUN);
    sqlite3_bind_int64(s, 1, run->meter);
    sqlite3_bind_int64(s, 2, run->counter);
    sqlite3_bind_int64(s, 3, run->from_ms);
    sqlite3_bind_int64(s, 4, run->base_s);
    sqlite3_bind_int64(s, 5, run->base);
    int result = store_fetch(store, s);
    *id = result == 1 ? sqlite3_column_int64(s, 0) : 0;
    sqlite3_reset(s);
    return result < 0 ? result : STORE_OK;
}

int store_last_event(struct store *store, int64_t *id)
{
    sqlite3_stmt *s = store_statement(store, LAST_EVENT);
    int result = store_fetch(store, s);
    *id = result == 1 ? sqlite3_column_int64(s, 0) : 0;
    sqlite3_reset(s);
    return result < 0 ? result : STORE_OK;
}

int store_last_end(struct store *store, const char *boot, bool *well, bool *same_boot)
{
    sqlite3_stmt *s = store_statement(store, LAST_END);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    int result = store_fetch(store, s);
    *well = result != 1 || sqlite3_column_int(s, 0) != 0;
    *same_boot = result == 1 && sqlite3_column_int(s, 1) != 0;
    sqlite3_reset(s);
    return result < 0 ? result : STORE_OK;
}

int store_last_held(struct store *store, const char *boot, int32_t meter, int32_t counter,
                    struct store_held *held)
{
    sqlite3_stmt *s = store_statement(store, LAST_HELD);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, meter);
    sqlite3_bind_int64(s, 3, counter);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    *held = (struct store_held){
        .ms = sqlite3_column_int64(s, 0),
        .meter = meter,
        .counter = counter,
        .account = sqlite3_column_int64(s, 1),
        .value = sqlite3_column_int64(s, 2),
        .raw = (uint64_t)sqlite3_column_int64(s, 3),
        .step = sqlite3_column_int64(s, 4),
        .shift = sqlite3_column_int64(s, 5),
    };
    sqlite3_reset(s);
    return 1;
}

int store_clock_before(struct store *store, const char *boot, char source[16])
{
    sqlite3_stmt *s = store_statement(store, CLOCK_BEFORE);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    snprintf(source, 16, "%s", store_text(s, 0));
    sqlite3_reset(s);
    return 1;
}

int store_boot_after(struct store *store, const char *boot, int64_t *after_s)
{
    sqlite3_stmt *s = store_statement(store, BOOT_AFTER);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    bool any = sqlite3_column_type(s, 0) != SQLITE_NULL;
    *after_s = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return any;
}

int store_next_undated(struct store *store, int64_t *id, char boot[40])
{
    sqlite3_stmt *s = store_statement(store, NEXT_UNDATED);
    sqlite3_bind_int64(s, 1, *id);
    int result = store_fetch(store, s);
    if (result != 1)
        return result;
    *id = sqlite3_column_int64(s, 0);
    snprintf(boot, 40, "%s", store_text(s, 1));
    sqlite3_reset(s);
    return 1;
}

int store_read_held(struct store *store, const char *boot, int64_t after_id, struct store_held *held,
                    int32_t limit)
{
    sqlite3_stmt *s = store_statement(store, READ_HELD);
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    sqlite3_bind_int64(s, 2, after_id);
    sqlite3_bind_int64(s, 3, limit);
    int32_t count = 0;
    int code = SQLITE_DONE;
    while (count < limit && (code = sqlite3_step(s)) == SQLITE_ROW) {
        int64_t *fields[] = { &held[count].id,
                              &held[count].ms,
                              NULL,
                              NULL,
                              &held[count].account,
                              &held[count].value,
                              NULL,
                              &held[count].step,
                              &held[count].unobserved_s,
                              &held[count].power,
                              &held[count].power_min,
                              &held[count].power_max,
                              &held[count].voltage };
        for (int i = 0; i < 13; i++)
            if (fields[i])
                *fields[i] =
                    sqlite3_column_type(s, i) == SQLITE_NULL ? STORE_NULL : sqlite3_column_int64(s, i);
        held[count].meter = sqlite3_column_int(s, 2);
        held[count].counter = sqlite3_column_int(s, 3);
        held[count].raw = (uint64_t)sqlite3_column_int64(s, 6);
        count++;
    }
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        count = store_fail(store, code);
    sqlite3_reset(s);
    return count;
}

int store_read_held_of(struct store *store, const char *boot, int32_t meter, int32_t counter,
                       int64_t after_id, struct store_held *held, int32_t limit)
{
    sqlite3_stmt *s = store_statement(store, READ_HELD_OF);
    const int64_t values[] = { meter, counter, after_id, limit };
    sqlite3_bind_text(s, 1, boot, -1, SQLITE_STATIC);
    for (int i = 0; i < 4; i++)
        sqlite3_bind_int64(s, 2 + i, values[i]);
    int32_t count = 0;
    int code = SQLITE_DONE;
    for (; count < limit && (code = sqlite3_step(s)) == SQLITE_ROW; count++)
        held[count] = (struct store_held){ .id = sqlite3_column_int64(s, 0),
                                           .ms = sqlite3_column_int64(s, 1),
                                           .account = sqlite3_column_int64(s, 2),
                                           .meter = meter,
                                           .counter = counter };
    if (code != SQLITE_ROW && code != SQLITE_DONE)
        count = store_fail(store, code);
    sqlite3_reset(s);
    return count;
}
