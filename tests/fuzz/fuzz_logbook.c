/* links: daemon/record/logbook.c daemon/record/logbook_line.c daemon/record/logbook_most.c daemon/record/logbook_names.c daemon/record/meter_names.c daemon/record/logbook_value.c daemon/record/nearest.c daemon/record/utf8.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Any bytes as a logbook: entries and problems, and what an entry says can be
 * written and read again. libFuzzer. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void hear(void *self, bool error, const char *line)
{
    (void)self;
    (void)error;
    if (!line[0])
        abort();
}

static void read_back(const struct logbook_entry *entry, const struct logbook_site *site)
{
    char value[64], text[256];
    struct logbook_entry again;
    char why[LOGBOOK_WHY_SIZE];
    for (int32_t key = 0; key < LOGBOOK_NUMBERS; key++) {
        if (entry->kind != LOGBOOK_READING || key >= LOGBOOK_OLD ||
            !logbook_value(entry, (enum logbook_key)key, site->civil, value, sizeof value))
            continue;
        int length = snprintf(text, sizeof text, "2026-03-05 reading x %s=%s",
                              logbook_key_name((enum logbook_key)key), value);
        if (logbook_line(text, (size_t)length, site, &again, why) != 1 ||
            again.number[key] != entry->number[key])
            abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct config config;
    struct problems problems = { .say = hear };
    config.sealed_count = 1;
    config.sealed[0] =
        (struct config_sealed){ .name = "utility", .registers = 127, .digits = 5, .decimals = 1 };
    struct civil *civil = civil_open("Europe/Berlin");
    if (!civil)
        return 0;
    for (int named = 0; named < 2; named++) {
        struct logbook_site site = { .civil = civil, .config = named ? &config : NULL };
        struct logbook *logbook = logbook_read((const char *)data, size, "fuzz", &site, &problems);
        site.config = NULL;
        for (int32_t i = 0; logbook && i < logbook->count; i++)
            read_back(&logbook->entries[i], &site);
        logbook_free(logbook);
    }
    civil_close(civil);
    return 0;
}
