/* What a part's lagging looks like: certain hours under a clear sky, all hours slowly, or a step. */
#include <math.h>
#include <stdlib.h>

#include "parts.h"

enum {
    BEFORE_DAYS = 60,  /* looked at before it began, */
    DURING_DAYS = 120, /* and after */
    CLEAR = 75,        /* per cent of the brightest day around: a clear one; */
    DULL = 40,         /* below this, a dull one */
    HOUR_LEAST = 5,    /* days that know an hour */
    HOURS_LEAST = 4,   /* hours that are known, to speak of certain ones */
    SHADED = 12,       /* per cent that the shaded hours lose at least */
    ALIKE = 4,         /* per cent by which hours that are alike may differ, or half of what they lose */
    SUDDEN = 6,        /* tenths of the whole loss that are there in the first ten days */
    GROWTH_DAYS = 20,  /* days that count, from which a growth can be told */
    FAILED = 1000,     /* 10^-4: a failure is no less */
    GONE = 500,        /* what is left of one that stopped */
    FRACTION = 250,    /* by which a share of strings may be off */
    MOST_STRINGS = 6,
    CLEANING_DAYS = 10,  /* between a cleaning and the day on which it shows */
    EARLIEST_DAYS = 120, /* growing dirt is followed back so far at most */
    DRIFT_PERCENT = 1,   /* of what was to be expected: how far a sound part's level wanders */
};

const char *const part_cause_words[CAUSE_COUNT] = { "not told apart", "shading", "soiling", "failure",
                                                    "slow drift" };

struct look {
    const struct parts *parts;
    int32_t part;
    const struct part_episode *episode;
    const struct part_track *track;
    int32_t first, end; /* its days in the track */
};

/* Median of an hour over the clear days in [from, to), and how many know it; -1 where too few do. */
static int32_t hour_of(const struct look *look, int32_t hour, int32_t from, int32_t to, int32_t *days)
{
    int32_t values[BEFORE_DAYS + DURING_DAYS], count = 0;
    for (int32_t d = from > 0 ? from : 0; d < to && d < look->parts->days; d++) {
        const struct part_day *day = parts_at(look->parts, d, look->part);
        if (day->state != PART_DAY_COUNTS || day->hour[hour] == PARTS_HOUR_NONE ||
            day->whole * 100 < parts_brightest(look->parts, look->part, d) * CLEAR)
            continue;
        values[count++] = day->hour[hour];
    }
    *days = count;
    return count < HOUR_LEAST ? -1 : parts_median(values, count);
}

static int by_size(const void *a, const void *b)
{
    int32_t x = *(const int32_t *)a, y = *(const int32_t *)b;
    return (x > y) - (x < y);
}

/* Per cent that each hour lost, in order of size; how many are known. Hours that only some of the days
 * know, at dawn and dusk, would compare those days with others. */
static int32_t read_hours(const struct look *look, int32_t lost[PARTS_HOURS])
{
    const struct part_episode *episode = look->episode;
    int32_t count = 0, most = 0, to = episode->from + DURING_DAYS;
    int32_t during[PARTS_HOURS], days[PARTS_HOURS];
    to = episode->to >= 0 && episode->to < to ? episode->to : to;
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        during[h] = hour_of(look, h, episode->from, to, &days[h]);
        most = days[h] > most ? days[h] : most;
    }
    for (int32_t h = 0; h < PARTS_HOURS; h++) {
        int32_t known, before = 100;
        if (!episode->from_beginning)
            before = hour_of(look, h, episode->from - BEFORE_DAYS, episode->from, &known);
        if (during[h] >= 0 && before > 0 && days[h] * 3 >= most * 2)
            lost[count++] = (before - during[h]) * 100 / before;
    }
    qsort(lost, (size_t)count, sizeof(lost[0]), by_size);
    return count;
}

enum spread { SPREAD_UNKNOWN, SPREAD_ALIKE, SPREAD_CERTAIN };

/* Per cent that the same days lost as a whole. */
static int32_t days_lost(const struct look *look)
{
    int32_t before[BEFORE_DAYS], during[DURING_DAYS], befores = 0, durings = 0;
    const struct part_episode *episode = look->episode;
    for (int32_t i = 0; i < look->end; i++) {
        int32_t d = look->track->day[i] - episode->from;
        if (d >= -BEFORE_DAYS && d < 0)
            before[befores++] = look->track->ratio[i];
        else if (d >= 0 && d < DURING_DAYS)
            during[durings++] = look->track->ratio[i];
    }
    int32_t usual = episode->from_beginning || befores == 0 ? episode->usual : parts_median(before, befores);
    return (usual - parts_median(during, durings)) / 100;
}

/* Do certain hours lose, or all alike? Where the hours that are known lost little of what the days lost, it
 * is in those at the edge of the day. */
static enum spread spread_of(const struct look *look)
{
    int32_t lost[PARTS_HOURS], count = read_hours(look, lost), many = 0;
    if (count < HOURS_LEAST)
        return SPREAD_UNKNOWN;
    int32_t most = lost[count - 1], quarter = lost[count / 4], middle = lost[count / 2];
    for (int32_t i = 0; i < count; i++)
        many += 2 * lost[i] > most;
    if (most >= SHADED && 3 * quarter <= most && 10 * many <= 7 * count)
        return SPREAD_CERTAIN;
    int32_t of_days = days_lost(look);
    if (3 * middle < of_days)
        return 3 * quarter < of_days ? SPREAD_CERTAIN : SPREAD_UNKNOWN;
    int32_t width = lost[count - 1 - count / 6] - lost[count / 6];
    return width <= ALIKE || 2 * width <= middle ? SPREAD_ALIKE : SPREAD_UNKNOWN;
}

/* Loss on dull days, 10^-4 of the usual; UNKNOWN where there are too few. */
static int64_t dull_loss(const struct look *look)
{
    int32_t values[DURING_DAYS], count = 0;
    const struct part_episode *episode = look->episode;
    int32_t to = episode->to >= 0 ? episode->to : look->parts->days;
    for (int32_t d = episode->from; d < to && count < DURING_DAYS; d++) {
        const struct part_day *day = parts_at(look->parts, d, look->part);
        if (day->ratio != PARTS_NO_RATIO &&
            day->whole * 100 < parts_brightest(look->parts, look->part, d) * DULL)
            values[count++] = day->ratio;
    }
    return count < HOUR_LEAST ? UNKNOWN : episode->usual - parts_median(values, count);
}

static int32_t median_from(const struct look *look, int32_t from, int32_t most)
{
    int32_t values[PARTS_WINDOW], count = 0;
    for (int32_t i = from; i < look->end && count < most && count < PARTS_WINDOW; i++)
        values[count++] = look->track->ratio[i];
    return parts_median(values, count);
}

enum growth { GROWTH_UNKNOWN, GROWTH_SUDDEN, GROWTH_SLOW };

static enum growth growth_of(const struct look *look)
{
    const struct part_episode *episode = look->episode;
    int32_t early = episode->usual - median_from(look, look->first, PARTS_WINDOW);
    int32_t whole = episode->usual - episode->deepest;
    if (episode->from_beginning)
        return GROWTH_UNKNOWN;
    if (early >= FAILED && early * 10 >= whole * SUDDEN)
        return GROWTH_SUDDEN;
    if (look->end - look->first < GROWTH_DAYS)
        return GROWTH_UNKNOWN;
    return early * 10 >= whole * SUDDEN ? GROWTH_SUDDEN : GROWTH_SLOW;
}

/* What is left, as a share of up to six strings. */
static void name_fraction(struct part_episode *episode)
{
    int32_t left = episode->usual > 0 ? episode->level * PARTS_RATIO_ONE / episode->usual : 0;
    if (left <= GONE) {
        episode->left_of = 1;
        return;
    }
    for (int32_t of = 2; of <= MOST_STRINGS && episode->left_of == 0; of++) {
        int32_t strings = (left * of + PARTS_RATIO_ONE / 2) / PARTS_RATIO_ONE;
        if (strings < of && abs(left - strings * PARTS_RATIO_ONE / of) <= FRACTION) {
            episode->left = strings;
            episode->left_of = of;
        }
    }
}

static enum part_cause cause_of(const struct look *look, struct part_episode *episode)
{
    enum spread spread = spread_of(look);
    enum growth growth = growth_of(look);
    int64_t dull = dull_loss(look), loss = episode->usual - episode->level;
    bool gone = episode->level * PARTS_RATIO_ONE <= (int64_t)GONE * episode->usual;
    if (gone && growth != GROWTH_SLOW) {
        name_fraction(episode);
        return CAUSE_FAILURE;
    }
    if (spread == SPREAD_CERTAIN)
        return dull == UNKNOWN || 4 * dull < 3 * loss ? CAUSE_SHADING : CAUSE_NOT_TOLD;
    /* dull days know no hours, but dirt takes as much of them */
    if (growth == GROWTH_SLOW && (spread == SPREAD_ALIKE || (dull != UNKNOWN && 10 * dull >= 8 * loss)))
        return CAUSE_SOILING;
    if (spread != SPREAD_ALIKE)
        return CAUSE_NOT_TOLD;
    if (growth == GROWTH_SUDDEN && loss >= FAILED)
        name_fraction(episode);
    return episode->left_of > 0 ? CAUSE_FAILURE : CAUSE_NOT_TOLD;
}

/* Dirt that grows evenly began before it was seen: along the line through two windows, back to the usual. */
static void follow_back(const struct look *look, struct part_episode *episode)
{
    int32_t later = look->first + 3 * PARTS_WINDOW;
    if (later + PARTS_WINDOW > look->end)
        later = look->end - PARTS_WINDOW;
    if (later <= look->first)
        return;
    int32_t lost = episode->usual - median_from(look, look->first, PARTS_WINDOW);
    int32_t more = episode->usual - median_from(look, later, PARTS_WINDOW) - lost;
    int32_t days = look->track->day[later] - look->track->day[look->first];
    if (more <= 0)
        return;
    int32_t back = (int32_t)((int64_t)lost * days / more) - PARTS_WINDOW / 2;
    back = back < 0 ? 0 : back > EARLIEST_DAYS ? EARLIEST_DAYS : back;
    episode->from = episode->from > back ? episode->from - back : 0;
}

/* Dull days before it that do not count for themselves, but look as the days after it. */
static void reach_back(const struct parts *parts, int32_t part, struct part_episode *episode)
{
    int32_t between = (episode->usual + episode->level) / 2;
    for (int32_t d = episode->from - 1; d >= 0; d--) {
        const struct part_day *day = parts_at(parts, d, part);
        if (day->state != PART_DAY_DARK || day->ratio > between)
            return;
        episode->from = d;
    }
}

/* Of the days before it; where they are few, as long ago. */
static int32_t level_before(const struct look *look, const struct part_episode *episode)
{
    int32_t values[PARTS_BASELINE], count = 0;
    for (int32_t i = look->track->count - 1; i >= 0 && count < PARTS_BASELINE; i--)
        if (look->track->day[i] < episode->from)
            values[count++] = look->track->ratio[i];
    return episode->from_beginning || count < PARTS_WINDOW ? episode->usual : parts_median(values, count);
}

struct loss {
    double expected, squares; /* mWh */
    double seen, guessed;     /* lost on days that were compared, and on others */
};

/* A day that was not seen has what the episode's middle day lost. */
static void add_day(struct loss *loss, const struct part_day *day, int64_t peak_w,
                    struct part_episode *episode)
{
    double whole = (double)peak_w * day->whole, full = (double)peak_w * day->reference;
    if (day->state < PART_DAY_UNSEEN) {
        episode->unknown += day->state != PART_DAY_ABSENT;
        return;
    }
    if (day->state == PART_DAY_UNSEEN) {
        loss->guessed += whole * (episode->before - episode->level) / PARTS_RATIO_ONE;
        return;
    }
    episode->compared++;
    if (day->ratio == PARTS_NO_RATIO)
        return; /* at its rating: it lost nothing */
    loss->expected += full;
    loss->squares += full * full;
    loss->seen += full * (episode->before - day->ratio) / PARTS_RATIO_ONE;
}

/* What is guessed may be wrong by half: days that were not seen, or had no reference, where the mean of
 * the others stands in. */
static void sum_lost(const struct parts *parts, int32_t p, struct part_episode *episode)
{
    struct loss loss = { 0 };
    int32_t to = episode->to >= 0 ? episode->to : parts->days;
    for (int32_t d = episode->from; d < to; d++)
        add_day(&loss, parts_at(parts, d, p), parts_facts(&parts->part[p], d)->peak_w, episode);
    if (episode->compared > 0)
        loss.guessed += loss.seen / episode->compared * episode->unknown;
    double scatter = parts->part[p].scatter / (double)PARTS_RATIO_ONE;
    double level = 1.25 * scatter / sqrt(PARTS_BASELINE) + DRIFT_PERCENT / 100.0;
    double random = scatter * scatter * loss.squares + level * level * loss.expected * loss.expected;
    episode->lost = (int64_t)fmax(0, loss.seen + loss.guessed);
    episode->lost_doubt = (int64_t)(2 * sqrt(random) + fmax(0, loss.guessed) / 2);
}

static bool is_cleaned(const struct part_episode *episode, int32_t part,
                       const struct part_cleaning *cleanings, int32_t count)
{
    for (int32_t i = 0; i < count && episode->to >= 0; i++)
        if ((cleanings[i].part == part || cleanings[i].part < 0) && cleanings[i].day <= episode->to &&
            cleanings[i].day + CLEANING_DAYS > episode->to)
            return true;
    return false;
}

void parts_tell_cause(const struct parts *parts, int32_t part, struct part_episode *episode,
                      const struct part_track *track, const struct part_cleaning *cleanings,
                      int32_t cleaning_count)
{
    struct look look = { parts, part, episode, track, 0, 0 };
    while (look.first < track->count && track->day[look.first] < episode->from)
        look.first++;
    look.end = look.first;
    while (look.end < track->count && (episode->to < 0 || track->day[look.end] < episode->to))
        look.end++;
    episode->cleaned = is_cleaned(episode, part, cleanings, cleaning_count);
    episode->cause = cause_of(&look, episode);
    if (episode->cause == CAUSE_SOILING)
        follow_back(&look, episode);
    else
        reach_back(parts, part, episode);
    episode->before = level_before(&look, episode);
    if (episode->cause == CAUSE_SOILING && episode->usual - episode->before > PARTS_CHANGE / 2)
        episode->cause = CAUSE_DRIFT;
    sum_lost(parts, part, episode);
}
