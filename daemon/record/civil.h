/* The site's civil calendar: days, offsets and midnights of one time zone.
 *
 * Days are numbered since 1970-01-01 of the civil calendar. A day is
 * [civil_day_start(d), civil_day_start(d + 1)) in UTC: 23, 23.5, 24, 24.5 or
 * 25 h. Its start is the first instant at which the site's clock shows that
 * date or a later one, so a midnight that does not exist (clock put forward
 * at 00:00) and one that comes twice both have one answer, and days tile time
 * without hole or overlap. Days that a zone skipped are empty.
 *
 * After civil_open() nothing changes any more: any thread may read. */
#ifndef METERBOOK_CIVIL_H
#define METERBOOK_CIVIL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "calendar.h"

struct civil;

/* Loads a zone ("Asia/Kathmandu") from the system's zone data. Heap; NULL
 * where the zone does not exist, its file is damaged or memory is out. */
struct civil *civil_open(const char *zone);
/* The same from the bytes of a zone file (TZif, RFC 8536). */
struct civil *civil_open_bytes(const unsigned char *bytes, size_t size);
void civil_close(struct civil *civil);

/* First instant of the day, UTC s. */
int64_t civil_day_start(const struct civil *civil, int64_t day);
/* The day that holds an instant. */
int64_t civil_day_of(const struct civil *civil, int64_t utc_s);
/* Local time minus UTC at an instant, in s. */
int32_t civil_offset(const struct civil *civil, int64_t utc_s);

/* Does a grid of this length, aligned to UTC, meet every local midnight of
 * the years 1990 to 2100? If not, *day is the first that it misses. */
bool civil_grid_fits(const struct civil *civil, int32_t length_s, int64_t *day);

/* Edition of the zone data, e.g. "2024a"; "" where it is not stated. */
void civil_edition(char *edition, size_t size);

#endif
