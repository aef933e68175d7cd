#include "outages.h"
#include "query_outages.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    MINUTE_MS = 60000,
    RELOAD_MS = MINUTE_MS,     /* stopped and started again so fast is no outage */
    JOIN_MS = 10 * MINUTE_MS,  /* what the next process finds lost so soon was lost all the while */
    STALE_MS = 15 * MINUTE_MS, /* rows are at most so late */
    COMMIT_S = 300,            /* a process lived on at most so long after its last row, by default */
};

const char *const outage_kind_words[OUTAGE_KINDS] = {
    "grid", "phase", "computer", "bus", "meter", "inverter"
};

/* Events that begin or end an outage. */
static const struct {
    const char *begin, *end;
    enum outage_kind kind;
} changes[] = {
    { "grid_lost", "grid_back", OUTAGE_GRID },
    { "phase_lost", "phase_back", OUTAGE_PHASE },
    { "bus_down", "bus_up", OUTAGE_BUS },
    { "meter_lost", "meter_back", OUTAGE_METER },
};
enum { CHANGES = sizeof(changes) / sizeof(changes[0]) };

/* A collector's process, and the one before it that had a clock. */
struct life {
    struct outages *outages;
    struct query *query;
    bool any;     /* a process with a clock was seen */
    bool undated; /* another without one is newer */
    bool stopped; /* by request */
    char boot[40];
    int64_t start_ms, last_ms; /* of the process with a clock: start and newest event, */
    int64_t doubt_ms;          /* and what its clock may be off by */
};

struct outage *outages_add(struct outages *outages, const struct outage *outage)
{
    if (outages->count == outages->room) {
        int32_t room = outages->room ? 2 * outages->room : 64;
        struct outage *list = realloc(outages->list, (size_t)room * sizeof(*list));
        if (!list) {
            outages->memory_out = true;
            return NULL;
        }
        outages->list = list;
        outages->room = room;
    }
    outages->list[outages->count] = *outage;
    return &outages->list[outages->count++];
}

void outages_free(struct outages *outages)
{
    free(outages->list);
    *outages = (struct outages){ 0 };
}

void outages_keep(struct outages *outages, int64_t from_ms, int64_t to_ms)
{
    int32_t kept = 0;
    for (int32_t i = 0; i < outages->count; i++)
        if (outages->list[i].from_ms < to_ms && outage_end_ms(outages, &outages->list[i]) > from_ms &&
            !outages->list[i].gone)
            outages->list[kept++] = outages->list[i];
    outages->count = kept;
}

int64_t outage_end_ms(const struct outages *outages, const struct outage *outage)
{
    return outage->to_ms != UNKNOWN            ? outage->to_ms
           : outages->now_ms > outage->from_ms ? outages->now_ms
                                               : outage->from_ms;
}

/* When the process was alive for the last time, as far as the record knows at before_ms. */
static int64_t last_sign(const struct life *life, int64_t before_ms)
{
    if (life->stopped)
        return life->last_ms;
    int64_t row_s = query_last_sign(life->query, before_ms / 1000);
    int64_t row_ms = row_s == UNKNOWN ? life->start_ms : row_s * 1000;
    return row_ms > life->last_ms ? row_ms : life->last_ms;
}

/* What the process saw lost it saw until its end. */
static void close_open(struct outages *outages, int64_t end_ms)
{
    for (int32_t i = 0; i < outages->count; i++) {
        struct outage *outage = &outages->list[i];
        outage->cut = outage->to_ms == UNKNOWN;
        if (outage->cut)
            outage->to_ms = end_ms > outage->from_ms ? end_ms : outage->from_ms;
    }
}

static void add_computer(struct life *life, struct outage outage)
{
    static const char *const ends[2][2] = {
        { "the process ended without notice", "no stop noted, then a new boot" },
        { "stopped by request", "stopped by request, then a new boot" },
    };
    if (outage.to_ms != UNKNOWN &&
        (outage.to_ms <= outage.from_ms ||
         (life->stopped && !outage.new_boot && !life->undated && outage.to_ms - outage.from_ms < RELOAD_MS)))
        return;
    outage.kind = OUTAGE_COMPUTER;
    if (!life->stopped) {
        int64_t length_ms = outage_end_ms(life->outages, &outage) - outage.from_ms;
        int64_t late_s = query_interval_at(life->query, outage.from_ms / 1000);
        late_s = late_s > COMMIT_S ? late_s : COMMIT_S;
        outage.doubt_ms += late_s * 1000 < length_ms ? late_s * 1000 : length_ms;
    }
    snprintf(outage.known, sizeof(outage.known), "%s%s",
             outage.to_ms == UNKNOWN && !life->stopped && !life->undated
                 ? "no row since, no stop noted"
                 : ends[life->stopped][outage.new_boot],
             life->undated ? "; ran without a clock meanwhile" : "");
    outages_add(life->outages, &outage);
}

static void begin_process(struct life *life, const struct event_row *row)
{
    if (row->at_ms == UNKNOWN) {
        life->undated = true;
        return;
    }
    if (life->any) {
        int64_t end_ms = last_sign(life, row->at_ms);
        bool new_boot = strcmp(life->boot, row->boot) != 0;
        end_ms = end_ms < row->at_ms ? end_ms : row->at_ms;
        close_open(life->outages, end_ms);
        add_computer(life, (struct outage){ .from_ms = end_ms,
                                            .to_ms = row->at_ms,
                                            .new_boot = new_boot,
                                            .doubt_ms = new_boot ? life->doubt_ms + row->doubt_ms : 0,
                                            .booted_ms = new_boot ? row->at_ms - row->boot_ms : UNKNOWN,
                                            .not_made = UNKNOWN });
    }
    life->any = true;
    life->undated = life->stopped = false;
    memcpy(life->boot, row->boot, sizeof(life->boot));
    life->start_ms = life->last_ms = row->at_ms;
    life->doubt_ms = row->doubt_ms;
}

static bool same(const struct outage *a, const struct outage *b)
{
    return a->kind == b->kind && a->meter == b->meter && strcmp(a->phase, b->phase) == 0 &&
           (a->kind != OUTAGE_BUS || strcmp(a->bus, b->bus) == 0);
}

/* The newest outage of the same thing that lasts, or that the process before saw last. */
static struct outage *find(struct outages *outages, const struct outage *like)
{
    for (int32_t i = outages->count; i-- > 0;)
        if (same(&outages->list[i], like))
            return outages->list[i].to_ms == UNKNOWN || outages->list[i].cut ? &outages->list[i] : NULL;
    return NULL;
}

static void change(struct life *life, const struct event_row *row, enum outage_kind kind, bool begins)
{
    struct outage outage = { .kind = kind,
                             .meter = row->meter,
                             .from_ms = row->at_ms,
                             .to_ms = UNKNOWN,
                             .booted_ms = UNKNOWN,
                             .not_made = UNKNOWN };
    snprintf(outage.bus, sizeof(outage.bus), "%s", row->bus);
    snprintf(outage.known, sizeof(outage.known), "%s", row->text);
    if (kind == OUTAGE_PHASE)
        snprintf(outage.phase, sizeof(outage.phase), "%.2s", row->text);
    struct outage *open = find(life->outages, &outage);
    if (!begins && open && !open->cut)
        open->to_ms = row->at_ms > open->from_ms ? row->at_ms : open->from_ms;
    if (!begins)
        return;
    if (open && open->cut && row->at_ms - life->start_ms <= JOIN_MS) {
        open->to_ms = UNKNOWN;
        open->cut = false;
    } else if (!open || open->cut) {
        outages_add(life->outages, &outage);
    }
}

static void take_event(struct life *life, const struct event_row *row)
{
    if (strcmp(row->kind, "start") == 0) {
        begin_process(life, row);
        return;
    }
    if (row->at_ms == UNKNOWN || !life->any || strcmp(row->boot, life->boot) != 0)
        return;
    life->last_ms = row->at_ms > life->last_ms ? row->at_ms : life->last_ms;
    life->doubt_ms = row->doubt_ms;
    life->stopped = life->stopped || strcmp(row->kind, "stop") == 0;
    for (int32_t i = 0; i < CHANGES; i++) {
        bool begins = strcmp(row->kind, changes[i].begin) == 0;
        if (begins || strcmp(row->kind, changes[i].end) == 0)
            change(life, row, changes[i].kind, begins);
    }
}

/* Does the newest process still run? */
static void end_now(struct life *life)
{
    struct outages *outages = life->outages;
    int64_t stale_ms = 3000 * (int64_t)query_interval_at(life->query, outages->now_ms / 1000);
    int64_t end_ms = last_sign(life, outages->now_ms);
    stale_ms = stale_ms > STALE_MS ? stale_ms : STALE_MS;
    if (!life->any || (!life->stopped && !life->undated && outages->now_ms - end_ms <= stale_ms))
        return;
    close_open(outages, end_ms);
    add_computer(life, (struct outage){
                           .from_ms = end_ms, .to_ms = UNKNOWN, .booted_ms = UNKNOWN, .not_made = UNKNOWN });
}

void outages_read(struct outages *outages, struct query *query, int64_t now_ms)
{
    *outages = (struct outages){ .now_ms = now_ms };
    struct life life = { .outages = outages, .query = query };
    struct event_row row;
    query_events(query);
    while (query_next_event(query, &row))
        take_event(&life, &row);
    end_now(&life);
}
