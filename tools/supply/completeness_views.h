/* The tables of `completeness`, each on a sheet: columns, rows and what must be known of them. */
#ifndef METERBOOK_COMPLETENESS_VIEWS_H
#define METERBOOK_COMPLETENESS_VIEWS_H

#include "completeness_read.h"
#include "sheet.h"

enum { COMPLETENESS_TEXT_SIZE = OUTAGE_KNOWN_SIZE + 64 };

struct completeness_work {
    const struct options *options;
    struct inquiry inquiry;
    struct completeness completeness;
    struct sheet sheet;
    char (*texts)[COMPLETENESS_TEXT_SIZE]; /* heap: what cells point to */
};

/* Each sets the columns and adds rows and notes. False where reading failed or memory was out. */
bool completeness_add_shares(struct completeness_work *work);
bool completeness_add_gaps(struct completeness_work *work);
bool completeness_add_events(struct completeness_work *work);
bool completeness_add_clocks(struct completeness_work *work);
bool completeness_add_residuals(struct completeness_work *work);

#endif
