/* links: daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Any bytes as a zone file: refused, or days that tile time. libFuzzer; the
 * corpus is /usr/share/zoneinfo. */
#include <stdlib.h>

#include "civil.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct civil *civil = civil_open_bytes(data, size);
    if (!civil)
        return 0;
    for (int64_t t = -5000000000; t < 6000000000; t += 123456789) {
        int64_t day = civil_day_of(civil, t);
        if (civil_day_start(civil, day) > t || civil_day_start(civil, day + 1) <= t)
            abort();
    }
    civil_close(civil);
    return 0;
}
