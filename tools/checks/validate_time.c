#include "validate_time.h"

void time_check_init(struct time_check *check, int64_t begin_s, int64_t now_s)
{
    *check = (struct time_check){ .begin_s = begin_s, .now_s = now_s, .end_s = begin_s };
}

static int64_t up(int64_t seconds, int64_t interval_s)
{
    return (seconds + interval_s - 1) / interval_s;
}

static struct finding lasting(int64_t at_s, int64_t seconds)
{
    struct finding finding = finding_at(at_s);
    finding.seconds = seconds;
    return finding;
}

/* The meter goes on: days that lacked something will not get it any more. */
static void settle_days(struct time_check *check, struct tally *tally)
{
    struct finding finding = lasting(check->waiting_at_s, check->waiting_s);
    if (check->waiting_days > 0)
        tally_fail(tally, ITEM_DAYS, &finding, check->waiting_days);
    check->waiting_days = 0;
    check->waiting_s = 0;
}

static void miss(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t to_s, int64_t interval_s)
{
    int64_t from_s = check->end_s;
    struct finding finding = lasting(from_s, to_s - from_s);
    check->missing_s += to_s - from_s;
    tally_fail(&tallies[ITEM_PRESENT], ITEM_PRESENT, &finding, up(to_s - from_s, interval_s));
}

int64_t time_check_row(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t start_s,
                       int32_t interval_s)
{
    int64_t end_s = start_s - start_s % interval_s + interval_s;
    /* The first interval under another length begins where the last one ended, or where the first run
     * began. */
    bool follows = start_s == check->end_s && check->interval_s != interval_s;
    bool overlaps = start_s < check->end_s;
    struct finding finding = finding_at(start_s);
    settle_days(check, &tallies[ITEM_DAYS]);
    tally_test(&tallies[ITEM_GRID], ITEM_GRID, &finding, start_s % interval_s == 0 || follows);
    finding = lasting(start_s, check->end_s - start_s);
    tally_test(&tallies[ITEM_ORDER], ITEM_ORDER, &finding, !overlaps);
    finding = lasting(start_s, end_s - check->now_s);
    tally_test(&tallies[ITEM_FUTURE], ITEM_FUTURE, &finding, end_s <= check->now_s);
    if (start_s > check->end_s)
        miss(check, tallies, start_s, interval_s);
    tally_pass(&tallies[ITEM_PRESENT], 1);
    if (end_s > check->end_s) {
        check->day_s += end_s - (overlaps ? check->end_s : start_s);
        check->end_s = end_s;
    }
    check->interval_s = interval_s;
    return end_s;
}

void time_check_day(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t from_s, int64_t to_s)
{
    int64_t lacking_s = to_s - from_s - check->day_s;
    check->day_s = 0;
    if (check->begin_s > from_s || to_s <= from_s)
        return; /* it began in it or later */
    if (lacking_s <= 0) {
        tally_pass(&tallies[ITEM_DAYS], 1);
        return;
    }
    if (check->waiting_days == 0)
        check->waiting_at_s = from_s;
    check->waiting_days++;
    check->waiting_s = lacking_s > check->waiting_s ? lacking_s : check->waiting_s;
    if (check->end_s >= to_s)
        settle_days(check, &tallies[ITEM_DAYS]);
}

void time_check_end(struct time_check *check, struct tally tallies[ITEM_COUNT], int64_t to_s, bool goes_on)
{
    int64_t interval_s = check->interval_s > 0 ? check->interval_s : 300;
    if (goes_on) {
        settle_days(check, &tallies[ITEM_DAYS]);
        if (to_s > check->end_s)
            miss(check, tallies, to_s, interval_s);
        return;
    }
    tally_untold(&tallies[ITEM_DAYS], check->waiting_days);
    int64_t known_to_s = to_s < check->now_s ? to_s : check->now_s;
    if (known_to_s - check->end_s >= interval_s)
        tally_untold(&tallies[ITEM_PRESENT], (known_to_s - check->end_s) / interval_s);
}
