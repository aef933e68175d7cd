/* A day's row and its curve, made anew from its interval rows: one pass over them gives both. */
#include <stdio.h>

#include "day_curve.h"
#include "schema.h"
#include "store_private.h"

enum {
    DAY_FLAGS = HOW_CLOCK | HOW_BACK_DATED | HOW_RE_DATED | HOW_RUN_CHANGE | HOW_POWER_FAILED | HOW_CORRECTED
};

/* The columns of DAY_ROWS behind the key, as CURVE_* for the first ones. */
enum { COLUMN_HOW = CURVE_SERIES, COLUMN_POWER_MAX, COLUMN_POWER_MIN, COLUMNS };

struct day_sum {
    int64_t sums[CURVE_SERIES]; /* STORE_NULL: no row has it */
    int64_t rows, flags, power_max, power_min;
    bool overflown;
    struct day_curve curve;
};

static void add(struct day_sum *day, int64_t *sum, int64_t value)
{
    if (value == STORE_NULL)
        return;
    if (*sum == STORE_NULL)
        *sum = 0;
    if (value > 0 ? *sum > INT64_MAX - value : *sum < -INT64_MAX - value)
        day->overflown = true;
    else
        *sum += value;
}

static void take_row(struct day_sum *day, int64_t start_s, const int64_t values[COLUMNS])
{
    int64_t most = values[COLUMN_POWER_MAX], least = values[COLUMN_POWER_MIN];
    for (int c = 0; c < CURVE_SERIES; c++)
        add(day, &day->sums[c], values[c]);
    day->rows++;
    day->flags |= values[COLUMN_HOW] & DAY_FLAGS;
    if (most != STORE_NULL && (day->power_max == STORE_NULL || most > day->power_max))
        day->power_max = most;
    if (least != STORE_NULL && (day->power_min == STORE_NULL || least < day->power_min))
        day->power_min = least;
    day_curve_add(&day->curve, start_s, values);
}

static int read_rows(struct store *store, int32_t meter, int64_t from_s, int64_t to_s, struct day_sum *day)
{
    sqlite3_stmt *s = store_statement(store, DAY_ROWS);
    int found;
    sqlite3_bind_int64(s, 1, meter);
    sqlite3_bind_int64(s, 2, from_s);
    sqlite3_bind_int64(s, 3, to_s);
    while ((found = store_fetch(store, s)) == 1) {
        int64_t values[COLUMNS];
        for (int c = 0; c < COLUMNS; c++) {
            values[c] = sqlite3_column_int64(s, 1 + c); /* 0 for NULL */
            if (values[c] == 0 && sqlite3_column_type(s, 1 + c) == SQLITE_NULL)
                values[c] = STORE_NULL;
        }
        take_row(day, sqlite3_column_int64(s, 0) / 1024, values);
    }
    if (found == STORE_OK && day->overflown) {
        snprintf(store->why, sizeof store->why, "the sum of a day's rows is too large");
        return STORE_FAILED;
    }
    return found;
}

static int put_day(struct store *store, int64_t id, int64_t to_s, int64_t expected, int64_t interval_s,
                   const struct day_sum *day)
{
    /* Intervals that a day lacks were not observed; where the interval's length was changed that day, it may
     * have more than it should. */
    int64_t lacking = day->rows < expected ? expected - day->rows : 0;
    const int64_t values[] = { id,
                               day->curve.from_s,
                               to_s,
                               day->sums[CURVE_IMPORT],
                               day->sums[CURVE_EXPORT],
                               day->sums[CURVE_ESTIMATED],
                               day->sums[CURVE_UNOBSERVED] + lacking * interval_s,
                               day->rows,
                               expected,
                               day->flags,
                               day->power_max,
                               day->power_min };
    sqlite3_stmt *s = store_statement(store, PUT_DAY);
    for (int i = 0; i < (int)(sizeof values / sizeof values[0]); i++)
        store_bind(s, 1 + i, values[i]);
    return store_run_statement(store, s);
}

static int put_curve(struct store *store, int64_t id, const struct day_curve *curve)
{
    unsigned char bytes[CURVE_BYTES];
    size_t size = day_curve_pack(curve, bytes);
    sqlite3_stmt *s = store_statement(store, size > 0 ? PUT_CURVE : DROP_CURVE);
    sqlite3_bind_int64(s, 1, id);
    if (size > 0)
        sqlite3_bind_blob(s, 2, bytes, (int)size, SQLITE_STATIC);
    return store_run_statement(store, s);
}

int store_close_day(struct store *store, int32_t meter, int64_t day, int64_t from_s, int64_t to_s,
                    int64_t interval_s)
{
    struct day_sum sum = { .sums = { STORE_NULL, STORE_NULL, 0, 0 },
                           .power_max = STORE_NULL,
                           .power_min = STORE_NULL };
    int64_t id = row_id(day, meter);
    day_curve_begin(&sum.curve, from_s, to_s, interval_s);
    int result = read_rows(store, meter, from_s, to_s, &sum);
    if (result == STORE_OK && sum.rows > 0)
        result = put_day(store, id, to_s, (to_s - from_s) / interval_s, interval_s, &sum);
    return result == STORE_OK ? put_curve(store, id, &sum.curve) : result;
}
