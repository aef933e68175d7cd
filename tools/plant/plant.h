/* The plant as the dated settings describe it: its production meters, peak power, planes, the inverters'
 * output, the modules' temperature coefficient, what was promised of it, and which weather meter looks
 * where.
 *
 * What a setting does not state yet, the next later one that does states for it: a promise or a rating is
 * entered once, and holds for the time before too. */
#ifndef METERBOOK_PLANT_H
#define METERBOOK_PLANT_H

#include "balance.h"
#include "query.h"
#include "sun.h"

enum { PLANT_WEATHER = 8, PLANT_INVERTERS = 32 };

/* A production meter or a part with a peak power: what may stand still alone. More than PLANT_INVERTERS are
 * left out. */
struct plant_inverter {
    int32_t number;
    bool by_export;
    double peak_kw;
};

/* Modules that look one way. */
struct plant_plane {
    int32_t azimuth, tilt; /* degrees */
    double peak_kw;
    int32_t sensor; /* index of the weather meter in this plane, -1 none */
};

struct plant_weather {
    int32_t number;
    char name[CONFIG_NAME_SIZE];
    int64_t azimuth, tilt; /* UNKNOWN */
};

struct plant {
    int64_t from_s, to_s; /* UTC; the first reaches back, the last forward without end */
    int32_t interval_s;
    double peak_kw; /* 0: not stated */
    double ac_kw;   /* 0: not stated */
    double gamma;   /* change of power per degC, negative; 0: not stated */
    int32_t meter_count;
    struct {
        int32_t number;
        bool by_export;               /* which counter is delivery */
    } meters[ARRANGEMENT_MAX_METERS]; /* that production is counted by */
    int32_t inverter_count;
    struct plant_inverter inverters[PLANT_INVERTERS];
    int32_t plane_count; /* 0: not all are stated */
    struct plant_plane planes[ARRANGEMENT_MAX_METERS];
    int32_t weather_count;
    struct plant_weather weather[PLANT_WEATHER];
    bool in_plane; /* each plane has its weather meter */
    bool has_place;
    struct sun_place place;
    double throttle_v; /* phase to neutral, from which on inverters throttle */
    struct config_expected expected;
};

struct plants {
    struct plant *list; /* heap; by time, without holes; at least one */
    int32_t count;
};

/* Within a transaction. `config`: the configuration at hand, NULL without: what no setting states, it does.
 * False where the query failed, there is no setting or memory is out. */
bool plants_read(struct plants *plants, struct query *query, const struct config *config);
void plants_free(struct plants *plants);

const struct plant *plants_at(const struct plants *plants, int64_t at_s);

/* Clear-sky energy on its planes during [from, to), in kWh per kWp: a shape, see sun.h. On the horizontal
 * where no plane is stated; 0 where the site is not known. */
double plant_clear_sky(const struct plant *plant, int64_t from_s, int64_t to_s);

#endif
