#include "world.h"

#include <math.h>
#include <string.h>

enum { DAY_MS = 86400000 };

/* Streams of chance, so that a cloud does not decide when somebody makes tea. */
enum { STREAM_CLOUD = 1, STREAM_FREQUENCY = 10, STREAM_VOLTAGE = 20, STREAM_LOAD = 100 };

static const double pi = 3.14159265358979323846;

static int64_t floor_div(int64_t a, int64_t b)
{
    int64_t q = a / b;
    return q - (a % b < 0);
}

static double radians(double degrees)
{
    return degrees * pi / 180;
}

/* splitmix64's finisher over the three arguments. */
double world_chance(uint64_t seed, uint64_t stream, int64_t index)
{
    uint64_t x = seed + stream * 0xD1B54A32D192ED03u + (uint64_t)index * 0x9E3779B97F4A7C15u;
    x = (x ^ (x >> 30)) * 0xBF58476D1CE4E5B9u;
    x = (x ^ (x >> 27)) * 0x94D049BB133111EBu;
    x ^= x >> 31;
    return (double)(x >> 11) / 9007199254740992.0;
}

/* A smooth line through random heights, one every `period_ms`: 0 to 1. */
static double wander(const struct world *world, uint64_t stream, int64_t at_ms, int64_t period_ms)
{
    int64_t index = floor_div(at_ms, period_ms);
    double part = (double)(at_ms - index * period_ms) / (double)period_ms;
    double from = world_chance(world->seed, stream, index);
    double to = world_chance(world->seed, stream, index + 1);
    double eased = part * part * (3 - 2 * part);
    return from + (to - from) * eased;
}

struct sun {
    double height;  /* sine of */
    double azimuth; /* radians clockwise from north */
};

/* Declination and equation of time by the usual short series. */
static struct sun sun_at(const struct world *world, int64_t at_ms)
{
    int64_t day = floor_div(at_ms, DAY_MS);
    double hour = (double)(at_ms - day * DAY_MS) / 3600000.0;
    /* days since a 1 January; the quarter day a year wanders does not matter here */
    double year = radians(fmod((double)day - 10957.0 + (hour - 12) / 24, 365.2425) * 360.0 / 365.2425);
    double declination = 0.006918 - 0.399912 * cos(year) + 0.070257 * sin(year) - 0.006758 * cos(2 * year) +
                         0.000907 * sin(2 * year);
    double minutes = 229.18 * (0.000075 + 0.001868 * cos(year) - 0.032077 * sin(year) -
                               0.014615 * cos(2 * year) - 0.040849 * sin(2 * year));
    double angle = radians((hour - 12) * 15 + world->longitude + minutes / 4);
    double latitude = radians(world->latitude);
    struct sun sun;
    sun.height = sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(angle);
    sun.azimuth = pi + atan2(sin(angle), cos(angle) * sin(latitude) - tan(declination) * cos(latitude));
    return sun;
}

double world_sun_height(const struct world *world, int64_t at_ms)
{
    return asin(sun_at(world, at_ms).height) * 180 / pi;
}

/* Share of the direct light that the clouds let through. */
static double clear_share(const struct world *world, int64_t at_ms)
{
    double cover = 0.5 * wander(world, STREAM_CLOUD, at_ms, 7200000) +
                   0.3 * wander(world, STREAM_CLOUD + 1, at_ms, 1200000) +
                   0.2 * wander(world, STREAM_CLOUD + 2, at_ms, 120000);
    double depth = (cover - (1 - world->cloudiness)) / 0.12;
    if (world->cloudiness <= 0 || depth <= 0)
        return 1;
    if (depth > 1)
        depth = 1;
    return 1 - 0.85 * depth * depth * (3 - 2 * depth);
}

static void light_parts(const struct world *world, int64_t at_ms, struct scene *scene)
{
    struct sun sun = sun_at(world, at_ms);
    double clear = clear_share(world, at_ms);
    /* Haurwitz clear sky: GHI = 1098 cos z exp(-0.059 / cos z) */
    double sky = sun.height > 0 ? 1098 * sun.height * exp(-0.059 / sun.height) : 0;
    double beam = 0.85 * sky / fmax(sun.height, 0.08) * clear;
    double diffuse = 0.15 * sky * (0.5 + 0.5 * clear);
    double local = fmod((double)at_ms / 3600000.0 + world->utc_offset, 24.0);
    double ambient = world->temperature + 6 * cos((local - 15) * pi / 12);
    scene->irradiance_mw = llround(1000 * (beam * fmax(sun.height, 0) + diffuse));
    scene->ambient_m = llround(1000 * ambient);
    for (int i = 0; i < world->part_count; i++) {
        const struct world_part *part = &world->parts[i];
        double tilt = radians(part->tilt);
        double across = sqrt(fmax(0, 1 - sun.height * sun.height));
        double facing =
            sun.height * cos(tilt) + across * sin(tilt) * cos(sun.azimuth - radians(part->azimuth));
        double plane = beam * fmax(facing, 0) + diffuse * (1 + cos(tilt)) / 2;
        double module = ambient + 0.03 * plane;
        double watts = (double)part->peak_w * plane / 1000 * (1 - part->losses) * (1 - 0.004 * (module - 25));
        watts = fmin(watts, (double)part->rated_w);
        /* below one percent an inverter does not start */
        scene->part_mw[i] =
            watts * 100 < (double)part->peak_w ? -part->standby_w * 1000 : llround(1000 * watts);
        scene->plane_mw[i] = llround(1000 * plane);
        scene->module_m[i] = llround(1000 * module);
        world_spread(world, part->phase, scene->part_mw[i], scene->production_mw);
    }
}

static int64_t profile_power(const struct world_load *load, double since_s)
{
    for (int i = 0; i < load->profile_count; i++) {
        if (since_s < load->profile_s[i])
            return load->profile_w[i];
        since_s -= load->profile_s[i];
    }
    return 0;
}

static double profile_length(const struct world_load *load)
{
    double length = 0;
    for (int i = 0; i < load->profile_count; i++)
        length += load->profile_s[i];
    return length;
}

/* Local time, in seconds since the civil day `day` began, of the n-th switching on of that day. */
static double event_start(const struct world *world, const struct world_load *load, uint64_t stream,
                          int64_t day, int64_t n)
{
    double span = (load->to_hour - load->from_hour) * 3600 / (double)load->per_day;
    return load->from_hour * 3600 + ((double)n + world_chance(world->seed, stream, day * 64 + n)) * span;
}

static int64_t load_power(const struct world *world, int index, int64_t at_ms)
{
    const struct world_load *load = &world->loads[index];
    uint64_t stream = STREAM_LOAD + (uint64_t)index;
    int64_t watts = 0;

    if (load->kind == LOAD_CONSTANT)
        return load->profile_w[0];
    if (load->kind == LOAD_CYCLE) {
        int64_t period_ms = llround(load->period_s * 1000);
        int64_t cycle = floor_div(at_ms, period_ms);
        double since = (double)(at_ms - cycle * period_ms) / 1000;
        /* each run up to a fifth shorter or longer */
        return profile_power(load, since / (0.8 + 0.4 * world_chance(world->seed, stream, cycle)));
    }
    int64_t local_ms = at_ms + llround(world->utc_offset * 3600000);
    int64_t today = floor_div(local_ms, DAY_MS);
    double length = profile_length(load);
    for (int64_t day = today - 1; day <= today; day++)
        for (int64_t n = 0; n < load->per_day; n++) {
            double since =
                (double)(local_ms - day * DAY_MS) / 1000 - event_start(world, load, stream, day, n);
            if (since >= 0 && since < length)
                watts += profile_power(load, since);
        }
    return watts;
}

void world_spread(const struct world *world, int32_t phase, int64_t mw, int64_t by_phase[WORLD_PHASES])
{
    if (world->phases == 1 || phase != 0) {
        by_phase[world->phases == 1 ? 0 : phase - 1] += mw;
        return;
    }
    by_phase[0] += mw / 3;
    by_phase[1] += mw / 3;
    by_phase[2] += mw - mw / 3 * 2;
}

void world_at(const struct world *world, int64_t at_ms, struct scene *scene)
{
    memset(scene, 0, sizeof *scene);
    light_parts(world, at_ms, scene);
    for (int i = 0; i < world->load_count; i++) {
        const struct world_load *load = &world->loads[i];
        scene->load_mw[i] = load_power(world, i, at_ms) * 1000;
        scene->load_mvar[i] = llround((double)scene->load_mw[i] * load->reactive);
        world_spread(world, load->phase, scene->load_mw[i], scene->consumption_mw);
        world_spread(world, load->phase, scene->load_mvar[i], scene->consumption_mvar);
    }
    for (unsigned p = 0; p < WORLD_PHASES; p++)
        scene->open_mv[p] =
            llround(1000 * world->voltage + 4000 * (wander(world, STREAM_VOLTAGE + p, at_ms, 90000) - 0.5));
    double drift = 0.06 * (wander(world, STREAM_FREQUENCY, at_ms, 60000) - 0.5) +
                   0.02 * (wander(world, STREAM_FREQUENCY + 1, at_ms, 7000) - 0.5);
    scene->frequency_mhz = llround(1000 * (world->frequency + drift));
}
