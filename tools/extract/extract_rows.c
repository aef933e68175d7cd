#include "extract_rows.h"

#include <stdlib.h>

enum { DAY_OF_ROWS = 2400 };

bool extract_rows_begin(struct extract_rows *rows)
{
    int64_t from_s = civil_day_start(rows->civil, rows->period.from_day);
    int64_t to_s = civil_day_start(rows->civil, rows->period.to_day);
    rows->day = rows->period.from_day;
    query_begin(rows->query);
    rows->failed = history_read(&rows->history, rows->query, from_s, to_s) != 0;
    query_end(rows->query);
    return !rows->failed;
}

void extract_rows_free(struct extract_rows *rows)
{
    history_free(&rows->history);
    free(rows->rows);
    rows->rows = NULL;
}

static struct extract_row *add(struct extract_rows *rows)
{
    if (rows->count == rows->room) {
        int32_t room = rows->room ? 2 * rows->room : DAY_OF_ROWS;
        struct extract_row *grown = realloc(rows->rows, (size_t)room * sizeof(*grown));
        if (!grown) {
            rows->failed = true;
            return NULL;
        }
        rows->rows = grown;
        rows->room = room;
    }
    return &rows->rows[rows->count++];
}

/* The account alone. */
static bool next_narrow(struct query *query, struct wide_row *wide)
{
    struct interval_row row;
    if (!query_next_interval(query, &row))
        return false;
    wide->start_s = row.start_s;
    wide->meter = row.meter;
    wide->how = row.how;
    wide->estimated = row.estimated;
    wide->unobserved = row.unobserved;
    wide->values[Q_ACTIVE_IMPORT] = row.import;
    wide->values[Q_ACTIVE_EXPORT] = row.export;
    return true;
}

static struct extract_row make(struct extract_rows *rows, const struct wide_row *wide)
{
    int32_t length = history_at(&rows->history, wide->start_s, &rows->hint)->interval_s;
    return (struct extract_row){ wide->start_s - wide->start_s % length + length, length, *wide };
}

bool extract_rows_day(struct extract_rows *rows)
{
    if (rows->failed || rows->day >= rows->period.to_day)
        return false;
    int64_t from_s = civil_day_start(rows->civil, rows->day);
    int64_t to_s = civil_day_start(rows->civil, ++rows->day);
    struct wide_row wide = { 0 };
    rows->count = 0;
    query_begin(rows->query);
    if (rows->wide)
        query_wide_rows(rows->query, from_s, to_s);
    else
        query_intervals(rows->query, from_s, to_s);
    while (rows->wide ? query_next_wide_row(rows->query, &wide) : next_narrow(rows->query, &wide)) {
        struct extract_row *row = rows->meter && wide.meter != rows->meter ? NULL : add(rows);
        if (rows->failed)
            break;
        if (row)
            *row = make(rows, &wide);
    }
    query_end(rows->query);
    rows->failed = rows->failed || query_error(rows->query);
    return !rows->failed;
}

const struct arranged_meter *extract_rows_meter(struct extract_rows *rows, int32_t number, int64_t at_s)
{
    const struct arrangement *arrangement = history_at(&rows->history, at_s, &rows->hint);
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        if (arrangement->meters[i].number == number)
            return &arrangement->meters[i];
    return NULL;
}
