/* A bill made once more under other circumstances, so that what an estimate, a reading or a revision changed
 * can be said in money. Pure. */
#ifndef METERBOOK_REBILL_H
#define METERBOOK_REBILL_H

#include "contract.h"

/* What a bill was made of. */
struct bill_basis {
    const struct tariff *tariff;
    const struct contract *contract;
    const struct usage *uses;
    int32_t use_count;
    const struct credit *credit; /* as it was before the bill */
};

/* Each fills in `other` and returns true; false where there is no such bill. */

/* Without the import that was estimated, or all of it where more was. */
bool rebill_without_estimates(const struct bill_basis *basis, struct bill *other);
/* With import and export as the paper has them: in all, and by the registers that it prints. */
bool rebill_of_reading(const struct bill_basis *basis, const struct paper_bill *paper, struct bill *other);
/* What ours has of a measure in the block that a reading is of. */
int64_t rebill_energy(const struct bill_basis *basis, const struct paper_reading *reading);
/* By the schedules that were known before `day`; false where they are the same, or there was none. `late` is
 * the first that was not. */
bool rebill_as_known(const struct bill_basis *basis, int64_t day, const struct schedule **late,
                     struct bill *other);

/* What a difference between two amounts comes from. */
enum difference {
    DIFFERENCE_NONE,
    DIFFERENCE_ROUNDING,
    DIFFERENCE_QUANTITY, /* their reading explains it */
    DIFFERENCE_SCHEDULE, /* a schedule that was not known yet does */
    DIFFERENCE_RATE,     /* none of these: a rate, or a rule */
    DIFFERENCE_COUNT
};

/* `by_reading` and `as_known` are what ours would be so, UNKNOWN where there is no such bill; amounts that
 * differ by no more than `rounding` are the same. */
enum difference difference_of(int64_t ours, int64_t theirs, int64_t by_reading, int64_t as_known,
                              int64_t rounding);

/* By how much the lines of an item (NULL: the total) may differ by rounding alone, at least by the currency's
 * least unit. */
int64_t rebill_rounding(const struct tariff *tariff, const struct bill *bill, const char *item);

#endif
