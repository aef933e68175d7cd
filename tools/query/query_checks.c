#include "query_checks.h"

#include <stdio.h>
#include <string.h>

#include "query_state.h"
#include "schema.h"

enum { FIRST_OTHER = 2, METERS = 1024 };

/* A damaged record may say anything. Sums over decades stay below 2^63 when no value is beyond these. */
#define MOST_OF_INTERVAL INT64_C(1000000000000) /* mWh, ten times what 100 MW make in an hour */
#define MOST_OF_DAY      INT64_C(1000000000000000)
#define MOST_OF_SPAN     INT64_C(10000000000000000) /* 100 MW for ten years */
#define MOST_OF_REGISTER INT64_C(1000000000000000000)
#define LAST_S           INT64_C(253402300799) /* year 9999 */

/* A statement with its first values bound. */
static sqlite3_stmt *ask(struct query *query, enum query_statement which, int count, const int64_t values[])
{
    sqlite3_stmt *statement = query_prepare(query, which);
    for (int i = 0; statement && i < count; i++)
        sqlite3_bind_int64(statement, i + 1, values[i]);
    return statement;
}

/* A column, held between -most and most; UNKNOWN for NULL. */
static int64_t within(sqlite3_stmt *statement, int index, int64_t most)
{
    int64_t value = sqlite3_column_int64(statement, index);
    if (sqlite3_column_type(statement, index) == SQLITE_NULL)
        return UNKNOWN;
    return value > most ? most : value < -most ? -most : value;
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
        .import = within(statement, first, MOST_OF_INTERVAL),
        .export = within(statement, first + 1, MOST_OF_INTERVAL),
        .estimated = within(statement, first + 2, MOST_OF_INTERVAL),
        .unobserved = within(statement, first + 3, MOST_OF_INTERVAL),
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
        row->energy[c] = c < FIRST_OTHER ? UNKNOWN : within(statement, c - 1, MOST_OF_INTERVAL);
    return true;
}

static int64_t sum_rows(struct query *query, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s)
{
    enum query_statement which = (enum query_statement)(SELECT_COUNTED + counter);
    if (to_s <= from_s)
        return 0;
    sqlite3_stmt *statement = ask(query, which, 3, (int64_t[]){ meter, from_s, to_s });
    int64_t sum = query_fetch(query, which) ? within(statement, 0, MOST_OF_SPAN) : 0;
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
        int64_t of_day = within(days, 2 + counter, MOST_OF_DAY);
        sum += sum_rows(query, meter, counter, at_s, day_s) + (of_day == UNKNOWN ? 0 : of_day);
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
        .import = within(statement, 3, MOST_OF_DAY),
        .export = within(statement, 4, MOST_OF_DAY),
        .estimated = within(statement, 5, MOST_OF_DAY),
        .unobserved = within(statement, 6, MOST_OF_DAY),
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
        .from_ms = within(statement, 3, LAST_S * 1000),
        .first = within(statement, 4, MOST_OF_REGISTER),
        .step = within(statement, 5, MOST_OF_REGISTER),
        .first_raw = (uint64_t)sqlite3_column_int64(statement, 6),
        .last_raw = (uint64_t)sqlite3_column_int64(statement, 7),
        .base_s = within(statement, 8, LAST_S),
        .base = within(statement, 9, MOST_OF_REGISTER),
        .anchor_s = within(statement, 10, LAST_S),
        .anchor = within(statement, 11, MOST_OF_REGISTER),
        .to_ms = within(statement, 12, LAST_S * 1000),
        .last = within(statement, 13, MOST_OF_REGISTER),
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
