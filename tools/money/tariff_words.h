/* Words in a tariff's file that are more than one value. */
#ifndef METERBOOK_TARIFF_WORDS_H
#define METERBOOK_TARIFF_WORDS_H

#include <stdbool.h>
#include <stdint.h>

/* Each returns NULL, or what is allowed (a static text; the value is then untouched). */

/* "2026-03-05" */
const char *tariff_date(const char *text, int64_t *day);
/* "18:00", up to "24:00" */
const char *tariff_clock(const char *text, int32_t *second);
/* "4-9", "10-3 7", "all": bits of months, 1 << (month - 1) */
const char *tariff_months(const char *text, uint32_t *months);
/* "mon-fri holidays", "all": bits of weekdays, 1 << 0 Monday, 1 << 7 holidays */
const char *tariff_weekdays(const char *text, uint32_t *weekdays);
/* "03-31": month and day, "never": zeros */
const char *tariff_day_of_year(const char *text, int32_t *month, int32_t *day);

#endif
