#include "yield.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "calendar.h"
#include "light.h"
#include "query_checks.h"
#include "query_outages.h"
#include "walk.h"

static bool without_memory(void)
{
    fputs("meterbook: out of memory\n", stderr);
    return false;
}

static struct yield_day *add_day(struct yield *yield)
{
    if (yield->day_count == yield->day_room) {
        int32_t room = yield->day_room ? 2 * yield->day_room : 64;
        struct yield_day *days = realloc(yield->days, (size_t)room * sizeof *days);
        if (!days)
            return NULL;
        yield->days = days;
        yield->day_room = room;
    }
    return &yield->days[yield->day_count++];
}

/* Time for which the record has rows of each production meter, and what the least observed of them answered
 * for. A closed day says it in one row. */
static void read_times(struct query *query, struct yield_day *day)
{
    day->known_s = day->observed_s = day->plant->meter_count > 0 ? day->length_s : 0;
    for (int32_t i = 0; i < day->plant->meter_count; i++) {
        struct day_row closed;
        struct meter_sum sum;
        int32_t number = day->plant->meters[i].number;
        bool is_closed = query_meter_day(query, number, day->day, true, &closed) &&
                         closed.from_s == day->from_s && closed.to_s == day->to_s;
        if (!is_closed)
            sum = query_meter_sum(query, number, day->from_s, day->to_s);
        int64_t known_s = (is_closed ? closed.rows : sum.rows) * (int64_t)day->plant->interval_s;
        int64_t seen_s = known_s - (is_closed ? closed.unobserved : sum.unobserved_s);
        day->known_s = known_s < day->known_s ? known_s : day->known_s;
        day->observed_s = seen_s < day->observed_s ? seen_s : day->observed_s;
    }
}

/* Do sealed meters speak for the production of some of a day? */
static bool made_by_sealed(const struct sources *sources, int64_t from_s, int64_t to_s)
{
    return (sources_sealed(sources, from_s) | sources_sealed(sources, to_s - 1)) & TERMS_PRODUCTION;
}

static bool read_days(struct yield *yield, const struct inquiry *inquiry)
{
    struct walk walk;
    const struct answer_row *row;
    bool good = true;
    walk_begin(&walk, inquiry, ROW_DAY);
    while (good && (row = walk_next(&walk))) {
        struct yield_day *day = add_day(yield);
        int64_t reach_s = walk.chunk.reach_s;
        good = day != NULL;
        if (!good)
            break;
        *day = (struct yield_day){ .day = civil_day_of(inquiry->session.civil, row->from_s),
                                   .from_s = row->from_s,
                                   .to_s = row->to_s,
                                   .length_s = (row->to_s < reach_s ? row->to_s : reach_s) - row->from_s,
                                   .made = row->balance.production,
                                   .sealed = made_by_sealed(inquiry->sources, row->from_s, row->to_s),
                                   .plant = plants_at(&yield->plants, row->from_s) };
        day->length_s = day->length_s > 0 ? day->length_s : 0;
        if (day->sealed && day->made != UNKNOWN)
            day->known_s = day->length_s;
        else if (day->made != UNKNOWN)
            read_times(inquiry->session.query, day);
    }
    bool read = walk_end(&walk);
    return good ? read : without_memory();
}

struct lit {
    struct yield *yield;
    int32_t at;
};

static void take_light(void *self, const struct light *light)
{
    struct lit *lit = self;
    struct yield *yield = lit->yield;
    while (lit->at < yield->day_count && yield->days[lit->at].to_s <= light->start_s)
        lit->at++;
    if (lit->at == yield->day_count || yield->days[lit->at].from_s > light->start_s)
        return;
    struct yield_day *day = &yield->days[lit->at];
    yield->has_light = true;
    day->warmth_computed |= light->warmth == WARMTH_COMPUTED;
    performance_add(&day->light, light->length_s, light->made, light->reference, light->light,
                    light->temperature);
    if (light->outage)
        day->outage_s += light->length_s;
    else if (light->throttled)
        day->throttled_s += light->length_s;
    else
        performance_add(&day->undisturbed, light->length_s, light->made, light->reference, light->light,
                        light->temperature);
}

bool yield_read(struct yield *yield, const struct inquiry *inquiry)
{
    const struct session *session = &inquiry->session;
    *yield = (struct yield){ 0 };
    query_begin(session->query);
    bool good = plants_read(&yield->plants, session->query, session->config);
    query_end(session->query);
    if (!good)
        return query_error(session->query) ? (session_failed(session), false) : without_memory();
    return read_days(yield, inquiry);
}

bool yield_read_light(struct yield *yield, const struct inquiry *inquiry)
{
    const struct session *session = &inquiry->session;
    struct lit lit = { .yield = yield };
    if (light_walk(session, &yield->plants, inquiry->from_s, inquiry->head.reach_s, take_light, &lit))
        return true;
    return query_error(session->query) ? (session_failed(session), false) : without_memory();
}

/* What the ratios of a row are divided by. */
struct divisors {
    double peak_kwh, peak_hours; /* made, and kW h, while a peak power was stated */
    double ac_kwh, ac_hours;
    double gamma_light, gamma; /* of days with light, weighted by it */
    bool gamma_missing;
};

static void take_day(struct yield_row *row, struct divisors *divisors, const struct yield_day *day)
{
    double hours = (double)day->known_s / 3600, made = day->made == UNKNOWN ? 0 : (double)day->made / 1e6;
    row->known_s += day->known_s;
    row->observed_s += day->observed_s;
    row->made = number_sum(row->made, day->made);
    row->sealed |= day->sealed;
    row->warmth_computed |= day->warmth_computed;
    row->outage_s += day->outage_s;
    row->throttled_s += day->throttled_s;
    performance_join(&row->light, &day->light);
    performance_join(&row->undisturbed, &day->undisturbed);
    divisors->gamma_light += day->light.reference_warm;
    divisors->gamma += day->light.reference_warm * day->plant->gamma;
    divisors->gamma_missing |= day->light.reference_warm > 0 && !(day->plant->gamma < 0);
    if (day->plant->peak_kw > 0 && day->made != UNKNOWN) {
        divisors->peak_kwh += made;
        divisors->peak_hours += hours * day->plant->peak_kw;
        row->per_kwp = (isnan(row->per_kwp) ? 0 : row->per_kwp) + made / day->plant->peak_kw;
    }
    if (day->plant->ac_kw > 0 && day->made != UNKNOWN) {
        divisors->ac_kwh += made;
        divisors->ac_hours += hours * day->plant->ac_kw;
    }
}

static void finish_row(struct yield_row *row, const struct divisors *divisors)
{
    double gamma = divisors->gamma_light > 0 ? divisors->gamma / divisors->gamma_light : 0;
    bool corrected = gamma < 0 && !divisors->gamma_missing;
    row->capacity_peak = performance_capacity_factor(divisors->peak_kwh, 1, divisors->peak_hours);
    row->capacity_ac = performance_capacity_factor(divisors->ac_kwh, 1, divisors->ac_hours);
    row->ratio = performance_ratio(&row->light);
    row->undisturbed_ratio = performance_ratio(&row->undisturbed);
    row->ratio_25 = corrected ? performance_ratio_at(&row->light, gamma, 25) : NAN;
    row->undisturbed_25 = corrected ? performance_ratio_at(&row->undisturbed, gamma, 25) : NAN;
}

/* The day, month or year that holds a day. */
static struct period around(int64_t day, enum row_unit unit)
{
    int32_t year, month, of_month;
    civil_date(day, &year, &month, &of_month);
    if (unit == ROW_DAY)
        return (struct period){ day, day + 1 };
    if (unit == ROW_MONTH)
        return (struct period){ day - of_month + 1, period_next_month(day) };
    return (struct period){ civil_day_number(year, 1, 1), civil_day_number(year + 1, 1, 1) };
}

/* From *at on, before to_day. What of [from_day, to_day) no day was read of counts as not known. */
static void add_row(const struct yield *yield, const struct inquiry *inquiry, struct yield_row *row,
                    int32_t *at, int64_t from_day, int64_t to_day)
{
    const struct civil *civil = inquiry->session.civil;
    struct divisors divisors = { 0 };
    const struct yield_day *days = yield->days;
    *row = (struct yield_row){ .from_s = days[*at].from_s,
                               .from_day = days[*at].day,
                               .to_day = days[*at].day,
                               .made = UNKNOWN,
                               .per_kwp = NAN,
                               .clear = { .index = NAN, .spread = NAN, .error = NAN } };
    for (; *at < yield->day_count && days[*at].day < to_day; (*at)++) {
        take_day(row, &divisors, &days[*at]);
        row->to_s = days[*at].to_s;
        row->to_day = days[*at].day + 1;
    }
    int64_t end_s = civil_day_start(civil, to_day), reach_s = inquiry->head.reach_s;
    row->length_s = (end_s < reach_s ? end_s : reach_s) - civil_day_start(civil, from_day);
    finish_row(row, &divisors);
}

static bool compare_clear(struct yield *yield, struct yield_row *row)
{
    return clear_days_compare(&row->clear, yield->clear, yield->clear_count, row->from_day, row->to_day);
}

bool yield_add_up(struct yield *yield, const struct inquiry *inquiry, enum row_unit unit)
{
    int32_t all = 0;
    if (yield->day_count == 0)
        return true;
    free(yield->rows);
    yield->row_count = 0;
    yield->rows = calloc((size_t)yield->day_count, sizeof *yield->rows);
    if (!yield->rows)
        return without_memory();
    const struct period *span = &inquiry->period;
    for (int32_t at = 0; at < yield->day_count;) {
        struct period row = around(yield->days[at].day, unit);
        add_row(yield, inquiry, &yield->rows[yield->row_count++], &at,
                row.from_day > span->from_day ? row.from_day : span->from_day,
                row.to_day < span->to_day ? row.to_day : span->to_day);
    }
    add_row(yield, inquiry, &yield->total, &all, span->from_day, span->to_day);
    if (yield->has_light)
        return true;
    if (!yield->clear && !yield_read_clear(&inquiry->session, &yield->plants, inquiry->period, &yield->clear,
                                           &yield->clear_count))
        return false;
    bool good = compare_clear(yield, &yield->total);
    for (int32_t i = 0; good && i < yield->row_count; i++)
        good = compare_clear(yield, &yield->rows[i]);
    return good || without_memory();
}

void yield_free(struct yield *yield)
{
    plants_free(&yield->plants);
    free(yield->days);
    free(yield->rows);
    free(yield->clear);
    yield->days = NULL;
    yield->rows = NULL;
    yield->clear = NULL;
}
