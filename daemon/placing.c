/* When an earlier boot was that no clock came for: a person who looked at the
 * clock then, or the sun. What it held is placed by that. */
#include <string.h>

#include "anchor_sun.h"
#include "collect_state.h"

/* A person reads a clock to the minute. */
#define HAND_DOUBT_MS 60000
#define HALF_DAY_MS   (INT64_C(12) * 3600 * 1000)
/* So much earlier than the newest row the sun may place a boot that followed it at once. */
#define DAWN_MS       INT64_C(1200000)

enum { PIECE = 64 };

bool placing_hand(const struct collect *collect, const char *boot, struct anchor *anchor)
{
    const struct logbook *logbook = collect->setup.logbook;
    int32_t line = 0;
    for (int32_t i = 0; logbook && i < logbook->count; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        if (entry->kind != LOGBOOK_CLOCK || entry->refused || entry->revoked || entry->line < line ||
            strcmp(entry->word[LOGBOOK_BOOT - LOGBOOK_NUMBERS], boot) != 0 ||
            entry->number[LOGBOOK_BOOT_MS] == LOGBOOK_NOTHING)
            continue;
        int64_t doubt = entry->number[LOGBOOK_DOUBT];
        line = entry->line; /* the last that was written is believed */
        *anchor = (struct anchor){ .source = "hand",
                                   .offset_ms = entry->at_s * 1000 - entry->number[LOGBOOK_BOOT_MS],
                                   .doubt_ms = doubt == LOGBOOK_NOTHING ? HAND_DOUBT_MS : doubt * 1000 };
    }
    return line > 0;
}

static int delivery(const struct config_meter *meter)
{
    return meter->delivers_by_export ? Q_ACTIVE_EXPORT : Q_ACTIVE_IMPORT;
}

static bool makes(const struct config_meter *meter)
{
    return meter->role == ROLE_PRODUCTION || meter->role == ROLE_PART;
}

/* What a meter produced between held readings of a boot. */
static int32_t read_slices(struct collect *collect, const char *boot, const struct config_meter *meter,
                           struct sun_slice slices[ANCHOR_SUN_SLICES])
{
    struct store_held held[PIECE], before = { .ms = -1 };
    int64_t after = 0, longest_ms = 2000 * (int64_t)collect->config->site.interval_s;
    int32_t count = 0, n;
    while (count < ANCHOR_SUN_SLICES && (n = store_read_held_of(collect->store, boot, meter->number,
                                                                delivery(meter), after, held, PIECE)) > 0) {
        for (int32_t i = 0; i < n && count < ANCHOR_SUN_SLICES; i++) {
            int64_t length_ms = held[i].ms - before.ms, energy = held[i].account - before.account;
            if (before.ms >= 0 && length_ms > 0 && length_ms <= longest_ms && energy >= 0)
                slices[count++] = (struct sun_slice){ before.ms + length_ms / 2, length_ms, energy };
            before = held[i];
        }
        after = held[n - 1].id;
    }
    return count;
}

bool placing_sun(struct collect *collect, const char *boot, int64_t near_ms, struct anchor *anchor)
{
    const struct config *config = collect->config;
    const struct sun_place place = { config->site.latitude, config->site.longitude };
    struct sun_slice slices[ANCHOR_SUN_SLICES];
    struct sun_anchor found = { 0 };
    int64_t newest_ms = collect->newest_s * 1000;
    if (near_ms == 0 && newest_ms == 0)
        return false; /* the sun does not say which day */
    for (int32_t m = 0; m < config->meter_count; m++) {
        const struct config_meter *meter = &config->meters[m];
        bool known = meter->plane_azimuth >= 0 && meter->tilt >= 0;
        const struct sun_plane plane = { known ? meter->plane_azimuth : 180, known ? meter->tilt : 0 };
        int32_t count = makes(meter) ? read_slices(collect, boot, meter, slices) : 0;
        bool fits = near_ms != 0 && count > 0 &&
                    anchor_sun(&place, &plane, slices, count, near_ms + slices[0].middle_ms, &found) &&
                    slices[0].middle_ms + found.offset_ms + found.doubt_ms >= newest_ms;
        /* The first day on which it can have been. */
        fits = fits || (newest_ms != 0 &&
                        anchor_sun(&place, &plane, slices, count, newest_ms - DAWN_MS + HALF_DAY_MS, &found));
        *anchor =
            (struct anchor){ .source = "sun", .offset_ms = found.offset_ms, .doubt_ms = found.doubt_ms };
        if (fits)
            return true;
    }
    return false;
}

/* Before this boot where that has a date. 1, 0 or a failure. */
static int place(struct collect *collect, const char *boot, const struct anchor *anchor)
{
    const struct redate_clock clock = { .boot = boot,
                                        .source = anchor->source,
                                        .offset_ms = anchor->offset_ms,
                                        .doubt_ms = anchor->doubt_ms,
                                        .limit_ms =
                                            collect->date.trusted ? collect->date.offset_ms : INT64_MAX,
                                        .interval_s = collect->config->site.interval_s,
                                        .civil = collect->civil };
    int fits = redate_fits(collect->store, &clock);
    return fits == 1 ? redating_place(collect, &clock) : fits;
}

int placing_earlier(struct collect *collect)
{
    char boot[40];
    int64_t id = 0;
    while (collect->store && !collect->failing && store_next_undated(collect->store, &id, boot) == 1) {
        struct anchor anchor;
        /* Once rows come after it, the sun does not say where between them. */
        if (!placing_hand(collect, boot, &anchor) && !placing_sun(collect, boot, 0, &anchor))
            continue;
        int result = place(collect, boot, &anchor);
        if (result < 0)
            return result;
    }
    return STORE_OK;
}
