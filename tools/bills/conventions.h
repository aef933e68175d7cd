/* How sheets of the trade reckon a saving, each by name, to be held against what bills say: pure. */
#ifndef METERBOOK_CONVENTIONS_H
#define METERBOOK_CONVENTIONS_H

#include "savings.h"

enum convention {
    CONVENTION_FIXED_AGAINST_PLANT,   /* charges that are due either way are booked against the plant */
    CONVENTION_PRODUCTION_AT_AVERAGE, /* all that was made, times the average price of the bill without the
                                         plant */
    CONVENTION_SELF_USE_AND_EXPORT,   /* self-use times that price, export times its own rate */
    CONVENTION_COUNT
};

/* What it would call the saving of a bill, millionths; UNKNOWN where the bill has nothing to reckon it from:
 * no consumption, or no rate of export. */
int64_t convention_saving(enum convention convention, const struct saving *saving);

#endif
