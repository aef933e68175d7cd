/* links: tools/latest.c tools/balance/balance.c tools/output/number.c tools/balance/period.c tools/stamp.c daemon/record/nearest.c tools/output/text.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* What the query tool reads besides the record: the collector's runtime file,
 * and the words of a command line. libFuzzer. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"
#include "period.h"
#include "present.h"
#include "stamp.h"
#include "text.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void try_latest(char *text)
{
    static struct present present;
    memset(&present, 0, sizeof(present));
    present.now_ms = 1000000000;
    for (int32_t i = 0; i < 3; i++) {
        present.arrangement.meters[i] =
            (struct arranged_meter){ .number = i + 1, .role = (enum meter_role)i };
        present.meters[i] = (struct present_meter){ .number = i + 1, .power = UNKNOWN };
    }
    present.arrangement.meter_count = present.meter_count = 3;
    arrangement_prepare(&present.arrangement);
    if (!present_read(&present, text))
        return;
    if (present.bus_count > CONFIG_MAX_BUSES)
        abort();
    present_add_up(&present);
}

typedef const char *period_reader(struct period *period, const char *word, int64_t today);

/* A period that was read is one day at least and none before 1970. */
static void try_period(const char *word)
{
    static period_reader *const readers[] = { period_day, period_month, period_year };
    for (size_t i = 0; i < sizeof(readers) / sizeof(readers[0]); i++) {
        struct period period;
        if (!readers[i](&period, word, 20000) && (period.from_day < 0 || period.to_day <= period.from_day))
            abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const names[] = { "day", "month", "now", "year", NULL };
    char *text = calloc(1, size + 1);
    FILE *nowhere = fopen("/dev/null", "w");
    int64_t instant;
    if (!text || !nowhere)
        abort();
    if (size > 0)
        memcpy(text, data, size);
    try_period(text);
    (void)stamp_read(text, &instant);
    (void)nearest(text, names);
    text_json(nowhere, text);
    text_csv(nowhere, text);
    text_plain(nowhere, text, 8);
    try_latest(text);
    fclose(nowhere);
    free(text);
    return 0;
}
