#include "counting.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MWMS_PER_MWH = 3600000 };

static const double dc_efficiency = 0.96;

/* What the battery does in this step: takes surplus, gives what is missing, as far as power and content go.
 */
static int64_t battery_power(const struct counting *counting, int64_t surplus_mw)
{
    const struct scenario_battery *battery = &counting->scenario->battery;
    int64_t step_ms = counting->scenario->step_ms, most = (int64_t)battery->power_w * 1000;
    int64_t full = llround(battery->capacity_wh * 1000 * MWMS_PER_MWH);
    int64_t power = surplus_mw > most ? most : surplus_mw < -most ? -most : surplus_mw;
    if (power > 0 && counting->battery_mwms + power * step_ms > full)
        power = (full - counting->battery_mwms) / step_ms;
    if (power < 0 && counting->battery_mwms + power * step_ms < 0)
        power = -counting->battery_mwms / step_ms;
    return power;
}

static void flow_of_branch(const struct counting *counting, const char *branch, struct counting_meter *meter)
{
    const struct world *world = &counting->scenario->world;
    for (int i = 0; i < world->load_count; i++) {
        if (strcmp(world->loads[i].branch, branch) != 0)
            continue;
        world_spread(world, world->loads[i].phase, counting->scene.load_mw[i], meter->mw);
        world_spread(world, world->loads[i].phase, counting->scene.load_mvar[i], meter->mvar);
    }
}

/* The flow through one meter, seen from the site: import > 0. */
static void flow(const struct counting *counting, const struct scenario_meter *settings,
                 struct counting_meter *meter)
{
    const struct world *world = &counting->scenario->world;
    const struct scene *scene = &counting->scene;
    memset(meter->mw, 0, sizeof meter->mw);
    memset(meter->mvar, 0, sizeof meter->mvar);
    switch (settings->measures) {
    case MEASURES_GRID:
        memcpy(meter->mw, counting->grid_mw, sizeof meter->mw);
        memcpy(meter->mvar, scene->consumption_mvar, sizeof meter->mvar);
        break;
    case MEASURES_PRODUCTION:
        for (int p = 0; p < WORLD_PHASES; p++)
            meter->mw[p] = -scene->production_mw[p];
        break;
    case MEASURES_CONSUMPTION:
        memcpy(meter->mw, scene->consumption_mw, sizeof meter->mw);
        memcpy(meter->mvar, scene->consumption_mvar, sizeof meter->mvar);
        break;
    case MEASURES_PART:
        world_spread(world, world->parts[settings->part].phase, -scene->part_mw[settings->part], meter->mw);
        break;
    case MEASURES_BRANCH:
        flow_of_branch(counting, settings->of, meter);
        break;
    case MEASURES_BATTERY:
        world_spread(world, counting->scenario->battery.phase, counting->battery_mw, meter->mw);
        break;
    default: /* weather and replay: nothing flows */
        break;
    }
}

/* Everything that stands still for the coming step. */
static void begin_step(struct counting *counting)
{
    struct scenario *scenario = counting->scenario;
    int64_t scene_ms = scenario->start_ms + (int64_t)((double)counting->at_ms * counting->scene_speed);
    int64_t surplus = 0;
    world_at(&scenario->world, scene_ms, &counting->scene);
    for (int p = 0; p < WORLD_PHASES; p++) {
        counting->grid_mw[p] = counting->scene.consumption_mw[p] - counting->scene.production_mw[p];
        surplus -= counting->grid_mw[p];
    }
    counting->battery_mw = scenario->battery.power_w > 0 ? battery_power(counting, surplus) : 0;
    world_spread(&scenario->world, scenario->battery.phase, counting->battery_mw, counting->grid_mw);
    for (int i = 0; i < scenario->meter_count; i++)
        flow(counting, &scenario->meters[i], &counting->meters[i]);
}

static int64_t positive(int64_t value)
{
    return value > 0 ? value : 0;
}

static int64_t total(const int64_t by_phase[WORLD_PHASES])
{
    return by_phase[0] + by_phase[1] + by_phase[2];
}

static int64_t apparent(int64_t mw, int64_t mvar)
{
    return llround(sqrt((double)mw * (double)mw + (double)mvar * (double)mvar));
}

static void count_flow(struct counting_meter *meter, int64_t mw, int64_t mvar, int64_t ms)
{
    meter->work[Q_ACTIVE_IMPORT] += positive(mw) * ms;
    meter->work[Q_ACTIVE_EXPORT] += positive(-mw) * ms;
    meter->work[Q_REACTIVE_IMPORT] += positive(mvar) * ms;
    meter->work[Q_REACTIVE_EXPORT] += positive(-mvar) * ms;
    meter->work[mw >= 0 ? Q_APPARENT_IMPORT : Q_APPARENT_EXPORT] += apparent(mw, mvar) * ms;
}

static void count(struct counting *counting, int64_t ms)
{
    const struct scenario *scenario = counting->scenario;
    for (int i = 0; i < scenario->meter_count; i++) {
        struct counting_meter *meter = &counting->meters[i];
        if (!scenario->meters[i].phases_apart) {
            count_flow(meter, total(meter->mw), total(meter->mvar), ms);
            continue;
        }
        for (int p = 0; p < WORLD_PHASES; p++)
            count_flow(meter, meter->mw[p], meter->mvar[p], ms);
    }
    /* what is lost is lost while charging */
    double kept = counting->battery_mw > 0 ? 1 - scenario->battery.loss : 1;
    counting->battery_mwms += llround((double)(counting->battery_mw * ms) * kept);
}

/* The one phase that all of them sit on; 0 = several, or spread. */
static int32_t common_phase(int32_t so_far, int32_t phase)
{
    return so_far < 0 || so_far == phase ? phase : 0;
}

/* The phase of a meter that has just one, 1..3; 0 = it has them all. */
static int32_t phase_of(const struct scenario *scenario, const struct scenario_meter *meter)
{
    const struct world *world = &scenario->world;
    int32_t phase = -1;
    if (meter->measures == MEASURES_PART)
        phase = world->parts[meter->part].phase;
    else if (meter->measures == MEASURES_BATTERY)
        phase = scenario->battery.phase;
    for (int i = 0; i < world->part_count && meter->measures == MEASURES_PRODUCTION; i++)
        phase = common_phase(phase, world->parts[i].phase);
    for (int i = 0; i < world->load_count && meter->measures == MEASURES_BRANCH; i++)
        if (strcmp(world->loads[i].branch, meter->of) == 0)
            phase = common_phase(phase, world->loads[i].phase);
    return phase < 0 ? 0 : phase;
}

void counting_init(struct counting *counting, struct scenario *scenario, double scene_speed)
{
    memset(counting, 0, sizeof *counting);
    counting->scenario = scenario;
    counting->scene_speed = scene_speed;
    counting->battery_mwms =
        llround(scenario->battery.capacity_wh * scenario->battery.charged * 1000 * MWMS_PER_MWH);
    for (int i = 0; i < scenario->meter_count; i++) {
        const struct scenario_meter *settings = &scenario->meters[i];
        double import_wh = settings->import_wh, export_wh = settings->export_wh;
        if (settings->measures ==
            MEASURES_REPLAY) { /* the registers of the file, unless the scenario moves them */
            import_wh += (double)settings->replay.rows[0].value[REPLAY_IMPORT] / 1000;
            export_wh += (double)settings->replay.rows[0].value[REPLAY_EXPORT] / 1000;
        }
        counting_restart(counting, i, import_wh, export_wh, settings->serial);
        counting->meters[i].phase = scenario->world.phases == 1 ? 1 : phase_of(scenario, settings);
    }
    begin_step(counting);
}

void counting_advance(struct counting *counting, int64_t at_ms)
{
    int64_t step_ms = counting->scenario->step_ms;
    while (counting->at_ms < at_ms) {
        int64_t end = counting->at_ms - counting->at_ms % step_ms + step_ms;
        int64_t to = end < at_ms ? end : at_ms;
        count(counting, to - counting->at_ms);
        counting->at_ms = to;
        if (to == end)
            begin_step(counting);
    }
}

/* Energy of a replayed counter: what its file says now, less what it said at first. */
static int64_t replayed(const struct counting *counting, int meter, enum quantity counter)
{
    struct replay *replay = &counting->scenario->meters[meter].replay;
    enum replay_column column = counter == Q_ACTIVE_IMPORT ? REPLAY_IMPORT : REPLAY_EXPORT;
    if (counter > Q_ACTIVE_EXPORT || !replay->has[column])
        return 0;
    return replay_at(replay, counting->at_ms)->value[column] - replay->rows[0].value[column];
}

int64_t counting_energy(const struct counting *counting, int meter, enum quantity counter)
{
    if (counting->scenario->meters[meter].measures == MEASURES_REPLAY)
        return replayed(counting, meter, counter);
    return counting->meters[meter].work[counter] / MWMS_PER_MWH;
}

/* Work of any meter, replayed ones included, so that both restart alike. */
static int64_t work_of(const struct counting *counting, int meter, enum quantity counter)
{
    if (counting->scenario->meters[meter].measures == MEASURES_REPLAY)
        return replayed(counting, meter, counter) * MWMS_PER_MWH;
    return counting->meters[meter].work[counter];
}

static enum quantity crossed(enum quantity counter)
{
    return (enum quantity)(counter ^ 1); /* import and export stand side by side in the table */
}

void counting_restart(struct counting *counting, int meter, double import_wh, double export_wh,
                      const char *serial)
{
    struct counting_meter *state = &counting->meters[meter];
    for (int c = 0; c < COUNTER_COUNT; c++) {
        state->since[c] = work_of(counting, meter, (enum quantity)c);
        state->register_mwh[c] = c == Q_ACTIVE_IMPORT   ? llround(import_wh * 1000)
                                 : c == Q_ACTIVE_EXPORT ? llround(export_wh * 1000)
                                                        : 0;
    }
    if (serial != NULL)
        snprintf(state->serial, sizeof state->serial, "%s", serial);
}

bool counting_awake(const struct counting *counting, int meter)
{
    return total(counting->meters[meter].mw) < 0;
}

static void show(struct shown *shown, enum quantity quantity, int64_t value)
{
    shown->value[quantity] = value;
    shown->has[quantity] = true;
}

static void show_counters(const struct counting *counting, int meter, struct shown *shown)
{
    const struct scenario_meter *settings = &counting->scenario->meters[meter];
    const struct counting_meter *state = &counting->meters[meter];
    int64_t step = llround(settings->step_wh * 1000);
    for (int c = 0; c < COUNTER_COUNT; c++) {
        enum quantity true_counter = settings->reversed ? crossed((enum quantity)c) : (enum quantity)c;
        int64_t work = work_of(counting, meter, true_counter) - state->since[true_counter];
        int64_t value = state->register_mwh[c] + work / settings->ct_ratio / MWMS_PER_MWH;
        show(shown, (enum quantity)c, step > 0 ? value - value % step : value);
    }
}

static int64_t of_current(int64_t mw, int64_t mvar, int64_t mv)
{
    int64_t current = mv > 0 ? llround((double)apparent(mw, mvar) * 1000 / (double)mv) : 0;
    return mw < 0 ? -current : current;
}

/* Phase `p` of the house is phase `as` of the meter. */
static void show_phase(const struct counting *counting, const struct counting_meter *state, unsigned p,
                       unsigned as, double gain, struct shown *shown)
{
    const struct world *world = &counting->scenario->world;
    /* U = U0 - R I, with I = P / U0: mW / V = mA, times ohm = mV */
    int64_t mv = counting->scene.open_mv[p] -
                 llround((double)counting->grid_mw[p] / world->voltage * world->resistance);
    show(shown, (enum quantity)(Q_POWER_L1 + as), llround((double)state->mw[p] * gain));
    show(shown, (enum quantity)(Q_VOLTAGE_L1 + as), mv);
    show(shown, (enum quantity)(Q_CURRENT_L1 + as),
         llround((double)of_current(state->mw[p], state->mvar[p], mv) * gain));
}

static void show_flow(const struct counting *counting, int meter, struct shown *shown)
{
    const struct scenario_meter *settings = &counting->scenario->meters[meter];
    const struct counting_meter *state = &counting->meters[meter];
    double gain = settings->power_gain / (double)settings->ct_ratio * (settings->reversed ? -1 : 1);
    int64_t mw = total(state->mw), mvar = total(state->mvar), mva = apparent(mw, mvar);

    show(shown, Q_POWER, llround((double)mw * gain));
    show(shown, Q_REACTIVE_POWER, llround((double)mvar * gain));
    show(shown, Q_APPARENT_POWER, llround((double)mva * fabs(gain)));
    show(shown, Q_POWER_FACTOR, mva > 0 ? llround((double)llabs(mw) * 1000 / (double)mva) : 1000);
    for (unsigned p = 0; p < WORLD_PHASES; p++) {
        if (state->phase == 0)
            show_phase(counting, state, p, p, gain, shown);
        else if ((unsigned)state->phase == p + 1)
            show_phase(counting, state, p, 0, gain, shown);
    }
    show(shown, Q_FREQUENCY, counting->scene.frequency_mhz);
    if (settings->measures == MEASURES_PART) {
        int64_t made = positive(-mw);
        show(shown, Q_DC_POWER, llround((double)made / dc_efficiency));
        show(shown, Q_DC_VOLTAGE, made > 0 ? 380000 : 0);
        show(shown, Q_TEMPERATURE, counting->scene.ambient_m + made / 200);
    }
}

static void show_weather(const struct counting *counting, const struct scenario_meter *settings,
                         struct shown *shown)
{
    const struct scene *scene = &counting->scene;
    int part = settings->part >= 0 ? settings->part : 0;
    show(shown, Q_IRRADIANCE, settings->part >= 0 ? scene->plane_mw[part] : scene->irradiance_mw);
    show(shown, Q_AMBIENT_TEMPERATURE, scene->ambient_m);
    show(shown, Q_MODULE_TEMPERATURE, scene->module_m[part]);
}

static void show_replay(struct counting *counting, int meter, struct shown *shown)
{
    static const enum quantity quantities[REPLAY_COLUMN_COUNT] = {
        [REPLAY_POWER] = Q_POWER,
        [REPLAY_VOLTAGE] = Q_VOLTAGE_L1,
        [REPLAY_CURRENT] = Q_CURRENT_L1,
        [REPLAY_FREQUENCY] = Q_FREQUENCY,
    };
    struct replay *replay = &counting->scenario->meters[meter].replay;
    const struct replay_row *row = replay_at(replay, counting->at_ms);
    show_counters(counting, meter, shown);
    for (int c = REPLAY_POWER; c < REPLAY_COLUMN_COUNT; c++)
        if (replay->has[c])
            show(shown, quantities[c], row->value[c]);
}

void counting_show(struct counting *counting, int meter, struct shown *shown)
{
    const struct scenario_meter *settings = &counting->scenario->meters[meter];
    memset(shown, 0, sizeof *shown);
    snprintf(shown->serial, sizeof shown->serial, "%s", counting->meters[meter].serial);
    if (settings->measures == MEASURES_WEATHER) {
        show_weather(counting, settings, shown);
    } else if (settings->measures == MEASURES_REPLAY) {
        show_replay(counting, meter, shown);
    } else {
        show_counters(counting, meter, shown);
        show_flow(counting, meter, shown);
    }
}
