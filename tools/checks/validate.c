#include "validate.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

static const char time_check[] = "time", identification[] = "identification", sum[] = "sum",
                  spike[] = "spike", high_low[] = "high/low", gate[] = "gate", shares[] = "shares";

const struct item_info item_infos[ITEM_COUNT] = {
    [ITEM_PRESENT] = { time_check, "intervals present", UNIT_TIME },
    [ITEM_ORDER] = { time_check, "in order, none twice", UNIT_TIME },
    [ITEM_GRID] = { time_check, "on the grid", UNIT_NONE },
    [ITEM_FUTURE] = { time_check, "none in the future", UNIT_TIME },
    [ITEM_DAYS] = { time_check, "civil days complete", UNIT_TIME },
    [ITEM_CLOCK] = { time_check, "no clock step, none re-dated", UNIT_NONE },
    [ITEM_SERIAL] = { identification, "serial number the same", UNIT_NONE },
    [ITEM_RUNS] = { identification, "no new register run", UNIT_NONE },
    [ITEM_FACTORS] = { identification, "ratio and direction the same", UNIT_NONE },
    [ITEM_SETTINGS] = { identification, "configuration the same", UNIT_NONE },
    [ITEM_ACCOUNT] = { sum, "intervals add up to the account", UNIT_ENERGY },
    [ITEM_REGISTER] = { sum, "account within a register step", UNIT_ENERGY },
    [ITEM_DAY_SUMS] = { sum, "intervals add up to closed days", UNIT_ENERGY },
    [ITEM_PARTS] = { sum, "parts add up to production", UNIT_SHARE },
    [ITEM_RESIDUAL] = { sum, "consumption meter as the balance", UNIT_SHARE },
    [ITEM_BELOW] = { sum, "no more exported than there is", UNIT_ENERGY },
    [ITEM_SEALED] = { sum, "own account as the sealed meter", UNIT_SHARE },
    [ITEM_SPIKE] = { spike, "highest block near the third", UNIT_SHARE },
    [ITEM_RATED] = { spike, "within rated power", UNIT_SHARE },
    [ITEM_DAY_USE] = { high_low, "day's use as days before", UNIT_SHARE },
    [ITEM_MONTH_USE] = { high_low, "month's use as last year", UNIT_SHARE },
    [ITEM_MONTH_PRODUCTION] = { high_low, "month's production as last year", UNIT_SHARE },
    [ITEM_CLEAR_SKY] = { high_low, "production within clear sky", UNIT_SHARE },
    [ITEM_NIGHT] = { high_low, "no production at night", UNIT_ENERGY },
    [ITEM_REJECTED] = { gate, "no value rejected", UNIT_NONE },
    [ITEM_LOST] = { gate, "never lost", UNIT_NONE },
    [ITEM_MISSING] = { shares, "nothing missing", UNIT_TIME },
    [ITEM_UNOBSERVED] = { shares, "all observed", UNIT_TIME },
    [ITEM_INTERPOLATED] = { shares, "nothing interpolated", UNIT_ENERGY },
    [ITEM_ESTIMATED] = { shares, "nothing estimated", UNIT_ENERGY },
    [ITEM_ENTERED] = { shares, "nothing entered", UNIT_ENERGY },
    [ITEM_CORRECTED] = { shares, "nothing corrected", UNIT_ENERGY },
};

const char *const tally_result_words[] = { "", "passed", "noted", "failed", "not told" };

struct finding finding_at(int64_t at_s)
{
    return (struct finding){ at_s, UNKNOWN, UNKNOWN, UNKNOWN };
}

static int64_t size_of(enum item item, const struct finding *finding)
{
    const int64_t figures[] = { UNKNOWN, finding->energy, finding->share, finding->seconds };
    int64_t figure = figures[item_infos[item].unit];
    return figure < 0 && figure != UNKNOWN ? -figure : figure;
}

/* The earliest ones, in order; those without an instant come last. */
static void keep_place(struct tally *tally, int64_t at_s)
{
    int32_t place = tally->place_count;
    while (place > 0 && at_s != UNKNOWN &&
           (tally->places[place - 1] == UNKNOWN || at_s < tally->places[place - 1]))
        place--;
    if (place == TALLY_PLACES)
        return;
    tally->place_count += tally->place_count < TALLY_PLACES;
    for (int32_t i = tally->place_count - 1; i > place; i--)
        tally->places[i] = tally->places[i - 1];
    tally->places[place] = at_s;
}

static void keep(struct tally *tally, enum item item, const struct finding *finding, bool first)
{
    if (first || size_of(item, finding) > size_of(item, &tally->worst))
        tally->worst = *finding;
    if (first)
        tally->place_count = 0;
    keep_place(tally, finding->at_s);
}

void tally_pass(struct tally *tally, int64_t count)
{
    tally->tested += count;
}

void tally_untold(struct tally *tally, int64_t count)
{
    tally->untold += count;
}

void tally_fail(struct tally *tally, enum item item, const struct finding *finding, int64_t count)
{
    keep(tally, item, finding, tally->failed == 0);
    tally->tested += count;
    tally->failed += count;
}

void tally_note(struct tally *tally, enum item item, const struct finding *finding, int64_t count)
{
    if (tally->failed == 0)
        keep(tally, item, finding, tally->noted == 0);
    tally->noted += count;
}

void tally_test(struct tally *tally, enum item item, const struct finding *finding, bool good)
{
    if (good)
        tally_pass(tally, 1);
    else
        tally_fail(tally, item, finding, 1);
}

void tally_remark(struct tally *tally, const char *format, ...)
{
    char words[TALLY_REMARK_SIZE - 8];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(words, sizeof(words), format, arguments);
    va_end(arguments);
    size_t length = strlen(tally->remark);
    if (strstr(tally->remark, words))
        return; /* said already */
    if (length + strlen(words) + sizeof(", ") > sizeof(tally->remark))
        return;
    if (length > 0) {
        memcpy(tally->remark + length, ", ", 2);
        length += 2;
    }
    memcpy(tally->remark + length, words, strlen(words) + 1);
}

bool tally_has_worst(const struct tally *tally)
{
    return tally->failed > 0 || tally->noted > 0 || tally->stated;
}

void tally_state(struct tally *tally, const struct finding *finding)
{
    tally->worst = *finding;
    tally->stated = true;
}

enum tally_result tally_result(const struct tally *tally)
{
    if (tally->failed > 0)
        return TALLY_FAILED;
    if (tally->noted > 0)
        return TALLY_NOTED;
    if (tally->tested > 0)
        return TALLY_PASSED;
    return tally->untold > 0 ? TALLY_UNTOLD : TALLY_ABSENT;
}
