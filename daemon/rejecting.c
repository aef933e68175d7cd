/* What of a meter's answers is not believed: an event when it begins, with the raw value, and one
 * when it is over, with how many more there were. */
#include <stdio.h>

#include "collect_state.h"
#include "log.h"

#define QUIET_MS   (INT64_C(600) * 1000)   /* an episode is over after so long */
#define LONGEST_MS (INT64_C(86400) * 1000) /* and is told of once a day */

static const char *const kinds[EPISODE_KINDS] = { [EPISODE_GATE] = "rejected",
                                                  [EPISODE_RANGE] = "rejected",
                                                  [EPISODE_WINDOW] = "rejected",
                                                  [EPISODE_JITTER] = "jitter" };
static const char *const more[EPISODE_KINDS] = { [EPISODE_GATE] = "readings out of line",
                                                 [EPISODE_RANGE] = "values out of range",
                                                 [EPISODE_WINDOW] = "values outside their window",
                                                 [EPISODE_JITTER] = "readings a step or two back" };

static void close_episode(struct collect *collect, const struct meter *meter, int kind,
                          struct episode *episode)
{
    if (episode->more > 0)
        outbox_events(collect, episode->last_ms, episode->more, kinds[kind], meter->config->number,
                      "more %s, up to here", more[kind]);
    *episode = (struct episode){ 0 };
}

void rejecting_note(struct collect *collect, struct meter *meter, enum episode_kind kind, const char *text)
{
    struct episode *episode = &meter->episodes[kind];
    int64_t now_ms = outbox_now_ms(collect);
    episode->last_ms = now_ms;
    if (episode->open) {
        episode->more++;
        return;
    }
    episode->open = true;
    episode->began_ms = now_ms;
    outbox_events(collect, now_ms, 1, kinds[kind], meter->config->number, "%s", text);
    log_write(LOG_INFO, "meter %d: %s: %s", (int)meter->config->number, kinds[kind], text);
}

static void look(struct collect *collect, struct meter *meter, bool all)
{
    int64_t now_ms = outbox_now_ms(collect);
    for (int kind = 0; kind < EPISODE_KINDS; kind++) {
        struct episode *episode = &meter->episodes[kind];
        if (episode->open &&
            (all || now_ms - episode->last_ms > QUIET_MS || now_ms - episode->began_ms > LONGEST_MS))
            close_episode(collect, meter, kind, episode);
    }
}

void rejecting_turn(struct collect *collect)
{
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        look(collect, &collect->meters[i], false);
}

void rejecting_finish(struct collect *collect)
{
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        look(collect, &collect->meters[i], true);
}
