#include "validate_spike.h"

#include <string.h>

#include "muldiv.h"

/* 1.2 x rated, as the gate allows: common practice, no source. */
enum { OVERLOAD_PERCENT = 120, PERCENT = 100, HOUR_S = 3600, MILLI = 1000 };

/* What a power brings in a time, mWh. */
static int64_t energy_of(int64_t watts, int64_t seconds)
{
    return mul_div(watts * MILLI, seconds, HOUR_S);
}

static void rank(struct block top[SPIKE_TOP], const struct block *block, int32_t counter)
{
    int32_t place = SPIKE_TOP;
    while (place > 0 && block->energy[counter] > top[place - 1].energy[counter])
        place--;
    if (place == SPIKE_TOP)
        return;
    memmove(&top[place + 1], &top[place], (size_t)(SPIKE_TOP - 1 - place) * sizeof(top[0]));
    top[place] = *block;
}

void spike_check_block(struct spike_check *check, const struct block *block)
{
    if (!block->measured || !block_whole(block)) {
        check->left_out++;
        return;
    }
    check->blocks++;
    for (int32_t c = 0; c < 2; c++)
        rank(check->top[c], block, c);
}

void spike_check_day(struct spike_check *check, struct tally *tally)
{
    for (int32_t c = 0; c < 2 && check->blocks >= SPIKE_TOP; c++) {
        const struct block *highest = &check->top[c][0];
        int64_t first = highest->energy[c], third = check->top[c][SPIKE_TOP - 1].energy[c];
        if (first <= 0)
            continue; /* nothing flowed this way */
        int64_t floor = energy_of(check->floor_w, highest->length_s), least = third > floor ? third : floor;
        struct finding finding = { highest->start_s, first, number_share(first - least, least), UNKNOWN };
        tally_test(tally, ITEM_SPIKE, &finding, first <= mul_div(least, PERCENT + check->percent, PERCENT));
    }
    if (check->blocks < SPIKE_TOP && check->blocks + check->left_out > 0)
        tally_untold(tally, 1);
    memset(check->top, 0, sizeof(check->top));
    check->blocks = check->left_out = 0;
}

void spike_check_rated(struct tally *tally, int64_t rated_w, int64_t step, int64_t start_s, int64_t end_s,
                       const int64_t energy[2])
{
    int64_t highest = energy[0] > energy[1] ? energy[0] : energy[1];
    if (rated_w <= 0 || highest == UNKNOWN) {
        tally_untold(tally, 1);
        return;
    }
    int64_t rated = energy_of(rated_w, end_s - start_s);
    struct finding finding = { start_s, highest, number_share(highest, rated), UNKNOWN };
    tally_test(tally, ITEM_RATED, &finding, highest <= mul_div(rated, OVERLOAD_PERCENT, PERCENT) + step);
}
