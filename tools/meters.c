#include "meters.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "nearest.h"

static void add(struct meters *meters, const struct arranged_meter *meter)
{
    int32_t at = 0;
    while (at < meters->count && meters->list[at].number < meter->number)
        at++;
    bool known = at < meters->count && meters->list[at].number == meter->number;
    if (!known && meters->count == HISTORY_MAX_METERS)
        return;
    if (!known) {
        memmove(&meters->list[at + 1], &meters->list[at],
                (size_t)(meters->count - at) * sizeof(meters->list[0]));
        meters->count++;
    }
    meters->list[at] = *meter; /* settings come in their order: the newest stays */
}

bool meters_read(struct meters *meters, struct session *session)
{
    struct history history;
    *meters = (struct meters){ 0 };
    query_begin(session->query);
    bool read = history_read(&history, session->query, INT64_MIN, INT64_MAX) == 0;
    query_end(session->query);
    for (int32_t i = 0; read && i < history.count; i++)
        for (int32_t j = 0; j < history.arrangements[i].meter_count; j++) {
            const struct arranged_meter *meter = &history.arrangements[i].meters[j];
            if (meter->number != METER_DERIVED || meter->use != USE_NONE)
                add(meters, meter);
        }
    history_free(&history);
    if (!read && query_error(session->query))
        session_failed(session);
    else if (!read)
        fputs("meterbook: the record has no settings yet\n", stderr);
    return read;
}

static void say_unknown(const struct meters *meters, const char *word)
{
    const char *names[HISTORY_MAX_METERS + 1] = { NULL };
    for (int32_t i = 0; i < meters->count; i++)
        names[i] = meters->list[i].name;
    const char *near = nearest(word, names);
    fprintf(stderr, "meterbook: '%s' is no meter of the record", word);
    if (near) {
        fprintf(stderr, ", did you mean '%s'?\n", near);
        return;
    }
    for (int32_t i = 0; i < meters->count; i++)
        fprintf(stderr, "%s '%s'", i ? "," : ": it has", names[i]);
    fputs("\n", stderr);
}

enum exit_code meters_find(struct session *session, const char *word, int32_t *number)
{
    struct meters meters;
    char digits[16];
    if (!meters_read(&meters, session))
        return EXIT_RECORD;
    for (int32_t pass = 0; pass < 2; pass++) /* a name may look like another meter's number */
        for (int32_t i = 0; i < meters.count; i++) {
            snprintf(digits, sizeof(digits), "%d", (int)meters.list[i].number);
            if (strcmp(pass == 0 ? meters.list[i].name : digits, word) != 0)
                continue;
            *number = meters.list[i].number;
            return EXIT_ANSWERED;
        }
    say_unknown(&meters, word);
    return EXIT_USAGE;
}
