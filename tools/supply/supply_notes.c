#include "supply_notes.h"

#include <stdio.h>

#include "number.h"

enum { MILLI = 3, BLOCKS_AN_HOUR = 6, NINETY_FIVE = 950000, DEFAULT_VALID = 90 };

/* One decimal of a volt or more. */
static const char *volts(char buffer[NUMBER_SIZE], int64_t mv)
{
    return number_print(buffer, mv, MILLI, 1, 0);
}

static const char *hertz(char buffer[NUMBER_SIZE], int64_t mhz)
{
    return number_print(buffer, mhz, MILLI, 2, 0);
}

/* Per cent with two decimals, cut: 100 % is the whole. */
static const char *percent(char buffer[NUMBER_SIZE], int64_t share)
{
    return number_print(buffer, share == UNKNOWN ? 0 : share / 100, SHARE_SCALE - 4, 2, 0);
}

static const char *hours(char buffer[NUMBER_SIZE], int64_t seconds)
{
    return number_print(buffer, seconds * 10 / 3600, 1, 1, ',');
}

void supply_note_source(struct sheet *sheet, const struct supply_answer *answer, int32_t interval_s)
{
    char error[NUMBER_SIZE];
    const struct supply_limits *limits = &answer->supply.limits;
    sheet_mark(sheet, "indicative");
    sheet_note(sheet,
               "indicative: a meter that is polled sees no dips and is no instrument of IEC 61000-4-30 "
               "class A; no evidence before an operator");
    sheet_note(sheet, "r.m.s. voltages over 10 minutes, from intervals of %d s of %s '%s', where it is wired",
               (int)interval_s, role_name(answer->meter.role), answer->meter.name);
    if (limits->error == UNKNOWN)
        sheet_note(sheet, "the accuracy class of '%s' is not known: verdicts are as measured",
                   answer->meter.name);
    else
        sheet_note(sheet,
                   "its class is %s: voltages may be off by %s V (the class is of its energy, taken for "
                   "voltages too)",
                   answer->accuracy_class, volts(error, limits->error));
    if (answer->at_grid && answer->grid_meters > 1)
        sheet_note(sheet, "one of %d grid meters: '--meter' chooses another", (int)answer->grid_meters);
    if (answer->coarse > 0)
        sheet_note(sheet, "%lld intervals of %d s were left out: they have no 10 minutes",
                   (long long)answer->coarse, (int)answer->coarse_s);
}

static void note_band(struct sheet *sheet, const struct supply_limits *limits)
{
    char low[NUMBER_SIZE], high[NUMBER_SIZE];
    if (limits->band_low != UNKNOWN && limits->band_high != UNKNOWN)
        sheet_note(sheet, "national band of the configuration: %s to %s V", volts(low, limits->band_low),
                   volts(high, limits->band_high));
    else if (limits->band_low != UNKNOWN || limits->band_high != UNKNOWN)
        sheet_note(sheet, "national band of the configuration: %s %s V",
                   limits->band_low != UNKNOWN ? "from" : "up to",
                   volts(low, limits->band_low != UNKNOWN ? limits->band_low : limits->band_high));
}

void supply_note_limits(struct sheet *sheet, const struct supply_answer *answer)
{
    const struct supply_limits *limits = &answer->supply.limits;
    char low[NUMBER_SIZE], high[NUMBER_SIZE], lowest[NUMBER_SIZE];
    volts(low, limits->low);
    volts(high, limits->high);
    volts(lowest, limits->lowest);
    sheet_note(sheet,
               "EN 50160: a week complies if at most 5 %% of the valid lie outside %s to %s V (N1) and "
               "none outside %s to %s V (N2)",
               low, high, lowest, high);
    sheet_note(sheet, "no verdict unless %d %% of the week's 10 minutes are valid (%s)",
               (int)limits->valid_percent,
               limits->valid_percent == DEFAULT_VALID ? "default, own choice" : "configuration");
    note_band(sheet, limits);
}

void supply_note_throttle(struct sheet *sheet, const struct supply_answer *answer)
{
    char level[NUMBER_SIZE], above[NUMBER_SIZE];
    sheet_note(sheet, "inverters are taken to throttle from %s V on (%s): some phase stood there for %s h",
               volts(level, answer->supply.limits.throttle),
               answer->own_throttle ? "configuration" : "+10 %, own choice",
               number_print(above, answer->supply.total.throttled * INT64_C(10) / BLOCKS_AN_HOUR, 1, 1, ','));
}

void supply_note_frequency(struct sheet *sheet, const struct supply_answer *answer, int32_t interval_s)
{
    const struct supply_frequency *frequency = &answer->supply.total.frequency;
    int64_t nominal = answer->supply.limits.frequency;
    char share[NUMBER_SIZE], low[NUMBER_SIZE], high[NUMBER_SIZE], known[NUMBER_SIZE], least[NUMBER_SIZE],
        most[NUMBER_SIZE];
    if (frequency->known_s == 0) {
        sheet_note(sheet, "frequency: not measured");
        return;
    }
    sheet_note(sheet, "frequency: %s to %s Hz for %s %% of %s h known, in all %s to %s Hz",
               hertz(low, nominal * 99 / 100), hertz(high, nominal * 101 / 100),
               percent(share, supply_frequency_share(frequency)), hours(known, frequency->known_s),
               hertz(least, frequency->least), hertz(most, frequency->most));
    if (frequency->least > nominal * 11 / 10 || frequency->most < nominal * 9 / 10)
        sheet_note(sheet, "'nominal_frequency' of the configuration does not fit");
    sheet_note(sheet,
               "EN 50160 asks that of 99.5 %% of a year, in means of 10 s: means of %d s hide shorter "
               "excursions",
               (int)interval_s);
}

void supply_note_unbalance(struct sheet *sheet, const struct supply_answer *answer)
{
    const struct supply_unbalance *unbalance = &answer->supply.unbalance;
    char mean[NUMBER_SIZE], below[NUMBER_SIZE], most[NUMBER_SIZE];
    if (unbalance->count == 0)
        return;
    sheet_note(sheet, "unbalance: mean %s %%, 95 %% of the time below %s %%, highest %s %%",
               percent(mean, unbalance->sum / unbalance->count),
               percent(below, supply_unbalance_below(unbalance, NINETY_FIVE)),
               percent(most, unbalance->most));
    sheet_note(sheet,
               "unbalance is the largest deviation of a phase from the mean of three: an approximation "
               "from magnitudes, not the negative sequence of EN 50160");
}

void supply_note_export(struct sheet *sheet, const struct supply_answer *answer)
{
    const struct supply_export *export = &answer->supply.export;
    int64_t median = supply_export_slope(export, 500), trend = supply_export_trend(export);
    char slope[NUMBER_SIZE], low[NUMBER_SIZE], high[NUMBER_SIZE];
    if (median != UNKNOWN)
        sheet_note(sheet,
                   "voltage against export: %s V per kW by the median of %lld changes from 10 minutes to "
                   "the next, half of them %s to %s",
                   number_print(slope, median, MILLI, 2, 0), (long long)export->changes,
                   number_print(low, supply_export_slope(export, 250), MILLI, 2, 0),
                   number_print(high, supply_export_slope(export, 750), MILLI, 2, 0));
    else if (trend != UNKNOWN)
        sheet_note(sheet,
                   "voltage against export: about %s V per kW between the bins; what the grid does at their "
                   "hours is in it, the power changed %lld times by %d W or more only",
                   number_print(slope, trend, MILLI, 1, 0), (long long)export->changes, EXPORT_CHANGE_W);
    else
        sheet_note(sheet,
                   "voltage against export: not yet determinable, the power changed %lld times by %d W "
                   "or more",
                   (long long)export->changes, EXPORT_CHANGE_W);
}

void supply_note_lost(struct sheet *sheet, const struct supply_answer *answer)
{
    char energy[NUMBER_SIZE];
    int32_t evident = 0;
    for (int32_t i = 0; i < answer->source_count; i++) {
        const struct supply_source *source = &answer->sources[i];
        if (!lost_is_evident(&source->lost))
            continue;
        evident++;
        sheet_note(sheet,
                   "production lost to high voltage: evidence for %s: fell %d times at the level, %s %s kWh "
                   "not made",
                   source->name, (int)source->lost.at_level, source->by_peers ? "about" : "at least",
                   number_print(energy, source->lost.energy, ENERGY_SCALE, 1, ','));
    }
    if (evident == 0)
        sheet_note(sheet, "production lost to high voltage: no evidence%s",
                   answer->source_count == 0 ? ", the voltage did not reach the level" : "");
}
