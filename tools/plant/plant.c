#include "plant.h"

#include <stdlib.h>
#include <string.h>

#include "query_checks.h"

/* So far a sensor may be off the modules' plane: own choice, 1 % of a clear day at most. */
enum { SAME_AZIMUTH = 5, SAME_TILT = 3, FLAT = 3 };
enum { USUAL_INTERVAL_S = 300 }; /* where a damaged record says none */

/* One setting while it is read. */
struct reading {
    struct query *query;
    struct plant *plant;
    int32_t setting;
    const struct config *config; /* its text, or NULL */
    struct arrangement arrangement;
};

static bool makes(const struct arranged_meter *meter)
{
    return meter->use == USE_PRODUCTION || meter->use == USE_GROSS;
}

static const struct config_meter *stated(const struct config *config, int32_t number)
{
    for (int32_t i = 0; config && i < config->meter_count; i++)
        if (config->meters[i].number == number)
            return &config->meters[i];
    return NULL;
}

static int64_t peak_of(const struct reading *reading, int32_t number)
{
    struct meter_facts facts;
    return query_meter_facts(reading->query, reading->setting, number, &facts) ? facts.peak_w : 0;
}

static int64_t ac_of(const struct reading *reading, int32_t number)
{
    const struct config_meter *meter = stated(reading->config, number);
    return meter ? meter->ac_rating_w : 0;
}

/* Sum over the meters that production is counted by; where one of them states nothing, over the parts. */
static double total_kw(const struct reading *reading, int64_t (*of)(const struct reading *, int32_t))
{
    for (int parts = 0; parts < 2; parts++) {
        int64_t sum = 0;
        bool all = true;
        for (int32_t i = 0; i < reading->arrangement.meter_count; i++) {
            const struct arranged_meter *meter = &reading->arrangement.meters[i];
            if (parts ? meter->role != ROLE_PART : !makes(meter))
                continue;
            int64_t watts = of(reading, meter->number);
            all = all && watts > 0;
            sum += watts;
        }
        if (all && sum > 0)
            return (double)sum / 1000;
    }
    return 0;
}

/* Mean of what is stated, by peak power; 0 where nothing is. */
static double read_gamma(const struct reading *reading)
{
    double sum = 0, weight = 0;
    for (int32_t i = 0; i < reading->arrangement.meter_count; i++) {
        const struct config_meter *meter = stated(reading->config, reading->arrangement.meters[i].number);
        if (!meter || meter->temperature_ppm == 0)
            continue;
        double peak = meter->peak_w > 0 ? (double)meter->peak_w : 1;
        sum += peak * meter->temperature_ppm / 1e6;
        weight += peak;
    }
    return weight > 0 ? sum / weight : 0;
}

static void add_plane(struct plant *plant, const struct meter_facts *facts)
{
    int32_t i = 0;
    while (i < plant->plane_count &&
           (plant->planes[i].azimuth != facts->azimuth || plant->planes[i].tilt != facts->tilt))
        i++;
    if (i == plant->plane_count)
        plant->planes[plant->plane_count++] = (struct plant_plane){ .azimuth = (int32_t)facts->azimuth,
                                                                    .tilt = (int32_t)facts->tilt,
                                                                    .sensor = -1 };
    plant->planes[i].peak_kw += (double)facts->peak_w / 1000;
}

/* Planes of the production meters or, where one of them states none, of the parts. */
static void read_planes(struct reading *reading)
{
    struct plant *plant = reading->plant;
    for (int parts = 0; parts < 2 && plant->plane_count == 0; parts++) {
        bool all = true;
        for (int32_t i = 0; all && i < reading->arrangement.meter_count; i++) {
            const struct arranged_meter *meter = &reading->arrangement.meters[i];
            struct meter_facts facts;
            if (parts ? meter->role != ROLE_PART : !makes(meter))
                continue;
            all = query_meter_facts(reading->query, reading->setting, meter->number, &facts) &&
                  facts.azimuth != UNKNOWN && facts.tilt != UNKNOWN && facts.peak_w > 0;
            if (all)
                add_plane(plant, &facts);
        }
        plant->plane_count = all ? plant->plane_count : 0;
    }
}

static bool looks_so(const struct plant_weather *weather, const struct plant_plane *plane)
{
    if (weather->azimuth == UNKNOWN || weather->tilt == UNKNOWN)
        return weather->tilt == 0 && plane->tilt == 0;
    int64_t turn = llabs(weather->azimuth - plane->azimuth) % 360;
    turn = turn > 180 ? 360 - turn : turn;
    return llabs(weather->tilt - plane->tilt) <= SAME_TILT && (turn <= SAME_AZIMUTH || plane->tilt <= FLAT);
}

static void read_weather(struct reading *reading)
{
    struct plant *plant = reading->plant;
    for (int32_t i = 0; i < reading->arrangement.meter_count; i++) {
        const struct arranged_meter *meter = &reading->arrangement.meters[i];
        struct meter_facts facts;
        if (meter->role != ROLE_WEATHER || plant->weather_count == PLANT_WEATHER ||
            !query_meter_facts(reading->query, reading->setting, meter->number, &facts))
            continue;
        struct plant_weather *weather = &plant->weather[plant->weather_count++];
        *weather =
            (struct plant_weather){ .number = meter->number, .azimuth = facts.azimuth, .tilt = facts.tilt };
        memcpy(weather->name, meter->name, sizeof weather->name);
    }
    plant->in_plane = plant->plane_count > 0;
    for (int32_t p = 0; p < plant->plane_count; p++) {
        struct plant_plane *plane = &plant->planes[p];
        for (int32_t w = plant->weather_count - 1; w >= 0; w--)
            plane->sensor = looks_so(&plant->weather[w], plane) ? w : plane->sensor;
        plant->in_plane = plant->in_plane && plane->sensor >= 0;
    }
}

static void read_meters(struct reading *reading)
{
    struct plant *plant = reading->plant;
    for (int32_t i = 0; i < reading->arrangement.meter_count; i++) {
        const struct arranged_meter *meter = &reading->arrangement.meters[i];
        int64_t peak_w = peak_of(reading, meter->number);
        bool part = meter->role == ROLE_PART;
        if ((makes(meter) || part) && peak_w > 0 && plant->inverter_count < PLANT_INVERTERS)
            plant->inverters[plant->inverter_count++] =
                (struct plant_inverter){ meter->number, meter->delivers_by_export, (double)peak_w / 1000 };
        if (!makes(meter))
            continue;
        plant->meters[plant->meter_count].number = meter->number;
        plant->meters[plant->meter_count++].by_export = meter->delivers_by_export;
    }
}

/* What only the text of a configuration states. */
static void read_text(struct reading *reading)
{
    const struct config *config = reading->config;
    struct plant *plant = reading->plant;
    plant->ac_kw = total_kw(reading, ac_of);
    plant->gamma = read_gamma(reading);
    if (!config)
        return;
    plant->has_place = true;
    plant->place = (struct sun_place){ config->site.latitude, config->site.longitude };
    plant->expected = config->expected;
    plant->throttle_v = config->supply.throttle_voltage > 0 ? config->supply.throttle_voltage / 100.0
                                                            : config->supply.nominal_voltage * 1.1 / 100;
}

static bool read_setting(struct plant *plant, struct query *query, const struct setting_row *row)
{
    struct reading reading = { .query = query, .plant = plant, .setting = row->id };
    struct config *own = NULL;
    int32_t setting;
    *plant = (struct plant){ .interval_s = row->interval_s > 0 ? row->interval_s : USUAL_INTERVAL_S };
    plant->from_s = row->from_ms == UNKNOWN ? INT64_MIN : row->from_ms / 1000 + (row->from_ms % 1000 > 0);
    if (!query_meters(query, row, &reading.arrangement))
        return false;
    const char *text =
        query_setting_text(query, plant->from_s == INT64_MIN ? 0 : plant->from_s + 1, &setting);
    if (setting == row->id)
        reading.config = own = config_load_stored(text);
    read_meters(&reading);
    plant->peak_kw = total_kw(&reading, peak_of);
    read_planes(&reading);
    read_weather(&reading);
    read_text(&reading);
    config_free(own);
    return true;
}

/* A later one says what an earlier one does not. */
static void reach_back(struct plant *earlier, const struct plant *later)
{
    earlier->peak_kw = earlier->peak_kw > 0 ? earlier->peak_kw : later->peak_kw;
    earlier->ac_kw = earlier->ac_kw > 0 ? earlier->ac_kw : later->ac_kw;
    earlier->gamma = earlier->gamma < 0 ? earlier->gamma : later->gamma;
    earlier->throttle_v = earlier->throttle_v > 0 ? earlier->throttle_v : later->throttle_v;
    if (!earlier->has_place) {
        earlier->has_place = later->has_place;
        earlier->place = later->place;
    }
    if (!earlier->expected.given)
        earlier->expected = later->expected;
    if (earlier->plane_count == 0) {
        earlier->plane_count = later->plane_count;
        memcpy(earlier->planes, later->planes, sizeof earlier->planes);
        for (int32_t i = 0; i < earlier->plane_count; i++)
            earlier->planes[i].sensor = -1;
    }
}

/* Under the configuration at hand, for what the record's last setting leaves open. */
static void reach_back_to(struct plant *last, const struct config *config)
{
    struct reading reading = { .plant = &(struct plant){ 0 }, .config = config };
    for (int32_t i = 0; i < last->meter_count; i++)
        reading.arrangement.meters[reading.arrangement.meter_count++] =
            (struct arranged_meter){ .number = last->meters[i].number, .use = USE_PRODUCTION };
    read_text(&reading);
    reach_back(last, reading.plant);
}

/* A later loaded setting replaces every older one from its date on; one without a date holds where there
 * is no other. */
static bool add(struct plants *plants, int32_t *room, struct query *query, const struct setting_row *row)
{
    while (plants->count > 0 && plants->list[plants->count - 1].from_s >= row->from_ms / 1000)
        plants->count--;
    if (plants->count == *room) {
        struct plant *list = realloc(plants->list, (size_t)(*room + 8) * sizeof *list);
        if (!list)
            return false;
        plants->list = list;
        *room += 8;
    }
    return read_setting(&plants->list[plants->count++], query, row);
}

static struct setting_row *list_settings(struct query *query, int32_t *count)
{
    struct setting_row *rows = NULL, row;
    int32_t room = 0;
    *count = 0;
    query_settings(query);
    while (query_next_setting(query, &row)) {
        if (*count == room) {
            struct setting_row *more = realloc(rows, (size_t)(room + 16) * sizeof *rows);
            if (!more)
                break;
            rows = more;
            room += 16;
        }
        rows[(*count)++] = row;
    }
    return rows;
}

bool plants_read(struct plants *plants, struct query *query, const struct config *config)
{
    int32_t count, room = 0;
    *plants = (struct plants){ 0 };
    struct setting_row *rows = list_settings(query, &count);
    bool good = rows != NULL;
    for (int32_t i = 0; good && i < count; i++)
        if (rows[i].from_ms != UNKNOWN)
            good = add(plants, &room, query, &rows[i]);
    if (good && plants->count == 0)
        good = add(plants, &room, query, &rows[count - 1]);
    free(rows);
    if (!good || query_error(query))
        return false;
    if (config)
        reach_back_to(&plants->list[plants->count - 1], config);
    plants->list[plants->count - 1].to_s = INT64_MAX;
    for (int32_t i = plants->count - 2; i >= 0; i--) {
        plants->list[i].to_s = plants->list[i + 1].from_s;
        reach_back(&plants->list[i], &plants->list[i + 1]);
    }
    plants->list[0].from_s = INT64_MIN;
    return true;
}

void plants_free(struct plants *plants)
{
    free(plants->list);
    plants->list = NULL;
}

const struct plant *plants_at(const struct plants *plants, int64_t at_s)
{
    int32_t i = 0;
    while (i + 1 < plants->count && plants->list[i].to_s <= at_s)
        i++;
    return &plants->list[i];
}

double plant_clear_sky(const struct plant *plant, int64_t from_s, int64_t to_s)
{
    const double mj_of_kwh = 3.6e9; /* mJ/m2 in a kWh/m2 */
    double sum = 0, peak = 0;
    if (!plant->has_place)
        return 0;
    for (int32_t i = 0; i < plant->plane_count; i++) {
        struct sun_plane plane = { plant->planes[i].azimuth, plant->planes[i].tilt };
        sum +=
            plant->planes[i].peak_kw * (double)sun_weight(&plant->place, &plane, from_s * 1000, to_s * 1000);
        peak += plant->planes[i].peak_kw;
    }
    if (peak > 0)
        return sum / peak / mj_of_kwh;
    struct sun_plane flat = { 180, 0 };
    return (double)sun_weight(&plant->place, &flat, from_s * 1000, to_s * 1000) / mj_of_kwh;
}
