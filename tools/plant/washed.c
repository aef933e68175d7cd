#include "washed.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "light.h"
#include "query_checks.h"
#include "scatter.h"

enum { SIDES = 2, BEFORE = 0, AFTER = 1, SPAN_DAYS = 2 * CLEANING_WINDOW_DAYS + 1, LEAST_PEERS = 2 };

static const double least_light = 1;     /* kWh/m2: darker days are not compared */
static const double least_per_kwp = 0.7; /* kWh: the same where light is not measured */

/* Around one cleaning. */
struct window {
    const struct inquiry *inquiry;
    const struct yield *yield;
    const struct logbook_entry *entry;
    int64_t day, from_day, to_day; /* of the cleaning; days [from, to) around it */
    double values[SIDES][CLEANING_WINDOW_DAYS];
    int32_t counts[SIDES];
};

static void add(struct window *window, int64_t day, double value)
{
    int side = day < window->day ? BEFORE : AFTER;
    if (day == window->day || !(value > 0) || window->counts[side] == CLEANING_WINDOW_DAYS)
        return;
    window->values[side][window->counts[side]++] = value;
}

static bool changes_the_plant(const struct logbook_entry *entry)
{
    return !entry->revoked && !entry->refused &&
           (entry->kind == LOGBOOK_CLEANING || entry->kind == LOGBOOK_REPAIR ||
            entry->kind == LOGBOOK_EXCHANGE);
}

/* A fortnight to each side, up to what else was done. */
static void open_window(struct window *window)
{
    const struct session *session = &window->inquiry->session;
    window->day = civil_day_of(session->civil, window->entry->at_s);
    window->from_day = window->day - CLEANING_WINDOW_DAYS;
    window->to_day = window->day + 1 + CLEANING_WINDOW_DAYS;
    for (int32_t i = 0; i < session->logbook->count; i++) {
        const struct logbook_entry *other = &session->logbook->entries[i];
        int64_t day = civil_day_of(session->civil, other->at_s);
        if (!changes_the_plant(other) || day == window->day)
            continue;
        if (day < window->day && day >= window->from_day)
            window->from_day = day + 1;
        if (day > window->day && day < window->to_day)
            window->to_day = day;
    }
}

/* ---- beside its peers ---- */

static const struct config_meter *part_of(const struct config *config, int32_t number)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].role == ROLE_PART && config->meters[i].number == number)
            return &config->meters[i];
    return NULL;
}

/* kWh per kWp of a closed day; NAN. */
static double made_on(struct query *query, const struct config_meter *part, int64_t day)
{
    struct day_row row;
    if (!query_meter_day(query, part->number, day, true, &row) || row.rows != row.expected ||
        row.estimated != 0)
        return NAN;
    int64_t energy = part->delivers_by_export ? row.export : row.import;
    return energy == UNKNOWN ? NAN : (double)energy / 1e3 / (double)part->peak_w;
}

static bool cleaned_too(const struct window *window, int32_t number)
{
    const struct session *session = &window->inquiry->session;
    for (int32_t i = 0; i < session->logbook->count; i++) {
        const struct logbook_entry *other = &session->logbook->entries[i];
        if (other->kind == LOGBOOK_CLEANING && civil_day_of(session->civil, other->at_s) == window->day &&
            (other->meter == number || !part_of(session->config, other->meter)))
            return true;
    }
    return false;
}

/* The middle of the others in its plane; NAN where they are too few. */
static double peers_on(const struct window *window, const struct config_meter *part, int64_t day)
{
    const struct config *config = window->inquiry->session.config;
    double made[CONFIG_MAX_METERS];
    int32_t count = 0;
    for (int32_t i = 0; i < config->meter_count; i++) {
        const struct config_meter *other = &config->meters[i];
        if (other == part || other->role != ROLE_PART || other->peak_w == 0 ||
            other->plane_azimuth != part->plane_azimuth || other->tilt != part->tilt ||
            cleaned_too(window, other->number))
            continue;
        double value = made_on(window->inquiry->session.query, other, day);
        if (!isnan(value))
            made[count++] = value;
    }
    return count < LEAST_PEERS ? NAN : scatter_median(made, count);
}

static bool by_peers(struct window *window)
{
    const struct session *session = &window->inquiry->session;
    const struct config_meter *part = part_of(session->config, window->entry->meter);
    if (!part || part->peak_w == 0 || part->plane_azimuth < 0 || part->tilt < 0)
        return true;
    query_begin(session->query);
    for (int64_t day = window->from_day; day < window->to_day; day++) {
        double peers = peers_on(window, part, day);
        if (peers >= least_per_kwp)
            add(window, day, made_on(session->query, part, day) / peers);
    }
    query_end(session->query);
    return !query_error(session->query);
}

/* ---- by light ---- */

struct lit {
    const struct civil *civil;
    int64_t from_day;
    struct performance days[SPAN_DAYS];
    double gamma; /* 0: not stated for all of it */
};

static void take_light(void *self, const struct light *light)
{
    struct lit *lit = self;
    int64_t index = civil_day_of(lit->civil, light->start_s) - lit->from_day;
    if (index < 0 || index >= SPAN_DAYS || light->outage || light->throttled)
        return;
    lit->gamma = light->plant->gamma;
    performance_add(&lit->days[index], light->length_s, light->made, light->reference, light->light,
                    light->temperature);
}

static bool by_light(struct window *window)
{
    const struct session *session = &window->inquiry->session;
    struct lit lit = { .civil = session->civil, .from_day = window->from_day };
    if (!light_walk(session, &window->yield->plants, civil_day_start(session->civil, window->from_day),
                    civil_day_start(session->civil, window->to_day), take_light, &lit))
        return false;
    for (int64_t day = window->from_day; day < window->to_day; day++) {
        const struct performance *sum = &lit.days[day - window->from_day];
        double ratio = lit.gamma < 0 ? performance_ratio_at(sum, lit.gamma, 25) : performance_ratio(sum);
        if (sum->light >= least_light)
            add(window, day, ratio);
    }
    return true;
}

/* ---- by clear days ---- */

static bool by_clear_days(struct window *window)
{
    const struct session *session = &window->inquiry->session;
    struct period around = { window->from_day, window->to_day };
    struct clear_day *days;
    int32_t count;
    if (!yield_read_clear(session, &window->yield->plants, around, &days, &count)) {
        free(days);
        return false;
    }
    double *room = calloc((size_t)count + 1, sizeof *room);
    for (int32_t i = 0; room && i < count; i++)
        if (days[i].clear && days[i].day >= around.from_day && days[i].day < around.to_day)
            add(window, days[i].day,
                clear_days_index(&days[i], days, count, around.from_day - 2 * CLEANING_WINDOW_DAYS,
                                 around.to_day + 2 * CLEANING_WINDOW_DAYS, room));
    free(room);
    free(days);
    return room != NULL;
}

/* The first way that has days on both sides speaks. */
static bool look_at(struct window *window, struct washed *washed)
{
    static bool (*const ways[WASHED_WAYS])(struct window *) = {
        [WASHED_PEERS] = by_peers, [WASHED_LIGHT] = by_light, [WASHED_CLEAR] = by_clear_days
    };
    bool good = true;
    open_window(window);
    for (washed->way = 0; good && washed->way < WASHED_WAYS; washed->way++) {
        window->counts[BEFORE] = window->counts[AFTER] = 0;
        good = ways[washed->way](window);
        washed->gain = cleaning_find(window->values[BEFORE], window->counts[BEFORE], window->values[AFTER],
                                     window->counts[AFTER]);
        if (washed->gain.verdict != CLEANING_TOO_FEW)
            break;
    }
    return good;
}

int32_t washed_read(const struct inquiry *inquiry, const struct yield *yield, struct washed *list,
                    int32_t room)
{
    const struct session *session = &inquiry->session;
    int32_t count = 0;
    for (int32_t i = 0; session->logbook && i < session->logbook->count && count < room; i++) {
        const struct logbook_entry *entry = &session->logbook->entries[i];
        struct window window = { .inquiry = inquiry, .yield = yield, .entry = entry };
        if (entry->kind != LOGBOOK_CLEANING || entry->revoked || entry->refused ||
            entry->at_s < inquiry->from_s || entry->at_s >= inquiry->to_s)
            continue;
        list[count].entry = entry;
        if (!look_at(&window, &list[count++])) {
            if (query_error(session->query))
                session_failed(session);
            else
                fputs("meterbook: out of memory\n", stderr);
            return -1;
        }
    }
    return count;
}
