/* Periods unlike the others of their register. What a class allows is an offset that stays; a period that is
 * off by another amount than the others stands out long before it is beyond the classes. */
#include <stdlib.h>

#include "agreement.h"

/* Own choice: fewer have no usual value. */
enum { LEAST_ROWS = 5 };
/* Own choice: of the scatter that is usual, by the median of absolute deviations; as a standard deviation of
 * what scatters normally that is 1.4826 times it [from memory], so this is four of those. */
enum { SCATTERS_PERCENT = 593 };

static int compare(const void *a, const void *b)
{
    const int64_t *left = a, *right = b;
    return *left < *right ? -1 : *left > *right;
}

static int64_t median(int64_t *values, int32_t count)
{
    qsort(values, (size_t)count, sizeof(*values), compare);
    return count % 2 ? values[count / 2] : (values[count / 2 - 1] + values[count / 2]) / 2;
}

static bool is_point(const struct agreement_row *row)
{
    return row->verdict != VERDICT_NONE && row->theirs > 0;
}

static int64_t share_of(const struct agreement_row *row)
{
    return number_share(row->ours - row->theirs, row->theirs);
}

/* What registers and reading times let a period be off by, against any other. */
static int64_t doubt_of(const struct agreement_row *row)
{
    int64_t sum = 0;
    for (int32_t i = PART_THEIR_STEP; i < AGREEMENT_PARTS; i++)
        sum += row->allowance.worst[i];
    return number_share(sum, row->theirs);
}

bool agreement_find_unlike(struct agreement_row *rows, int32_t count, struct agreement_register *of)
{
    int64_t *values = malloc((size_t)count * sizeof(*values));
    int32_t points = 0;
    of->unlike = 0;
    of->usual = UNKNOWN;
    if (!values)
        return false;
    for (int32_t i = 0; i < count; i++)
        if (is_point(&rows[i]))
            values[points++] = share_of(&rows[i]);
    if (points >= LEAST_ROWS) {
        of->usual = median(values, points);
        points = 0;
        for (int32_t i = 0; i < count; i++)
            if (is_point(&rows[i]))
                values[points++] = llabs(share_of(&rows[i]) - of->usual);
        int64_t scatter = median(values, points) * SCATTERS_PERCENT / 100;
        points = 0;
        for (int32_t i = 0; i < count; i++)
            if (is_point(&rows[i]))
                values[points++] = doubt_of(&rows[i]);
        int64_t usual_doubt = median(values, points);
        for (int32_t i = 0; i < count; i++)
            rows[i].unlike = is_point(&rows[i]) && llabs(share_of(&rows[i]) - of->usual) >
                                                       doubt_of(&rows[i]) + usual_doubt + scatter;
        for (int32_t i = 0; i < count; i++) {
            bool beside = (i > 0 && rows[i - 1].unlike) || (i + 1 < count && rows[i + 1].unlike);
            rows[i].alone = rows[i].unlike && !beside;
            of->unlike += rows[i].unlike;
        }
    }
    free(values);
    return true;
}
