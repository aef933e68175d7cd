/* Spans of civil days as people name them: "2026-03-05", "yesterday",
 * "2026-03", "last", "2026". Pure: today is given. Days are numbered as in
 * civil.h. */
#ifndef METERBOOK_PERIOD_H
#define METERBOOK_PERIOD_H

#include <stdint.h>

struct period {
    int64_t from_day, to_day; /* [from, to) */
};

/* First day of the month after the one that holds `day`. */
int64_t period_next_month(int64_t day);

/* Each reads a word, NULL meaning the span that holds `today`, into `period`.
 * Returns NULL, or what is allowed (the period is then untouched). */
const char *period_day(struct period *period, const char *word, int64_t today);
const char *period_month(struct period *period, const char *word, int64_t today);
const char *period_year(struct period *period, const char *word, int64_t today);

#endif
