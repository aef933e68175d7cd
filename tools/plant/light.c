#include "light.h"

#include <math.h>
#include <stdlib.h>

#include "outages.h"
#include "performance.h"
#include "period.h"
#include "query_weather.h"
#include "scatter.h"
#include "schema.h"

/* Open rack, glass in front and behind: D. L. King et al., SAND2004-3535. No wind is measured: 1 m/s. */
static const struct mounting usual_mounting = { -3.47, -0.0594, 0 };
static const double usual_wind = 1;

/* Own choices. */
static const double bright = 0.3;          /* kW/m2 from which on ratios are steady */
static const double clearly_less = 0.9;    /* of the usual ratio */
static const double at_output = 0.985;     /* of the stated output */
static const double standing_light = 0.1;  /* kW/m2 in which an inverter that makes less than */
static const double standing_share = 0.01; /* of its peak power times the light stands still, */
static const int64_t standing_s = 3600;    /* for so long, */
static const double standing_steps = 4;    /* if it could have made so many of its register's steps */
static const double seen_light = 0.005;    /* kW/m2 */
static const double made_share = 0.05;     /* of the peak power */
enum { LEAST_USUAL = 12, HALF = 2 };

struct item {
    struct light light;
    bool high_voltage, looked_at;
    uint32_t rests; /* inverters that made nothing, one bit each; told where there was light enough to look */
};

struct chunk {
    const struct session *session;
    const struct plants *plants;
    struct item *items; /* heap */
    int32_t count, room;
    bool memory_out;
    struct outages outages;
};

/* What all weather meters say of one instant. */
struct instant {
    int64_t start_s;
    const struct plant *plant;
    struct weather_row rows[PLANT_WEATHER]; /* by index in the plant; start_s UNKNOWN where there is none */
};

static double delivered(const struct interval_row *row, bool by_export)
{
    int64_t energy = by_export ? row->export : row->import;
    int32_t method = row->how & HOW_METHOD_MASK;
    bool estimated = method == HOW_INTERPOLATED || method == HOW_ESTIMATED || row->estimated != 0;
    bool broken = row->how & (HOW_CLOCK | HOW_RUN_CHANGE);
    return energy == UNKNOWN || estimated || broken ? NAN : (double)energy / 1e6;
}

static bool is_high(const struct plant *plant, const struct interval_row *row, const int64_t other_phases[2])
{
    const int64_t volts[] = { row->voltage, other_phases[0], other_phases[1] };
    for (int i = 0; i < 3; i++)
        if (plant->throttle_v > 0 && volts[i] != UNKNOWN && (double)volts[i] / 100 >= plant->throttle_v)
            return true;
    return false;
}

/* False where a production meter has no row that was measured. */
static bool take_production(struct chunk *chunk, struct item *item)
{
    const struct plant *plant = item->light.plant;
    for (int32_t i = 0; i < plant->meter_count; i++) {
        struct interval_row row;
        int64_t phases[2];
        if (!query_meter_interval(chunk->session->query, plant->meters[i].number, item->light.start_s, &row,
                                  phases) ||
            row.unobserved * HALF > plant->interval_s)
            return false;
        item->light.made += delivered(&row, plant->meters[i].by_export);
        item->high_voltage = item->high_voltage || is_high(plant, &row, phases);
    }
    return plant->meter_count > 0 && !isnan(item->light.made);
}

static void take_inverters(struct chunk *chunk, struct item *item)
{
    const struct plant *plant = item->light.plant;
    item->looked_at = item->light.light * 3600 >= standing_light * (double)item->light.length_s;
    for (int32_t i = 0; item->looked_at && i < plant->inverter_count; i++) {
        struct interval_row row;
        int64_t phases[2];
        bool known = query_meter_interval(chunk->session->query, plant->inverters[i].number,
                                          item->light.start_s, &row, phases);
        double could = plant->inverters[i].peak_kw * item->light.light;
        if (known && delivered(&row, plant->inverters[i].by_export) < standing_share * could)
            item->rests |= UINT32_C(1) << i;
    }
}

static bool has_row(const struct instant *instant, int32_t weather)
{
    return weather >= 0 && instant->rows[weather].start_s == instant->start_s;
}

/* False where a plane's irradiance is not known. A sensor may show a little below zero at night. */
static bool take_light(const struct instant *instant, struct light *light)
{
    const struct plant *plant = instant->plant;
    double hours = plant->interval_s / 3600.0, peak = 0;
    for (int32_t i = 0; i < plant->plane_count; i++) {
        const struct plant_plane *plane = &plant->planes[i];
        if (!has_row(instant, plane->sensor) || instant->rows[plane->sensor].irradiance == UNKNOWN)
            return false;
        light->reference += plane->peak_kw * (double)instant->rows[plane->sensor].irradiance / 1e6 * hours;
        peak += plane->peak_kw;
    }
    light->light = light->reference / peak;
    return true;
}

/* Measured behind the modules by any of the meters, that of the first plane first; else from the air. */
static void take_temperature(const struct instant *instant, struct light *light)
{
    const struct plant *plant = instant->plant;
    double air = NAN;
    for (int32_t i = -1; i < plant->weather_count; i++) {
        int32_t weather = i < 0 ? plant->planes[0].sensor : i;
        if (!has_row(instant, weather))
            continue;
        const struct weather_row *row = &instant->rows[weather];
        if (row->module_temperature != UNKNOWN) {
            light->temperature = (double)row->module_temperature / 1000;
            light->warmth = WARMTH_MEASURED;
            return;
        }
        if (isnan(air) && row->ambient_temperature != UNKNOWN)
            air = (double)row->ambient_temperature / 1000;
    }
    if (isnan(air))
        return;
    double irradiance = light->light * 3600 / (double)light->length_s * 1000;
    light->temperature = performance_cell_temperature(&usual_mounting, fmax(irradiance, 0), air, usual_wind);
    light->warmth = WARMTH_COMPUTED;
}

/* A sensor that sees nothing while the plant makes something measures nothing. */
static bool is_blind(const struct light *light)
{
    double hours = (double)light->length_s / 3600;
    return light->light < seen_light * hours && light->made > made_share * light->plant->peak_kw * hours;
}

static void finish_instant(struct chunk *chunk, const struct instant *instant)
{
    struct item item = { .light = {
                             .start_s = instant->start_s, .plant = instant->plant, .temperature = NAN } };
    if (!instant->plant || !instant->plant->in_plane)
        return;
    item.light.length_s = instant->plant->interval_s;
    if (!take_light(instant, &item.light) || !take_production(chunk, &item) || is_blind(&item.light))
        return;
    take_temperature(instant, &item.light);
    take_inverters(chunk, &item);
    if (chunk->count == chunk->room) {
        int32_t room = chunk->room ? 2 * chunk->room : 4096;
        struct item *items = realloc(chunk->items, (size_t)room * sizeof *items);
        chunk->memory_out = !items;
        if (!items)
            return;
        chunk->items = items;
        chunk->room = room;
    }
    chunk->items[chunk->count++] = item;
}

static void begin_instant(struct instant *instant, const struct plants *plants, int64_t start_s)
{
    instant->start_s = start_s;
    instant->plant = plants_at(plants, start_s);
    for (int32_t i = 0; i < PLANT_WEATHER; i++)
        instant->rows[i].start_s = UNKNOWN;
}

static void read_weather(struct chunk *chunk, int64_t from_s, int64_t to_s)
{
    struct instant instant = { .start_s = UNKNOWN };
    struct weather_row row;
    query_weather(chunk->session->query, from_s, to_s);
    while (!chunk->memory_out && query_next_weather(chunk->session->query, &row)) {
        if (!instant.plant || row.start_s != instant.start_s) {
            finish_instant(chunk, &instant);
            begin_instant(&instant, chunk->plants, row.start_s);
        }
        for (int32_t i = 0; i < instant.plant->weather_count; i++)
            if (instant.plant->weather[i].number == row.meter)
                instant.rows[i] = row;
    }
    finish_instant(chunk, &instant);
}

static void read_outages(struct chunk *chunk, int64_t from_s, int64_t to_s)
{
    struct query *query = chunk->session->query;
    struct site site;
    struct arrangement arrangement;
    if (chunk->count == 0 || !query_site(query, &site))
        return;
    struct setting_row newest = { .id = site.setting, .interval_s = site.interval_s };
    query_meters(query, &newest, &arrangement);
    outages_read(&chunk->outages, query, chunk->session->now_ms);
    outages_keep(&chunk->outages, from_s * 1000, to_s * 1000);
    outages_infer(&chunk->outages, query, &arrangement);
    outages_cut(&chunk->outages, query);
    chunk->memory_out = chunk->memory_out || chunk->outages.memory_out;
}

static void mark_outages(struct chunk *chunk)
{
    for (int32_t o = 0; o < chunk->outages.count; o++) {
        const struct outage *outage = &chunk->outages.list[o];
        int64_t end_ms = outage_end_ms(&chunk->outages, outage);
        for (int32_t i = 0; outage->kind == OUTAGE_GRID && i < chunk->count; i++) {
            struct light *light = &chunk->items[i].light;
            light->outage |=
                outage->from_ms < (light->start_s + light->length_s) * 1000 && end_ms > light->start_s * 1000;
        }
    }
}

/* An inverter that makes nothing of the light: intervals from `from` to `to`, of light for `length_s`. */
struct standing {
    int32_t from, to;
    int64_t length_s;
    double could; /* kWh */
};

static void end_standing(struct chunk *chunk, const struct standing *run, double step)
{
    bool known = run->length_s >= standing_s && run->could / HALF >= standing_steps * step;
    for (int32_t i = run->from; known && i <= run->to; i++)
        chunk->items[i].light.outage = true;
}

/* Light is measured, so that an inverter at rest is told from night and cloud. */
static void mark_standing(struct chunk *chunk, int32_t inverter, double step)
{
    struct standing run = { 0 };
    for (int32_t i = 0; i < chunk->count; i++) {
        const struct item *item = &chunk->items[i];
        if (inverter >= item->light.plant->inverter_count || !item->looked_at)
            continue; /* night and twilight neither begin nor end it */
        if (!(item->rests & UINT32_C(1) << inverter)) {
            end_standing(chunk, &run, step);
            run = (struct standing){ 0 };
            continue;
        }
        if (run.length_s == 0)
            run.from = i;
        run.to = i;
        run.length_s += item->light.length_s;
        run.could += item->light.plant->inverters[inverter].peak_kw * item->light.light;
    }
    end_standing(chunk, &run, step);
}

static void mark_all_standing(struct chunk *chunk, int64_t from_s, int64_t to_s)
{
    if (chunk->count == 0)
        return;
    const struct plant *plant = chunk->items[0].light.plant;
    for (int32_t i = 0; i < plant->inverter_count; i++)
        mark_standing(chunk, i,
                      (double)query_step(chunk->session->query, plant->inverters[i].number, from_s, to_s) /
                          1e6);
}

static bool is_bright(const struct light *light)
{
    return light->light * 3600 >= bright * (double)light->length_s;
}

/* What the plant usually makes of bright light in the chunk; 0 where too few intervals tell. */
static double usual_ratio(struct chunk *chunk)
{
    double *ratios = calloc((size_t)chunk->count + 1, sizeof *ratios), usual = 0;
    int32_t count = 0;
    chunk->memory_out = chunk->memory_out || !ratios;
    for (int32_t i = 0; ratios && i < chunk->count; i++) {
        const struct item *item = &chunk->items[i];
        if (is_bright(&item->light) && !item->high_voltage && !item->light.outage)
            ratios[count++] = item->light.made / item->light.reference;
    }
    if (count >= LEAST_USUAL)
        usual = scatter_median(ratios, count);
    free(ratios);
    return usual;
}

static void mark_throttled(struct chunk *chunk)
{
    double usual = usual_ratio(chunk);
    for (int32_t i = 0; i < chunk->count; i++) {
        const struct item *item = &chunk->items[i];
        struct light *light = &chunk->items[i].light;
        double hours = (double)light->length_s / 3600, ac_kw = light->plant->ac_kw;
        bool clipped = ac_kw > 0 && light->made >= at_output * ac_kw * hours;
        bool lifted = item->high_voltage && is_bright(light) && usual > 0 &&
                      light->made < clearly_less * usual * light->reference;
        light->throttled = clipped || lifted;
    }
}

static bool walk_chunk(struct chunk *chunk, int64_t from_s, int64_t to_s)
{
    chunk->count = 0;
    chunk->outages = (struct outages){ 0 };
    query_begin(chunk->session->query);
    read_weather(chunk, from_s, to_s);
    read_outages(chunk, from_s, to_s);
    mark_all_standing(chunk, from_s, to_s);
    query_end(chunk->session->query);
    mark_outages(chunk);
    mark_throttled(chunk);
    outages_free(&chunk->outages);
    return !chunk->memory_out && !query_error(chunk->session->query);
}

static int64_t first_of_month(int64_t day)
{
    int32_t year, month, of_month;
    civil_date(day, &year, &month, &of_month);
    return day - of_month + 1;
}

/* Whole months are read, so that what is usual does not depend on the span. */
bool light_walk(const struct session *session, const struct plants *plants, int64_t from_s, int64_t to_s,
                light_function *give, void *self)
{
    struct chunk chunk = { .session = session, .plants = plants };
    int64_t day = civil_day_of(session->civil, from_s);
    bool good = true;
    while (good && civil_day_start(session->civil, day) < to_s) {
        int64_t next = period_next_month(day);
        day = first_of_month(day);
        good =
            walk_chunk(&chunk, civil_day_start(session->civil, day), civil_day_start(session->civil, next));
        for (int32_t i = 0; good && i < chunk.count; i++)
            if (chunk.items[i].light.start_s >= from_s && chunk.items[i].light.start_s < to_s)
                give(self, &chunk.items[i].light);
        day = next;
    }
    free(chunk.items);
    return good;
}
