#include "rebill.h"

#include <string.h>

#include "number.h"

static bool make(const struct bill_basis *basis, const struct usage *uses, int32_t count, struct bill *other)
{
    struct credit credit = *basis->credit;
    return bill_make(other, basis->tariff, basis->contract, uses, count, &credit);
}

/* Is a block of a use's schedule one of those that are meant? "" means all. */
static bool is_meant(const struct usage *use, int32_t block, const char *name)
{
    return !name[0] ||
           (block < use->schedule->block_count && strcmp(use->schedule->blocks[block].name, name) == 0);
}

static int64_t sum_of(const struct usage *uses, int32_t count, enum measure measure, const char *name)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++)
            sum += is_meant(&uses[i], b, name) ? uses[i].energy[measure][b] : 0;
    return sum;
}

int64_t rebill_energy(const struct bill_basis *basis, const struct paper_reading *reading)
{
    return sum_of(basis->uses, basis->use_count, reading->of, reading->block);
}

/* Makes a measure add up to something else, in proportion; where it was nothing, in the first block. */
static void scale(struct usage *uses, int32_t count, enum measure measure, const char *name, int64_t to)
{
    int64_t from = sum_of(uses, count, measure, name), reached = 0, before = 0;
    for (int32_t i = 0; i < count; i++)
        for (int32_t b = 0; b < TARIFF_BLOCKS; b++) {
            if (!is_meant(&uses[i], b, name))
                continue;
            reached += uses[i].energy[measure][b];
            int64_t upto = from > 0 ? multiply_round(to, reached, from) : to;
            uses[i].energy[measure][b] = upto - before;
            before = upto;
        }
}

static bool make_scaled(const struct bill_basis *basis, const struct paper_bill *paper, struct bill *other)
{
    struct usage uses[BILL_STRETCHES];
    int32_t count = basis->use_count;
    memcpy(uses, basis->uses, (size_t)count * sizeof(uses[0]));
    if (paper->import != UNKNOWN)
        scale(uses, count, MEASURE_IMPORT, "", paper->import);
    if (paper->export != UNKNOWN)
        scale(uses, count, MEASURE_EXPORT, "", paper->export);
    for (int32_t i = 0; i < paper->reading_count; i++)
        if (paper->readings[i].block[0])
            scale(uses, count, paper->readings[i].of, paper->readings[i].block, paper->readings[i].energy);
    return make(basis, uses, count, other);
}

bool rebill_of_reading(const struct bill_basis *basis, const struct paper_bill *paper, struct bill *other)
{
    bool says = paper->import != UNKNOWN || paper->export != UNKNOWN || paper->reading_count > 0;
    return basis->use_count > 0 && says && make_scaled(basis, paper, other);
}

bool rebill_without_estimates(const struct bill_basis *basis, struct bill *other)
{
    struct paper_bill measured = { .export = UNKNOWN };
    int64_t import = sum_of(basis->uses, basis->use_count, MEASURE_IMPORT, ""), estimated = 0;
    for (int32_t i = 0; i < basis->use_count; i++)
        estimated += basis->uses[i].estimated;
    measured.import = estimated < import ? import - estimated : 0;
    return estimated > 0 && make_scaled(basis, &measured, other);
}

/* The newest schedule for a day that was known before another. */
static const struct schedule *known_at(const struct tariff *tariff, int64_t day, int64_t before_day)
{
    for (int32_t i = tariff->schedule_count - 1; i >= 0; i--)
        if (tariff->schedules[i].from_day <= day && tariff->schedules[i].known_day < before_day)
            return &tariff->schedules[i];
    return NULL;
}

bool rebill_as_known(const struct bill_basis *basis, int64_t day, const struct schedule **late,
                     struct bill *other)
{
    struct usage uses[BILL_STRETCHES];
    int32_t count = 0;
    *late = NULL;
    for (int32_t i = 0; i < basis->use_count; i++) {
        const struct usage *use = &basis->uses[i];
        const struct schedule *known = known_at(basis->tariff, use->from_day, day);
        if (!known)
            return false;
        if (known != use->schedule && !*late)
            *late = use->schedule;
        struct usage same = usage_in_blocks_of(use, known);
        if (count > 0 && uses[count - 1].schedule == known)
            usage_add(&uses[count - 1], &same);
        else
            uses[count++] = same;
    }
    return *late && make(basis, uses, count, other);
}

static bool is_within(int64_t a, int64_t b, int64_t rounding)
{
    return a != UNKNOWN && a - b <= rounding && b - a <= rounding;
}

enum difference difference_of(int64_t ours, int64_t theirs, int64_t by_reading, int64_t as_known,
                              int64_t rounding)
{
    if (ours == theirs)
        return DIFFERENCE_NONE;
    if (is_within(ours, theirs, rounding))
        return DIFFERENCE_ROUNDING;
    if (is_within(by_reading, theirs, rounding))
        return DIFFERENCE_QUANTITY;
    return is_within(as_known, theirs, rounding) ? DIFFERENCE_SCHEDULE : DIFFERENCE_RATE;
}

int64_t rebill_rounding(const struct tariff *tariff, const struct bill *bill, const char *item)
{
    int64_t least = MONEY_ONE, lines = 0;
    for (int32_t i = 0; i < tariff->decimals; i++)
        least /= 10;
    if (!item)
        return tariff->total.unit > least ? tariff->total.unit : least;
    for (int32_t i = 0; i < bill->line_count; i++)
        lines += bill->lines[i].item && strcmp(bill->lines[i].item->name, item) == 0;
    least = tariff->line.unit > least ? tariff->line.unit : least;
    return lines > 1 ? lines * least : least;
}
