#include "parts_words.h"

#include <stdio.h>
#include <stdlib.h>

enum { DATE_SIZE = 32, SUM_DECIMALS = 1, SHARE_DECIMALS = 2 };

const char *const part_day_words[PART_DAY_COUNTS + 1] = {
    [PART_DAY_ABSENT] = "no rows",
    [PART_DAY_ALONE] = "fewer than three in one plane",
    [PART_DAY_UNKNOWN] = "too few peers observed, or no light",
    [PART_DAY_UNSEEN] = "not fully observed",
    [PART_DAY_LIMITED] = "at its a.c. rating",
    [PART_DAY_DARK] = "too little light or seen too little",
    [PART_DAY_COUNTS] = "counts",
};

static bool lags_now(const struct part *part)
{
    return part->verdict == VERDICT_LAGS || part->verdict == VERDICT_LOW;
}

static bool comes_before(const struct part *a, const struct part *b)
{
    int64_t none = INT64_MAX, x = a->against == UNKNOWN ? none : a->against;
    int64_t y = b->against == UNKNOWN ? none : b->against;
    if (lags_now(a) != lags_now(b))
        return lags_now(a);
    return x < y;
}

void parts_rank(const struct parts_answer *answer, int32_t order[PARTS_MOST])
{
    const struct part *part = answer->parts.part;
    for (int32_t i = 0; i < answer->parts.count; i++) {
        int32_t at = i;
        for (; at > 0 && comes_before(&part[i], &part[order[at - 1]]); at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}

static const char *date_of(char text[DATE_SIZE], const struct parts_answer *answer, int32_t day)
{
    int32_t year, month, of_month;
    civil_date(parts_civil_day(answer, day), &year, &month, &of_month);
    snprintf(text, DATE_SIZE, "%04d-%02d-%02d", (int)year, (int)month, (int)of_month);
    return text;
}

const char *parts_verdict_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t p)
{
    static const char *const words[] = {
        [VERDICT_NOT_COMPARABLE] = "not comparable",
        [VERDICT_TOO_LITTLE] = "too little data",
        [VERDICT_AS_USUAL] = "as usual",
        [VERDICT_LAGS] = "lags since",
        [VERDICT_LAGGED] = "lagged from",
        [VERDICT_LOW] = "low from the beginning",
        [VERDICT_LOW_UNTIL] = "low until",
    };
    char from[DATE_SIZE], to[DATE_SIZE];
    const struct part *part = &answer->parts.part[p];
    const struct part_episode *episode = part_main(part);
    const char *word = words[part->verdict];
    if (part->verdict == VERDICT_LAGS && episode)
        snprintf(text, PARTS_TEXT_SIZE, "%s %s", word, date_of(from, answer, episode->from));
    else if (part->verdict == VERDICT_LAGGED && episode)
        snprintf(text, PARTS_TEXT_SIZE, "%s %s to %s", word, date_of(from, answer, episode->from),
                 date_of(to, answer, episode->to - 1));
    else if (part->verdict == VERDICT_LOW_UNTIL && episode)
        snprintf(text, PARTS_TEXT_SIZE, "%s %s", word, date_of(to, answer, episode->to - 1));
    else
        snprintf(text, PARTS_TEXT_SIZE, "%s", word);
    return text;
}

const char *parts_cause_text(char text[PARTS_TEXT_SIZE], const struct part_episode *episode)
{
    text[0] = '\0';
    if (!episode)
        return text;
    const char *cleaned = episode->cleaned ? ", until a noted cleaning" : "";
    if (episode->cause == CAUSE_FAILURE && episode->left == 0)
        snprintf(text, PARTS_TEXT_SIZE, "failure: next to nothing is left");
    else if (episode->cause == CAUSE_FAILURE)
        snprintf(text, PARTS_TEXT_SIZE, "failure: about %d of %d is left", (int)episode->left,
                 (int)episode->left_of);
    else
        snprintf(text, PARTS_TEXT_SIZE, "%s%s", part_cause_words[episode->cause], cleaned);
    return text;
}

const char *parts_other_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t p,
                             const struct part_episode *episode)
{
    char from[DATE_SIZE], to[DATE_SIZE], lost[NUMBER_SIZE], cause[PARTS_TEXT_SIZE];
    snprintf(text, PARTS_TEXT_SIZE, "'%s' also lagged from %s to %s: %.100s, about %s kWh",
             answer->parts.part[p].name, date_of(from, answer, episode->from),
             date_of(to, answer, (episode->to < 0 ? answer->parts.days : episode->to) - 1),
             parts_cause_text(cause, episode), number_print(lost, episode->lost, ENERGY_SCALE, 0, ','));
    return text;
}

const char *parts_unseen_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t p)
{
    char from[DATE_SIZE];
    const struct part *part = &answer->parts.part[p];
    snprintf(text, PARTS_TEXT_SIZE,
             "'%s' is not observed from %s on: it may make nothing, or only not answer", part->name,
             date_of(from, answer, part->unseen_from));
    return text;
}

const char *parts_alone_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer, int32_t p)
{
    const struct part *part = &answer->parts.part[p];
    const struct part_facts *facts = parts_facts(part, answer->parts.days - 1);
    if (!facts->present)
        snprintf(text, PARTS_TEXT_SIZE, "'%s' is not comparable: it is no part any more", part->name);
    else if (facts->peak_w <= 0)
        snprintf(text, PARTS_TEXT_SIZE, "'%s' is not comparable: its peak_power is not in the configuration",
                 part->name);
    else if (facts->azimuth == UNKNOWN || facts->tilt == UNKNOWN)
        snprintf(text, PARTS_TEXT_SIZE,
                 "'%s' is not comparable: its azimuth and tilt are not in the configuration", part->name);
    else
        snprintf(text, PARTS_TEXT_SIZE,
                 "'%s' is not comparable: fewer than three in one plane (azimuth %d, tilt %d)", part->name,
                 (int)facts->azimuth, (int)facts->tilt);
    return text;
}

static const char *hours_of(char text[NUMBER_SIZE], int64_t seconds)
{
    return number_print(text, (seconds + 180) / 360, 1, 1, ',');
}

const char *parts_sum_text(char text[PARTS_TEXT_SIZE], const struct parts_answer *answer)
{
    const struct parts_sum *sum = &answer->sum;
    char parts[NUMBER_SIZE], beside[NUMBER_SIZE], difference[NUMBER_SIZE], share[NUMBER_SIZE];
    char resolution[NUMBER_SIZE], hours[NUMBER_SIZE];
    int64_t apart = sum->parts - sum->beside;
    if (answer->beside_count == 0) {
        snprintf(text, PARTS_TEXT_SIZE, "%s",
                 answer->of_production
                     ? "the parts are production meters themselves: there is no sum to check"
                     : "no production meter stands beside the parts: their sum cannot be checked");
        return text;
    }
    if (sum->known_s == 0 || sum->beside <= 0) {
        snprintf(text, PARTS_TEXT_SIZE, "parts and production meter are never known together");
        return text;
    }
    number_print(parts, sum->parts, ENERGY_SCALE, SUM_DECIMALS, ',');
    number_print(beside, sum->beside, ENERGY_SCALE, SUM_DECIMALS, ',');
    number_print(difference, apart, ENERGY_SCALE, SUM_DECIMALS, ',');
    number_print(share, number_share(apart, sum->beside), SHARE_SCALE - 2, SHARE_DECIMALS, 0);
    number_print(resolution, sum->resolution, ENERGY_SCALE, 3, ',');
    snprintf(text, PARTS_TEXT_SIZE,
             "sum of the parts %s kWh, production meter%s %s kWh: %s kWh (%s %%), steps of all registers %s "
             "kWh; %s h "
             "left out",
             parts, answer->beside_count > 1 ? "s" : "", beside, difference, share, resolution,
             hours_of(hours, sum->left_out_s));
    return text;
}
