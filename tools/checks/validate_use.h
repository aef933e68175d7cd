/* High/low check: use against the use of the same kind of time before. Pure. */
#ifndef METERBOOK_VALIDATE_USE_H
#define METERBOOK_VALIDATE_USE_H

#include "validate.h"

enum {
    USE_DAYS = 28, /* days before among which reference days are looked for */
    USE_LEAST = 3, /* fewer of a kind than these are no reference */
};

struct use_check {
    int32_t high_percent, low_percent;
    int64_t newest;        /* day number of the newest day */
    int64_t use[USE_DAYS]; /* by day number modulo USE_DAYS; UNKNOWN: no reference */
};

void use_check_init(struct use_check *check, int32_t high_percent, int32_t low_percent);

/* The use of a civil day (UNKNOWN: it is not known), mWh; days in order, holes allowed. Compared with
 * the mean of days of its kind (workday, Saturday, Sunday) among those before and then
 * remembered. `tally` NULL: only remembered. */
void use_check_day(struct use_check *check, struct tally *tally, int64_t day, int64_t at_s, int64_t use);

/* A use against that of its reference; either UNKNOWN: it cannot be told. */
void use_compare(struct tally *tally, enum item item, int64_t at_s, int64_t use, int64_t reference,
                 int32_t high_percent, int32_t low_percent);

#endif
