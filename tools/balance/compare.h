/* Two spans side by side: each figure of the balance by itself and by the days for which it is known, so that
 * spans of unlike length and completeness can be compared. Pure. */
#ifndef METERBOOK_COMPARE_H
#define METERBOOK_COMPARE_H

#include "answer.h"

enum compare_figure {
    COMPARE_PRODUCTION,
    COMPARE_IMPORT,
    COMPARE_EXPORT,
    COMPARE_CONSUMPTION,
    COMPARE_SELF_CONSUMPTION,
    COMPARE_CHARGE,
    COMPARE_DISCHARGE,
    COMPARE_GENERATOR,
    COMPARE_FIGURES
};

extern const char *const compare_words[COMPARE_FIGURES];

/* One figure in one span. */
struct compare_side {
    int64_t energy;  /* mWh; UNKNOWN */
    int64_t known_s; /* for which it is known */
    int64_t per_day; /* mWh a day of these; UNKNOWN */
};

struct compare_line {
    struct compare_side side[2];
    int64_t difference;       /* mWh a day, the first less the second; UNKNOWN */
    int64_t difference_share; /* of the second, millionths; UNKNOWN where that is not above zero */
};

struct compare_span {
    int64_t days;     /* civil days */
    int64_t length_s; /* of 23 to 25 hours each */
    struct balance balance;
    int64_t known_s[COMPARE_FIGURES];
};

/* What the comparison needs of an answer. */
struct compare_span compare_span_of(const struct answer *answer, int64_t days);

void compare_make(const struct compare_span span[2], struct compare_line lines[COMPARE_FIGURES]);

/* The same span a year earlier: by the calendar; of whole weeks the same weekdays, 52 weeks before (53 where
 * the number of the week would be another). */
struct period compare_year_before(const struct period *period, bool weeks);

/* Cuts a span that goes on after `known_day` (days from it on are not over) to those before it, and the
 * other to the same days: the same dates where both begin on one, else as many. Returns which was cut first
 * (0 or 1), -1 without a cut. A span left without a day has from_day == to_day. */
int32_t compare_cut(struct period period[2], int64_t known_day);

#endif
