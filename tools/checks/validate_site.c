/* What the meters of a site count together: use, production, parts. */
#include <stdlib.h>
#include <string.h>

#include "muldiv.h"
#include "schema.h"
#include "validate_walk.h"

enum {
    HOUR_S = 3600,
    MOST_ESTIMATED = 10
}; /* a day of which more than a tenth is estimated is no reference: our own choice */

static const struct site_sum unknown = { UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN };

/* Unknown as soon as one term is. */
static int64_t plus(int64_t a, int64_t b)
{
    return a == UNKNOWN || b == UNKNOWN ? UNKNOWN : a + b;
}

static void add(struct site_sum *sum, const struct site_sum *day)
{
    sum->use = plus(sum->use, day->use);
    sum->production = plus(sum->production, day->production);
}

static int64_t sum_of_role(const struct arrangement *arrangement, const struct meter_energy *energy,
                           enum meter_role role)
{
    int64_t sum = 0;
    bool any = false;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        if (arrangement->meters[i].role != role)
            continue;
        any = true;
        sum = plus(sum, !energy[i].present                          ? UNKNOWN
                        : arrangement->meters[i].delivers_by_export ? energy[i].export
                                                                    : energy[i].import);
    }
    return any ? sum : UNKNOWN;
}

static int64_t magnitude(int64_t energy)
{
    return energy == UNKNOWN ? 0 : llabs(energy);
}

/* The site's sums of a day from its meters' sums. */
static struct site_sum sums_of(const struct arrangement *arrangement, const struct meter_energy *energy)
{
    const struct balance balance = balance_of(arrangement, energy);
    const int32_t *count = arrangement->count;
    bool makes_nothing =
        count[USE_PRODUCTION] + count[USE_GROSS] + count[USE_STORAGE] + count[USE_GENERATOR] == 0;
    struct site_sum sum = unknown;
    int64_t moved = magnitude(balance.production) + magnitude(balance.import) + magnitude(balance.export);
    if (magnitude(balance.estimated) * MOST_ESTIMATED <= moved) {
        sum.use = balance.consumption != UNKNOWN ? balance.consumption
                  : makes_nothing                ? balance.import
                                                 : UNKNOWN;
        sum.production =
            balance.self_consumption != UNKNOWN || count[USE_GROSS] ? balance.production : UNKNOWN;
    }
    if (count[USE_CONSUMPTION] && !arrangement->derived) {
        sum.metered = balance.metered_compared;
        sum.metered_whole = balance.consumption_compared;
    }
    sum.parts = sum_of_role(arrangement, energy, ROLE_PART);
    sum.parts_whole = sum_of_role(arrangement, energy, ROLE_PRODUCTION);
    return sum;
}

/* A day of the record, by its closed days. */
static struct site_sum stored_day(struct validate *validate, int64_t day)
{
    struct meter_energy energy[ARRANGEMENT_MAX_METERS] = { 0 };
    int64_t from_s = civil_day_start(validate->civil, day);
    const struct arrangement *arrangement = history_at(&validate->history, from_s, &validate->hint);
    if (arrangement->to_s < civil_day_start(validate->civil, day + 1))
        return unknown;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        struct day_row row;
        if (query_meter_day(validate->query, arrangement->meters[i].number, day, true, &row) &&
            row.rows == row.expected)
            energy[i] = (struct meter_energy){ true, row.import, row.export, row.estimated };
    }
    return sums_of(arrangement, energy);
}

/* The day that was just read. */
static struct site_sum read_day(struct validate *validate)
{
    struct meter_energy energy[ARRANGEMENT_MAX_METERS] = { 0 };
    const struct arrangement *arrangement = history_at(&validate->history, validate->day_s, &validate->hint);
    if (arrangement->to_s < validate->next_day_s)
        return unknown;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        int32_t number = arrangement->meters[i].number;
        int16_t place = number < 0 || number >= METER_NUMBERS ? -1 : validate->index[number];
        const struct validate_meter *meter = place < 0 ? NULL : &validate->meters[place];
        if (meter && meter->time.day_s == validate->next_day_s - validate->day_s)
            energy[i] = (struct meter_energy){ true, meter->counted.import, meter->counted.export,
                                               meter->counted.estimated };
    }
    return sums_of(arrangement, energy);
}

void validate_site_begin(struct validate *validate)
{
    int64_t from_day = validate->period.from_day;
    validate->month = unknown;
    validate->exported = UNKNOWN;
    validate->span = (struct site_sum){ 0 };
    use_check_init(&validate->use, validate->checks.day_high_percent, validate->checks.day_low_percent);
    for (int64_t day = from_day - USE_DAYS; day < from_day; day++)
        use_check_day(&validate->use, NULL, day, 0, stored_day(validate, day).use);
}

static void end_month(struct validate *validate, int64_t first_day, int32_t year, int32_t month)
{
    const struct config_checks *checks = &validate->checks;
    int64_t at_s = civil_day_start(validate->civil, first_day);
    int64_t before = civil_day_number(year - 1, month, 1), end = period_next_month(before);
    struct site_sum reference = { 0 };
    for (int64_t day = before; day < end; day++) {
        struct site_sum stored = stored_day(validate, day);
        add(&reference, &stored);
    }
    use_compare(&validate->site[ITEM_MONTH_USE], ITEM_MONTH_USE, at_s, validate->month.use, reference.use,
                checks->month_high_percent, checks->month_low_percent);
    if (validate->month.production != UNKNOWN || reference.production != UNKNOWN)
        use_compare(&validate->site[ITEM_MONTH_PRODUCTION], ITEM_MONTH_PRODUCTION, at_s,
                    validate->month.production, reference.production, checks->month_high_percent,
                    checks->month_low_percent);
}

static void compare_parts(struct validate *validate, const struct site_sum *sum)
{
    struct site_sum *span = &validate->span;
    if (sum->parts != UNKNOWN && sum->parts_whole != UNKNOWN) {
        span->parts += sum->parts;
        span->parts_whole += sum->parts_whole;
        tally_pass(&validate->site[ITEM_PARTS], 1);
    }
    if (sum->metered != UNKNOWN && sum->metered_whole != UNKNOWN) {
        span->metered += sum->metered;
        span->metered_whole += sum->metered_whole;
        tally_pass(&validate->site[ITEM_RESIDUAL], 1);
    }
}

/* What a site of the hour exported cannot be more than what was made, imported and discharged, to a step of
 * each register: a sum over a day hides that by night. */
static void end_hour(struct validate *validate)
{
    struct site_hour *hour = &validate->in_hour;
    const struct arrangement *arrangement =
        history_at(&validate->history, hour->hour * HOUR_S, &validate->hint);
    int64_t steps = 0;
    int32_t rows = 0;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        rows = hour->rows[i] > rows ? hour->rows[i] : rows;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        int32_t number = arrangement->meters[i].number;
        int16_t place = number < 0 || number >= METER_NUMBERS ? -1 : validate->index[number];
        if (arrangement->meters[i].use == USE_NONE || place < 0)
            continue;
        hour->doubtful = hour->doubtful || hour->rows[i] != rows;
        steps += validate->meters[place].step;
    }
    const struct balance balance = balance_of(arrangement, hour->energy);
    if (!hour->doubtful && balance.consumption != UNKNOWN && balance.export != UNKNOWN) {
        validate->exported = plus(validate->exported == UNKNOWN ? 0 : validate->exported, balance.export);
        validate->below += balance.consumption < -steps ? -balance.consumption : 0;
    }
    *hour = (struct site_hour){ 0 };
}

void validate_site_row(struct validate *validate, const struct interval_row *counted)
{
    struct site_hour *hour = &validate->in_hour;
    if (hour->hour != counted->start_s / HOUR_S)
        end_hour(validate);
    hour->hour = counted->start_s / HOUR_S;
    const struct arrangement *arrangement = history_at(&validate->history, counted->start_s, &validate->hint);
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        if (arrangement->meters[i].number != counted->meter)
            continue;
        struct meter_energy *energy = &hour->energy[i];
        if (!energy->present)
            *energy = (struct meter_energy){ .present = true };
        energy->import = plus(energy->import, counted->import);
        energy->export = plus(energy->export, counted->export);
        hour->rows[i]++;
        hour->doubtful =
            hour->doubtful || counted->estimated != 0 || counted->how & (HOW_CLOCK | HOW_RUN_CHANGE);
    }
}

static void compare_hours(struct validate *validate)
{
    end_hour(validate);
    int64_t exported = validate->exported, below = validate->below;
    struct tally *tally = &validate->site[ITEM_BELOW];
    struct finding finding = { validate->day_s, below, number_share(below, exported), UNKNOWN };
    validate->exported = UNKNOWN;
    validate->below = 0;
    if (exported == UNKNOWN)
        return;
    bool good = below <= mul_div(exported, validate->checks.residual_percent, 100);
    tally_test(tally, ITEM_BELOW, &finding, good);
    if (!good)
        tally_remark(tally, "a meter's direction, ratio, place or 'connection'?");
}

void validate_site_day(struct validate *validate)
{
    compare_hours(validate);
    struct site_sum sum = read_day(validate);
    int32_t year, month, day_of_month;
    civil_date(validate->day, &year, &month, &day_of_month);
    if (validate->next_day_s <= validate->day_s)
        return; /* a day that the zone skipped */
    use_check_day(&validate->use, &validate->site[ITEM_DAY_USE], validate->day, validate->day_s, sum.use);
    compare_parts(validate, &sum);
    if (day_of_month == 1)
        validate->month = (struct site_sum){ 0 };
    add(&validate->month, &sum);
    if (period_next_month(validate->day) == validate->day + 1 &&
        validate->day + 1 - day_of_month >= validate->period.from_day)
        end_month(validate, validate->day + 1 - day_of_month, year, month);
}

/* The whole span's difference is one test, over the days that were counted as tested. */
static void end_compared(struct validate *validate, enum item item, int64_t sum, int64_t whole)
{
    struct tally *tally = &validate->site[item];
    int64_t share = number_share(sum - whole, whole);
    struct finding finding = { validate->from_s, sum - whole, share, UNKNOWN };
    if (tally->tested == 0)
        return;
    if (share == UNKNOWN || llabs(share) > (int64_t)validate->checks.residual_percent * SHARE_ONE / 100) {
        tally->tested--;
        tally_fail(tally, item, &finding, 1);
    } else {
        tally_state(tally, &finding);
    }
}

void validate_site_end(struct validate *validate)
{
    end_compared(validate, ITEM_PARTS, validate->span.parts, validate->span.parts_whole);
    end_compared(validate, ITEM_RESIDUAL, validate->span.metered, validate->span.metered_whole);
}
