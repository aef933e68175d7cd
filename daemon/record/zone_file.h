/* A zone file (TZif version 2 and later, RFC 8536) as one table of offsets. */
#ifndef METERBOOK_ZONE_FILE_H
#define METERBOOK_ZONE_FILE_H

#include <stddef.h>
#include <stdint.h>

enum { ZONE_LAST_YEAR = 2150 }; /* the rule at the file's end is written out up to here */

/* From from_s (UTC) on, until the next entry, local time is UTC + offset_s. */
struct zone_span {
    int64_t from_s;
    int32_t offset_s;
};

/* Returns the number of spans and the table in *spans (heap), the first from
 * INT64_MIN on; -1 where the bytes are no zone file or memory is out. */
int32_t zone_file_read(const unsigned char *bytes, size_t size, struct zone_span **spans);

#endif
