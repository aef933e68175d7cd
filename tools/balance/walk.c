#include "walk.h"

#include "doubt.h"

enum { CHUNK_ROWS = 9000, DAY_S = 86400, HOUR_S = 3600, WEEKS_DAYS = 28 }; /* a month of five minutes */

void walk_begin(struct walk *walk, const struct inquiry *inquiry, enum row_unit unit)
{
    const struct history *history = &inquiry->head.history;
    *walk = (struct walk){ .inquiry = inquiry, .unit = unit, .day = inquiry->period.from_day };
    for (int32_t i = 0; unit == ROW_HOUR && i < history->count; i++)
        if (HOUR_S % history->arrangements[i].interval_s != 0)
            walk->unit = ROW_INTERVAL;
}

/* Civil days of which the rows fit into a chunk, and none is cut: a month, or less where intervals are short.
 */
static int64_t chunk_end(const struct walk *walk)
{
    int64_t end = walk->unit == ROW_YEAR   ? period_next_year(walk->day)
                  : walk->unit == ROW_WEEK ? period_week_start(walk->day) + WEEKS_DAYS
                                           : period_next_month(walk->day);
    int32_t interval_s = walk->inquiry->head.site.interval_s;
    if (walk->unit == ROW_INTERVAL && interval_s > 0) {
        int64_t days = (int64_t)CHUNK_ROWS * interval_s / DAY_S;
        days = days > 0 ? days : 1;
        end = walk->day + days < end ? walk->day + days : end;
    }
    return end < walk->inquiry->period.to_day ? end : walk->inquiry->period.to_day;
}

static bool read_chunk(struct walk *walk)
{
    const struct inquiry *inquiry = walk->inquiry;
    struct period period = { walk->day, chunk_end(walk) };
    answer_free(&walk->chunk);
    enum answer_result result = answer_build_of(&walk->chunk, inquiry->session.query, inquiry->session.civil,
                                                inquiry->sources, period, walk->unit, inquiry->what);
    walk->day = period.to_day;
    walk->next = 0;
    walk->failed = result == ANSWER_FAILED;
    if (result == ANSWER_READY && walk->unit >= ROW_DAY)
        walk->failed = doubt_add(&walk->chunk, inquiry->session.query) != 0;
    return !walk->failed;
}

const struct answer_row *walk_next(struct walk *walk)
{
    while (!walk->failed && walk->next >= walk->chunk.row_count && walk->day < walk->inquiry->period.to_day)
        read_chunk(walk);
    if (walk->failed || walk->next >= walk->chunk.row_count)
        return NULL;
    return &walk->chunk.rows[walk->next++];
}

bool walk_end(struct walk *walk)
{
    answer_free(&walk->chunk);
    if (walk->failed)
        session_failed(&walk->inquiry->session);
    return !walk->failed;
}
