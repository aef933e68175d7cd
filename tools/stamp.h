/* Instants as text: RFC 3339 with the site's offset, and what a person reads. */
#ifndef METERBOOK_STAMP_H
#define METERBOOK_STAMP_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"

enum { STAMP_SIZE = 40 };

/* "2026-03-05T14:05:00+01:00". Returns `buffer`, as the others do. */
const char *stamp_rfc3339(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);

/* "2026-03-05 14:05", with seconds where there are any */
const char *stamp_minute(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);
/* "14:05"; on request with seconds, and with the offset for the hour that comes twice */
enum stamp_part { STAMP_SECONDS = 1, STAMP_OFFSET = 2 };
const char *stamp_clock(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s, int parts);
/* "2026-03-05" and "2026-03" */
const char *stamp_date(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);
const char *stamp_month(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);
/* "2026" and, of its week as ISO 8601 counts them, "2026-W10" */
const char *stamp_year(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);
const char *stamp_week(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);
/* "+01:00" */
const char *stamp_offset(char buffer[STAMP_SIZE], const struct civil *civil, int64_t utc_s);

/* Reads "2026-03-05T14:05:00Z" or with an offset; false leaves *utc_s alone. */
bool stamp_read(const char *text, int64_t *utc_s);

#endif
