/* The scenario: an invented plant and household, the buses and meters that
 * serve it, and what goes wrong. Read whole from one libconfig file. */
#ifndef METERBOOK_PANEL_SCENARIO_H
#define METERBOOK_PANEL_SCENARIO_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "fault.h"
#include "layout.h"
#include "models.h"
#include "replay.h"
#include "world.h"

enum {
    SCENARIO_NAME_SIZE = 48,
    SCENARIO_PATH_SIZE = 256,
    SCENARIO_MAX_BUSES = 16,
    SCENARIO_MAX_METERS = 64,
};

enum transport { TRANSPORT_TCP, TRANSPORT_RTU, TRANSPORT_RTU_TCP };

enum measured {
    MEASURES_GRID,
    MEASURES_PRODUCTION,
    MEASURES_CONSUMPTION,
    MEASURES_PART,
    MEASURES_BRANCH,
    MEASURES_BATTERY,
    MEASURES_WEATHER,
    MEASURES_REPLAY
};

enum night { NIGHT_ANSWERS, NIGHT_SILENT, NIGHT_ABSENT };

struct scenario_bus {
    char name[SCENARIO_NAME_SIZE];
    int32_t transport;                /* enum transport */
    char address[SCENARIO_NAME_SIZE]; /* TCP: where to listen, default 127.0.0.1 */
    int32_t port;                     /* TCP: 0 = any */
    char link[SCENARIO_PATH_SIZE];    /* RTU: symbolic link to the pseudo-terminal; "" = none */
    int32_t clients;                  /* TCP: connections at a time; more are closed at once */
    double idle_close;                /* TCP: s after which a quiet connection is closed; 0 = never */
    int32_t unknown_unit;             /* exception for a unit id that nobody has; 0 = silence */
    int32_t baud;                     /* RTU: an answer takes the time it would take; 0 = at once */
    struct fault faults[FAULT_MAX];
    int fault_count;
};

struct scenario_battery {
    int32_t power_w; /* 0: there is none */
    double capacity_wh;
    double charged; /* share at the start */
    double loss;    /* share of what is charged that never comes back */
    int32_t phase;
};

struct scenario_meter {
    char name[SCENARIO_NAME_SIZE];
    int bus; /* index */
    int32_t unit_id;
    int32_t measures;            /* enum measured */
    char of[SCENARIO_NAME_SIZE]; /* part or branch */
    int part;                    /* MEASURES_PART: index */
    bool phases_apart;           /* counts each phase by itself */
    bool reversed;               /* wired the other way round: import and export exchanged */
    int32_t ct_ratio;            /* the register shows a ct_ratio-th of what flows */
    char serial[FAULT_SERIAL_SIZE];
    double import_wh, export_wh; /* what the registers show at the start */
    double step_wh;              /* least amount that the register shows, 0 = its own resolution */
    int32_t max_registers;
    bool refuse_cut;   /* a request that cuts a wide value is answered with exception 2 */
    int32_t delay_ms;  /* before every answer */
    int32_t night;     /* enum night: what it does while it produces nothing */
    double power_gain; /* the power register reads this times the truth */
    struct models_choice models;
    struct layout layout; /* its counter_modulus is the scenario's, where it has one */
    struct replay replay;
    struct fault faults[FAULT_MAX];
    int fault_count;
};

struct scenario {
    char path[SCENARIO_PATH_SIZE];
    char name[SCENARIO_NAME_SIZE];
    struct world world;
    struct scenario_battery battery;
    int64_t start_ms; /* instant of the scene at which the panel starts; UTC */
    int32_t step_ms;  /* powers are constant for so long */
    int bus_count, meter_count;
    struct scenario_bus buses[SCENARIO_MAX_BUSES];
    struct scenario_meter meters[SCENARIO_MAX_METERS];
};

/* NULL after at least one problem was said. Maps and replays are found beside the scenario file. */
struct scenario *scenario_load(const char *path, struct problems *problems);
void scenario_free(struct scenario *scenario);

/* "HH:MM" -> hours; negative if it is none. */
double scenario_hour(const char *text);

/* "now", "HH:MM" (the household's clock, on the day of scenario->start_ms) or "YYYY-MM-DDTHH:MM[:SS]Z". */
bool scenario_instant(const struct scenario *scenario, const char *text, int64_t *at_ms);

#endif
