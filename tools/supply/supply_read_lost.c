/* Production around the ten minutes whose voltage stood at the level where inverters throttle. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "query_checks.h"
#include "schema.h"
#include "supply_read.h"

enum {
    DAY_S = 86400,
    AROUND_DAYS = 1,
    MOST_DAYS = 31 + 1 + 2 * AROUND_DAYS,
    PLACES = MOST_DAYS * LOST_BLOCKS_A_DAY
};

/* A meter that production is known by. */
struct maker {
    struct arranged_meter meter;
    int64_t peak_w;
    int64_t azimuth, tilt;     /* UNKNOWN */
    int64_t energy[PLACES];    /* mWh */
    int16_t covered_s[PLACES]; /* -1: something in it was not measured */
    int64_t power[PLACES];     /* W, UNKNOWN */
};

struct search {
    struct supply_answer *answer;
    const struct inquiry *inquiry;
    struct supply *supply; /* for the voltages */
    struct maker *makers;  /* heap */
    int32_t maker_count;
    int64_t from_s; /* a UTC midnight: place 0 */
    int32_t count, first, end;
    int64_t voltage[PLACES], whole[PLACES], should[PLACES];
};

static const struct arrangement *newest(const struct inquiry *inquiry)
{
    return &inquiry->head.history.arrangements[inquiry->head.history.count - 1];
}

static bool makes(const struct arranged_meter *meter)
{
    return meter->role == ROLE_PART || meter->use == USE_PRODUCTION || meter->use == USE_GROSS;
}

static bool find_makers(struct search *search)
{
    const struct arrangement *arrangement = newest(search->inquiry);
    struct query *query = search->inquiry->session.query;
    int32_t setting;
    search->makers = calloc(SUPPLY_SOURCES, sizeof(*search->makers));
    if (!search->makers)
        return false;
    query_begin(query);
    query_setting_text(query, search->inquiry->to_s, &setting);
    for (int32_t i = 0; i < arrangement->meter_count && search->maker_count < SUPPLY_SOURCES - 1; i++) {
        struct meter_facts facts = { .azimuth = UNKNOWN, .tilt = UNKNOWN };
        if (!makes(&arrangement->meters[i]))
            continue;
        struct maker *maker = &search->makers[search->maker_count++];
        query_meter_facts(query, setting, arrangement->meters[i].number, &facts);
        maker->meter = arrangement->meters[i];
        maker->peak_w = facts.peak_w;
        maker->azimuth = facts.azimuth;
        maker->tilt = facts.tilt;
    }
    query_end(query);
    return !query_error(query);
}

static bool same_plane(const struct maker *a, const struct maker *b)
{
    return a->meter.role == ROLE_PART && b->meter.role == ROLE_PART && a->peak_w > 0 && b->peak_w > 0 &&
           a->azimuth != UNKNOWN && a->azimuth == b->azimuth && a->tilt == b->tilt;
}

/* Those in the plane of one, itself among them; *place is where it stands. */
static int32_t find_peers(struct search *search, int32_t of, int64_t *power[SUPPLY_SOURCES],
                          int64_t peak_w[SUPPLY_SOURCES], int32_t *place)
{
    int32_t count = 0;
    for (int32_t i = 0; i < search->maker_count; i++) {
        if (i != of && !same_plane(&search->makers[i], &search->makers[of]))
            continue;
        *place = i == of ? count : *place;
        power[count] = search->makers[i].power;
        peak_w[count++] = search->makers[i].peak_w;
    }
    return count;
}

static void take_row(struct search *search, const struct interval_row *row, int32_t length_s)
{
    int64_t place = (row->start_s - search->from_s) / SUPPLY_BLOCK_S;
    for (int32_t i = 0; i < search->maker_count; i++) {
        struct maker *maker = &search->makers[i];
        if (maker->meter.number != row->meter)
            continue;
        int64_t energy = maker->meter.delivers_by_export ? row->export : row->import;
        bool known = energy != UNKNOWN && row->estimated == 0 && row->unobserved * 10 <= length_s &&
                     SUPPLY_BLOCK_S % length_s == 0 && !(row->how & HOW_CLOCK);
        if (!known)
            maker->covered_s[place] = -1;
        else if (maker->covered_s[place] >= 0) {
            maker->covered_s[place] = (int16_t)(maker->covered_s[place] + length_s);
            maker->energy[place] += energy;
        }
    }
}

static void read_makers(struct search *search)
{
    struct query *query = search->inquiry->session.query;
    struct interval_row row;
    int32_t hint = 0;
    for (int32_t i = 0; i < search->maker_count; i++) {
        memset(search->makers[i].energy, 0, sizeof(search->makers[i].energy));
        memset(search->makers[i].covered_s, 0, sizeof(search->makers[i].covered_s));
    }
    query_begin(query);
    query_intervals(query, search->from_s, search->from_s + (int64_t)search->count * SUPPLY_BLOCK_S);
    while (query_next_interval(query, &row))
        take_row(search, &row, history_at(&search->inquiry->head.history, row.start_s, &hint)->interval_s);
    query_end(query);
}

/* Powers of each, and of all that stand for production. */
static void make_powers(struct search *search)
{
    for (int32_t place = 0; place < search->count; place++) {
        search->whole[place] = UNKNOWN;
        bool known = true;
        for (int32_t i = 0; i < search->maker_count; i++) {
            struct maker *maker = &search->makers[i];
            bool whole = maker->covered_s[place] == SUPPLY_BLOCK_S;
            maker->power[place] = whole ? maker->energy[place] * 6 / 1000 : UNKNOWN;
            if (maker->meter.use != USE_PRODUCTION && maker->meter.use != USE_GROSS)
                continue;
            known = known && whole;
            search->whole[place] = number_sum(search->whole[place], maker->power[place]);
        }
        search->whole[place] = known ? search->whole[place] : UNKNOWN;
    }
}

/* The parts that have peers, and production as a whole; the same sources month by month. */
static void judge(struct search *search)
{
    struct supply_answer *answer = search->answer;
    struct lost_stretch stretch = {
        .power = search->whole,
        .voltage = search->voltage,
        .count = search->count,
        .first = search->first,
        .end = search->end,
        .level = answer->supply.limits.throttle,
        .first_day = search->from_s / DAY_S,
    };
    int64_t *power[SUPPLY_SOURCES], peak_w[SUPPLY_SOURCES];
    int32_t sources = 0, place = 0;
    struct supply_source *whole = &answer->sources[sources++];
    snprintf(whole->name, sizeof(whole->name), "production");
    lost_falls(&whole->lost, &stretch);
    for (int32_t i = 0; i < search->maker_count; i++) {
        int32_t peers = find_peers(search, i, power, peak_w, &place);
        if (peers < LOST_PEERS)
            continue;
        struct supply_source *source = &answer->sources[sources++];
        memcpy(source->name, search->makers[i].meter.name, sizeof(source->name));
        source->by_peers = true;
        stretch.power = search->makers[i].power;
        lost_peers(power, peak_w, peers, place, search->count, search->should);
        lost_lags(&source->lost, &stretch, search->should);
    }
    answer->source_count = sources;
}

static int32_t place_of(const struct search *search, int64_t at_s)
{
    int64_t place = (supply_block_start(at_s) - search->from_s) / SUPPLY_BLOCK_S;
    return (int32_t)(place < 0 ? 0 : place < search->count ? place : search->count);
}

static bool read_month(struct search *search, int64_t from_s, int64_t to_s)
{
    struct supply_answer *answer = search->answer;
    int64_t around_s = (int64_t)AROUND_DAYS * DAY_S;
    search->from_s = from_s - from_s % DAY_S - around_s;
    int64_t count_s = to_s + around_s - search->from_s;
    search->count = (int32_t)(count_s / SUPPLY_BLOCK_S < PLACES ? count_s / SUPPLY_BLOCK_S : PLACES);
    search->first = place_of(search, from_s);
    search->end = place_of(search, to_s);
    for (int32_t i = 0; i < search->count; i++)
        search->voltage[i] = UNKNOWN;
    supply_init(search->supply, &answer->supply.limits, from_s, to_s);
    search->supply->highest = search->voltage;
    search->supply->highest_s = search->from_s;
    search->supply->highest_count = search->count;
    int64_t coarse = answer->coarse;
    if (!supply_feed(answer, search->supply, search->inquiry, search->from_s,
                     search->from_s + (int64_t)search->count * SUPPLY_BLOCK_S))
        return false;
    supply_end(search->supply);
    answer->coarse = coarse; /* they were counted */
    read_makers(search);
    make_powers(search);
    judge(search);
    return !query_error(search->inquiry->session.query);
}

static bool read_months(struct search *search)
{
    for (int32_t m = 0; m < search->answer->month_count; m++) {
        const struct supply_row *month = &search->answer->months[m];
        if (month->throttled > 0 && !read_month(search, month->from_s, month->to_s))
            return false;
    }
    return true;
}

bool supply_read_lost(struct supply_answer *answer, const struct inquiry *inquiry)
{
    if (answer->supply.total.throttled == 0)
        return true;
    struct search *search = calloc(1, sizeof(*search));
    bool good = search != NULL;
    if (good) {
        search->answer = answer;
        search->inquiry = inquiry;
        search->supply = malloc(sizeof(*search->supply));
        good = search->supply && find_makers(search) && (search->maker_count == 0 || read_months(search));
        free(search->supply);
        free(search->makers);
    }
    free(search);
    return good;
}
