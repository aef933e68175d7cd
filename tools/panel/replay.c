#include "replay.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MAX_FIELDS = 32, LINE_SIZE = 1024 };

static const char *const column_names[REPLAY_COLUMN_COUNT] = { "time_s",      "import_wh", "export_wh",
                                                               "power_w",     "voltage_v", "current_a",
                                                               "frequency_hz" };

/* Which column each field of the header is; REPLAY_COLUMN_COUNT = none of ours. */
static int read_header(struct replay *replay, char *line, int fields[MAX_FIELDS])
{
    int count = 0;
    char *rest = line, *name;
    while (count < MAX_FIELDS && (name = strsep(&rest, ",\r\n")) != NULL) {
        int column = 0;
        while (column < REPLAY_COLUMN_COUNT && strcmp(column_names[column], name) != 0)
            column++;
        if (column < REPLAY_COLUMN_COUNT)
            replay->has[column] = true;
        fields[count++] = column;
    }
    return count;
}

static bool read_row(char *line, const int fields[MAX_FIELDS], int field_count, struct replay_row *row)
{
    char *rest = line, *text;
    for (int i = 0; i < field_count && (text = strsep(&rest, ",\r\n")) != NULL; i++) {
        char *end;
        if (fields[i] == REPLAY_COLUMN_COUNT || *text == '\0')
            continue;
        double value = strtod(text, &end);
        if (*end != '\0' || !(fabs(value) < 9e15))
            return false;
        row->value[fields[i]] = llround(value * 1000);
    }
    return true;
}

static bool add_row(struct replay *replay, const struct replay_row *row)
{
    if ((replay->count & (replay->count - 1)) == 0) {
        size_t room = replay->count == 0 ? 1 : (size_t)replay->count * 2;
        struct replay_row *grown = realloc(replay->rows, room * sizeof *grown);
        if (grown == NULL)
            return false;
        replay->rows = grown;
    }
    replay->rows[replay->count++] = *row;
    return true;
}

static bool read_rows(struct replay *replay, FILE *file, const char *path, char *why, size_t why_size)
{
    char line[LINE_SIZE];
    int fields[MAX_FIELDS], field_count = 0;
    struct replay_row row = { 0 };
    int64_t first_ms = 0;
    for (int number = 1; fgets(line, sizeof line, file) != NULL; number++) {
        if (number == 1) {
            field_count = read_header(replay, line, fields);
            if (replay->has[REPLAY_TIME])
                continue;
            snprintf(why, why_size, "%s:1: no column time_s in the header", path);
            return false;
        }
        if (line[strspn(line, "\r\n")] == '\0')
            continue;
        if (!read_row(line, fields, field_count, &row)) {
            snprintf(why, why_size, "%s:%d: not a number", path, number);
            return false;
        }
        if (replay->count == 0)
            first_ms = row.value[REPLAY_TIME];
        row.at_ms = row.value[REPLAY_TIME] - first_ms;
        if (replay->count > 0 && row.at_ms <= replay->rows[replay->count - 1].at_ms) {
            snprintf(why, why_size, "%s:%d: time_s does not rise", path, number);
            return false;
        }
        if (!add_row(replay, &row)) {
            snprintf(why, why_size, "%s: out of memory", path);
            return false;
        }
    }
    if (replay->count == 0)
        snprintf(why, why_size, "%s: no rows", path);
    return replay->count > 0;
}

bool replay_load(struct replay *replay, const char *path, char *why, size_t why_size)
{
    FILE *file = fopen(path, "r");
    *replay = (struct replay){ 0 };
    if (file == NULL) {
        snprintf(why, why_size, "cannot open '%s': %s", path, strerror(errno));
        return false;
    }
    bool good = read_rows(replay, file, path, why, why_size);
    fclose(file);
    if (!good)
        replay_free(replay);
    return good;
}

const struct replay_row *replay_at(struct replay *replay, int64_t at_ms)
{
    if (replay->rows[replay->current].at_ms > at_ms)
        replay->current = 0;
    while (replay->current + 1 < replay->count && replay->rows[replay->current + 1].at_ms <= at_ms)
        replay->current++;
    return &replay->rows[replay->current];
}

void replay_free(struct replay *replay)
{
    free(replay->rows);
    *replay = (struct replay){ 0 };
}
