/* How well the plant did in a span: by civil days as read, and added up to days, months or years.
 *
 * What was made is the balance's production, of whichever source speaks; what
 * a capacity factor divides by is the time that this energy is known for, not
 * the calendar's. A change of the plant (settings) counts from its day on. Light
 * is in it only where irradiance is measured in each plane (light.h). */
#ifndef METERBOOK_YIELD_H
#define METERBOOK_YIELD_H

#include "clear_days.h"
#include "inquiry.h"
#include "performance.h"
#include "plant.h"

struct yield_day {
    int64_t day; /* civil */
    int64_t from_s, to_s;
    int64_t length_s;   /* of it what lies before the end of the record */
    int64_t known_s;    /* of that what its energy is known for */
    int64_t observed_s; /* of that what the least observed production meter answered for */
    int64_t made;       /* mWh; UNKNOWN */
    bool sealed;        /* read from sealed meters, at least in part: observed_s means nothing */
    const struct plant *plant;
    struct performance light, undisturbed; /* undisturbed: without outages and throttled time */
    int64_t outage_s, throttled_s;         /* of the intervals with light that were disturbed */
    bool warmth_computed;
};

struct yield_row {
    int64_t from_s, to_s, from_day, to_day;
    int64_t length_s, known_s, observed_s, made; /* sums */
    bool sealed, warmth_computed;
    double per_kwp;                    /* kWh; NAN: peak power not stated */
    double capacity_peak, capacity_ac; /* NAN */
    struct performance light, undisturbed;
    int64_t outage_s, throttled_s;
    double ratio, ratio_25, undisturbed_ratio, undisturbed_25; /* NAN */
    struct clear_index clear;
};

struct yield {
    struct plants plants;
    struct yield_day *days; /* heap; those that the record or sealed readings reach */
    int32_t day_count, day_room;
    bool has_light;          /* irradiance in the plane was found: no clear days are looked for */
    struct clear_day *clear; /* heap; of the whole record */
    int32_t clear_count;
    struct yield_row *rows; /* heap */
    int32_t row_count;
    struct yield_row total;
};

/* The days of the inquiry's span; then their light. False, said on stderr, where reading failed. In any case
 * yield_free(). */
bool yield_read(struct yield *yield, const struct inquiry *inquiry);
bool yield_read_light(struct yield *yield, const struct inquiry *inquiry);
/* Adds them up to rows of ROW_DAY, ROW_MONTH or ROW_YEAR, and to the total; with clear days where there is
 * no light. False as above. */
bool yield_add_up(struct yield *yield, const struct inquiry *inquiry, enum row_unit unit);
void yield_free(struct yield *yield);

/* yield_clear.c: each whole day of the record, and which of them were clear. Seasons away from the days of
 * `period` are left out. False, said on stderr, where reading failed. */
bool yield_read_clear(const struct session *session, const struct plants *plants, struct period period,
                      struct clear_day **days, int32_t *count);

#endif
