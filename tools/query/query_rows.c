/* Rows of the record as plain structs: settings, meters, intervals, days. */
#include <stdio.h>
#include <string.h>

#include "query_state.h"

enum { ID_FACTOR = 1024 }; /* row_id(): time or day, then meter */

bool query_site(struct query *query, struct site *site)
{
    *site = (struct site){ 0 };
    sqlite3_stmt *statement = query_prepare(query, SELECT_SITE);
    if (!query_fetch(query, SELECT_SITE))
        return false;
    snprintf(site->name, sizeof(site->name), "%s", query_column_text(statement, 0));
    snprintf(site->zone, sizeof(site->zone), "%s", query_column_text(statement, 1));
    site->interval_s = sqlite3_column_int(statement, 2);
    site->poll_ms = sqlite3_column_int(statement, 3);
    site->setting = sqlite3_column_int(statement, 4);
    sqlite3_reset(statement);

    statement = query_prepare(query, SELECT_REACH);
    if (!query_fetch(query, SELECT_REACH))
        return false;
    site->has_rows = sqlite3_column_type(statement, 0) != SQLITE_NULL;
    site->first_s = sqlite3_column_int64(statement, 0) / ID_FACTOR;
    site->last_s = sqlite3_column_int64(statement, 1) / ID_FACTOR;
    sqlite3_reset(statement);
    return true;
}

void query_settings(struct query *query)
{
    query_prepare(query, SELECT_SETTINGS);
}

bool query_next_setting(struct query *query, struct setting_row *row)
{
    if (!query_fetch(query, SELECT_SETTINGS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_SETTINGS];
    row->id = sqlite3_column_int(statement, 0);
    row->from_ms = query_column(statement, 1);
    row->interval_s = sqlite3_column_int(statement, 2);
    return true;
}

/* ROLE_COUNT for a role that this program does not know: it is left out of every figure. */
static enum meter_role role_of(const char *name)
{
    int role = 0;
    while (role < ROLE_COUNT && strcmp(role_name((enum meter_role)role), name) != 0)
        role++;
    return (enum meter_role)role;
}

bool query_meters(struct query *query, const struct setting_row *setting, struct arrangement *arrangement)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_METERS);
    *arrangement = (struct arrangement){
        .from_s = INT64_MIN,
        .to_s = INT64_MAX,
        .interval_s = setting->interval_s > 0 ? setting->interval_s : 300,
    };
    if (statement)
        sqlite3_bind_int(statement, 1, setting->id);
    while (query_fetch(query, SELECT_METERS)) {
        if (arrangement->meter_count == ARRANGEMENT_MAX_METERS)
            continue;
        struct arranged_meter *meter = &arrangement->meters[arrangement->meter_count++];
        meter->number = sqlite3_column_int(statement, 0);
        snprintf(meter->name, sizeof(meter->name), "%s", query_column_text(statement, 1));
        meter->role = role_of(query_column_text(statement, 2));
        meter->delivers_by_export = strcmp(query_column_text(statement, 3), "export") == 0;
        meter->gross = sqlite3_column_int(statement, 4) != 0;
        meter->phases_apart = strcmp(query_column_text(statement, 5), "apart") == 0;
        meter->slot = -1;
    }
    arrangement_prepare(arrangement);
    return !query->failed;
}

static void bind_range(struct query *query, enum query_statement which, int64_t from, int64_t to,
                       const struct meter_range *meters)
{
    sqlite3_stmt *statement = query_prepare(query, which);
    if (!statement)
        return;
    sqlite3_bind_int64(statement, 1, from * ID_FACTOR);
    sqlite3_bind_int64(statement, 2, to * ID_FACTOR);
    if (!meters)
        return;
    sqlite3_bind_int(statement, 3, meters->first);
    sqlite3_bind_int(statement, 4, meters->last);
}

static bool next_interval(struct query *query, enum query_statement which, struct interval_row *row)
{
    if (!query_fetch(query, which))
        return false;
    sqlite3_stmt *statement = query->statements[which];
    bool wide = which != SELECT_ENERGIES && which != SELECT_ENERGIES_CORRECTED;
    int64_t id = sqlite3_column_int64(statement, 0);
    *row = (struct interval_row){
        .start_s = id / ID_FACTOR,
        .meter = (int32_t)(id % ID_FACTOR),
        .import = query_column(statement, 1),
        .export = query_column(statement, 2),
        .estimated = sqlite3_column_int64(statement, 3),
        .unobserved = sqlite3_column_int64(statement, 4),
        .how = sqlite3_column_int(statement, 5),
        .power = wide ? query_column(statement, 6) : UNKNOWN,
        .voltage = wide ? query_column(statement, 7) : UNKNOWN,
    };
    return true;
}

static const struct meter_range all_meters = { 0, ID_FACTOR - 1 };

void query_intervals(struct query *query, int64_t from_s, int64_t to_s)
{
    query_intervals_of(query, from_s, to_s, all_meters);
}

void query_intervals_of(struct query *query, int64_t from_s, int64_t to_s, struct meter_range meters)
{
    query->intervals = query_has(query, ANY_CORRECTED) ? SELECT_INTERVALS_CORRECTED : SELECT_INTERVALS;
    bind_range(query, query->intervals, from_s, to_s, &meters);
}

void query_energies_of(struct query *query, int64_t from_s, int64_t to_s, struct meter_range meters)
{
    query->intervals = query_has(query, ANY_CORRECTED) ? SELECT_ENERGIES_CORRECTED : SELECT_ENERGIES;
    bind_range(query, query->intervals, from_s, to_s, &meters);
}

bool query_next_interval(struct query *query, struct interval_row *row)
{
    return next_interval(query, query->intervals, row);
}

void query_intervals_back(struct query *query, int64_t from_s, int64_t to_s)
{
    bind_range(query, SELECT_INTERVALS_BACK, from_s, to_s, NULL);
}

bool query_next_interval_back(struct query *query, struct interval_row *row)
{
    return next_interval(query, SELECT_INTERVALS_BACK, row);
}

void query_day(struct query *query, int64_t day)
{
    query->days = query_has(query, ANY_CORRECTED) ? SELECT_DAYS_CORRECTED : SELECT_DAYS;
    bind_range(query, query->days, day, day + 1, &all_meters);
}

void query_whole_days_of(struct query *query, int64_t from_day, int64_t to_day, struct meter_range meters)
{
    query->days = query_has(query, ANY_CORRECTED) ? SELECT_WHOLE_DAYS_CORRECTED : SELECT_WHOLE_DAYS;
    bind_range(query, query->days, from_day, to_day, &meters);
}

bool query_next_day(struct query *query, struct day_row *row)
{
    if (!query_fetch(query, query->days))
        return false;
    sqlite3_stmt *statement = query->statements[query->days];
    bool whole = query->days == SELECT_WHOLE_DAYS || query->days == SELECT_WHOLE_DAYS_CORRECTED;
    int64_t id = sqlite3_column_int64(statement, 0);
    *row = (struct day_row){
        .day = id / ID_FACTOR,
        .meter = (int32_t)(id % ID_FACTOR),
        .from_s = sqlite3_column_int64(statement, 1),
        .to_s = sqlite3_column_int64(statement, 2),
        .import = query_column(statement, 3),
        .export = query_column(statement, 4),
        .estimated = sqlite3_column_int64(statement, 5),
        .unobserved = sqlite3_column_int64(statement, 6),
        .flags = sqlite3_column_int(statement, whole ? 7 : 9),
        .rows = whole ? 0 : sqlite3_column_int(statement, 7),
        .expected = whole ? 0 : sqlite3_column_int(statement, 8),
    };
    return true;
}

static void bind_two(sqlite3_stmt *statement, int64_t first, int64_t second)
{
    if (!statement)
        return;
    sqlite3_bind_int64(statement, 1, first);
    sqlite3_bind_int64(statement, 2, second);
}

void query_corrections(struct query *query, int64_t from_s, int64_t to_s)
{
    if (query_has(query, ANY_CORRECTION))
        bind_two(query_prepare(query, SELECT_CORRECTIONS), to_s, from_s);
}

bool query_next_correction(struct query *query, struct correction_row *row)
{
    if (!query_fetch(query, SELECT_CORRECTIONS))
        return false;
    sqlite3_stmt *statement = query->statements[SELECT_CORRECTIONS];
    *row = (struct correction_row){
        .meter = sqlite3_column_int(statement, 1),
        .other = sqlite3_column_int(statement, 2),
        .from_s = sqlite3_column_int64(statement, 3),
        .to_s = sqlite3_column_int64(statement, 4),
        .up = sqlite3_column_int64(statement, 5),
        .down = sqlite3_column_int64(statement, 6),
        .added = sqlite3_column_int64(statement, 7),
    };
    snprintf(row->what, sizeof(row->what), "%s", query_column_text(statement, 0));
    return true;
}

bool query_changed_by(struct query *query, int32_t meter, int64_t from_s, int64_t to_s, int64_t *import,
                      int64_t *export)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_CHANGED_BY);
    bind_two(statement, meter, from_s);
    if (statement)
        sqlite3_bind_int64(statement, 3, to_s);
    bool any = query_fetch(query, SELECT_CHANGED_BY) && sqlite3_column_int64(statement, 0) > 0;
    if (any) {
        *import = sqlite3_column_int64(statement, 1);
        *export = sqlite3_column_int64(statement, 2);
    }
    sqlite3_reset(statement);
    return any;
}

bool query_correcting(struct query *query, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_DUE);
    bind_two(statement, from_s, to_s - 1);
    bool due = query_fetch(query, SELECT_DUE) && sqlite3_column_int64(statement, 0) > 0;
    sqlite3_reset(statement);
    return due;
}

int64_t query_step(struct query *query, int32_t meter, int64_t from_s, int64_t to_s)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_STEP);
    if (!statement)
        return 1;
    sqlite3_bind_int(statement, 1, meter);
    sqlite3_bind_int64(statement, 2, to_s * 1000);
    sqlite3_bind_int64(statement, 3, from_s * 1000);
    int64_t coarsest = query_fetch(query, SELECT_STEP) ? sqlite3_column_int64(statement, 0) : 1;
    sqlite3_reset(statement);
    return coarsest > 1 ? coarsest : 1;
}

/* The start of a meter's rows by its runs, without any by the rows themselves; UNKNOWN. Whether some run,
 * then an entered one, begins before. */
static int64_t first_begin(struct query *query, int32_t meter, bool *before)
{
    int64_t begin_s = UNKNOWN;
    *before = false;
    sqlite3_stmt *statement = query_prepare(query, SELECT_BEGIN);
    if (statement)
        sqlite3_bind_int(statement, 1, meter);
    if (query_fetch(query, SELECT_BEGIN)) {
        begin_s = query_column(statement, sqlite3_column_type(statement, 0) == SQLITE_NULL);
        *before = query_column(statement, 1) < begin_s;
    }
    sqlite3_reset(statement);
    if (begin_s != UNKNOWN || (statement = query_prepare(query, SELECT_FIRST_ROW)) == NULL)
        return begin_s;
    sqlite3_bind_int(statement, 1, meter);
    if (query_fetch(query, SELECT_FIRST_ROW))
        begin_s = query_column(statement, 0);
    sqlite3_reset(statement);
    return begin_s;
}

int64_t query_begin_of(struct query *query, int32_t meter)
{
    bool before;
    int64_t begin_s = first_begin(query, meter, &before), before_s = before ? begin_s : UNKNOWN;
    sqlite3_stmt *statement;
    while (before_s != UNKNOWN && (statement = query_prepare(query, SELECT_ENTERED_BEFORE)) != NULL) {
        begin_s = before_s;
        sqlite3_bind_int(statement, 1, meter);
        sqlite3_bind_int64(statement, 2, begin_s);
        before_s = query_fetch(query, SELECT_ENTERED_BEFORE) ? query_column(statement, 0) : UNKNOWN;
        sqlite3_reset(statement);
    }
    return begin_s == UNKNOWN ? INT64_MAX : begin_s;
}

bool query_entered(struct query *query, int64_t from_s, int64_t to_s, int64_t *first_s, int64_t *last_s)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_ENTERED);
    if (!statement)
        return false;
    sqlite3_bind_int64(statement, 1, to_s * 1000);
    sqlite3_bind_int64(statement, 2, from_s * 1000);
    bool any = query_fetch(query, SELECT_ENTERED) && query_column(statement, 0) != UNKNOWN;
    if (any) {
        *first_s = sqlite3_column_int64(statement, 0) / 1000;
        *last_s = sqlite3_column_int64(statement, 1) / 1000 + 1;
    }
    sqlite3_reset(statement);
    return any;
}

bool query_first_run(struct query *query, int32_t meter, bool export, struct first_run *row)
{
    sqlite3_stmt *statement = query_prepare(query, SELECT_FIRST_RUN);
    if (!statement)
        return false;
    sqlite3_bind_int(statement, 1, meter);
    sqlite3_bind_int(statement, 2, export);
    bool any = query_fetch(query, SELECT_FIRST_RUN);
    if (any)
        *row = (struct first_run){
            .from_s = sqlite3_column_int64(statement, 0) / 1000,
            .first = sqlite3_column_int64(statement, 1),
            .step = sqlite3_column_int64(statement, 2),
            .ratio_above = sqlite3_column_int64(statement, 3),
            .ratio_below = sqlite3_column_int64(statement, 4),
        };
    sqlite3_reset(statement);
    return any;
}
