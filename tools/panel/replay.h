/* A meter's readings from a file instead of from the invented world.
 *
 * Comma-separated, one header line that names the columns: time_s (required,
 * rising), import_wh, export_wh (cumulative), power_w (import > 0), voltage_v,
 * current_a, frequency_hz. Others are ignored, an empty field repeats the last
 * value. A row holds until the next one: registers change in steps, as the
 * meter did.
 */
#ifndef METERBOOK_PANEL_REPLAY_H
#define METERBOOK_PANEL_REPLAY_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum replay_column {
    REPLAY_TIME,
    REPLAY_IMPORT,
    REPLAY_EXPORT,
    REPLAY_POWER,
    REPLAY_VOLTAGE,
    REPLAY_CURRENT,
    REPLAY_FREQUENCY,
    REPLAY_COLUMN_COUNT
};

struct replay_row {
    int64_t at_ms;                      /* since the first row */
    int64_t value[REPLAY_COLUMN_COUNT]; /* thousandths */
};

struct replay {
    struct replay_row *rows;
    int32_t count;
    int32_t current; /* row that holds at the instant asked last */
    bool has[REPLAY_COLUMN_COUNT];
};

/* false: `why` says what is wrong, with the line. */
bool replay_load(struct replay *replay, const char *path, char *why, size_t why_size);

/* The row that holds at_ms after the first one; before it, the first, after the last, the last. */
const struct replay_row *replay_at(struct replay *replay, int64_t at_ms);

void replay_free(struct replay *replay);

#endif
