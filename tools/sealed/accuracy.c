#include "accuracy.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

struct limit_row {
    const char *class_word;
    int32_t from_load; /* millionths of rated current */
    int32_t share;     /* millionths */
};

#define PERCENT(value) ((int32_t)((value)*10000 + 0.5))
enum { AT_RATED = 1000000 };

/* By class, then rising load. [V] read in the standard or the law, [V2] in a page that reproduces it,
 * [M] from memory. */
static const struct limit_row meters[] = {
    /* [M] IEC 62053-21:2020 and -22 name a class after its limit at rated current; low loads are not known
     * here. */
    { "0.1", AT_RATED, PERCENT(0.1) },
    { "0.2", AT_RATED, PERCENT(0.2) },
    /* [M] IEC 62053-22, power factor 1: 0.01 In up to 0.05 In, then up to Imax */
    { "0.2S", PERCENT(1), PERCENT(0.4) },
    { "0.2S", PERCENT(5), PERCENT(0.2) },
    { "0.5", AT_RATED, PERCENT(0.5) },
    { "0.5S", PERCENT(1), PERCENT(1.0) },
    { "0.5S", PERCENT(5), PERCENT(0.5) },
    /* [V2] IEC 62053-21:2003 table 6, through transformers, power factor 1 */
    { "1", PERCENT(2), PERCENT(1.5) },
    { "1", PERCENT(5), PERCENT(1.0) },
    { "2", PERCENT(2), PERCENT(2.5) },
    { "2", PERCENT(5), PERCENT(2.0) },
    /* [M] class 3 is one of reactive energy, IEC 62053-23 */
    { "3", AT_RATED, PERCENT(3.0) },
    /* [V] 2014/32/EU Annex V table 2, +5 to +30 degrees, below and from the transitional current; that this
     * is 0.05 In behind transformers is [M] */
    { "A", PERCENT(2), PERCENT(3.5) },
    { "A", PERCENT(5), PERCENT(3.5) },
    { "B", PERCENT(2), PERCENT(2.0) },
    { "B", PERCENT(5), PERCENT(2.0) },
    { "C", PERCENT(2), PERCENT(1.0) },
    { "C", PERCENT(5), PERCENT(0.7) },
};

/* [V2] IEC 61869-2, ratio error of measuring transformers, burden 25 to 100 % of rated. The phase
 * displacement does nothing to active energy at power factor 1. */
static const struct limit_row transformers[] = {
    { "0.1", PERCENT(5), PERCENT(0.4) },    { "0.1", PERCENT(20), PERCENT(0.2) },
    { "0.1", PERCENT(100), PERCENT(0.1) },  { "0.2", PERCENT(5), PERCENT(0.75) },
    { "0.2", PERCENT(20), PERCENT(0.35) },  { "0.2", PERCENT(100), PERCENT(0.2) },
    { "0.2S", PERCENT(1), PERCENT(0.75) },  { "0.2S", PERCENT(5), PERCENT(0.35) },
    { "0.2S", PERCENT(20), PERCENT(0.2) },  { "0.2S", PERCENT(100), PERCENT(0.2) },
    { "0.5", PERCENT(5), PERCENT(1.5) },    { "0.5", PERCENT(20), PERCENT(0.75) },
    { "0.5", PERCENT(100), PERCENT(0.5) },  { "0.5S", PERCENT(1), PERCENT(1.5) },
    { "0.5S", PERCENT(5), PERCENT(0.75) },  { "0.5S", PERCENT(20), PERCENT(0.5) },
    { "0.5S", PERCENT(100), PERCENT(0.5) }, { "1", PERCENT(5), PERCENT(3.0) },
    { "1", PERCENT(20), PERCENT(1.5) },     { "1", PERCENT(100), PERCENT(1.0) },
    { "3", PERCENT(50), PERCENT(3.0) },     { "3", PERCENT(120), PERCENT(3.0) },
};

static struct accuracy_limit find(const struct limit_row *rows, size_t count, const char *class_word,
                                  int64_t load)
{
    struct accuracy_limit limit = { UNKNOWN, false };
    for (size_t i = 0; i < count; i++) {
        if (strcmp(rows[i].class_word, class_word) != 0)
            continue;
        if (limit.share == UNKNOWN)
            limit.below = load != UNKNOWN && load < rows[i].from_load && rows[i].from_load < AT_RATED;
        if (limit.share == UNKNOWN || load == UNKNOWN || rows[i].from_load <= load)
            limit.share = rows[i].share;
    }
    return limit;
}

struct accuracy_limit accuracy_meter(const char *class_word, int64_t load)
{
    return find(meters, sizeof(meters) / sizeof(meters[0]), class_word, load);
}

struct accuracy_limit accuracy_ct(const char *class_word, int64_t load)
{
    return find(transformers, sizeof(transformers) / sizeof(transformers[0]), class_word, load);
}

int64_t accuracy_root_sum_square(const int64_t *parts, int32_t count)
{
    double sum = 0;
    for (int32_t i = 0; i < count; i++)
        sum += (double)parts[i] * (double)parts[i];
    return (int64_t)(sqrt(sum) + 0.5);
}
