/* The quantities that a meter can have, written once.
 *
 * Every value in this project is an int64_t in thousandths of the quantity's
 * unit: mWh, mvarh, mVAh, mW, mvar, mVA, mV, mA, mHz, 1/1000 of a power
 * factor, m degC, mW/m2, ms of a meter's clock since 1970. Powers are signed
 * as seen from the site: power > 0 is import (consumption), < 0 is export.
 * Currents are as the meter shows them.
 *
 * OBIS codes: IEC 62056-6-1 (value group C.D.E, medium 1); "" where the
 * standard has none. The codes of momentary values are from memory.
 */
#ifndef METERBOOK_QUANTITY_H
#define METERBOOK_QUANTITY_H

#include <stddef.h>
#include <stdint.h>

enum quantity_kind {
    KIND_COUNTER,   /* only accumulates: energy */
    KIND_MOMENTARY, /* of the instant: power, voltage, ... */
    KIND_TEXT,      /* identity: read at start, compared, never accounted */
};

/* clang-format off */
/*    symbol              name                  unit    kind        OBIS */
#define QUANTITY_TABLE(X)                                                                                              \
    X(ACTIVE_IMPORT,      "active_import",      "kWh",   COUNTER,   "1.8.0")                                           \
    X(ACTIVE_EXPORT,      "active_export",      "kWh",   COUNTER,   "2.8.0")                                           \
    X(REACTIVE_IMPORT,    "reactive_import",    "kvarh", COUNTER,   "3.8.0")                                           \
    X(REACTIVE_EXPORT,    "reactive_export",    "kvarh", COUNTER,   "4.8.0")                                           \
    X(APPARENT_IMPORT,    "apparent_import",    "kVAh",  COUNTER,   "9.8.0")                                           \
    X(APPARENT_EXPORT,    "apparent_export",    "kVAh",  COUNTER,   "10.8.0")                                          \
    X(POWER,              "power",              "W",     MOMENTARY, "16.7.0")                                          \
    X(POWER_L1,           "power_l1",           "W",     MOMENTARY, "36.7.0")                                          \
    X(POWER_L2,           "power_l2",           "W",     MOMENTARY, "56.7.0")                                          \
    X(POWER_L3,           "power_l3",           "W",     MOMENTARY, "76.7.0")                                          \
    X(REACTIVE_POWER,     "reactive_power",     "var",   MOMENTARY, "3.7.0")                                           \
    X(APPARENT_POWER,     "apparent_power",     "VA",    MOMENTARY, "9.7.0")                                           \
    X(VOLTAGE_L1,         "voltage_l1",         "V",     MOMENTARY, "32.7.0")                                          \
    X(VOLTAGE_L2,         "voltage_l2",         "V",     MOMENTARY, "52.7.0")                                          \
    X(VOLTAGE_L3,         "voltage_l3",         "V",     MOMENTARY, "72.7.0")                                          \
    X(CURRENT_L1,         "current_l1",         "A",     MOMENTARY, "31.7.0")                                          \
    X(CURRENT_L2,         "current_l2",         "A",     MOMENTARY, "51.7.0")                                          \
    X(CURRENT_L3,         "current_l3",         "A",     MOMENTARY, "71.7.0")                                          \
    X(FREQUENCY,          "frequency",          "Hz",    MOMENTARY, "14.7.0")                                          \
    X(POWER_FACTOR,       "power_factor",       "",      MOMENTARY, "13.7.0")                                          \
    X(DC_POWER,           "dc_power",           "W",     MOMENTARY, "")                                                \
    X(DC_VOLTAGE,         "dc_voltage",         "V",     MOMENTARY, "")                                                \
    X(IRRADIANCE,         "irradiance",         "W/m2",  MOMENTARY, "")                                                \
    X(TEMPERATURE,        "temperature",        "degC",  MOMENTARY, "")                                                \
    X(MODULE_TEMPERATURE, "module_temperature", "degC",  MOMENTARY, "")                                                \
    X(AMBIENT_TEMPERATURE,"ambient_temperature","degC",  MOMENTARY, "")                                                \
    X(CLOCK,              "clock",              "s",     MOMENTARY, "")                                                \
    X(SERIAL_NUMBER,      "serial_number",      "",      TEXT,      "0.0.0")
/* clang-format on */

enum quantity {
#define X(symbol, name, unit, kind, obis) Q_##symbol,
    QUANTITY_TABLE(X)
#undef X
        QUANTITY_COUNT
};

/* Counters come first in the table, so a counter's number is its quantity. */
enum { COUNTER_COUNT = Q_APPARENT_EXPORT + 1 };

struct quantity_info {
    const char *name;
    const char *unit; /* as people print it: counters in k.., 1 kWh = 1 000 000 mWh */
    enum quantity_kind kind;
    const char *obis;
};

/* Row of the table; q must be below QUANTITY_COUNT. */
const struct quantity_info *quantity_info(enum quantity q);

/* Finds a quantity by its name. Returns QUANTITY_COUNT where there is none. */
enum quantity quantity_by_name(const char *name);

#endif
