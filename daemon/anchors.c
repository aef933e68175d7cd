/* Clocks other than the system's: the meter's own, a person, the sun. Looked
 * for where the network has not spoken yet, best first. */
#include "collect_state.h"
#include "log.h"

#define SILENT_MS  60000
#define UNDATED_MS 600000  /* while nothing is dated */
#define DATED_MS   3600000 /* a person may still know better */

/* Not before the rows that stay, nor ages after them. */
static bool is_possible(struct collect *collect, const struct anchor *anchor)
{
    const struct redate_clock clock = { .boot = collect->boot,
                                        .source = anchor->source,
                                        .boot_ms = outbox_now_ms(collect),
                                        .offset_ms = anchor->offset_ms,
                                        .interval_s = collect->config->site.interval_s,
                                        .civil = collect->civil };
    int64_t stays_s;
    return redate_due(collect->store, &clock, &stays_s) >= 0 &&
           date_plausible(clock.boot_ms + clock.offset_ms + anchor->doubt_ms, stays_s * 1000);
}

static void use(struct collect *collect, const struct anchor *anchor)
{
    if (is_possible(collect, anchor)) {
        dating_anchor(collect, anchor->source, anchor->offset_ms, anchor->doubt_ms);
        return;
    }
    if (!collect->date.refused)
        log_write(LOG_WARN, "a clock is not believed (%s): rows of a later date are in the record",
                  anchor->source);
    collect->date.refused = true;
}

/* The sun has risen and set: the last readings that were held show nothing. */
static bool is_night(const struct collect *collect)
{
    for (int32_t m = 0; m < collect->config->meter_count; m++) {
        const struct meter *meter = &collect->meters[m];
        enum meter_role role = meter->config->role;
        bool makes = role == ROLE_PRODUCTION || role == ROLE_PART;
        bool silent = outbox_now_ms(collect) - meter->read_ms > SILENT_MS;
        if (makes && !silent && meter->power != STORE_NULL && (meter->power > 20000 || meter->power < -20000))
            return false;
    }
    return true;
}

static void look(struct collect *collect)
{
    struct anchor anchor;
    int64_t wall_ms = collect->now.wall_us / 1000, now_ms = outbox_now_ms(collect);
    if (placing_hand(collect, collect->boot, &anchor)) {
        use(collect, &anchor);
        return;
    }
    if (collect->date.trusted || !is_night(collect))
        return;
    bool plausible = date_plausible(wall_ms, collect->newest_s * 1000);
    if (placing_sun(collect, collect->boot, plausible ? wall_ms - now_ms : 0, &anchor))
        use(collect, &anchor);
}

void anchors_turn(struct collect *collect)
{
    int64_t now_ms = outbox_now_ms(collect);
    bool more = collect->anchors_ms == 0; /* at start, or people wrote something */
    if (now_ms < collect->anchors_ms || !collect->store || collect->failing)
        return;
    collect->anchors_ms = now_ms + (collect->date.trusted ? DATED_MS : UNDATED_MS);
    if (!commit_flush(collect))
        return;
    if (more)
        placing_earlier(collect);
    if (date_rank(collect->date.source) > 1)
        look(collect);
}
