/* What went through our own meters before they were first read: from what the
 * logbook declares that a register once stood at to its first reading. */
#ifndef METERBOOK_SPANS_BEFORE_H
#define METERBOOK_SPANS_BEFORE_H

#include "logbook.h"
#include "query.h"

struct spans_before {
    int32_t meter; /* index in the configuration */
    enum sealed_register reg;
    int64_t from_s, to_s;
    int64_t
        energy;   /* mWh, after the meter's ratio; UNKNOWN: the register stood lower when it was first read */
    int64_t step; /* mWh */
};

/* Reads what an entry says of one register. False where it says nothing of it, where
 * it is about no meter of ours, or where the register has not been read yet. */
bool spans_before(struct spans_before *before, struct query *query, const struct config *config,
                  const struct logbook_entry *entry, enum sealed_register reg);

#endif
