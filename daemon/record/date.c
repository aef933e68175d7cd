#include "date.h"

#include <string.h>

/* No clock is right that stands before this program was written: 2026-01-01. */
#define PROGRAM_MS       INT64_C(1767225600000)
#define FAR_MS           (INT64_C(400) * 86400 * 1000)
#define SLEW_PPM         500
/* Two anchors of one source that say the same. */
#define SAME_MS          1000
/* What a synchronised clock may be off; what a battery clock may have gained or
 * lost since it was set (common practice, no source). */
#define NETWORK_DOUBT_MS 1000
#define BATTERY_DOUBT_MS 120000
/* What reading two clocks one after the other may differ by. */
#define NOISE_MS         50

/* From best to worst. */
static const char *const sources[] = { "network", "holdover", "meter", "hand", "battery", "sun" };
enum { SOURCE_COUNT = sizeof sources / sizeof sources[0] };

int date_rank(const char *source)
{
    int rank = 0;
    while (rank < SOURCE_COUNT && strcmp(sources[rank], source) != 0)
        rank++;
    return rank;
}

void date_init(struct date *date, bool battery)
{
    *date = (struct date){ .battery = battery, .source = "" };
}

static void vouch(struct date *date, const char *source)
{
    bool battery = strcmp(source, "battery") == 0;
    date->source = source;
    date->doubt_ms = battery ? BATTERY_DOUBT_MS : NETWORK_DOUBT_MS;
}

void date_resume(struct date *date, int64_t offset_ms, const char *source)
{
    int rank = date_rank(source);
    date->trusted = true;
    date->offset_ms = offset_ms;
    vouch(date, sources[rank < SOURCE_COUNT ? rank : SOURCE_COUNT - 1]);
}

bool date_plausible(int64_t wall_ms, int64_t newest_ms)
{
    return wall_ms >= PROGRAM_MS &&
           (newest_ms == 0 || (wall_ms >= newest_ms && wall_ms - newest_ms <= FAR_MS));
}

static int64_t magnitude(int64_t x)
{
    return x < 0 ? -x : x;
}

static enum date_change refuse(struct date *date, int64_t step_ms)
{
    if (date->refused)
        return DATE_SAME;
    date->refused = true;
    date->step_ms = step_ms;
    return DATE_REFUSED;
}

static enum date_change gain(struct date *date, const struct instant *now, int64_t offset_ms,
                             int64_t newest_ms)
{
    if (!now->synchronised && !date->battery)
        return DATE_SAME;
    if (!now->synchronised && !date_plausible(now->wall_us / 1000, newest_ms))
        return refuse(date, 0);
    date->trusted = true;
    date->refused = false;
    date->offset_ms = offset_ms;
    vouch(date, now->synchronised ? "network" : "battery");
    return DATE_GAINED;
}

/* A trusted clock that moved by more than a slew: believed when the network
 * vouches for it and the next turn still shows it. */
static enum date_change follow_step(struct date *date, const struct instant *now, int64_t offset_ms)
{
    int64_t step = offset_ms - date->offset_ms;
    if (!now->synchronised)
        return refuse(date, step);
    if (!date->candidate || magnitude(offset_ms - date->candidate_ms) > NOISE_MS) {
        date->candidate = true;
        date->candidate_ms = offset_ms;
        return DATE_SAME;
    }
    date->candidate = date->refused = false;
    date->step_ms = step;
    date->offset_ms = offset_ms;
    vouch(date, "network");
    return DATE_STEPPED;
}

enum date_change date_anchor(struct date *date, int64_t boot_ms, const char *source, int64_t offset_ms,
                             int64_t doubt_ms)
{
    int rank = date_rank(source), now = date_rank(date->source);
    int64_t step = offset_ms - date->offset_ms;
    if (date->trusted && (rank > now || (rank == now && magnitude(step) <= SAME_MS)))
        return DATE_SAME;
    bool was_trusted = date->trusted;
    date->trusted = true;
    date->refused = date->candidate = false;
    date->step_ms = step;
    date->offset_ms = offset_ms;
    date->doubt_ms = doubt_ms;
    date->source = sources[rank];
    date->last_boot_ms = boot_ms;
    return was_trusted ? DATE_STEPPED : DATE_GAINED;
}

/* The clock goes on without the network; one that it never set is not ours to follow. */
static enum date_change go_on(struct date *date)
{
    if (strcmp(date->source, "network") != 0)
        return DATE_SAME;
    date->source = "holdover";
    return DATE_SOURCE;
}

static bool follows_wall(const struct date *date)
{
    return strcmp(date->source, "meter") != 0 && strcmp(date->source, "hand") != 0 &&
           strcmp(date->source, "sun") != 0;
}

enum date_change date_turn(struct date *date, const struct instant *now, int64_t newest_ms)
{
    int64_t boot_ms = now->boot_us / 1000;
    int64_t offset_ms = now->wall_us / 1000 - boot_ms;
    int64_t passed = date->seen ? boot_ms - date->last_boot_ms : 0;
    int64_t slew = passed * SLEW_PPM / 1000000 + NOISE_MS;
    date->last_boot_ms = boot_ms;
    date->seen = true;
    if (!date->trusted)
        return gain(date, now, offset_ms, newest_ms);
    if (!now->synchronised && !follows_wall(date))
        return DATE_SAME;
    if (magnitude(offset_ms - date->offset_ms) > slew)
        return follow_step(date, now, offset_ms);
    date->candidate = false;
    date->offset_ms = offset_ms;
    if (!now->synchronised)
        return go_on(date);
    bool same = strcmp(date->source, "network") == 0;
    vouch(date, "network");
    return same ? DATE_SAME : DATE_SOURCE;
}
