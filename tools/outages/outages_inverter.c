/* Production that stops by day: an inverter that makes nothing in hours in
 * which it, and what stands beside it, makes something. */
#include <stdio.h>

#include "outages.h"
#include "schema.h"
#include "stretch.h"

enum {
    DAY_S = 86400,
    HOUR_S = 3600,
    SHORTEST_S = HOUR_S,
    STANDBY_W = 5,  /* what an inverter may draw or show at rest */
    STEPS = 4,      /* so many of the register's steps are something */
    DAY_SHARE = 10, /* and a day's tenth, */
    BESIDE = 100,   /* or a hundredth where another makes something meanwhile; */
    TWILIGHT = 50,  /* beyond a night a fiftieth is nothing */
};

/* Rows without production that follow each other, one run per meter. */
struct search {
    struct outages *outages;
    struct query *query;
    const struct arrangement *arrangement;
    int32_t interval_s;
    struct {
        int64_t from_s, to_s; /* from = to: none */
    } run[ARRANGEMENT_MAX_METERS];
};

static bool makes(const struct arranged_meter *meter)
{
    return meter->role == ROLE_PRODUCTION || meter->role == ROLE_PART;
}

static int64_t made(const struct arranged_meter *meter, struct meter_sum sum)
{
    return meter->delivers_by_export ? sum.export : sum.import;
}

/* Days around it: how many know, and how many made more than `least` in the same hours. */
struct days {
    int32_t known, more;
    int64_t total;
};

static struct days days_of(const struct stretch *stretch, const struct arranged_meter *meter, int64_t least)
{
    struct meter_sum sum;
    struct days days = { 0 };
    for (int32_t i = 0; i < STRETCH_DAYS; i++) {
        if (!stretch_day(stretch, i, &sum))
            continue;
        days.known++;
        days.more += made(meter, sum) > least;
        days.total += made(meter, sum);
    }
    return days;
}

/* A share of what a whole day brings, and never less than the register can tell. */
static int64_t something(const struct stretch *stretch, const struct arranged_meter *meter, int32_t share)
{
    struct stretch day = *stretch;
    day.to_s = day.from_s + DAY_S;
    struct days days = days_of(&day, meter, 0);
    int64_t least = STEPS * query_step(stretch->query, stretch->meter, stretch->from_s, stretch->to_s);
    int64_t part = days.known > 0 ? days.total / days.known / share : 0;
    return part > least ? part : least;
}

enum beside { BESIDE_NOBODY, BESIDE_NOTHING, BESIDE_SOMETHING };

/* What the other inverters did meanwhile. */
static enum beside look_beside(const struct search *search, const struct stretch *stretch,
                               const struct arranged_meter *meter)
{
    enum beside beside = BESIDE_NOBODY;
    for (int32_t i = 0; i < search->arrangement->meter_count; i++) {
        const struct arranged_meter *other = &search->arrangement->meters[i];
        struct stretch same = *stretch;
        if (other == meter || other->role != meter->role)
            continue;
        same.meter = other->number;
        if (made(other, stretch_sum(&same, 0)) > something(&same, other, BESIDE))
            return BESIDE_SOMETHING;
        beside = BESIDE_NOTHING;
    }
    return beside;
}

/* Where it really begins or ends: without night, hours in which no three days
 * made anything, and without the daylight outside it that brings next to nothing. */
static int64_t inner_end(const struct stretch *stretch, const struct arranged_meter *meter, bool back,
                         int64_t nothing)
{
    int64_t at_s = back ? stretch->to_s : stretch->from_s, end_s = at_s, sum = 0;
    while (back ? at_s > stretch->from_s : at_s < stretch->to_s) {
        struct stretch piece = *stretch;
        piece.from_s = back ? at_s - stretch->interval_s : at_s;
        piece.to_s = piece.from_s + stretch->interval_s;
        struct days days = days_of(&piece, meter, 0);
        at_s = back ? piece.from_s : piece.to_s;
        if (days.more < STRETCH_LEAST) {
            end_s = at_s;
            sum = 0;
            continue;
        }
        sum += days.total / days.known;
        if (sum > nothing)
            break;
    }
    return end_s;
}

static void trim(struct stretch *stretch, const struct arranged_meter *meter, int64_t least)
{
    int64_t nothing = something(stretch, meter, TWILIGHT);
    nothing = nothing < least / 2 ? nothing : least / 2;
    stretch->to_s = inner_end(stretch, meter, true, nothing);
    stretch->from_s = inner_end(stretch, meter, false, nothing);
}

static void judge(struct search *search, int32_t index)
{
    const struct arranged_meter *meter = &search->arrangement->meters[index];
    struct stretch stretch = { search->query, meter->number, search->run[index].from_s,
                               search->run[index].to_s, search->interval_s };
    if (stretch.to_s - stretch.from_s < SHORTEST_S)
        return;
    enum beside beside = look_beside(search, &stretch, meter);
    int64_t least = something(&stretch, meter, beside == BESIDE_SOMETHING ? BESIDE : DAY_SHARE);
    struct days days = days_of(&stretch, meter, least);
    if (beside == BESIDE_NOTHING || days.more < STRETCH_LEAST || 3 * days.more < 2 * days.known)
        return;
    trim(&stretch, meter, least);
    if (stretch.to_s <= stretch.from_s)
        return;
    struct outage outage = { .kind = OUTAGE_INVERTER,
                             .meter = meter->number,
                             .part = meter->role == ROLE_PART,
                             .from_ms = stretch.from_s * 1000,
                             .to_ms = stretch.to_s * 1000,
                             .booted_ms = UNKNOWN,
                             .not_made = UNKNOWN };
    snprintf(outage.known, sizeof(outage.known), "made nothing%s; %d of %d days around it did",
             beside == BESIDE_SOMETHING ? " while others did" : "", (int)days.more, (int)days.known);
    outages_add(search->outages, &outage);
}

/* Less than what it may draw at rest: what is spread over a silence has a little from its ends. */
static bool is_nothing(const struct search *search, const struct arranged_meter *meter,
                       const struct interval_row *row)
{
    int64_t energy = meter->delivers_by_export ? row->export : row->import;
    int64_t nothing = (int64_t)STANDBY_W * 1000 * search->interval_s / HOUR_S;
    bool rests = row->power == UNKNOWN || (row->power < STANDBY_W && row->power > -STANDBY_W);
    return energy != UNKNOWN && energy <= nothing && rests && (row->how & HOW_METHOD_MASK) != HOW_ASLEEP;
}

static void take_row(struct search *search, const struct interval_row *row)
{
    int32_t index = 0;
    while (index < search->arrangement->meter_count &&
           search->arrangement->meters[index].number != row->meter)
        index++;
    if (index == search->arrangement->meter_count || !makes(&search->arrangement->meters[index]))
        return;
    bool nothing = is_nothing(search, &search->arrangement->meters[index], row);
    if (!nothing || row->start_s != search->run[index].to_s) {
        judge(search, index);
        search->run[index].from_s = search->run[index].to_s = row->start_s;
    }
    if (nothing)
        search->run[index].to_s = row->start_s + search->interval_s;
}

void outages_find_inverters(struct outages *outages, struct query *query,
                            const struct arrangement *arrangement, int64_t from_s, int64_t to_s)
{
    struct interval_row row;
    struct search search = { .outages = outages, .query = query, .arrangement = arrangement };
    search.interval_s = query_interval_at(query, from_s);
    query_intervals(query, from_s, to_s);
    while (query_next_interval(query, &row))
        take_row(&search, &row);
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        judge(&search, i);
}
