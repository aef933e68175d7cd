#include "query_checks.h"

#include <stdio.h>
#include <string.h>

#include "query_state.h"
#include "schema.h"

enum { FIRST_OTHER = 2, METERS = 1024 };

/* A statement with its first values bound. */
static sqlite3_stmt *ask(struct query *query, enum query_statement which, int count, const int64_t values[])
{
    sqlite3_stmt *statement = query_prepare(query, which);
    for (int i = 0; statement && i < count; i++)
        sqlite3_bind_int64(statement, i + 1, values[i]);
    return statement;
}

static void copy_text(char *to, size_t size, sqlite3_stmt *statement, int index)
{
    snprintf(to, size, "%s", query_column_text(statement, index));
}

void query_kept_rows(struct query *query, int64_t from_s, int64_t to_s)
{
    ask(query, SELECT_KEPT_ROWS, 2, (int64_t[]){ row_id(from_s, 0), row_id(to_s, 0) });
}

/* The columns behind the one of the id. */
static void read_row(sqlite3_stmt *statement, int first, int64_t id, struct interval_row *row)
{
    *row = (struct interval_row){
        .start_s = id / METERS,
        .meter = (int32_t)(id % METERS),
        .import = query_column(statement, first),
        .export = query_column(statement, first + 1),
        .estimated = sqlite3_column_int64(statement, first + 2),
        .unobserved = sqlite3_column_int64(statement, first + 3),
        .how = sqlite3_column_int(statement, first + 4),
        .power = UNKNOWN,
        .voltage = UNKNOWN,
    };
}

bool query_next_kept_row(struct query *query, struct interval_row *kept, struct interval_row *counted)
{
    enum { ID = 0, CORRECTED = 6 };
    if (!query_fetch(query, SELECT_KEPT_ROWS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_KEPT_ROWS];
    int64_t id = sqlite3_column_int64(statement, ID);
    read_row(statement, ID + 1, id, kept);
    *counted = *kept;
    if (sqlite3_column_type(statement, CORRECTED) != SQLITE_NULL)
        read_row(statement, CORRECTED + 1, id, counted);
    return true;
}

void query_other_rows(struct query *query, int64_t from_s, int64_t to_s)
{
    ask(query, SELECT_OTHER_ROWS, 2, (int64_t[]){ row_id(from_s, 0), row_id(to_s, 0) });
}

bool query_next_other_row(struct query *query, struct other_row *row)
{
    if (!query_fetch(query, SELECT_OTHER_ROWS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_OTHER_ROWS];
    int64_t id = sqlite3_column_int64(statement, 0);
    row->start_s = id / METERS;
    row->meter = (int32_t)(id % METERS);
    for (int c = 0; c < CHECK_COUNTERS; c++)
        row->energy[c] = c < FIRST_OTHER ? UNKNOWN : query_column(statement, c - 1);
    return true;
}

static int64_t sum_rows(struct query *query, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s)
{
    enum query_statement which = (enum query_statement)(SELECT_COUNTED + counter);
    if (to_s <= from_s)
        return 0;
    sqlite3_stmt *statement = ask(query, which, 3, (int64_t[]){ meter, from_s, to_s });
    int64_t sum = query_fetch(query, which) ? sqlite3_column_int64(statement, 0) : 0;
    sqlite3_reset(statement);
    return sum;
}

int64_t query_counted(struct query *query, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s)
{
    int64_t sum = 0, at_s = from_s;
    sqlite3_stmt *days = ask(query, SELECT_DAYS_COUNTED, 3, (int64_t[]){ meter, from_s, to_s });
    while (query_fetch(query, SELECT_DAYS_COUNTED)) {
        int64_t day_s = sqlite3_column_int64(days, 0);
        if (day_s < at_s)
            continue; /* under other zone rules: its intervals are summed */
        sum += sum_rows(query, meter, counter, at_s, day_s) + sqlite3_column_int64(days, 2 + counter);
        at_s = sqlite3_column_int64(days, 1);
    }
    return sum + sum_rows(query, meter, counter, at_s, to_s);
}

/* What no configuration can say, as in a damaged record, is not known: 0. */
static int64_t power_of(sqlite3_stmt *statement, int index)
{
    enum { MOST_W = 100000000 };
    int64_t watts = sqlite3_column_int64(statement, index);
    return watts < 0 || watts > MOST_W ? 0 : watts;
}

bool query_meter_facts(struct query *query, int32_t setting, int32_t meter, struct meter_facts *facts)
{
    sqlite3_stmt *statement = ask(query, SELECT_METER_FACTS, 2, (int64_t[]){ setting, meter });
    if (!query_fetch(query, SELECT_METER_FACTS))
        return false;
    facts->rated_w = power_of(statement, 0);
    facts->peak_w = power_of(statement, 1);
    facts->azimuth = query_column(statement, 2);
    facts->tilt = query_column(statement, 3);
    copy_text(facts->accuracy_class, sizeof(facts->accuracy_class), statement, 4);
    sqlite3_reset(statement);
    return true;
}

const char *query_setting_text(struct query *query, int64_t to_s, int32_t *setting)
{
    sqlite3_stmt *statement = ask(query, SELECT_SETTING_TEXT, 1, (int64_t[]){ to_s * 1000 });
    *setting = 0;
    if (!query_fetch(query, SELECT_SETTING_TEXT))
        return "";
    *setting = sqlite3_column_int(statement, 1);
    return query_column_text(statement, 0);
}

int64_t query_settings_within(struct query *query, int64_t from_s, int64_t to_s, int64_t *first_s)
{
    sqlite3_stmt *statement =
        ask(query, SELECT_SETTINGS_WITHIN, 2, (int64_t[]){ from_s * 1000, to_s * 1000 });
    int64_t count = 0;
    if (query_fetch(query, SELECT_SETTINGS_WITHIN)) {
        count = sqlite3_column_int64(statement, 0);
        *first_s = sqlite3_column_int64(statement, 1) / 1000;
        sqlite3_reset(statement);
    }
    return count;
}

bool query_goes_on(struct query *query, int32_t meter, int64_t from_s)
{
    sqlite3_stmt *statement = ask(query, SELECT_GOES_ON, 2, (int64_t[]){ from_s, meter });
    bool found = query_fetch(query, SELECT_GOES_ON);
    sqlite3_reset(statement);
    return found;
}

bool query_meter_day(struct query *query, int32_t meter, int64_t day, bool counted, struct day_row *row)
{
    enum query_statement which = counted ? SELECT_METER_DAY_COUNTED : SELECT_METER_DAY;
    sqlite3_stmt *statement = ask(query, which, 1, (int64_t[]){ row_id(day, meter) });
    if (!query_fetch(query, which))
        return false;
    *row = (struct day_row){
        .day = day,
        .meter = meter,
        .from_s = sqlite3_column_int64(statement, 1),
        .to_s = sqlite3_column_int64(statement, 2),
        .import = query_column(statement, 3),
        .export = query_column(statement, 4),
        .estimated = sqlite3_column_int64(statement, 5),
        .unobserved = sqlite3_column_int64(statement, 6),
        .rows = sqlite3_column_int(statement, 7),
        .expected = sqlite3_column_int(statement, 8),
        .flags = sqlite3_column_int(statement, 9),
    };
    sqlite3_reset(statement);
    return true;
}

void query_runs(struct query *query)
{
    query_prepare(query, SELECT_RUNS);
}

bool query_next_run(struct query *query, struct run_row *row)
{
    if (!query_fetch(query, SELECT_RUNS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_RUNS];
    *row = (struct run_row){
        .id = sqlite3_column_int64(statement, 0),
        .meter = sqlite3_column_int(statement, 1),
        .counter = sqlite3_column_int(statement, 2),
        .from_ms = sqlite3_column_int64(statement, 3),
        .first = sqlite3_column_int64(statement, 4),
        .step = sqlite3_column_int64(statement, 5),
        .first_raw = (uint64_t)sqlite3_column_int64(statement, 6),
        .last_raw = (uint64_t)sqlite3_column_int64(statement, 7),
        .base_s = sqlite3_column_int64(statement, 8),
        .base = sqlite3_column_int64(statement, 9),
        .anchor_s = sqlite3_column_int64(statement, 10),
        .anchor = sqlite3_column_int64(statement, 11),
        .to_ms = query_column(statement, 12),
        .last = query_column(statement, 13),
    };
    copy_text(row->serial, sizeof(row->serial), statement, 14);
    copy_text(row->began, sizeof(row->began), statement, 15);
    copy_text(row->ended, sizeof(row->ended), statement, 16);
    for (int i = 0; i < 5; i++)
        row->factor[i] = query_column(statement, 17 + i);
    return true;
}

void query_seen(struct query *query, int64_t from_s, int64_t to_s)
{
    ask(query, SELECT_SEEN, 2, (int64_t[]){ from_s * 1000, to_s * 1000 });
}

bool query_next_seen(struct query *query, struct seen_row *row)
{
    if (!query_fetch(query, SELECT_SEEN))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_SEEN];
    row->at_s = sqlite3_column_int64(statement, 0) / 1000;
    row->meter = sqlite3_column_int(statement, 1);
    row->count = sqlite3_column_int64(statement, 2);
    copy_text(row->kind, sizeof(row->kind), statement, 3);
    return true;
}

void query_clocks(struct query *query, int64_t from_s, int64_t to_s)
{
    ask(query, SELECT_CLOCKS, 2, (int64_t[]){ from_s * 1000, to_s * 1000 });
}

bool query_next_clock(struct query *query, struct clock_row *row)
{
    if (!query_fetch(query, SELECT_CLOCKS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_CLOCKS];
    row->at_s = sqlite3_column_int64(statement, 0) / 1000;
    copy_text(row->source, sizeof(row->source), statement, 1);
    return true;
}
