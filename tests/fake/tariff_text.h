/* Tariffs written where a test needs them. */
#ifndef METERBOOK_TARIFF_TEXT_H
#define METERBOOK_TARIFF_TEXT_H

#include "tariff.h"

/* Reads a tariff from its text; NULL after problems, which are kept in `said` (NULL: printed). */
struct tariff *tariff_of(const char *text, char *said, size_t size);

/* The same of one schedule from 2000 on with these items, in the currency for tests (XTS of ISO 4217); `head`
 * are more settings of the tariff, `schedule` more of the schedule. */
struct tariff *tariff_of_items(const char *head, const char *schedule, const char *items);

#endif
