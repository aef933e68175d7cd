/* What must hold of a record at any time, whatever happened: for tests that
 * run the real collector on site.h and disk.h. Each fails the test that calls it. */
#ifndef METERBOOK_FAKE_AUDIT_H
#define METERBOOK_FAKE_AUDIT_H

#include "site.h"

/* First column of the first row; the format makes the statement. */
int64_t audit_ask(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Rows telescope to the account, in the record plus what waits; none is negative. */
void audit_conservation(const struct site *site);

/* Every closed day is the sum of its rows, and its curve theirs. */
void audit_days(void);
void audit_curves(const char *path);

/* Rows of each meter tile time: each ends where the next begins, no later than the
 * grid of the longest interval used says. */
void audit_tiling(int64_t longest_s);

/* One open register run per counter at most. */
void audit_runs(void);

/* No row of a meter begins before its first register run does. */
void audit_first_runs(void);

/* What the record and the open part say a counter's register would show had it never been reset. */
int64_t audit_total(const struct site *site, int meter, int counter);

#endif
