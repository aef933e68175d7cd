/* Are the curves of a record those of its rows? */
#ifndef METERBOOK_FAKE_CURVES_H
#define METERBOOK_FAKE_CURVES_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stddef.h>

/* Folds every closed day's rows anew: what the record keeps of it must be the same bytes, and nothing where
 * the day can have no curve or has no row. False with `why`. */
bool curves_agree(sqlite3 *db, char *why, size_t size);

#endif
