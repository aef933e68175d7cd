#include "validate_sun.h"

#include "muldiv.h"

enum { PERCENT = 100, MILLI = 1000, HOUR_S = 3600 };
/* mJ/m2 of a clear sky that make 1 mWh of 1 Wp at 1000 W/m2 */
#define WEIGHT_PER_MWH INT64_C(3600000)
/* A twentieth of the peak power is always allowed: with the sun low the clear sky is too rough. Our own
 * choice. */
enum { LOW_SUN_SHARE = 20 };
/* A hundredth at night: a large plant sees twilight, by half of that a real one in Aargau for a year. Our own
 * choice. */
enum { NIGHT_SHARE = 100 };

/* What a part of the peak power brings during a block, mWh. */
static int64_t part_of(const struct sun_check *check, int64_t share, const struct block *block)
{
    return mul_div(check->peak_w * MILLI / share, block->length_s, HOUR_S);
}

void sun_check_block(const struct sun_check *check, struct tally tallies[ITEM_COUNT],
                     const struct block *block)
{
    struct tally *clear = &tallies[ITEM_CLEAR_SKY], *night = &tallies[ITEM_NIGHT];
    int64_t produced = block->energy[check->by_export];
    int64_t from_ms = block->start_s * MILLI, to_ms = (block->start_s + block->length_s) * MILLI;
    if (!check->has_place) {
        tally_untold(clear, 1);
        tally_untold(night, 1);
        return;
    }
    struct finding finding = { block->start_s, produced, UNKNOWN, UNKNOWN };
    if (sun_asleep(&check->place, from_ms, to_ms)) {
        tally_test(night, ITEM_NIGHT, &finding, produced <= part_of(check, NIGHT_SHARE, block) + check->step);
        return;
    }
    if (!check->has_plane || check->peak_w <= 0) {
        tally_untold(clear, 1);
        return;
    }
    int64_t weight = sun_weight(&check->place, &check->plane, from_ms, to_ms);
    int64_t most = mul_div(mul_div(check->peak_w, weight, WEIGHT_PER_MWH), check->percent, PERCENT);
    int64_t low = part_of(check, LOW_SUN_SHARE, block);
    most = (most > low ? most : low) + check->step;
    finding.share = number_share(produced, most);
    tally_test(clear, ITEM_CLEAR_SKY, &finding, produced <= most);
}
