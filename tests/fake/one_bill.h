/* A bill of a test: one stretch, all import and export in the first block. */
#ifndef METERBOOK_ONE_BILL_H
#define METERBOOK_ONE_BILL_H

#include "bill.h"

#define KWH(x)   ((int64_t)((x)*1e6 + ((x) < 0 ? -0.5 : 0.5)))
#define MONEY(x) KWH(x)
#define NET      "settlement = \"net_metered\";"
#define BILLED   "settlement = \"net_billed\";"

extern const struct contract house; /* with a plant, one phase */

/* Of `days` from 2024-03-01 on, kWh. */
struct usage use_of(const struct tariff *tariff, int64_t days, double import, double export);
/* Without credit from before; asserts that it can be made whole. */
struct bill bill_once(const struct tariff *tariff, const struct usage *use);
struct bill bill_of(const struct tariff *tariff, int64_t days, double import);

#endif
