/* Private to the query's files: query.c opens and closes, query_sql.c has every
 * SELECT, each query_*.c makes rows of some of them. */
#ifndef METERBOOK_QUERY_STATE_H
#define METERBOOK_QUERY_STATE_H

#include <sqlite3.h>

#include "query.h"

enum query_statement {
    SELECT_SITE,
    SELECT_REACH,
    SELECT_SETTINGS,
    SELECT_METERS,
    SELECT_METER_NAMES,
    SELECT_ANY,
    SELECT_INTERVALS,
    SELECT_INTERVALS_CORRECTED, /* the next of each, where anything is corrected */
    SELECT_ENERGIES,
    SELECT_ENERGIES_CORRECTED,
    SELECT_INTERVALS_BACK,
    SELECT_DAYS,
    SELECT_DAYS_CORRECTED,
    SELECT_WHOLE_DAYS,
    SELECT_WHOLE_DAYS_CORRECTED,
    SELECT_CORRECTIONS,
    SELECT_CHANGED_BY,
    SELECT_DUE,
    SELECT_STEP,
    SELECT_EVENTS,
    SELECT_LAST_SIGN,
    SELECT_INTERVAL_AT,
    SELECT_METER_SUM,
    SELECT_BEGIN,
    SELECT_FIRST_ROW,
    SELECT_ENTERED_BEFORE,
    SELECT_ENTERED,
    /* query_agreement.c */
    SELECT_DERIVED_DOUBT,
    /* query_apparent.c */
    SELECT_APPARENT,
    /* query_checks.c */
    SELECT_KEPT_ROWS,
    SELECT_OTHER_ROWS,
    SELECT_COUNTED,
    SELECT_OTHER_COUNTED = SELECT_COUNTED + 2,
    SELECT_DAYS_COUNTED = SELECT_OTHER_COUNTED + 4,
    SELECT_METER_FACTS,
    SELECT_SETTING_TEXT,
    SELECT_SETTINGS_WITHIN,
    SELECT_GOES_ON,
    SELECT_METER_DAY,
    SELECT_METER_DAY_COUNTED,
    SELECT_RUNS,
    SELECT_SEEN,
    SELECT_CLOCKS,
    SELECT_FIRST_RUN,
    /* query_curve.c */
    SELECT_CURVES,
    SELECT_CURVE,
    /* query_dating.c */
    SELECT_DATED,
    SELECT_UNDATED,
    SELECT_CLOCK_OFFSET,
    SELECT_WAITS,
    /* query_extract.c */
    SELECT_WIDE_ROWS,
    SELECT_METER_ROWS,
    SELECT_LOADED,
    /* query_supply.c */
    SELECT_SUPPLY,
    SELECT_SUPPLY_CORRECTED,
    SELECT_HAS_VOLTAGE,
    SELECT_MOMENTARY,
    /* query_weather.c */
    SELECT_WEATHER,
    SELECT_METER_INTERVAL,
    STATEMENT_COUNT
};

extern const char *const query_sql[STATEMENT_COUNT];

/* Columns of SELECT_ANY: what nearly no record has, and is quicker told than what would follow. */
enum query_any { ANY_CORRECTED, ANY_CORRECTION, ANY_HELD, ANY_DATING_DOUBT };

struct query {
    sqlite3 *database;
    sqlite3_stmt *statements[STATEMENT_COUNT];
    enum query_statement intervals, days, supply; /* which of them are read */
    enum { CURVES_NOT_ASKED, CURVES_NONE, CURVES_KEPT } curves;
    bool any_held; /* for query_next_undated() */
    int32_t depth; /* of query_begin() */
    bool failed;
    char path[CONFIG_PATH_SIZE];
    char error[CONFIG_PATH_SIZE + 200];
};

/* A statement ready to bind; NULL after a failure. */
sqlite3_stmt *query_prepare(struct query *query, enum query_statement which);
bool query_has(struct query *query, enum query_any which);
/* True while there is a row; resets at the end, so that no read stays open. */
bool query_fetch(struct query *query, enum query_statement which);
/* UNKNOWN for NULL. */
int64_t query_column(sqlite3_stmt *statement, int index);
/* "" for NULL; valid until the next fetch. */
const char *query_column_text(sqlite3_stmt *statement, int index);

#endif
