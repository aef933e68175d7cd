/* What the query tells of the record on the disk of disk.h. Apart from the
 * tests, since the query's site and that of site.h are two things. */
#ifndef METERBOOK_FAKE_TOLD_H
#define METERBOOK_FAKE_TOLD_H

#include "outages.h"

/* All outages; fails the test where the record cannot be read. */
void told_outages(struct outages *outages, int64_t now_ms);

#endif
