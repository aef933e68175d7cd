/* links: daemon/record/config.c daemon/record/config_classes.c daemon/record/config_file.c daemon/record/config_check.c daemon/record/config_impossible.c daemon/record/config_sealed.c daemon/record/config_checks.c daemon/record/config_supply.c daemon/record/config_expected.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/quantity.c daemon/record/calendar.c daemon/record/civil.c daemon/record/zone_file.c daemon/record/zone_rule.c */
/* Any text as configuration: refused with a line that says so, or taken.
 * libFuzzer; the corpus is config/ and tests/config/. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "config.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libconfig 1.5 loses the text it was reading at a syntax error: some bytes per
 * refused file, which are the library's. Called by LeakSanitizer. */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

static void hear(void *self, bool error, const char *line)
{
    (void)error;
    if (line[0] == '\0' || strchr(line, '\n'))
        abort();
    ++*(int *)self;
}

static void hear_impossible(void *self, const char *line)
{
    (void)self;
    if (line[0] == '\0')
        abort();
}

static void try_config(const char *path)
{
    int said = 0;
    struct problems problems = { .say = hear, .self = &said };
    struct config *config = config_load(path, &problems);
    if ((config == NULL) != (problems.errors > 0) || problems.errors + problems.warnings != said)
        abort();
    if (config)
        config_impossible(config, hear_impossible, NULL);
    config_free(config);
}

/* The same as the record keeps it: text that ends at its first NUL. */
static void try_stored(const uint8_t *data, size_t size)
{
    char *text = calloc(size + 1, 1);
    if (!text)
        return;
    memcpy(text, data, size);
    config_free(config_load_stored(text));
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    try_stored(data, size);
    char path[64];
    int descriptor = memfd_create("fuzz", 0);
    if (descriptor < 0)
        abort();
    if (write(descriptor, data, size) != (ssize_t)size)
        abort();
    snprintf(path, sizeof path, "/proc/self/fd/%d", descriptor);
    try_config(path);
    close(descriptor);
    return 0;
}
