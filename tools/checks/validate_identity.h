/* Identification check: is it the same meter, read the same way? Pure. */
#ifndef METERBOOK_VALIDATE_IDENTITY_H
#define METERBOOK_VALIDATE_IDENTITY_H

#include "query_checks.h"
#include "validate.h"

/* A register run of the span. `before` is the run before it of the same counter, NULL for the first, which is
 * no change; `began` says that it began in the span; `configured` the serial number it should have, "" where
 * none is stated; `declared` that the logbook has an exchange of the meter then. */
void identity_check_run(struct tally tallies[ITEM_COUNT], const struct run_row *run,
                        const struct run_row *before, bool began, const char *configured, bool declared);

#endif
