/* When a part fell behind, and when it came back: ten days' median against its own level. */
#include "parts.h"

#include <stdlib.h>

enum {
    LOW_DAYS = 7,         /* of a window's ten: six snowy days are no change */
    PARTS_RESTART = 1000, /* after a change of kWp the level begins anew, unless it is lower by this */
};

struct search {
    const struct parts *parts;
    struct part *part;
    const int32_t *day, *ratio; /* of one stretch of equal kWp */
    int32_t *values;
    int32_t count;
    int32_t usual, tolerance; /* usual: 0 in the first stretch */
    bool continued;
};

static int32_t median_at(const int32_t *ratio, int32_t count, int32_t most)
{
    int32_t values[PARTS_BASELINE];
    count = count < most ? count : most;
    for (int32_t i = 0; i < count; i++)
        values[i] = ratio[i];
    return parts_median(values, count);
}

static int32_t least_of(int32_t a, int32_t b)
{
    return a < b ? a : b;
}

/* Median of the ten days from one on. */
static int32_t window_at(const struct search *search, int32_t at)
{
    return median_at(search->ratio + at, search->count - at, PARTS_WINDOW);
}

/* Has the level fallen for good from here on? */
static bool falls(const struct search *search, int32_t at)
{
    int32_t low = 0;
    if (window_at(search, at) >= search->usual - search->tolerance)
        return false;
    for (int32_t i = at; i < at + PARTS_WINDOW; i++)
        low += search->ratio[i] < search->usual - search->tolerance / 2;
    return low >= LOW_DAYS;
}

/* Where around a day, not before `from`, one level most likely became another: the split that leaves the
 * least absolute deviations. */
static int32_t split(const struct search *search, int32_t at, int32_t from, int32_t before, int32_t after)
{
    from = at - PARTS_WINDOW > from ? at - PARTS_WINDOW : from;
    int32_t best = at;
    int32_t to = least_of(search->count, at + PARTS_WINDOW);
    int64_t cost = 0, least = 0;
    for (int32_t i = from; i < to; i++) {
        if (cost < least || i == from) {
            least = cost;
            best = i;
        }
        cost += abs(search->ratio[i] - before) - abs(search->ratio[i] - after);
    }
    return best;
}

/* Lowest and middle of the days [from, to). */
static void measure(const struct search *search, struct part_episode *episode, int32_t from, int32_t to)
{
    episode->deepest = window_at(search, from);
    for (int32_t i = from; i + PARTS_WINDOW <= to; i++)
        episode->deepest = least_of(episode->deepest, window_at(search, i));
    for (int32_t i = from; i < to; i++)
        search->values[i - from] = search->ratio[i];
    episode->level = parts_median(search->values, to - from);
}

/* The last one, where it goes on to the end of what was searched. */
static struct part_episode *open_episode(struct part *part)
{
    struct part_episode *last = part->episode_count > 0 ? &part->episodes[part->episode_count - 1] : NULL;
    return last && last->to < 0 ? last : NULL;
}

/* One that went on over a change of kWp is the same. */
static bool continue_episode(struct search *search, const struct part_episode *next)
{
    struct part_episode *last = open_episode(search->part);
    if (!last)
        return false;
    search->continued = true;
    last->to = next->to;
    last->deepest = least_of(last->deepest, next->deepest);
    return true;
}

/* Those that ended before the span are history; one of which the middle day is no lower than it may be was
 * a season's drift. */
static void add_episode(struct search *search, int32_t from, int32_t to, bool from_beginning)
{
    struct part *part = search->part;
    struct part_episode episode = { .from = search->day[from], .to = -1, .usual = search->usual };
    episode.from_beginning = from_beginning;
    if (to - from < LOW_DAYS)
        return;
    measure(search, &episode, from, to);
    if (to < search->count)
        episode.to = search->day[to];
    if ((episode.to >= 0 && episode.to <= search->parts->span_from) ||
        (!from_beginning && episode.level > search->usual - search->tolerance))
        return;
    if (from < PARTS_WINDOW && continue_episode(search, &episode))
        return;
    part->episode_count -= part->episode_count == PARTS_EPISODES;
    part->episodes[part->episode_count++] = episode;
}

static bool recovers(const struct search *search, int32_t at)
{
    return window_at(search, at) > search->usual - search->tolerance / 2;
}

/* The day on which one that began at `from` and was seen at `at` is over; `count` where it goes on. */
static int32_t find_end(const struct search *search, int32_t from, int32_t at)
{
    for (int32_t i = at + 1; i + PARTS_WINDOW <= search->count; i++)
        if (recovers(search, i))
            return split(search, i, from + 1, median_at(search->ratio + from, i - from, PARTS_BASELINE),
                         window_at(search, i));
    return search->count;
}

/* As far back as is known it is low: its usual is what its peers do, and later what it came to. */
static int32_t pass_low_beginning(struct search *search)
{
    search->usual = PARTS_RATIO_ONE;
    int32_t to = find_end(search, 0, 0);
    add_episode(search, 0, to, true);
    search->usual = median_at(search->ratio + to, search->count - to, PARTS_BASELINE);
    return to;
}

static void search_stretch(struct search *search)
{
    int32_t at = 0, past = 0;
    if (search->count < PARTS_BASELINE + PARTS_WINDOW)
        return;
    int32_t own = median_at(search->ratio, search->count, PARTS_BASELINE);
    bool first = search->usual == 0;
    if (first || own > search->usual - PARTS_RESTART)
        search->usual = own;
    if (first && own < PARTS_LOW)
        past = at = pass_low_beginning(search);
    while (at + PARTS_WINDOW <= search->count) {
        if (!falls(search, at)) {
            at++;
            continue;
        }
        int32_t from = split(search, at, past, search->usual, window_at(search, at + PARTS_WINDOW / 2));
        int32_t to = find_end(search, from, from > at ? from : at);
        add_episode(search, from, to, false);
        past = to;
        at = to > at ? to : at + 1;
    }
}

void parts_find_episodes(const struct parts *parts, struct part *part, const struct part_track *track)
{
    int32_t tolerance = PARTS_CHANGE_NOISE * part->scatter;
    struct search search = { .parts = parts,
                             .part = part,
                             .values = track->values,
                             .tolerance = tolerance > PARTS_CHANGE ? tolerance : PARTS_CHANGE };
    for (int32_t from = 0, to = 0; from < track->count; from = to) {
        const struct part_facts *facts = parts_facts(part, track->day[from]);
        while (to < track->count && parts_facts(part, track->day[to])->peak_w == facts->peak_w)
            to++;
        search.day = track->day + from;
        search.ratio = track->ratio + from;
        search.count = to - from;
        struct part_episode *open = open_episode(part);
        search.continued = false;
        search_stretch(&search);
        if (open && !search.continued && search.count >= PARTS_BASELINE + PARTS_WINDOW)
            open->to = search.day[0];
    }
}
