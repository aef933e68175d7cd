#include "tariff_text.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { WHOLE_SIZE = 16384 };

struct said {
    char *text;
    size_t size;
};

static void keep(void *self, bool error, const char *line)
{
    struct said *said = self;
    const char *name = strrchr(line, '/');
    (void)error;
    if (!said->text)
        fprintf(stderr, "%s\n", line);
    else
        snprintf(said->text + strlen(said->text), said->size - strlen(said->text), "%s\n",
                 name ? name + 1 : line);
}

struct tariff *tariff_of(const char *text, char *text_said, size_t size)
{
    char directory[] = "/tmp/tariff-XXXXXX", path[64];
    struct said said = { text_said, size };
    struct problems problems = { .say = keep, .self = &said };
    if (text_said)
        text_said[0] = '\0';
    if (!mkdtemp(directory))
        abort();
    snprintf(path, sizeof(path), "%s/tariff", directory);
    FILE *file = fopen(path, "w");
    if (!file || fputs(text, file) < 0 || fclose(file) != 0)
        abort();
    struct tariff *tariff = tariff_load(path, &problems);
    unlink(path);
    rmdir(directory);
    return tariff;
}

struct tariff *tariff_of_items(const char *head, const char *schedule, const char *items)
{
    char text[WHOLE_SIZE];
    int length =
        snprintf(text, sizeof(text),
                 "tariff = { name = \"of a test\"; currency = \"XTS\"; revision = \"closing\"; %s };\n"
                 "schedules = ( { from = \"2000-01-01\"; %s items = ( %s ); } );\n",
                 head, schedule, items);
    if (length >= WHOLE_SIZE)
        abort();
    return tariff_of(text, NULL, 0);
}
