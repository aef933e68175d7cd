/* What every bill saved, one after another: read once for all that add it up or draw it. */
#ifndef METERBOOK_SAVINGS_H
#define METERBOOK_SAVINGS_H

#include "bills.h"
#include "returns.h"

/* A bill that can be made both ways. */
struct saving {
    int64_t from_day, to_day;
    int64_t consumption, import, export, production; /* mWh */
    int64_t without, with, settled;                  /* millionths; settled: paid apart from the bill */
    int64_t saved, saved_so_far;                     /* of it, and of all since the first bill */
    int64_t fixed;                                   /* charges that are due whatever is used */
    int64_t export_value; /* export at its own rate: what items pay for it, or settlement would; UNKNOWN:
                             there is no such rate */
    int64_t estimated;    /* mWh of all that were not measured */
    bool settles;         /* a settlement year (or a part of it) ends in it */
    bool asked;           /* it reaches into the span */
    bool sealed;          /* it begins where readings of sealed meters speak, not the record */
    bool doubtful;        /* a reading was estimated, or days are missing */
};

struct savings {
    int32_t count, room;
    struct saving *rows; /* heap, by time */
    int32_t left_out;    /* bills that cannot be made both ways */
    int32_t asked_count, asked_left_out;
    struct saving total; /* of those that reach into the span, from the first's begin to the last's end;
                            saved_so_far of the last of all */
};

/* Is called for each bill, one that cannot be made both ways among them (saving NULL). */
typedef void savings_each(void *self, const struct bill_pair *pair, const struct saving *saving);

/* Makes all bills up to the end of the inquiry's span. False, said on stderr, where it failed;
 * savings_free() takes it in any case. */
bool savings_read(struct savings *savings, struct bills *bills, savings_each *each, void *self);
void savings_free(struct savings *savings);

/* What they are beside the plant's cost; false, said on stderr, without memory. At least one row. */
bool savings_returns(const struct savings *savings, const struct contract_file *contract,
                     struct returns *returns);

#endif
