#include "validate_use.h"

#include "muldiv.h"

enum { WEEK = 7, THURSDAY = 4, PERCENT = 100 }; /* 1970-01-01 was a Thursday; Sunday is 0 */

/* Workdays, Saturdays, Sundays. */
static int kind_of(int64_t day)
{
    int64_t weekday = ((day + THURSDAY) % WEEK + WEEK) % WEEK;
    return weekday == 0 ? 0 : weekday == WEEK - 1 ? 2 : 1;
}

static void forget(struct use_check *check, int64_t day)
{
    check->use[(day % USE_DAYS + USE_DAYS) % USE_DAYS] = UNKNOWN;
}

void use_check_init(struct use_check *check, int32_t high_percent, int32_t low_percent)
{
    *check = (struct use_check){ .high_percent = high_percent, .low_percent = low_percent };
    check->newest = INT64_MIN;
    for (int64_t d = 0; d < USE_DAYS; d++)
        forget(check, d);
}

static int64_t reference_of(const struct use_check *check, int64_t day)
{
    int64_t sum = 0;
    int32_t count = 0;
    for (int64_t d = day - USE_DAYS; d < day; d++) {
        int64_t use = check->use[(d % USE_DAYS + USE_DAYS) % USE_DAYS];
        if (kind_of(d) != kind_of(day) || use == UNKNOWN)
            continue;
        sum += use;
        count++;
    }
    return count >= USE_LEAST ? sum / count : UNKNOWN;
}

void use_compare(struct tally *tally, enum item item, int64_t at_s, int64_t use, int64_t reference,
                 int32_t high_percent, int32_t low_percent)
{
    if (use == UNKNOWN || reference == UNKNOWN || reference <= 0) {
        tally_untold(tally, 1);
        return;
    }
    struct finding finding = { at_s, use, number_share(use, reference), UNKNOWN };
    tally_test(tally, item, &finding,
               use <= mul_div(reference, high_percent, PERCENT) &&
                   use >= mul_div(reference, low_percent, PERCENT));
}

void use_check_day(struct use_check *check, struct tally *tally, int64_t day, int64_t at_s, int64_t use)
{
    int64_t skipped =
        check->newest == INT64_MIN || day - check->newest > USE_DAYS ? day - USE_DAYS : check->newest + 1;
    for (; skipped < day; skipped++)
        forget(check, skipped);
    if (tally)
        use_compare(tally, ITEM_DAY_USE, at_s, use, reference_of(check, day), check->high_percent,
                    check->low_percent);
    check->use[(day % USE_DAYS + USE_DAYS) % USE_DAYS] = use;
    check->newest = day;
}
