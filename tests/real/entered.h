/* A directory with a record that `meterbook enter` fills, for the tests that run the real program. Everything
 * ends the test where it cannot. */
#ifndef METERBOOK_REAL_ENTERED_H
#define METERBOOK_REAL_ENTERED_H

#include "series.h"

/* cmocka's: make the directory, remove it. */
int entered_set_up(void **state);
int entered_tear_down(void **state);

/* Of a file there: data.csv, meterbook.conf, record.db ... Good for the next three calls. */
const char *entered_path(const char *name);

void entered_drop_record(void);

/* Configuration and register map of the series' meters. */
void entered_write_config(const struct dataset *series);

/* A new record whose collector takes over when the series is at its end. */
void entered_make_record(const struct dataset *series);

/* `meterbook enter` of data.csv. */
void entered_file(const char *options);

#endif
