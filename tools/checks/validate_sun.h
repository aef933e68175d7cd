/* High/low check of production against the sun: never more than a clear sky
 * would bring by a margin, nothing at night. Pure. */
#ifndef METERBOOK_VALIDATE_SUN_H
#define METERBOOK_VALIDATE_SUN_H

#include "sun.h"
#include "validate.h"
#include "validate_block.h"

struct sun_check {
    bool has_place, has_plane;
    struct sun_place place;
    struct sun_plane plane;
    int64_t peak_w;  /* Wp; 0 not known */
    int32_t percent; /* of a clear sky's that may be produced */
    int64_t step;    /* of the register, mWh: allowed on top of both */
    bool by_export;  /* which counter is what was produced */
};

void sun_check_block(const struct sun_check *check, struct tally tallies[ITEM_COUNT],
                     const struct block *block);

#endif
