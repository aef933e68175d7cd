/* The invented record: settings, register runs, events and clocks are written
 * by the daemon's own library. */
#include <stdio.h>
#include <stdlib.h>

#include "config.h"
#include "invent.h"
#include "store.h"

enum { BOOTS = 2 };

static const char record_path[] = "record.db";

static const char *const boots[BOOTS] = { "00000000-0000-4000-8000-000000000001",
                                          "00000000-0000-4000-8000-000000000002" };

struct invent_record {
    const struct invent *invent;
    struct invent_rows *rows;
    int64_t runs[INVENTED_METERS][INVENT_COUNTERS]; /* ids, 0 without */
};

static bool complain(const char *what, const char *why)
{
    fprintf(stderr, "invent: %s: %s\n", what, why);
    return false;
}

/* ---- what the daemon's library writes ---- */

static int64_t offset_of(const struct invent *invent, int boot)
{
    /* it had run for a minute when its first row began */
    return ((boot == 0 ? invent->begin_s : invent->defects[DEFECT_GAP].to_s) - 60) * 1000;
}

static int add_event(struct store *store, const struct invent *invent, int64_t at_s, const char *kind,
                     const char *text)
{
    int boot = at_s >= invent->defects[DEFECT_GAP].to_s - 60;
    if (at_s >= invent->end_s)
        return STORE_OK;
    return store_add_event(store, at_s * 1000, boots[boot], at_s * 1000 - offset_of(invent, boot), kind, 0,
                           NULL, 1, text);
}

static int add_events(struct store *store, const struct invent *invent)
{
    const struct defect_span *gap = &invent->defects[DEFECT_GAP], *outage = &invent->defects[DEFECT_OUTAGE];
    const struct {
        int64_t at_s;
        const char *kind, *text;
    } events[] = {
        { invent->begin_s - 60, "start", "version " METERBOOK_VERSION },
        { invent->begin_s - 58, "clock", "trusted: network" },
        { gap->from_s, "stop", "stopped by request" },
        { gap->to_s - 60, "start", "version " METERBOOK_VERSION },
        { gap->to_s - 58, "clock", "trusted: network" },
        { outage->from_s, "grid_lost", "voltage measured: 2.1 V" },
        { outage->to_s, "grid_back", "voltage measured" },
    };
    int result = STORE_OK;
    for (size_t i = 0; i < sizeof events / sizeof events[0] && result == STORE_OK; i++)
        result = add_event(store, invent, events[i].at_s, events[i].kind, events[i].text);
    for (int b = 0; b < BOOTS && result == STORE_OK; b++)
        if (b == 0 || gap->to_s < invent->end_s)
            result = store_add_clock(store, boots[b], 0, offset_of(invent, b), "network", 1000,
                                     b == 0 ? 0 : gap->from_s);
    return result;
}

static int add_run(struct invent_record *record, struct store *store, int64_t factor, int m, int c)
{
    const struct invented_meter *meter = &invented_meters[m];
    int64_t begin_s = record->invent->begin_s;
    struct store_run run = { .meter = meter->number,
                             .counter = c,
                             .factor = factor,
                             .from_ms = begin_s * 1000 + 1,
                             .first = meter->first,
                             .first_raw = (uint64_t)(meter->first / meter->step),
                             .step = meter->step,
                             .base_s = begin_s,
                             .base = meter->first,
                             .began = "first reading" };
    int result = store_put_run(store, &run);
    record->runs[m][c] = run.id;
    return result;
}

static int add_meters(struct invent_record *record, struct store *store, const struct config *config,
                      int64_t setting)
{
    int result = STORE_OK;
    for (int m = 0; m < INVENTED_METERS && result == STORE_OK; m++) {
        int64_t factor = 0;
        result = store_put_factor(store, &config->meters[m], setting, &factor);
        for (int c = 0; c < INVENT_COUNTERS && result == STORE_OK; c++)
            if (invented_meters[m].counts[c])
                result = add_run(record, store, factor, m, c);
    }
    return result;
}

static int add_all(struct invent_record *record, struct store *store, const struct config *config)
{
    int64_t setting = 0, from_ms = record->invent->begin_s * 1000 - 60000;
    int result = store_begin(store);
    if (result == STORE_OK)
        result = store_put_setting(store, config, boots[0], from_ms - offset_of(record->invent, 0), from_ms,
                                   &setting);
    if (result == STORE_OK)
        result = add_meters(record, store, config, setting);
    if (result == STORE_OK)
        result = add_events(store, record->invent);
    return result == STORE_OK ? store_commit(store) : result;
}

static void say_problem(void *self, bool error, const char *line)
{
    (void)self, (void)error;
    fprintf(stderr, "invent: %s\n", line);
}

static bool write_frame(struct invent_record *record)
{
    char why[256] = "";
    struct problems problems = { .say = say_problem };
    struct store *store = NULL;
    struct config *config = config_load("meterbook.conf", &problems);
    if (!config)
        return complain("meterbook.conf", "cannot be used");
    bool good = store_open(&store, record_path, why) == STORE_OK;
    if (!good)
        complain(record_path, why);
    else if (add_all(record, store, config) != STORE_OK)
        good = complain(record_path, store_why(store));
    if (store)
        store_close(store);
    config_free(config);
    return good;
}

struct invent_record *invent_record_open(const struct invent *invent)
{
    static const char *const files[] = { record_path, "record.db-wal", "record.db-shm" };
    struct invent_record *record = calloc(1, sizeof *record);
    if (!record)
        return NULL;
    record->invent = invent;
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++)
        remove(files[i]);
    if (write_frame(record))
        record->rows = invent_rows_open(invent, record_path);
    return record->rows ? record : NULL;
}

bool invent_record_take(struct invent_record *record, const struct flow *flow)
{
    return invent_rows_take(record->rows, flow);
}

static int move_anchors(const struct invent_record *record, struct store *store,
                        const struct invent_counted *counted)
{
    int result = store_begin(store);
    for (int m = 0; m < INVENTED_METERS; m++)
        for (int c = 0; c < INVENT_COUNTERS && result == STORE_OK; c++)
            if (record->runs[m][c])
                result = store_move_anchor(store, record->runs[m][c], counted->to_s,
                                           invented_meters[m].first + counted->energy[m][c]);
    return result == STORE_OK ? store_commit(store) : result;
}

bool invent_record_close(struct invent_record *record)
{
    struct store *store = NULL;
    struct invent_counted counted;
    char why[256] = "";
    bool good = invent_rows_close(record->rows, &counted);
    if (good && store_open(&store, record_path, why) != STORE_OK)
        good = complain(record_path, why);
    if (store) {
        if (move_anchors(record, store, &counted) != STORE_OK)
            good = complain(record_path, store_why(store));
        store_close(store);
    }
    free(record);
    return good;
}
