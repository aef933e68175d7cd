/* What a kWh is worth under a tariff's own netting: of using less, of using it at another time, of making
 * more. Found by making all bills of the span again with a kWh more or less of it: pure. Give it a tariff
 * that rounds nothing (tariff_unrounded()). */
#ifndef METERBOOK_WORTH_H
#define METERBOOK_WORTH_H

#include "what_if.h"

enum { WORTH_HOURS = 24, WORTH_MONTHS = 13 }; /* month 0: all of them together */

/* Millionths of the currency for a kWh; UNKNOWN where nothing is recorded of such an hour. */
struct worth {
    int32_t unknown;   /* intervals of which kVAh, kVA or kvarh that the tariff asks for are not known: then
                          there is   nothing else */
    int64_t use_less;  /* spread over all hours */
    int64_t make_more; /* as the plant makes, spread over what it made */
    int64_t
        shift_to_production; /* within each day, from hours without production into those with a surplus */
    int64_t export_instead;  /* of using less while there is a surplus: so much more is exported */
    int64_t use_less_at[WORTH_MONTHS][WORTH_HOURS];
    int64_t make_more_at[WORTH_MONTHS][WORTH_HOURS];
};

/* `trace` is changed while it works, and as before at the end. False without memory or where a bill cannot be
 * made. */
bool worth_find(struct worth *worth, struct trace *trace, const struct trace_bins *bins,
                const struct contract *contract);

#endif
