/* Clocks other than the system's: the meter's own, a person, the sun. Looked
 * for where the network has not spoken yet, best first. */
#include "collect_state.h"
#include "log.h"

#define SILENT_MS  60000
#define UNDATED_MS 600000 /* while nothing is dated */
#define AGREE_MS   3000   /* readings of a meter's clock may be apart by so much */
#define AGREED     3
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

static bool use(struct collect *collect, const struct anchor *anchor)
{
    if (is_possible(collect, anchor)) {
        dating_anchor(collect, anchor->source, anchor->offset_ms, anchor->doubt_ms);
        return true;
    }
    if (!collect->date.refused)
        log_write(LOG_WARN, "a clock is not believed (%s): rows of a later date are in the record",
                  anchor->source);
    collect->date.refused = true;
    return false;
}

/* UTC of what a meter's clock shows, ms. */
static int64_t utc_of(const struct collect *collect, const struct register_map *map, int64_t shown_ms)
{
    int64_t offset_s = 0;
    /* Twice: the first guess may be past a change of the site's clock. */
    for (int i = 0; map->clock_is_local && i < 2; i++)
        offset_s = civil_offset(collect->civil, shown_ms / 1000 - offset_s);
    return shown_ms - offset_s * 1000;
}

void anchors_reading(struct collect *collect, const struct meter *meter, const struct reading *reading)
{
    struct meter_clock *clock = &collect->meter_clock;
    int64_t shown_ms = reading->value[Q_CLOCK];
    if (shown_ms <= 0 || shown_ms > INT64_C(253402300800000)) /* the year 10000 */
        return;
    int64_t utc_ms = utc_of(collect, &collect->config->maps[meter->config->map], shown_ms);
    int64_t offset_ms = utc_ms - reading->boot_ms, moved = offset_ms - clock->offset_ms;
    bool forgotten = reading->boot_ms - clock->read_ms > DATED_MS;
    if (clock->meter != 0 && clock->meter != meter->config->number && !forgotten)
        return;
    bool agrees = clock->meter == meter->config->number && moved <= AGREE_MS && moved >= -AGREE_MS;
    *clock = (struct meter_clock){ .meter = meter->config->number,
                                   .read_ms = reading->boot_ms,
                                   .offset_ms = offset_ms,
                                   .agreed = agrees ? clock->agreed + 1 : 1 };
    if (clock->agreed == AGREED && !collect->date.trusted)
        collect->anchors_ms = 0;
}

/* By the meter's own clock, unless that is in force and its drift within its doubt. True where it was used.
 */
static bool use_meter(struct collect *collect)
{
    const struct meter_clock *clock = &collect->meter_clock;
    struct anchor anchor = { .source = "meter", .offset_ms = clock->offset_ms };
    if (clock->agreed < AGREED)
        return false;
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        if (collect->config->meters[m].number == clock->meter)
            anchor.doubt_ms =
                collect->config->maps[collect->config->meters[m].map].clock_doubt_s * INT64_C(1000);
    int64_t step = anchor.offset_ms - collect->date.offset_ms;
    if (collect->date.trusted && date_rank(collect->date.source) == date_rank(anchor.source) &&
        step <= anchor.doubt_ms && step >= -anchor.doubt_ms)
        return true;
    return use(collect, &anchor);
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
    if (use_meter(collect) || (placing_hand(collect, collect->boot, &anchor) && use(collect, &anchor)))
        return;
    if (collect->date.trusted || !is_night(collect))
        return;
    bool plausible = date_plausible(wall_ms, collect->newest_s * 1000);
    if (placing_sun(collect, collect->boot, plausible ? wall_ms - now_ms : 0, &anchor))
        use(collect, &anchor);
}

void anchors_turn(struct collect *collect)
{
    int64_t now_ms = outbox_now_ms(collect);
    if (now_ms < collect->anchors_ms || !collect->store || collect->failing)
        return;
    collect->anchors_ms = now_ms + (collect->date.trusted ? DATED_MS : UNDATED_MS);
    if (!commit_flush(collect))
        return;
    if (collect->earlier_due && placing_earlier(collect) != STORE_OK)
        return;
    collect->earlier_due = false;
    if (date_rank(collect->date.source) > 1)
        look(collect);
}
