/* What cases of what-if and a sweep are computed over: the intervals of a span, and the tariffs' bins. */
#ifndef METERBOOK_WHAT_IF_READ_H
#define METERBOOK_WHAT_IF_READ_H

#include "bills.h"
#include "sweep.h"

struct what_if_base {
    struct trace trace;
    struct trace_bins bins, without; /* of the tariff with the plant and without it */
    struct contract terms;           /* at the trace's end */
    int64_t recorded_kwp;            /* 10^-6 kWp: of the plant that made it */
};

/* Of the inquiry's span, under the contract of open bills. False, said on stderr, where it failed;
 * what_if_base_free() takes it in any case. */
bool what_if_base_read(struct what_if_base *base, const struct inquiry *inquiry, const struct bills *bills);
void what_if_base_free(struct what_if_base *base);

/* A case of the contract over them; it points into `entry`. */
struct what_if what_if_of(const struct what_if_base *base, const struct contract_case *entry);

/* The contract's group that a sweep needs and that is not there; NULL: all are. */
const char *sweep_lacks(const struct what_if_base *base, const struct contract_file *contract);

#endif
