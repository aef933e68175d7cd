/* What was noted while the span was read, and how its figures were found. */
#include <stdlib.h>
#include <string.h>

#include "query_dating.h"
#include "validate_walk.h"

static void seen_event(struct validate *validate, const struct seen_row *event)
{
    static const struct {
        const char *kind;
        enum item item;
    } kinds[] = { { "rejected", ITEM_REJECTED }, { "meter_lost", ITEM_LOST }, { "clock", ITEM_CLOCK } };
    struct finding finding = finding_at(event->at_s);
    int16_t place = event->meter > 0 && event->meter < METER_NUMBERS ? validate->index[event->meter] : -1;
    struct tally *tallies = place < 0 ? validate->site : validate->meters[place].tallies;
    for (size_t i = 0; i < sizeof(kinds) / sizeof(kinds[0]); i++)
        if (strcmp(event->kind, kinds[i].kind) == 0)
            tally_note(&tallies[kinds[i].item], kinds[i].item, &finding, event->count);
}

static void seen_clocks(struct validate *validate)
{
    struct clock_row clock;
    query_clocks(validate->query, validate->from_s, validate->to_s);
    while (query_next_clock(validate->query, &clock)) {
        struct finding finding = finding_at(clock.at_s);
        tally_note(&validate->site[ITEM_CLOCK], ITEM_CLOCK, &finding, 1);
        tally_remark(&validate->site[ITEM_CLOCK], "by %s", clock.source);
    }
}

/* Sessions whose clock was never told: what they counted lies in the gap before the next one. */
static void seen_undated(struct validate *validate)
{
    int64_t after_s;
    query_undated(validate->query);
    while (query_next_undated(validate->query, &after_s)) {
        struct finding finding = finding_at(after_s);
        if (after_s < validate->from_s || after_s >= validate->to_s)
            continue;
        tally_note(&validate->site[ITEM_CLOCK], ITEM_CLOCK, &finding, 1);
        tally_remark(&validate->site[ITEM_CLOCK], "a session without a date before");
    }
}

static void seen_settings(struct validate *validate)
{
    int64_t first_s = UNKNOWN;
    int64_t count = query_settings_within(validate->query, validate->from_s, validate->to_s, &first_s);
    struct finding finding = finding_at(first_s);
    if (count > 0)
        tally_note(&validate->site[ITEM_SETTINGS], ITEM_SETTINGS, &finding, count);
    else
        tally_pass(&validate->site[ITEM_SETTINGS], 1);
}

/* Of a part of the meter's time or energy; nothing of it is passed. */
static void tell_share(struct validate_meter *meter, enum item item, int64_t part, int64_t whole, bool energy)
{
    struct finding finding = { UNKNOWN, energy ? part : UNKNOWN, number_share(part, whole),
                               energy ? UNKNOWN : part };
    if (part != 0)
        tally_note(&meter->tallies[item], item, &finding, 1);
    else
        tally_pass(&meter->tallies[item], 1);
    meter->tallies[item].place_count = 0;
}

static void tell_shares(struct validate_meter *meter)
{
    const struct shares *shares = &meter->shares;
    struct tally *clock = &meter->tallies[ITEM_CLOCK];
    int64_t covered_s = meter->time.end_s - meter->time.begin_s;
    if (shares->rows == 0)
        return;
    tell_share(meter, ITEM_MISSING, meter->time.missing_s, covered_s, false);
    tell_share(meter, ITEM_UNOBSERVED, shares->unobserved_s, covered_s - meter->time.missing_s, false);
    tell_share(meter, ITEM_INTERPOLATED, shares->interpolated, shares->energy, true);
    tell_share(meter, ITEM_ESTIMATED, shares->estimated, shares->energy, true);
    tell_share(meter, ITEM_ENTERED, shares->entered, shares->energy, true);
    tell_share(meter, ITEM_CORRECTED, shares->corrected, shares->energy, true);
    if (shares->stepped)
        tally_remark(clock, "clock stepped: %lld", (long long)shares->stepped);
    if (shares->back_dated)
        tally_remark(clock, "back-dated: %lld", (long long)shares->back_dated);
    if (shares->re_dated)
        tally_remark(clock, "re-dated: %lld", (long long)shares->re_dated);
}

/* Where nothing was seen, the meter's intervals passed. */
static void tell_nothing(struct validate_meter *meter, enum item item)
{
    tally_pass(&meter->tallies[item], meter->shares.rows);
}

void validate_seen(struct validate *validate)
{
    struct seen_row event;
    query_seen(validate->query, validate->from_s, validate->to_s);
    while (query_next_seen(validate->query, &event))
        seen_event(validate, &event);
    seen_clocks(validate);
    seen_undated(validate);
    seen_settings(validate);
    validate->correcting = query_correcting(validate->query, validate->from_s, validate->to_s);
    for (int32_t i = 0; i < validate->meter_count; i++) {
        tell_shares(&validate->meters[i]);
        tell_nothing(&validate->meters[i], ITEM_REJECTED);
        tell_nothing(&validate->meters[i], ITEM_LOST);
    }
}
