/* What has flowed through every meter since the panel started, exactly.
 *
 * Time is meter time: ms since the start, which `--speed` makes run faster
 * than the wall. Powers stand still for a step of the scenario, so energies
 * are whole numbers of mW ms, and the truth of any instant is exact and
 * depends on the scenario alone, not on when somebody looked.
 */
#ifndef METERBOOK_PANEL_COUNTING_H
#define METERBOOK_PANEL_COUNTING_H

#include <stdint.h>

#include "layout.h"
#include "scenario.h"

/* One meter's counters (numbered as in quantity.h) and the flow through it now. */
struct counting_meter {
    int64_t work[COUNTER_COUNT];  /* mW ms since the start: the truth, before any CT, wiring or fault */
    int64_t since[COUNTER_COUNT]; /* work at the last reset or exchange */
    int64_t register_mwh[COUNTER_COUNT]; /* what the register showed then */
    char serial[FAULT_SERIAL_SIZE];
    int32_t phase; /* of the house, 1..3, where the meter has only one; else 0 */
    int64_t mw[WORLD_PHASES], mvar[WORLD_PHASES]; /* flow now; import > 0 */
};

struct counting {
    struct scenario *scenario;
    double scene_speed;   /* scene time per meter time */
    int64_t at_ms;        /* meter time reached */
    int64_t battery_mwms; /* stored */
    int64_t battery_mw;   /* > 0 charges */
    struct scene scene;   /* of the step at at_ms */
    int64_t grid_mw[WORLD_PHASES];
    struct counting_meter meters[SCENARIO_MAX_METERS];
};

void counting_init(struct counting *counting, struct scenario *scenario, double scene_speed);

/* Goes on to an instant of meter time; earlier ones are ignored. */
void counting_advance(struct counting *counting, int64_t at_ms);

/* Exact energy since the start, mWh, floored. */
int64_t counting_energy(const struct counting *counting, int meter, enum quantity counter);

/* A new register: from now on it counts up from `register_wh`. serial NULL: the same meter, reset. */
void counting_restart(struct counting *counting, int meter, double import_wh, double export_wh,
                      const char *serial);

/* What the meter would show now: registers, CT ratio, wiring and resolution applied; no faults. */
void counting_show(struct counting *counting, int meter, struct shown *shown);

/* Does the meter see any production at all? */
bool counting_awake(const struct counting *counting, int meter);

#endif
