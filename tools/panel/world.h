/* The invented world behind the panel: sun, clouds, plant, household, grid.
 *
 * Pure: the same world and the same instant of the scene always give the same
 * answer, so nothing has to be remembered and any instant can be asked. Powers
 * are whole mW, so that grid = consumption - production holds exactly.
 */
#ifndef METERBOOK_PANEL_WORLD_H
#define METERBOOK_PANEL_WORLD_H

#include <stdint.h>

enum {
    WORLD_NAME_SIZE = 48,
    WORLD_PHASES = 3,
    WORLD_MAX_PARTS = 8,
    WORLD_MAX_LOADS = 24,
    WORLD_MAX_PROFILE = 8,
};

/* One inverter with its modules. */
struct world_part {
    char name[WORLD_NAME_SIZE];
    int32_t peak_w;    /* Wp of the modules */
    int32_t rated_w;   /* the inverter gives no more */
    int32_t standby_w; /* what it takes from the grid in the dark */
    int32_t phase;     /* 1..3; 0 = spread over all phases */
    double azimuth;    /* degrees clockwise from north */
    double tilt;       /* degrees from horizontal */
    double losses;     /* share lost to wiring, dirt, inverter */
};

enum load_kind {
    LOAD_CONSTANT, /* always on */
    LOAD_CYCLE,    /* thermostat: on at the beginning of each period, for a slightly varying time */
    LOAD_EVENTS,   /* somebody switches it on, so many times a day, within hours of the day */
};

struct world_load {
    char name[WORLD_NAME_SIZE];
    char branch[WORLD_NAME_SIZE]; /* sub-meter behind which it sits; "" = none */
    int32_t kind;                 /* enum load_kind */
    int32_t phase;                /* 1..3; 0 = spread over all phases */
    double reactive;              /* var per W */
    double period_s;              /* LOAD_CYCLE */
    int32_t per_day;              /* LOAD_EVENTS */
    double from_hour, to_hour;    /* LOAD_EVENTS: local hours in which it may be switched on */
    int32_t profile_count;        /* what one run takes: power after power */
    double profile_s[WORLD_MAX_PROFILE];
    int32_t profile_w[WORLD_MAX_PROFILE];
};

struct world {
    uint64_t seed;
    double latitude, longitude; /* degrees */
    double utc_offset;          /* hours, of the household's clock */
    double cloudiness;          /* 0 clear .. 1 overcast */
    double voltage;             /* V at the transformer */
    double frequency;           /* Hz */
    double resistance;  /* ohm per phase from there to the panel: what makes the voltage rise with export */
    double temperature; /* degC, mean of the day */
    int32_t phases;     /* 1 or 3 */
    int32_t part_count, load_count;
    struct world_part parts[WORLD_MAX_PARTS];
    struct world_load loads[WORLD_MAX_LOADS];
};

/* Everything that can be seen at an instant. */
struct scene {
    int64_t part_mw[WORLD_MAX_PARTS]; /* > 0 produces, < 0 takes its standby power */
    int64_t load_mw[WORLD_MAX_LOADS];
    int64_t load_mvar[WORLD_MAX_LOADS];
    int64_t production_mw[WORLD_PHASES];
    int64_t consumption_mw[WORLD_PHASES];
    int64_t consumption_mvar[WORLD_PHASES];
    int64_t open_mv[WORLD_PHASES]; /* voltage before the house's own flow moves it */
    int64_t frequency_mhz;
    int64_t irradiance_mw;                        /* global horizontal, mW/m2 */
    int64_t plane_mw[WORLD_MAX_PARTS];            /* in the plane of the modules, mW/m2 */
    int64_t ambient_m, module_m[WORLD_MAX_PARTS]; /* m degC */
};

/* at_ms: instant of the scene, ms since 1970-01-01 UTC. */
void world_at(const struct world *world, int64_t at_ms, struct scene *scene);

/* Height of the sun in degrees; a few tenths of a degree are good enough here. */
double world_sun_height(const struct world *world, int64_t at_ms);

/* Adds `mw`, sitting on `phase` (0 = spread), to the phases. Nothing is lost in the split. */
void world_spread(const struct world *world, int32_t phase, int64_t mw, int64_t by_phase[WORLD_PHASES]);

/* A number from 0 to below 1 that depends on nothing but its arguments. */
double world_chance(uint64_t seed, uint64_t stream, int64_t index);

#endif
