/* What flows at the invented plant: the sun, weather by day, a household, the
 * grid's voltage. All noise is a hash of seed, channel and time. */
#include <math.h>

#include "invent.h"
#include "sun.h"

enum { DAY_S = 86400, YEAR_S = 31557600, WEEK = 7 };

static const struct sun_place place = { 49.8, 15.5 };
static const struct sun_plane plane = { 180, 30 };

/* peak_power and rated_power of invent_files.c; own counters are not certified: one is 2 % high. */
static const struct {
    double peak_w, rated_w, counter_error;
} parts[INVENT_PARTS] = {
    { 2500, 2500, 0.020 }, { 2500, 2500, 0.003 }, { 2000, 2000, -0.004 }, { 3000, 2600, 0.002 }
};

enum channel {
    BY_KIND = 1, /* of weather, by day */
    BY_LEVEL,
    BY_YEAR,
    BY_WARMTH,
    BY_CLOUD,
    BY_HOUSE,
    BY_KETTLE,
    BY_WASH,
    BY_PUMP,
    BY_TOOLS,
    BY_VOLTAGE,
    BY_PHASE2,
    BY_PHASE3,
    BY_FREQUENCY,
    BY_METER,
    BY_PART /* the first of INVENT_PARTS */
};

double invent_chance(const struct invent *invent, uint64_t channel, int64_t index)
{
    /* splitmix64, public domain, from memory */
    uint64_t x = invent->seed * UINT64_C(0x9E3779B97F4A7C15) + (channel << 40) + (uint64_t)index;
    x += UINT64_C(0x9E3779B97F4A7C15);
    x = (x ^ (x >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    x = (x ^ (x >> 27)) * UINT64_C(0x94D049BB133111EB);
    return (double)((x ^ (x >> 31)) >> 11) / 9007199254740992.0;
}

/* The same, going evenly from one value to the next in period_s. */
static double drift(const struct invent *invent, enum channel channel, int64_t at_s, int64_t period_s)
{
    int64_t step = at_s / period_s;
    double share = (double)(at_s % period_s) / (double)period_s;
    return (1 - share) * invent_chance(invent, channel, step) +
           share * invent_chance(invent, channel, step + 1);
}

static bool within(const struct invent *invent, enum defect defect, int64_t at_s)
{
    return at_s >= invent->defects[defect].from_s && at_s < invent->defects[defect].to_s;
}

/* An instant as the site sees it. */
struct moment {
    int64_t at_s, day; /* local day */
    double hour;       /* local, 0 .. 24 */
    double season;     /* -1 in the middle of January, 1 of July */
    bool weekend;
    bool gap;
};

static struct moment moment_at(const struct invent *invent, int64_t at_s)
{
    int64_t local_s = at_s + civil_offset(invent->civil, at_s);
    struct moment moment = { .at_s = at_s, .day = local_s / DAY_S };
    moment.hour = (double)(local_s % DAY_S) / 3600;
    moment.season = -cos(2 * M_PI * (double)(at_s % YEAR_S) / YEAR_S - 0.27);
    int64_t weekday = (moment.day + 4) % WEEK; /* 1970-01-01 was a Thursday */
    moment.weekend = weekday == 0 || weekday == WEEK - 1;
    moment.gap = within(invent, DEFECT_GAP, at_s);
    return moment;
}

enum weather { CLEAR, BROKEN, CLOUDY };

static enum weather weather_of(const struct invent *invent, const struct moment *now)
{
    double year = 0.08 * invent_chance(invent, BY_YEAR, now->at_s / YEAR_S) - 0.04;
    double chance = invent_chance(invent, BY_KIND, now->day) + year;
    if (chance < 0.30 + 0.10 * now->season)
        return CLEAR;
    return chance < 0.68 + 0.12 * now->season ? BROKEN : CLOUDY;
}

/* Share of a clear sky's light. A gap is filled along a shape: no noise in it. */
static double clearness(const struct invent *invent, const struct moment *now, enum weather weather)
{
    double level = invent_chance(invent, BY_LEVEL, now->day);
    if (now->gap)
        return 0.7;
    if (weather == CLEAR)
        return 0.96 + 0.04 * drift(invent, BY_CLOUD, now->at_s, 10800);
    if (weather == CLOUDY)
        return (0.12 + 0.2 * level) * (0.7 + 0.6 * drift(invent, BY_CLOUD, now->at_s, 3600));
    double cloud = drift(invent, BY_CLOUD, now->at_s, 1200);
    if (cloud < 0.35 + 0.25 * level)
        return 0.25 + 0.3 * cloud;
    return 0.85 + 0.2 * cloud;
}

/* A bell from 0 to 1 around an hour. */
static double around(double hour, double middle, double width)
{
    double x = (hour - middle) / width;
    return exp(-x * x);
}

static double ambient_at(const struct invent *invent, const struct moment *now)
{
    double warmth = drift(invent, BY_WARMTH, now->at_s, INT64_C(3) * DAY_S) * 8 - 4;
    return 9.5 + 10 * now->season + warmth + 4.5 * cos((now->hour - 15) * M_PI / 12);
}

/* W; a base load of about 150, mornings, evenings, weekends at noon, kettles and washing. */
static double household(const struct invent *invent, const struct moment *now)
{
    double hour = now->hour, dark = 1 - 0.25 * now->season;
    double watts = 130 + 40 * (now->gap ? 0.5 : drift(invent, BY_HOUSE, now->at_s, 2700));
    watts += now->weekend ? 250 * around(hour, 9.5, 1.3) + 900 * around(hour, 12.3, 0.9)
                          : 450 * around(hour, 7.2, 0.8) + 150 * around(hour, 12.5, 0.8);
    watts += 850 * dark * around(hour, 19.4, 1.7);
    if (now->gap || hour < 6 || hour > 22.5)
        return watts;
    if (invent_chance(invent, BY_KETTLE, now->at_s / 300) < 0.06)
        watts += 1100;
    if (invent_chance(invent, BY_WASH, now->at_s / 2700) < (now->weekend ? 0.10 : 0.04))
        watts += 1500;
    return watts;
}

/* W; heats by the outdoor temperature, on and off, and makes hot water for an hour at noon. */
static double heat_pump(const struct invent *invent, const struct moment *now, double ambient)
{
    const double running_w = 2200;
    double cold = ambient < 16 ? 16 - ambient : 0;
    double mean = 45 * cold;
    double share = mean / running_w < 0.95 ? mean / running_w : 0.95;
    if (now->hour >= 12.25 && now->hour < 13.25)
        return running_w;
    if (now->gap)
        return mean;
    /* so that its mean is the share: evenly spread values, held for 20 minutes */
    return 8 + (invent_chance(invent, BY_PUMP, now->at_s / 1200) < share ? running_w : 0);
}

static double workshop(const struct invent *invent, const struct moment *now)
{
    bool works = !now->weekend && ((now->hour >= 8 && now->hour < 12) || (now->hour >= 13 && now->hour < 17));
    if (!works)
        return 45;
    return 300 + 500 * (now->gap ? 0.5 : drift(invent, BY_TOOLS, now->at_s, 1800));
}

/* What the planned defects leave of a part's power. */
static double part_state(const struct invent *invent, int part, const struct moment *now, double clear)
{
    double state = 1 - 0.006 * (double)(now->at_s - invent->before_s) / YEAR_S;
    const struct defect_span *soiled = &invent->defects[DEFECT_SOILED];
    if (part == 1 && within(invent, DEFECT_SOILED, now->at_s))
        state *= 1 - 0.14 * (double)(now->at_s - soiled->from_s) / (double)(soiled->to_s - soiled->from_s);
    if (part == 2 && within(invent, DEFECT_SHADED, now->at_s) && now->hour >= 15 && now->hour < 17)
        state *= 1 - 0.65 * (clear < 1 ? clear * clear : 1); /* a tree takes the beam, not the sky */
    if (part == 3 && within(invent, DEFECT_FAILED, now->at_s))
        state = 0;
    return state;
}

static double part_power(const struct invent *invent, int part, const struct moment *now, double light,
                         double clear, double module)
{
    double watts = parts[part].peak_w * (light / 1000 * 0.93 * (1 - 0.004 * (module - 25)) - 0.004);
    watts *= part_state(invent, part, now, clear);
    if (watts <= 0)
        return 0;
    return watts < parts[part].rated_w ? watts : parts[part].rated_w;
}

static int64_t energy(double watts, int64_t length_s)
{
    return llround(watts * (double)length_s / 3.6);
}

static void set_production(const struct invent *invent, const struct moment *now, struct flow *flow,
                           double light, double clear, bool throttled)
{
    double sum = 0, module = flow->module / 1000.0;
    for (int i = 0; i < INVENT_PARTS; i++) {
        double watts = flow->outage ? 0 : part_power(invent, i, now, light, clear, module);
        double noise = 0.002 * invent_chance(invent, BY_PART + (uint64_t)i, now->at_s) - 0.001;
        watts *= throttled ? 0.75 : 1;
        sum += watts;
        flow->part[i] = energy(watts * (1 + parts[i].counter_error + noise), flow->length_s);
    }
    flow->production =
        energy(sum * (0.9995 + 0.001 * invent_chance(invent, BY_METER, now->at_s)), flow->length_s);
}

/* Consumption = production + import - export; around zero some flows both ways. */
static void set_grid(struct flow *flow, int64_t load)
{
    int64_t net = load - flow->production, used = load < flow->production ? load : flow->production;
    int64_t both = used * flow->ripple / 4000 - (net < 0 ? -net : net) / 4;
    both = both > used ? used : both < 0 ? 0 : both;
    flow->import = (net > 0 ? net : 0) + both;
    flow->export = (net < 0 ? -net : 0) + both;
}

static void set_supply(const struct invent *invent, const struct moment *now, struct flow *flow, bool high)
{
    double kw = (double)(flow->export - flow->import) * 3.6e-3 / (double)flow->length_s;
    double noise = 3 * drift(invent, BY_VOLTAGE, now->at_s, 1800) - 1.5;
    double volts = 231.5 + noise - 1.5 * around(now->hour, 19, 2.5) + kw * 1.2 + (high ? 17.5 : 0);
    flow->voltage[0] = (int32_t)lround(volts * 100);
    flow->voltage[1] =
        flow->voltage[0] - 80 + (int32_t)lround(100 * drift(invent, BY_PHASE2, now->at_s, 900));
    flow->voltage[2] = flow->voltage[0] + 20 + (int32_t)lround(80 * drift(invent, BY_PHASE3, now->at_s, 900));
    flow->frequency = 49965 + (int32_t)lround(70 * drift(invent, BY_FREQUENCY, now->at_s, 600));
}

void invent_flow(const struct invent *invent, int64_t start_s, int64_t length_s, struct flow *flow)
{
    struct moment now = moment_at(invent, start_s + length_s / 2);
    struct sun sun = sun_position(&place, now.at_s * 1000);
    enum weather weather = weather_of(invent, &now);
    double clear = clearness(invent, &now, weather);
    double light = sun.elevation > 0 ? clear * sun_clear_plane(&sun, &plane) : 0;
    double ambient = ambient_at(invent, &now);
    *flow = (struct flow){ .start_s = start_s,
                           .length_s = length_s,
                           .outage = within(invent, DEFECT_OUTAGE, start_s),
                           .gap = now.gap,
                           .asleep = sun.elevation < -1.7, /* below -1 all along */
                           .ripple = weather == BROKEN ? 300 : 30 };
    flow->irradiance = (int32_t)lround(light * 1000);
    flow->ambient = (int32_t)lround(ambient * 1000);
    flow->module = (int32_t)lround((ambient + light * 0.028) * 1000);
    bool high =
        within(invent, DEFECT_VOLTAGE, start_s) && weather == CLEAR && now.hour >= 11.5 && now.hour < 15;
    set_production(invent, &now, flow, light, clear, high);
    int64_t load = 0;
    if (!flow->outage) {
        flow->heat_pump = energy(heat_pump(invent, &now, ambient), length_s);
        flow->workshop = energy(workshop(invent, &now), length_s);
        load = energy(household(invent, &now), length_s) + flow->heat_pump + flow->workshop;
    }
    set_grid(flow, load);
    set_supply(invent, &now, flow, high);
}
