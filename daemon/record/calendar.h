/* The proleptic Gregorian calendar: no zone, no clock. Days are numbered since
 * 1970-01-01. Months 1..12, days 1..31; a day past the end of its month runs on
 * into the next. */
#ifndef METERBOOK_CALENDAR_H
#define METERBOOK_CALENDAR_H

#include <stdint.h>

int64_t civil_day_number(int64_t year, int32_t month, int32_t day);
void civil_date(int64_t day_number, int32_t *year, int32_t *month, int32_t *day);

#endif
