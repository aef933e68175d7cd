/* Spans of civil days as people name them: "2026-03-05", "yesterday",
 * "2026-03", "last", "2026", "2026-W10", "2026-01/2026-03". Pure: today is given. Days are
 * numbered as in civil.h. */
#ifndef METERBOOK_PERIOD_H
#define METERBOOK_PERIOD_H

#include <stdbool.h>
#include <stdint.h>

struct period {
    int64_t from_day, to_day; /* [from, to) */
};

/* First day of the month after the one that holds `day`. */
int64_t period_next_month(int64_t day);
/* The same of the year. */
int64_t period_next_year(int64_t day);

/* Each reads a word, NULL meaning the span that holds `today`, into `period`.
 * Returns NULL, or what is allowed (the period is then untouched). */
const char *period_day(struct period *period, const char *word, int64_t today);
const char *period_month(struct period *period, const char *word, int64_t today);
const char *period_year(struct period *period, const char *word, int64_t today);

/* Does a word for period_any() need its `reach`? */
bool period_is_open(const char *word);
/* Any of these, a week (ISO 8601: "2026-W10"), "this-month", "last-month", "this-year", "last-year", "all"
 * for `reach`, and two of them joined by a slash: from the first's beginning to the second's end. */
const char *period_any(struct period *period, const char *word, int64_t today, const struct period *reach);

/* Monday of the week that holds the day; year and number of that week as ISO 8601 counts them. */
int64_t period_week_start(int64_t day);
void period_week(int64_t day, int32_t *year, int32_t *week);

#endif
