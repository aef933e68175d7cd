/* A bill beside what the utility wrote, and what their difference comes from. */
#ifndef METERBOOK_BILL_PAPER_H
#define METERBOOK_BILL_PAPER_H

#include "bills.h"

/* Some ten kilobytes: on the heap. */
struct bill_paper {
    const struct bills *bills;
    const struct bill_pair *pair;
    bool has_estimates, has_reading, has_known;
    struct bill without_estimates, by_reading, as_known; /* ours under other circumstances (rebill.h) */
    const struct schedule *late;                         /* that was published after the bill was due; NULL */
};

/* For a pair whose bill with the plant could be made. */
void bill_paper_make(struct bill_paper *made, const struct bills *bills, const struct bill_pair *pair);

/* What the paper has for an item of ours; NULL nothing. */
const struct paper_item *bill_paper_item(const struct paper_bill *paper, const char *name);

/* What the difference of an item (NULL: of the total) comes from, in words; "" where there is none. */
const char *bill_paper_reason(const struct bill_paper *made, const char *item);

/* What ours has of a register that the paper prints, mWh; by how much that is more or less is written to
 * `out`, "" where they are the same. */
enum { PAPER_WORDS_SIZE = 64 };
int64_t bill_paper_reading(const struct bill_paper *made, const struct paper_reading *reading,
                           char out[PAPER_WORDS_SIZE]);

/* What an estimate could change, what was not yet known, their reading beside ours. */
void bill_paper_notes(const struct bill_paper *made, struct sheet *sheet);

/* Paper bills in the span that was asked for, of which the days are those of no bill of ours. */
void bill_paper_unmatched(const struct bills *bills, struct sheet *sheet);

#endif
