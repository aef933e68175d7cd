/* The present as the record counts it. Where no network sets this computer's clock
 * it may be wrong by years, while the collector dates by a clock that somebody vouched for. */
#ifndef METERBOOK_SITE_CLOCK_H
#define METERBOOK_SITE_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

#include "query.h"

enum { SITE_BOOT_SIZE = 37 };

/* Time since boot, ms. */
int64_t site_boot_ms(void);

/* This boot's id as the collector that has `runtime` calls it; false, with errno, where it is not known. */
bool site_boot(const char *runtime, char boot[SITE_BOOT_SIZE]);

/* UTC in ms: by the record's newest clock of this boot, else, or where the network disciplines the
 * computer's clock, by that one. `query` may be NULL. */
int64_t site_now_ms(struct query *query, const char *runtime);

#endif
