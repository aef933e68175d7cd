#include "present.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "query_dating.h"
#include "query_supply.h"
#include "stamp.h"

enum {
    LATEST_SIZE = 32768,
    TORN_TRIES = 100,    /* the collector writes for a few microseconds a second */
    LOOK_BACK_S = 86400, /* how far the record is searched for a meter's newest interval */
};

#define INSTEAD ": values are means of the newest interval"

static void note(struct present *present, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void note(struct present *present, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(present->notes[present->note_count++], NOTE_SIZE, format, arguments);
    va_end(arguments);
}

static void fill_meters(struct present *present, struct query *query)
{
    for (int32_t i = 0; i < present->arrangement.meter_count; i++) {
        const struct arranged_meter *from = &present->arrangement.meters[i];
        if (from->number == METER_DERIVED) /* the last one: it is never read */
            break;
        struct present_meter *to = &present->meters[present->meter_count++];
        *to = (struct present_meter){
            .number = from->number,
            .role = from->role < ROLE_COUNT ? role_name(from->role) : "unknown",
            .state = STATE_WAITING,
            .at_ms = UNKNOWN,
            .power = UNKNOWN,
            .voltage = UNKNOWN,
            .today_import = UNKNOWN,
            .today_export = UNKNOWN,
        };
        memcpy(to->name, from->name, sizeof(to->name));
        int64_t step =
            query_step(query, from->number, present->now_ms / 1000 - LOOK_BACK_S, present->now_ms / 1000);
        to->decimals = number_decimals_of_step(step, 3);
    }
}

/* A weather station has momentary values alone. */
static void read_momentary(struct present *present, struct query *query, int64_t from_s, int64_t to_s)
{
    for (int32_t i = 0; i < present->meter_count; i++) {
        struct present_meter *meter = &present->meters[i];
        int64_t start_s;
        if (meter->state != STATE_WAITING)
            continue;
        query_momentary(query, meter->number, from_s, to_s);
        while (query_next_momentary(query, &start_s)) {
            meter->state = STATE_RECORDED;
            meter->at_ms = (start_s + present->arrangement.interval_s) * 1000;
        }
    }
}

/* Each meter's newest interval and its energy of the day that holds the present. */
static void read_record(struct present *present, struct query *query)
{
    struct interval_row row;
    int64_t midnight = civil_day_start(present->civil, civil_day_of(present->civil, present->now_ms / 1000));
    int64_t newest = present->site.last_s, length = present->arrangement.interval_s;
    int64_t from = newest - LOOK_BACK_S < midnight ? newest - LOOK_BACK_S : midnight;
    query_intervals_back(query, from, newest + 1);
    while (query_next_interval_back(query, &row)) {
        struct present_meter *meter = present_find(present, row.meter);
        if (!meter)
            continue;
        if (meter->state == STATE_WAITING) {
            meter->state = STATE_RECORDED;
            meter->at_ms = (row.start_s + length) * 1000;
            meter->power = row.power == UNKNOWN ? UNKNOWN : row.power * 1000;
            meter->voltage = row.voltage == UNKNOWN ? UNKNOWN : row.voltage * 10;
        }
        if (row.start_s >= midnight) {
            meter->today_import = number_sum(meter->today_import, row.import);
            meter->today_export = number_sum(meter->today_export, row.export);
        }
    }
    read_momentary(present, query, from, newest + 1);
    present->at_ms = (newest + length) * 1000;
}

/* The file's text in `text`; false after a note on why it cannot be had. */
static bool read_file(struct present *present, const char *path, char text[LATEST_SIZE])
{
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    if (fd < 0) {
        note(present, "%s ('%s': %s)" INSTEAD,
             errno == ENOENT ? "the collector does not run" : "the collector's file cannot be read", path,
             strerror(errno));
        return false;
    }
    bool whole = false;
    for (int tries = 0; tries < TORN_TRIES && !whole; tries++) {
        ssize_t size = pread(fd, text, LATEST_SIZE - 1, 0);
        text[size > 0 ? size : 0] = '\0';
        whole = present_unwrap(text);
    }
    close(fd);
    return true;
}

/* True where the collector's own file is there and recent. */
static bool read_latest(struct present *present, const char *runtime)
{
    char path[PATH_MAX], at[STAMP_SIZE], text[LATEST_SIZE];
    struct present before = *present;
    snprintf(path, sizeof(path), "%s/latest", runtime);
    if (!read_file(present, path, text))
        return false;
    bool good = present_read(present, text);
    bool old = good && present->now_ms - present->at_ms > present_stale_ms(present);
    if (good && !old)
        return true;
    stamp_minute(at, present->civil, present->at_ms / 1000);
    *present = before;
    if (old)
        note(present, "the collector does not run since %s" INSTEAD, at);
    else
        note(present, "'%s' is not of the form that this program knows" INSTEAD, path);
    return false;
}

/* The collector's own file has energies as measured. */
static void correct_today(struct present *present, struct query *query)
{
    int64_t now_s = present->now_ms / 1000, import, export;
    int64_t midnight = civil_day_start(present->civil, civil_day_of(present->civil, now_s));
    bool any = false;
    for (int32_t i = 0; i < present->meter_count; i++) {
        struct present_meter *meter = &present->meters[i];
        if (!query_changed_by(query, meter->number, midnight, now_s, &import, &export))
            continue;
        /* a counter that the meter lacks stays unknown */
        meter->today_import = import ? number_sum(meter->today_import, import) : meter->today_import;
        meter->today_export = export ? number_sum(meter->today_export, export) : meter->today_export;
        any = true;
    }
    if (any)
        note(present, "today's energy is corrected as the logbook says; power and voltage are as measured");
}

bool present_build(struct present *present, struct query *query, const struct civil *civil,
                   const char *runtime, int64_t now_ms)
{
    *present = (struct present){
        .civil = civil,
        .now_ms = now_ms,
        .at_ms = now_ms,
        .production = UNKNOWN,
        .grid = UNKNOWN,
        .consumption = UNKNOWN,
    };
    query_begin(query);
    bool settings = query_site(query, &present->site);
    if (settings) {
        struct setting_row newest = { present->site.setting, 0, present->site.interval_s };
        query_meters(query, &newest, &present->arrangement);
        fill_meters(present, query);
        if (query_waits(query))
            note(present, "readings " WAIT_FOR_CLOCK);
        if (runtime)
            present->running = read_latest(present, runtime);
        else
            note(present, "from the record alone" INSTEAD);
        if (present->running) {
            correct_today(present, query);
            present_add_up(present);
        } else if (present->site.has_rows)
            read_record(present, query);
    }
    query_end(query);
    return settings;
}
