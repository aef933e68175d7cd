#include "supply.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "muldiv.h"

enum {
    MV_OF_SETTING = 10,   /* settings are in 0.01 V */
    UNOBSERVED_PART = 10, /* a tenth of ten minutes */
    MISFIT_PART = 4,      /* a week's mean is within a quarter */
    OUTSIDE_PART = 20,    /* 5 % */
    UNBALANCE_BIN = SHARE_ONE / 10000,
};

const char *const supply_verdict_words[] = {
    [SUPPLY_COMPLIES] = "complies",
    [SUPPLY_FAILS] = "does not comply",
    [SUPPLY_COMPLIES_NEARLY] = "complies, within the meter's error",
    [SUPPLY_FAILS_NEARLY] = "does not comply, within the meter's error",
    [SUPPLY_TOO_FEW] = "no verdict: too few valid",
    [SUPPLY_CUT] = "no verdict: cut by the span",
    [SUPPLY_OPEN] = "no verdict: not over",
    [SUPPLY_MISFIT] = "no verdict: nominal_voltage does not fit",
};

/* Per mille that a class allows, of IEC 62053-21 and -22 and EN 50470-3 around nominal load. */
static int64_t class_error(const char *accuracy_class)
{
    static const struct {
        const char *name;
        int32_t per_mille;
    } classes[] = {
        { "0.1", 1 }, { "0.2", 2 }, { "0.2S", 2 }, { "0.5", 5 }, { "0.5S", 5 }, { "1", 10 },
        { "2", 20 },  { "3", 30 },  { "A", 20 },   { "B", 10 },  { "C", 5 },
    };
    for (size_t i = 0; i < sizeof(classes) / sizeof(classes[0]); i++)
        if (strcmp(classes[i].name, accuracy_class) == 0)
            return classes[i].per_mille;
    return UNKNOWN;
}

static int64_t per_mille(int64_t value, int64_t share)
{
    return mul_div(value, share, 1000);
}

static void set_band(struct supply_limits *limits, const struct config_supply *config)
{
    limits->band_low = config->band_low > 0 ? config->band_low * INT64_C(10) : UNKNOWN;
    limits->band_high = config->band_high > 0 ? config->band_high * INT64_C(10) : UNKNOWN;
    if (config->band_percent > 0) {
        limits->band_low = per_mille(limits->nominal, 1000 - config->band_percent);
        limits->band_high = per_mille(limits->nominal, 1000 + config->band_percent);
    }
}

struct supply_limits supply_limits_of(const struct config_supply *config, const char *accuracy_class)
{
    int64_t nominal = (int64_t)config->nominal_voltage * MV_OF_SETTING, error = class_error(accuracy_class);
    struct supply_limits limits = {
        .nominal = nominal,
        .low = per_mille(nominal, 900),
        .high = per_mille(nominal, 1100),
        .lowest = per_mille(nominal, 850),
        .error = error == UNKNOWN ? UNKNOWN : per_mille(nominal, error),
        .frequency = config->nominal_frequency,
        .valid_percent = config->valid_percent,
    };
    limits.throttle =
        config->throttle_voltage > 0 ? (int64_t)config->throttle_voltage * MV_OF_SETTING : limits.high;
    set_band(&limits, config);
    return limits;
}

int64_t supply_block_start(int64_t at_s)
{
    return at_s - at_s % SUPPLY_BLOCK_S;
}

/* Ten minutes that begin in [from, to). */
static int32_t blocks_of(int64_t from_s, int64_t to_s)
{
    return (int32_t)(supply_block_start(to_s + SUPPLY_BLOCK_S - 1) / SUPPLY_BLOCK_S -
                     supply_block_start(from_s + SUPPLY_BLOCK_S - 1) / SUPPLY_BLOCK_S);
}

void supply_row_init(struct supply_row *row, int64_t from_s, int64_t to_s)
{
    *row = (struct supply_row){ .from_s = from_s, .to_s = to_s, .expected = blocks_of(from_s, to_s) };
    row->asked = row->expected;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++)
        row->phases[p].least = row->phases[p].most = UNKNOWN;
    row->frequency.least = row->frequency.most = UNKNOWN;
}

void supply_row_ask(struct supply_row *row, int64_t from_s, int64_t to_s)
{
    int64_t begin_s = row->from_s > from_s ? row->from_s : from_s;
    int64_t end_s = row->to_s < to_s ? row->to_s : to_s;
    row->asked = end_s > begin_s ? blocks_of(begin_s, end_s) : 0;
}

void supply_init(struct supply *supply, const struct supply_limits *limits, int64_t from_s, int64_t to_s)
{
    memset(supply, 0, sizeof(*supply));
    supply->limits = *limits;
    supply->block_s = INT64_MIN;
    supply_row_init(&supply->total, from_s, to_s);
    supply_export_init(&supply->export);
}

static void widen(int64_t *least, int64_t *most, int64_t value)
{
    *least = *least == UNKNOWN || value < *least ? value : *least;
    *most = *most == UNKNOWN || value > *most ? value : *most;
}

static void count_phase(struct supply_phase *phase, const struct supply_limits *limits, int64_t voltage)
{
    int64_t error = limits->error == UNKNOWN ? 0 : limits->error;
    bool above = voltage > limits->high;
    bool above_wider = voltage > limits->high + error, above_narrower = voltage > limits->high - error;
    phase->valid++;
    phase->sum += voltage;
    widen(&phase->least, &phase->most, voltage);
    phase->outside += above || voltage < limits->low;
    phase->beyond += above || voltage < limits->lowest;
    phase->wider_outside += above_wider || voltage < limits->low - error;
    phase->wider_beyond += above_wider || voltage < limits->lowest - error;
    phase->narrower_outside += above_narrower || voltage < limits->low + error;
    phase->narrower_beyond += above_narrower || voltage < limits->lowest + error;
    phase->banded += (limits->band_low != UNKNOWN && voltage < limits->band_low) ||
                     (limits->band_high != UNKNOWN && voltage > limits->band_high);
    phase->throttled += voltage >= limits->throttle;
}

static void count_row(struct supply_row *row, const struct supply_limits *limits, unsigned flagged,
                      const int64_t voltage[SUPPLY_PHASES])
{
    bool throttled = false;
    for (int32_t p = 0; p < SUPPLY_PHASES && row; p++) {
        if (flagged & 1U << p)
            row->phases[p].flagged++;
        else if (voltage[p] != UNKNOWN)
            count_phase(&row->phases[p], limits, voltage[p]);
        throttled = throttled || (voltage[p] != UNKNOWN && voltage[p] >= limits->throttle);
    }
    if (row)
        row->throttled += throttled;
}

static void count_unbalance(struct supply_unbalance *unbalance, const int64_t voltage[SUPPLY_PHASES])
{
    int64_t mean = 0, worst = 0;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        if (voltage[p] == UNKNOWN)
            return;
        mean += voltage[p] / SUPPLY_PHASES;
    }
    for (int32_t p = 0; p < SUPPLY_PHASES; p++)
        worst = llabs(voltage[p] - mean) > worst ? llabs(voltage[p] - mean) : worst;
    int64_t share = number_share(worst, mean);
    if (share == UNKNOWN)
        return;
    int64_t bin = share / UNBALANCE_BIN;
    unbalance->bins[bin < SUPPLY_UNBALANCES ? bin : SUPPLY_UNBALANCES - 1]++;
    unbalance->count++;
    unbalance->sum += share;
    unbalance->most = share > unbalance->most ? share : unbalance->most;
}

static void count_voltages(struct supply *supply, const int64_t voltage[SUPPLY_PHASES])
{
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        if (voltage[p] == UNKNOWN)
            continue;
        int64_t bin = voltage[p] / 1000;
        supply->histogram[p][bin < SUPPLY_VOLTS ? bin : SUPPLY_VOLTS - 1]++;
        supply->phases |= 1U << p;
    }
    count_unbalance(&supply->unbalance, voltage);
}

static void put_highest(struct supply *supply, const int64_t voltage[SUPPLY_PHASES])
{
    int64_t place = (supply->block_s - supply->highest_s) / SUPPLY_BLOCK_S;
    if (!supply->highest || supply->block_s < supply->highest_s || place >= supply->highest_count)
        return;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++)
        if (voltage[p] != UNKNOWN && voltage[p] > supply->highest[place])
            supply->highest[place] = voltage[p];
}

void supply_end(struct supply *supply)
{
    int64_t voltage[SUPPLY_PHASES];
    if (supply->block_s == INT64_MIN)
        return;
    bool observed = supply->unobserved_s <= SUPPLY_BLOCK_S / UNOBSERVED_PART && !supply->stepped;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        bool valid = observed && supply->covered_s[p] == SUPPLY_BLOCK_S && !(supply->flagged & 1U << p);
        voltage[p] = valid ? llround(sqrt((double)supply->squares[p] / SUPPLY_BLOCK_S)) : UNKNOWN;
    }
    struct supply_row *rows[] = { &supply->total, supply->week, supply->month };
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
        count_row(rows[i], &supply->limits, supply->flagged, voltage);
    count_voltages(supply, voltage);
    put_highest(supply, voltage);
    bool powered = observed && supply->counted_s == SUPPLY_BLOCK_S;
    supply_export_take(&supply->export, supply->block_s, voltage, powered ? supply->exported : UNKNOWN);
    supply->block_s = INT64_MIN;
}

static void begin_block(struct supply *supply, int64_t start_s)
{
    supply_end(supply);
    supply->block_s = start_s;
    supply->all_s = supply->counted_s = 0;
    supply->unobserved_s = supply->exported = 0;
    supply->flagged = 0;
    supply->stepped = false;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        supply->covered_s[p] = 0;
        supply->squares[p] = 0;
    }
}

static void count_frequency(struct supply_frequency *sum, int64_t nominal,
                            const struct supply_interval *interval)
{
    int64_t frequency = interval->frequency;
    sum->known_s += interval->length_s;
    widen(&sum->least, &sum->most, frequency);
    if (frequency < per_mille(nominal, 990) || frequency > per_mille(nominal, 1010))
        sum->outside_s += interval->length_s;
    if (frequency < per_mille(nominal, 940) || frequency > per_mille(nominal, 1040))
        sum->beyond_s += interval->length_s;
}

static void take_frequency(struct supply *supply, const struct supply_interval *interval)
{
    struct supply_row *rows[] = { &supply->total, supply->week, supply->month };
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++)
        if (rows[i])
            count_frequency(&rows[i]->frequency, supply->limits.frequency, interval);
}

void supply_take(struct supply *supply, const struct supply_interval *interval)
{
    int64_t block_s = supply_block_start(interval->start_s);
    if (block_s != supply->block_s)
        begin_block(supply, block_s);
    supply->all_s += interval->length_s;
    supply->unobserved_s += interval->unobserved_s;
    supply->flagged |= interval->flagged;
    supply->stepped = supply->stepped || interval->stepped;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        if (interval->voltage[p] == UNKNOWN)
            continue;
        supply->covered_s[p] += interval->length_s;
        supply->squares[p] += interval->voltage[p] * interval->voltage[p] * interval->length_s;
    }
    if (interval->import != UNKNOWN && interval->export != UNKNOWN) {
        supply->counted_s += interval->length_s;
        supply->exported += interval->export - interval->import;
    }
    if (interval->frequency != UNKNOWN && !interval->stepped && !interval->flagged &&
        interval->unobserved_s * UNOBSERVED_PART <= interval->length_s)
        take_frequency(supply, interval);
}

int32_t supply_invalid(const struct supply_row *row, int32_t phase)
{
    return row->asked - row->phases[phase].valid - row->phases[phase].flagged;
}

bool supply_complies(int32_t valid, int32_t outside, int32_t beyond)
{
    return valid > 0 && (int64_t)outside * OUTSIDE_PART <= valid && beyond == 0;
}

enum supply_verdict supply_verdict(const struct supply_limits *limits, const struct supply_row *week,
                                   int32_t phase)
{
    const struct supply_phase *counted = &week->phases[phase];
    if (week->cut)
        return SUPPLY_CUT;
    if (week->open)
        return SUPPLY_OPEN;
    if ((int64_t)counted->valid * 100 < (int64_t)week->expected * limits->valid_percent)
        return SUPPLY_TOO_FEW;
    int64_t mean = counted->valid > 0 ? counted->sum / counted->valid : limits->nominal;
    if (llabs(mean - limits->nominal) > limits->nominal / MISFIT_PART)
        return SUPPLY_MISFIT;
    if (!supply_complies(counted->valid, counted->outside, counted->beyond))
        return supply_complies(counted->valid, counted->wider_outside, counted->wider_beyond)
                   ? SUPPLY_FAILS_NEARLY
                   : SUPPLY_FAILS;
    return supply_complies(counted->valid, counted->narrower_outside, counted->narrower_beyond)
               ? SUPPLY_COMPLIES
               : SUPPLY_COMPLIES_NEARLY;
}

int64_t supply_frequency_share(const struct supply_frequency *frequency)
{
    return number_share_down(frequency->known_s - frequency->outside_s, frequency->known_s);
}

int64_t supply_unbalance_below(const struct supply_unbalance *unbalance, int64_t share)
{
    int64_t wanted = mul_div(unbalance->count, share, SHARE_ONE), seen = 0;
    if (unbalance->count == 0)
        return UNKNOWN;
    for (int32_t i = 0; i < SUPPLY_UNBALANCES; i++) {
        seen += unbalance->bins[i];
        int64_t end = (i + INT64_C(1)) * UNBALANCE_BIN;
        if (seen >= wanted && seen > 0)
            return end < unbalance->most ? end : unbalance->most;
    }
    return unbalance->most;
}
