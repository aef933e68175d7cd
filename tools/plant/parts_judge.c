/* All days are in: which days count, what is usual for each part, and the verdicts. */
#include <math.h>
#include <stdlib.h>

#include "muldiv.h"
#include "parts.h"

enum {
    ROUNDS = 2,        /* of J. W. Tukey's median polish (by days, by parts) */
    WORTH = 5000,      /* a part below half says nothing of the day */
    SCATTER_DAYS = 60, /* from which the scatter of single days is taken */
    UNSEEN_DAYS = 7,
    MILLION = 1000000,
};

static void leave_out_dark_days(const struct parts *parts, int32_t part)
{
    for (int32_t d = 0; d < parts->days; d++) {
        struct part_day *day = parts_at(parts, d, part);
        if (day->state == PART_DAY_COUNTS && day->whole * 100 < parts_brightest(parts, part, d) * PARTS_DARK)
            day->state = PART_DAY_DARK;
    }
}

/* Index of the stretch of equal kWp that a day falls into. */
static int32_t stretch_of(const struct part *part, int32_t day)
{
    int32_t at = part->fact_count - 1;
    while (at > 0 && part->facts[at].from_day > day)
        at--;
    while (at > 0 && part->facts[at - 1].peak_w == part->facts[at].peak_w)
        at--;
    return at < 0 ? 0 : at;
}

/* A part's own level by stretch: the median of its first days that count. */
static void find_usual(const struct parts *parts, int32_t part, int32_t usual[PARTS_FACTS])
{
    int32_t values[PARTS_BASELINE], count = 0, stretch = 0;
    for (int32_t i = 0; i < PARTS_FACTS; i++)
        usual[i] = 0;
    for (int32_t d = 0; d < parts->days; d++) {
        const struct part_day *day = parts_at(parts, d, part);
        int32_t now = stretch_of(&parts->part[part], d);
        if (now != stretch) {
            usual[stretch] = parts_median(values, count);
            count = 0;
            stretch = now;
        }
        if (day->state == PART_DAY_COUNTS && count < PARTS_BASELINE)
            values[count++] = day->ratio;
    }
    usual[stretch] = parts_median(values, count);
}

/* Of an even number the upper one of the two in the middle: what goes wrong makes less, not more, so that of
 * four parts two may lag. */
static int32_t upper_median(int32_t *values, int32_t count)
{
    for (int32_t i = 1; i < count; i++) {
        int32_t value = values[i], at = i;
        for (; at > 0 && values[at - 1] > value; at--)
            values[at] = values[at - 1];
        values[at] = value;
    }
    return values[count / 2];
}

static void take_out(struct part_day *day, int32_t common)
{
    if (common < WORTH)
        return;
    int32_t ratio = day->ratio * PARTS_RATIO_ONE / common;
    int64_t reference = (int64_t)day->reference * common / PARTS_RATIO_ONE;
    day->ratio = ratio > INT16_MAX ? INT16_MAX : (int16_t)ratio;
    day->reference = reference > UINT16_MAX ? UINT16_MAX : (uint16_t)reference;
}

/* What a day's ratios have in common came from which peers were there, and is taken out. */
static void polish_day(const struct parts *parts, int32_t d, int32_t (*usual)[PARTS_FACTS])
{
    int32_t level[PARTS_MOST], values[PARTS_MOST];
    for (int32_t p = 0; p < parts->count; p++) {
        const struct part_day *day = parts_at(parts, d, p);
        int32_t own = usual[p][stretch_of(&parts->part[p], d)];
        level[p] = day->state == PART_DAY_COUNTS && own >= WORTH ? day->ratio * PARTS_RATIO_ONE / own : -1;
    }
    for (int32_t p = 0; p < parts->count; p++) {
        struct part_day *day = parts_at(parts, d, p);
        uint64_t peers = day->state == PART_DAY_COUNTS ? parts_peers(parts, p, d) : 0;
        int32_t count = 0;
        for (int32_t q = 0; peers && q < parts->count; q++)
            if ((peers >> q & 1) && level[q] >= 0)
                values[count++] = level[q];
        if (count >= PLANE_LEAST)
            take_out(day, upper_median(values, count));
    }
}

static bool polish(const struct parts *parts)
{
    int32_t(*usual)[PARTS_FACTS] = calloc((size_t)parts->count + 1, sizeof(*usual));
    for (int32_t round = 0; usual && round < ROUNDS; round++) {
        for (int32_t p = 0; p < parts->count; p++)
            find_usual(parts, p, usual[p]);
        for (int32_t d = 0; d < parts->days; d++)
            polish_day(parts, d, usual);
    }
    bool good = usual != NULL;
    free(usual);
    return good;
}

/* What a part made in the span beside its reference, over the days that count; the plane's median is
 * set to 0 afterwards. */
static void sum_span(struct parts *parts, int32_t p)
{
    int64_t own = 0, reference = 0;
    struct part *part = &parts->part[p];
    part->counted = 0;
    for (int32_t d = parts->span_from; d < parts->days; d++) {
        const struct part_day *day = parts_at(parts, d, p);
        if (day->state != PART_DAY_COUNTS && day->state != PART_DAY_DARK)
            continue;
        own += (int64_t)day->reference * day->ratio;
        reference += (int64_t)day->reference * PARTS_RATIO_ONE;
        part->counted += day->state == PART_DAY_COUNTS;
    }
    part->against = reference > 0 ? mul_div(own, MILLION, reference) : UNKNOWN;
}

static void centre(struct parts *parts)
{
    int32_t values[PARTS_MOST];
    int64_t middle[PARTS_MOST];
    for (int32_t p = 0; p < parts->count; p++) {
        uint64_t peers = parts_peers(parts, p, parts->days - 1);
        int32_t count = 0;
        for (int32_t q = 0; q < parts->count; q++)
            if ((peers >> q & 1) && parts->part[q].against != UNKNOWN)
                values[count++] = (int32_t)parts->part[q].against;
        middle[p] = count >= PLANE_LEAST ? parts_median(values, count) : MILLION;
    }
    for (int32_t p = 0; p < parts->count; p++) {
        struct part *part = &parts->part[p];
        if (part->against != UNKNOWN && middle[p] > 0)
            part->against = mul_div(part->against, MILLION, middle[p]) - MILLION;
    }
}

/* Of single days: from the differences of neighbours, which a change of level hardly touches. */
static int32_t scatter_of(const struct part_track *track)
{
    int32_t count = 0;
    for (int32_t i = 1; i < track->count && i <= SCATTER_DAYS; i++)
        track->values[count++] = abs(track->ratio[i] - track->ratio[i - 1]);
    return (int32_t)(parts_median(track->values, count) * 1.4826 / sqrt(2));
}

static void follow(const struct parts *parts, int32_t p, struct part_track *track)
{
    track->count = 0;
    for (int32_t d = 0; d < parts->days; d++) {
        const struct part_day *day = parts_at(parts, d, p);
        if (day->state != PART_DAY_COUNTS)
            continue;
        track->day[track->count] = d;
        track->ratio[track->count++] = day->ratio;
    }
}

/* The one that goes on, else the one that cost most. */
static int32_t main_episode(const struct part *part)
{
    int32_t main = -1;
    for (int32_t i = 0; i < part->episode_count; i++) {
        const struct part_episode *episode = &part->episodes[i];
        if (main < 0 || episode->to < 0 || episode->lost > part->episodes[main].lost)
            main = i;
    }
    return main;
}

static bool others_seen(const struct parts *parts, int32_t d)
{
    for (int32_t p = 0; p < parts->count; p++)
        if (parts_at(parts, d, p)->seen > 0)
            return true;
    return false;
}

/* Silence of a few days is an outage. */
static int32_t unseen_from(const struct parts *parts, int32_t p)
{
    int32_t from = -1, days = 0;
    for (int32_t d = parts->days - 1; d >= parts->span_from && parts_at(parts, d, p)->seen == 0; d--) {
        if (!others_seen(parts, d) || !parts_facts(&parts->part[p], d)->present)
            continue;
        from = d;
        days++;
    }
    return days >= UNSEEN_DAYS ? from : -1;
}

static enum part_verdict verdict_of(const struct parts *parts, int32_t p, int32_t track_count)
{
    const struct part *part = &parts->part[p];
    bool gone = !parts_facts(part, parts->days - 1)->present;
    enum part_day_state best = PART_DAY_ABSENT;
    for (int32_t d = parts->span_from; d < parts->days; d++)
        if (parts_at(parts, d, p)->state > best)
            best = parts_at(parts, d, p)->state;
    if (best == PART_DAY_ALONE || (best == PART_DAY_ABSENT && gone))
        return VERDICT_NOT_COMPARABLE;
    if (track_count < PARTS_BASELINE + PARTS_WINDOW || part->counted == 0)
        return VERDICT_TOO_LITTLE;
    if (part->main < 0)
        return VERDICT_AS_USUAL;
    const struct part_episode *episode = &part->episodes[part->main];
    if (episode->from_beginning)
        return episode->to < 0 ? VERDICT_LOW : VERDICT_LOW_UNTIL;
    return episode->to < 0 ? VERDICT_LAGS : VERDICT_LAGGED;
}

static void judge_part(struct parts *parts, int32_t p, struct part_track *track,
                       const struct part_cleaning *cleanings, int32_t cleaning_count)
{
    struct part *part = &parts->part[p];
    follow(parts, p, track);
    part->scatter = scatter_of(track);
    for (int32_t i = 0; i < track->count && i < PARTS_BASELINE; i++)
        track->values[i] = track->ratio[i];
    part->offset = parts_median(track->values, track->count < PARTS_BASELINE ? track->count : PARTS_BASELINE);
    part->episode_count = 0;
    parts_find_episodes(parts, part, track);
    for (int32_t i = 0; i < part->episode_count; i++)
        parts_tell_cause(parts, p, &part->episodes[i], track, cleanings, cleaning_count);
    part->main = main_episode(part);
    part->unseen_from = unseen_from(parts, p);
    part->verdict = verdict_of(parts, p, track->count);
}

bool parts_judge(struct parts *parts, const struct part_cleaning *cleanings, int32_t cleaning_count)
{
    int32_t *room = malloc(3 * ((size_t)parts->days + 1) * sizeof(*room));
    struct part_track track = { .day = room };
    if (!room)
        return false;
    track.ratio = track.day + parts->days + 1;
    track.values = track.ratio + parts->days + 1;
    for (int32_t p = 0; p < parts->count; p++) {
        leave_out_dark_days(parts, p);
        sum_span(parts, p);
    }
    bool good = polish(parts);
    for (int32_t p = 0; good && p < parts->count; p++)
        judge_part(parts, p, &track, cleanings, cleaning_count);
    centre(parts);
    free(room);
    return good;
}
