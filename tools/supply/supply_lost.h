/* Was production lost to high voltage? Strict: only falls count that a clear day does not have, and
 * only with the voltage at the level where inverters throttle. Clouds do the same, so like falls
 * below the level are counted too, and evidence asks that much more of the time at the level is spent in
 * falls.
 *
 * Of production as a whole: it stands steady for half an hour, falls within ten minutes, stays below the
 * straight line between the power before and after it for five hours at most, and stands steady for half an
 * hour again. On a clear day the power lies above that line, so what is missing to it was lost at least. Of a
 * part with two or more peers in one plane: it falls to less than half of the median of the peers per Wp for
 * an hour at most, while it stands with them before and after.
 *
 * Pure. All thresholds are our own choice. Ten minutes are places in arrays; the first begins at a UTC
 * midnight. Powers in W, UNKNOWN where not measured. */
#ifndef METERBOOK_SUPPLY_LOST_H
#define METERBOOK_SUPPLY_LOST_H

#include <stdbool.h>
#include <stdint.h>

enum { LOST_BLOCKS_A_DAY = 144, LOST_PEERS = 3 };

/* What fell and rose again. */
struct lost_sum {
    int32_t at_level, others;              /* falls at the level, and all others */
    int32_t at_level_blocks, other_blocks; /* ten minutes in which one could have been seen */
    int32_t at_level_fallen, other_fallen; /* of them in falls */
    int32_t days;                          /* with one at the level */
    int64_t energy;                        /* mWh that were not made in falls at the level */
    int64_t last_day;                      /* UTC */
};

/* A stretch of places and what is known of them; falls that begin in [first, end) count. */
struct lost_stretch {
    const int64_t *power;
    const int64_t *voltage; /* mV, of the highest phase; UNKNOWN where not valid */
    int32_t count, first, end;
    int64_t level;     /* mV */
    int64_t first_day; /* the UTC day of place 0 */
};

/* Falls of production as a whole. */
void lost_falls(struct lost_sum *sum, const struct lost_stretch *stretch);

/* What a part should make: power[part][place], peak_w[part] above 0. UNKNOWN with fewer than
 * LOST_PEERS parts that are known at the place. */
void lost_peers(int64_t *const *power, const int64_t *peak_w, int32_t parts, int32_t part, int32_t count,
                int64_t *should);

/* Falls of a part beside what it should make. */
void lost_lags(struct lost_sum *sum, const struct lost_stretch *stretch, const int64_t *should);

/* At least three falls at the level, on two days or more, and a share of the time there that is more than
 * three times that of the others. */
bool lost_is_evident(const struct lost_sum *sum);

#endif
