/* Degradation from the record, by up to three ways, the surest first:
 *
 *   light   weekly performance ratio at 25 degC of undisturbed intervals; where the coefficient is not
 * stated, weekly power at one irradiance and module temperature, from a linear fit through them; needs both
 * measured clear   the plant's clear days (clear_days.h) months  monthly yields per kWp
 *
 * each beside the same month of other years (degradation.h). Weather scatters
 * the last most and the first least; outages and throttled time are in the last two. */
#ifndef METERBOOK_DECLINE_H
#define METERBOOK_DECLINE_H

#include "degradation.h"
#include "yield.h"

enum decline_way { DECLINE_LIGHT, DECLINE_CLEAR, DECLINE_MONTHS, DECLINE_WAYS };

struct decline_trend {
    bool present;
    int64_t from_s, to_s; /* of the values */
    struct degradation found;
    struct year_on_year pairs; /* a second opinion: the middle of all pairs a year apart; light and months */
};

struct decline {
    struct decline_trend trends[DECLINE_WAYS];
    bool corrected;                 /* the weeks are performance ratios at 25 degC; else they are carried */
    double irradiance, temperature; /* to this light and warmth, W/m2 and degC; NAN without */
};

/* From the days of a yield_read(). False, said on stderr, where reading failed. */
bool decline_read(struct decline *decline, const struct yield *yield, const struct inquiry *inquiry);

#endif
