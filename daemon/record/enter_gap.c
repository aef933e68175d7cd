#include "enter_gap.h"

#include <stdlib.h>
#include <string.h>

#include "schema.h"

enum { PIECE = 512 };

static bool grow(void **array, size_t size, int32_t room)
{
    void *larger = realloc(*array, size * (size_t)room);
    if (larger)
        *array = larger;
    return larger != NULL;
}

static bool make_room(struct enter_gap_rows *gap, int32_t more)
{
    if (gap->count + more <= gap->room)
        return true;
    int32_t room = 2 * (gap->count + more);
    if (!grow((void **)&gap->rows, sizeof *gap->rows, room) ||
        !grow((void **)&gap->result, sizeof *gap->result, room) ||
        !grow((void **)&gap->entered, sizeof(const struct enter_row *), room) ||
        !grow((void **)&gap->waiting, sizeof *gap->waiting, room) ||
        !grow((void **)&gap->verdict, sizeof *gap->verdict, room))
        return false;
    gap->room = room;
    return true;
}

/* Measured in part, the rest was placed. */
static bool partly(const struct enter_row *row)
{
    int method = row->how & HOW_METHOD_MASK;
    return row->estimated > 0 && (method == HOW_INTERPOLATED || method == HOW_ESTIMATED);
}

/* One direction, piece by piece, up to a row that was measured or is absent; it
 * is the edge if it was measured in part. Going back, rows are appended newest
 * first. */
static int walk(struct enter_gap_rows *gap, struct store_enter *enter, const struct enter_series *series,
                int64_t from_s, int64_t to_s, bool back, int64_t length_s, bool *edge)
{
    int64_t expected_s = back ? to_s - length_s : from_s;
    for (;;) {
        int32_t count;
        if (!make_room(gap, PIECE))
            return -1;
        struct enter_row *rows = gap->rows + gap->count;
        if (store_enter_rows(enter, series->meter, series->other, from_s, to_s, back, rows, PIECE, &count) !=
            STORE_OK)
            return -1;
        for (int32_t i = 0; i < count; i++) {
            if (rows[i].start_s != expected_s)
                return 0;
            if (enter_rank(&rows[i], length_s) == RANK_MEASURED) {
                *edge = partly(&rows[i]);
                gap->count += *edge;
                return 0;
            }
            expected_s += back ? -length_s : length_s;
            gap->count++;
        }
        if (count < PIECE)
            return 0;
        if (back)
            to_s = rows[count - 1].start_s;
        else
            from_s = rows[count - 1].start_s + 1;
    }
}

static void turn_round(struct enter_row *rows, int32_t count)
{
    for (int32_t i = 0, j = count - 1; i < j; i++, j--) {
        struct enter_row row = rows[i];
        rows[i] = rows[j];
        rows[j] = row;
    }
}

int enter_gap_read(struct enter_gap_rows *gap, struct store_enter *enter, const struct enter_series *series,
                   int64_t start_s, int64_t length_s, const struct enter_limits *limits)
{
    gap->count = 0;
    gap->first_edge = gap->last_edge = false;
    int result = walk(gap, enter, series, limits->live_s, start_s, true, length_s, &gap->first_edge);
    if (result != 0)
        return result;
    turn_round(gap->rows, gap->count);
    result = walk(gap, enter, series, start_s, limits->frontier_s, false, length_s, &gap->last_edge);
    for (int32_t i = 0; i < gap->count; i++) {
        gap->entered[i] = NULL;
        gap->waiting[i] = -1;
    }
    return result;
}

void enter_gap_offer(struct enter_gap_rows *gap, const struct enter_row *entered, int32_t waiting)
{
    int32_t low = gap->first_edge, high = gap->count - gap->last_edge, end = high;
    while (low < high) {
        int32_t middle = low + (high - low) / 2;
        if (gap->rows[middle].start_s < entered->start_s)
            low = middle + 1;
        else
            high = middle;
    }
    if (low == end || gap->rows[low].start_s != entered->start_s)
        return;
    gap->entered[low] = entered;
    gap->waiting[low] = waiting;
}

void enter_gap_free(struct enter_gap_rows *gap)
{
    free(gap->rows);
    free(gap->result);
    free(gap->entered);
    free(gap->waiting);
    free(gap->verdict);
    memset(gap, 0, sizeof *gap);
}
