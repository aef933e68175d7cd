#include <stdarg.h>
#include <stdio.h>

#include "config_file.h"
#include "plane.h"

/* What is asked of a configuration, and to whom it is said. */
struct ear {
    const struct config *config;
    void (*say)(void *self, const char *line);
    void *self;
};

static void tell(const struct ear *ear, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void tell(const struct ear *ear, const char *format, ...)
{
    char line[320];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line, sizeof line, format, arguments);
    va_end(arguments);
    ear->say(ear->self, line);
}

static int32_t count_role(const struct config *config, enum meter_role role)
{
    int32_t count = 0;
    for (int32_t i = 0; i < config->meter_count; i++)
        count += config->meters[i].role == role;
    return count;
}

static const struct point *find_point(const struct register_map *map, enum quantity quantity)
{
    for (int32_t i = 0; i < map->point_count; i++)
        if (map->points[i].quantity == quantity)
            return &map->points[i];
    return NULL;
}

/* A walked map may have anything until the meter has been asked. */
static bool may_have(const struct config *config, const struct config_meter *meter, enum quantity quantity)
{
    const struct register_map *map = &config->maps[meter->map];
    return map->walk || find_point(map, quantity);
}

static bool any_has(const struct config *config, enum quantity quantity)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (may_have(config, &config->meters[i], quantity))
            return true;
    return false;
}

static bool all_gross(const struct config *config)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].role == ROLE_PRODUCTION && !config->meters[i].gross)
            return false;
    return count_role(config, ROLE_PRODUCTION) > 0;
}

/* Which of production, import, export and consumption there are. */
static void tell_balance(const struct ear *ear)
{
    const struct config *config = ear->config;
    bool grid = count_role(config, ROLE_GRID) > 0;
    bool consumption = count_role(config, ROLE_CONSUMPTION) > 0;
    bool parts = count_role(config, ROLE_PART) > 0;
    bool production = count_role(config, ROLE_PRODUCTION) > 0;
    bool gross = all_gross(config);
    if (!production && parts)
        tell(ear, "no production meter: production is the sum of the parts, and nothing checks it");
    if (!production && !parts)
        tell(ear, "no production meter and no part: production and self-consumption stay unknown%s",
             consumption ? "" : ", and so does consumption beyond import");
    production = production || parts;
    if (production && !grid && !consumption)
        tell(ear,
             "neither grid nor consumption meter: import, consumption and self-consumption stay unknown%s",
             gross ? "" : ", and so does export");
    if (production && !grid && consumption && !gross)
        tell(ear, "no grid meter: import and export are derived from consumption and production at every "
                  "poll, with "
                  "the uncertainty of both");
    if (!production && !grid && consumption)
        tell(ear, "no grid meter: import and export stay unknown");
    if (production && grid && !consumption)
        tell(ear,
             "no consumption meter: consumption is derived, and no residual between meters can be shown");
}

/* Several single-phase meters on the grid count each phase by itself. */
static void tell_phases(const struct ear *ear)
{
    int32_t single = 0;
    for (int32_t i = 0; i < ear->config->meter_count; i++)
        single += ear->config->meters[i].role == ROLE_GRID && ear->config->meters[i].phases == 1;
    if (single > 1)
        tell(ear,
             "%d single-phase grid meters: what a meter that nets across phases would count stays unknown",
             (int)single);
}

/* Is this counter one that answers are made of? After `direction`. */
static bool is_needed(const struct config_meter *meter, bool export)
{
    switch (meter->role) {
    case ROLE_GRID:
    case ROLE_STORAGE:
        return true;
    case ROLE_PRODUCTION:
    case ROLE_PART:
    case ROLE_GENERATOR:
        return export == meter->delivers_by_export;
    default:
        return !export;
    }
}

static void tell_counters(const struct ear *ear, const struct config_meter *meter)
{
    const struct register_map *map = &ear->config->maps[meter->map];
    bool has[2] = { may_have(ear->config, meter, Q_ACTIVE_IMPORT),
                    may_have(ear->config, meter, Q_ACTIVE_EXPORT) };
    if (!has[0] && !has[1])
        tell(ear, "\"%s\": its map has no energy counter, nothing is accounted", meter->name);
    for (int i = 0; i < 2 && (has[0] || has[1]); i++)
        if (!has[i] && is_needed(meter, (i == 1) != meter->reversed))
            tell(ear, "\"%s\": its map has no %s counter, what it would count stays unknown", meter->name,
                 i == 1 ? "active_export" : "active_import");
    if (!may_have(ear->config, meter, Q_POWER))
        tell(ear, "\"%s\": its map has no power: no power curve, no shape inside a counter step",
             meter->name);
    if (map->power_average_s > 0)
        tell(ear, "\"%s\": its power is an average over %d s, shorter peaks stay unknown", meter->name,
             (int)map->power_average_s);
}

/* Step of an integer counter in mWh at the meter's primary side; 0 = not known here. */
static double step_of(const struct config_meter *meter, const struct point *point)
{
    if (!point || point->type == TYPE_FLOAT32 || point->type == TYPE_FLOAT64 ||
        point->scale_address != NO_REGISTER)
        return 0;
    double step = 1000.0 * point->multiplier / point->divisor;
    for (int32_t i = point->exponent; i > 0; i--)
        step *= 10;
    for (int32_t i = point->exponent; i < 0; i++)
        step /= 10;
    return step * meter->ct_primary / meter->ct_secondary * meter->vt_primary / meter->vt_secondary;
}

/* Without power an interval's energy is a difference of a stepping counter:
 * beyond 2 % of what rated power moves in an interval it is coarse. */
static void tell_steps(const struct ear *ear)
{
    static const enum quantity counters[] = { Q_ACTIVE_IMPORT, Q_ACTIVE_EXPORT };
    for (int32_t i = 0; i < ear->config->meter_count; i++) {
        const struct config_meter *meter = &ear->config->meters[i];
        const struct register_map *map = &ear->config->maps[meter->map];
        double step = 0;
        if (map->walk || find_point(map, Q_POWER) || meter->rated_w == 0)
            continue;
        for (int j = 0; j < 2; j++) {
            double other = step_of(meter, find_point(map, counters[j]));
            step = other > step ? other : step;
        }
        double sensible_s = step * 3.6 / (0.02 * (double)meter->rated_w);
        if (sensible_s > ear->config->site.interval_s)
            tell(ear,
                 "\"%s\": its counter steps by %g kWh and its map has no power, too coarse for intervals of "
                 "%d s; "
                 "the finest that are sensible have %.0f s",
                 meter->name, step / 1e6, (int)ear->config->site.interval_s, sensible_s);
    }
}

int32_t interval_prevents(int32_t interval_s, const char *prevented[INTERVAL_ANSWERS])
{
    static const struct {
        int32_t length_s;
        const char *answer;
    } answers[INTERVAL_ANSWERS] = {
        { 600, "10-minute voltages" },
        { 900, "15-minute demand" },
        { 1800, "30-minute demand" },
        { 3600, "prices that change at the hour" },
    };
    int32_t count = 0;
    for (size_t i = 0; i < INTERVAL_ANSWERS; i++)
        if (answers[i].length_s % interval_s != 0)
            prevented[count++] = answers[i].answer;
    return count;
}

static void tell_interval(const struct ear *ear)
{
    const char *prevented[INTERVAL_ANSWERS];
    int32_t count = interval_prevents(ear->config->site.interval_s, prevented);
    for (int32_t i = 0; i < count; i++)
        tell(ear, "intervals of %d s: no %s", (int)ear->config->site.interval_s, prevented[i]);
}

static bool same_plane(const struct config_meter *a, const struct config_meter *b)
{
    return a->role == ROLE_PART && b->role == ROLE_PART && a->plane_azimuth >= 0 && a->tilt >= 0 &&
           b->plane_azimuth >= 0 && b->tilt >= 0 && a->peak_w > 0 && b->peak_w > 0 &&
           plane_is_one(a->plane_azimuth, a->tilt, b->plane_azimuth, b->tilt);
}

/* Parts are compared per kWp inside one plane, and only three tell which one lags. */
static void tell_parts(const struct ear *ear)
{
    const struct config *config = ear->config;
    for (int32_t i = 0; i < config->meter_count; i++) {
        int32_t fellows = 0;
        for (int32_t j = 0; j < config->meter_count; j++)
            fellows += same_plane(&config->meters[i], &config->meters[j]);
        if (config->meters[i].role == ROLE_PART && fellows < PLANE_LEAST)
            tell(ear, "\"%s\": %s, so that it cannot be compared with others", config->meters[i].name,
                 fellows == 0 ? "its peak_power, azimuth or tilt is not given"
                              : "fewer than three parts lie in its plane");
    }
}

static void tell_weather(const struct ear *ear)
{
    const struct config *config = ear->config;
    bool plant = count_role(config, ROLE_PRODUCTION) + count_role(config, ROLE_PART) > 0;
    if (plant && (count_role(config, ROLE_WEATHER) == 0 || !any_has(config, Q_IRRADIANCE)))
        tell(ear, "no measured irradiance: no performance ratio");
    if (!any_has(config, Q_VOLTAGE_L1) && !any_has(config, Q_VOLTAGE_L2) && !any_has(config, Q_VOLTAGE_L3))
        tell(ear, "no map has a voltage: nothing can be said of the grid's voltage");
    if (!any_has(config, Q_REACTIVE_IMPORT) && !any_has(config, Q_APPARENT_IMPORT))
        tell(ear, "no map has reactive or apparent energy: no kVAh, no kvarh");
}

void config_impossible(const struct config *config, void (*say)(void *self, const char *line), void *self)
{
    const struct ear ear = { config, say, self };
    tell_balance(&ear);
    tell_phases(&ear);
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].role != ROLE_WEATHER)
            tell_counters(&ear, &config->meters[i]);
    tell_steps(&ear);
    tell_interval(&ear);
    tell_parts(&ear);
    tell_weather(&ear);
}
