/* The intervals of all meters, a civil day at a time: what every form of extract is made
 * from. Each day is one read transaction and its rows are copied out of it, so that an output
 * that is slow to take them never holds up the collector. */
#ifndef METERBOOK_EXTRACT_ROWS_H
#define METERBOOK_EXTRACT_ROWS_H

#include "civil.h"
#include "history.h"
#include "period.h"
#include "query_extract.h"

struct extract_row {
    int64_t end_s;
    int32_t interval_s; /* of the setting in force: the first interval after a change may be shorter */
    struct wide_row wide;
};

struct extract_rows {
    struct query *query;
    const struct civil *civil;
    struct period period;
    int32_t meter; /* its number; 0: all */
    bool wide;     /* also what stands in the tables beside the account */

    struct history history;
    int32_t hint;
    int64_t day;              /* the next one */
    bool failed;              /* the query says why, or memory was out */
    struct extract_row *rows; /* heap: of one day, by time and meter */
    int32_t count, room;
};

/* The caller's part of `rows` is filled in. False where it failed; give it to extract_rows_free() in any
 * case. */
bool extract_rows_begin(struct extract_rows *rows);
/* Reads the next day; false behind the last one or where it failed. A day may be empty. */
bool extract_rows_day(struct extract_rows *rows);
void extract_rows_free(struct extract_rows *rows);

/* A meter as it was arranged then, NULL where no setting has it. */
const struct arranged_meter *extract_rows_meter(struct extract_rows *rows, int32_t number, int64_t at_s);

#endif
