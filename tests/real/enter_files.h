/* A series as files to be entered. */
#ifndef METERBOOK_REAL_ENTER_FILES_H
#define METERBOOK_REAL_ENTER_FILES_H

#include "series.h"

/* The registers as they would be read: whole units, without the cuts. */
void write_counters(const char *path, const struct dataset *series, const struct cut cuts[], int count);

/* The energy of each row outside the cuts; sums what was written. */
void write_energies(const char *path, const struct dataset *series, const struct cut cuts[], int count,
                    int64_t sums[SERIES_METERS][2]);

#endif
