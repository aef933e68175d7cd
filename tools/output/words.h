/* Figures and dates in the words of a sentence. */
#ifndef METERBOOK_WORDS_H
#define METERBOOK_WORDS_H

#include <stdint.h>

#include "civil.h"
#include "period.h"

enum { WORDS_SIZE = 80 };

extern const char *const words_months[12]; /* "January" */

/* "512 kWh", "41.3 kWh", "2.14 kWh": three digits, no more decimals than `most`; "not known". */
const char *words_energy(char buffer[WORDS_SIZE], int64_t mwh, int32_t most);

/* "5.41 kW" of mW. */
const char *words_power(char buffer[WORDS_SIZE], int64_t mw);

/* "41 %", "3.4 %" of millionths. */
const char *words_share(char buffer[WORDS_SIZE], int64_t share);

/* "5 March 2026" */
const char *words_day(char buffer[WORDS_SIZE], int64_t day);

/* "5 March 2026, 14:05" */
const char *words_minute(char buffer[WORDS_SIZE], const struct civil *civil, int64_t utc_s);

/* "2026", "March 2026", "5 March 2026", "5 March 2026 to 7 April 2026" */
const char *words_period(char buffer[WORDS_SIZE], const struct period *period);

#endif
