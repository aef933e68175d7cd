/* What the comparison of parts says, in words: for the table, the data and the report. */
#ifndef METERBOOK_PARTS_WORDS_H
#define METERBOOK_PARTS_WORDS_H

#include "parts_read.h"

enum { PARTS_TEXT_SIZE = 320 };

/* Indexes of the parts: those that lag first, then by what they make beside the median, the least first. */
void parts_rank(const struct parts_answer *answer, int32_t order[PARTS_MOST]);

/* "lags since 2024-05-03" */
const char *parts_verdict_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t part);
/* "failure: 2 of 3 strings are left, if it has so many"; "" without an episode */
const char *parts_cause_text(char text[PARTS_TEXT_SIZE], const struct part_episode *episode);
/* An episode beside the one that the verdict speaks of. */
const char *parts_other_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t part,
                             const struct part_episode *episode);
/* That it is not observed any more. */
const char *parts_unseen_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t part);
/* Why it cannot be compared. */
const char *parts_alone_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t part);
/* The sum of the parts beside the production meter. */
const char *parts_sum_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer);

/* The episode that the verdict speaks of; NULL without. */
static inline const struct part_episode *part_main(const struct part *part)
{
    return part->main >= 0 ? &part->episodes[part->main] : NULL;
}

extern const char *const part_day_words[PART_DAY_COUNTS + 1];

#endif
