#include "sunspec_models.h"

/* Columns: models, point, offset, type, scale offset, exponent, quantity, read
 * class, sign, zero is absent.
 *
 * Counters that stand at 0: the standard reads 0 of an acc32 as "not
 * accumulated". The energies of a meter model are mandatory, so there a 0 is a
 * new meter, and a house that has never exported must show an export of 0. The
 * optional ones (VAh) are taken from the first value above 0 on, and so is the
 * energy of models 101-113: an inverter that wakes up may answer 0 for a while,
 * and a new one loses at most the first step of its counter.
 *
 * Left out: reactive energy of the meter models, which is the sum of two
 * registers (quadrants 1 + 2, 3 + 4). Power factors keep the sign that the
 * device gives them, except where the model ties it to that of the power. */
static const struct sunspec_row rows[] = {
    /* clang-format off */
    /* identity */
    {   1,   1, "SN",         50, TYPE_STRING,    0,  0, Q_SERIAL_NUMBER,       READ_START,    SIGN_AS_IS,     false },
    /* inverters, integers */
    { 101, 103, "WH",         24, TYPE_UINT32,   26,  0, Q_ACTIVE_EXPORT,       READ_POLL,     SIGN_AS_IS,     true  },
    { 101, 103, "W",          14, TYPE_INT16,    15,  0, Q_POWER,               READ_POLL,     SIGN_GENERATOR, false },
    { 101, 103, "VAr",        20, TYPE_INT16,    21,  0, Q_REACTIVE_POWER,      READ_INTERVAL, SIGN_GENERATOR, false },
    { 101, 103, "VA",         18, TYPE_INT16,    19,  0, Q_APPARENT_POWER,      READ_INTERVAL, SIGN_AS_IS,     false },
    { 101, 103, "PhVphA",     10, TYPE_UINT16,   13,  0, Q_VOLTAGE_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "PhVphB",     11, TYPE_UINT16,   13,  0, Q_VOLTAGE_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "PhVphC",     12, TYPE_UINT16,   13,  0, Q_VOLTAGE_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "AphA",        3, TYPE_UINT16,    6,  0, Q_CURRENT_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "AphB",        4, TYPE_UINT16,    6,  0, Q_CURRENT_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "AphC",        5, TYPE_UINT16,    6,  0, Q_CURRENT_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "Hz",         16, TYPE_UINT16,   17,  0, Q_FREQUENCY,           READ_INTERVAL, SIGN_AS_IS,     false },
    { 101, 103, "PF",         22, TYPE_INT16,    23, -2, Q_POWER_FACTOR,        READ_INTERVAL, SIGN_AS_IS,     false },
    { 101, 103, "DCW",        31, TYPE_INT16,    32,  0, Q_DC_POWER,            READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "DCV",        29, TYPE_UINT16,   30,  0, Q_DC_VOLTAGE,          READ_POLL,     SIGN_AS_IS,     false },
    { 101, 103, "TmpCab",     33, TYPE_INT16,    37,  0, Q_TEMPERATURE,         READ_INTERVAL, SIGN_AS_IS,     false },
    /* inverters, floats */
    { 111, 113, "WH",         32, TYPE_FLOAT32,   0,  0, Q_ACTIVE_EXPORT,       READ_POLL,     SIGN_AS_IS,     true  },
    { 111, 113, "W",          22, TYPE_FLOAT32,   0,  0, Q_POWER,               READ_POLL,     SIGN_GENERATOR, false },
    { 111, 113, "VAr",        28, TYPE_FLOAT32,   0,  0, Q_REACTIVE_POWER,      READ_INTERVAL, SIGN_GENERATOR, false },
    { 111, 113, "VA",         26, TYPE_FLOAT32,   0,  0, Q_APPARENT_POWER,      READ_INTERVAL, SIGN_AS_IS,     false },
    { 111, 113, "PhVphA",     16, TYPE_FLOAT32,   0,  0, Q_VOLTAGE_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "PhVphB",     18, TYPE_FLOAT32,   0,  0, Q_VOLTAGE_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "PhVphC",     20, TYPE_FLOAT32,   0,  0, Q_VOLTAGE_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "AphA",        4, TYPE_FLOAT32,   0,  0, Q_CURRENT_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "AphB",        6, TYPE_FLOAT32,   0,  0, Q_CURRENT_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "AphC",        8, TYPE_FLOAT32,   0,  0, Q_CURRENT_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "Hz",         24, TYPE_FLOAT32,   0,  0, Q_FREQUENCY,           READ_INTERVAL, SIGN_AS_IS,     false },
    { 111, 113, "PF",         30, TYPE_FLOAT32,   0, -2, Q_POWER_FACTOR,        READ_INTERVAL, SIGN_AS_IS,     false },
    { 111, 113, "DCW",        38, TYPE_FLOAT32,   0,  0, Q_DC_POWER,            READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "DCV",        36, TYPE_FLOAT32,   0,  0, Q_DC_VOLTAGE,          READ_POLL,     SIGN_AS_IS,     false },
    { 111, 113, "TmpCab",     40, TYPE_FLOAT32,   0,  0, Q_TEMPERATURE,         READ_INTERVAL, SIGN_AS_IS,     false },
    /* inverters and other generators, 64-bit counters */
    { 701, 701, "TotWhInj",   19, TYPE_UINT64,  120,  0, Q_ACTIVE_EXPORT,       READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "TotWhAbs",   23, TYPE_UINT64,  120,  0, Q_ACTIVE_IMPORT,       READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "TotVarhInj", 27, TYPE_UINT64,  121,  0, Q_REACTIVE_EXPORT,     READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "TotVarhAbs", 31, TYPE_UINT64,  121,  0, Q_REACTIVE_IMPORT,     READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "W",          10, TYPE_INT16,   116,  0, Q_POWER,               READ_POLL,     SIGN_GENERATOR, false },
    { 701, 701, "WL1",        41, TYPE_INT16,   116,  0, Q_POWER_L1,            READ_POLL,     SIGN_GENERATOR, false },
    { 701, 701, "WL2",        64, TYPE_INT16,   116,  0, Q_POWER_L2,            READ_POLL,     SIGN_GENERATOR, false },
    { 701, 701, "WL3",        87, TYPE_INT16,   116,  0, Q_POWER_L3,            READ_POLL,     SIGN_GENERATOR, false },
    { 701, 701, "Var",        12, TYPE_INT16,   119,  0, Q_REACTIVE_POWER,      READ_INTERVAL, SIGN_GENERATOR, false },
    { 701, 701, "VA",         11, TYPE_INT16,   118,  0, Q_APPARENT_POWER,      READ_INTERVAL, SIGN_AS_IS,     false },
    { 701, 701, "VL1",        47, TYPE_UINT16,  114,  0, Q_VOLTAGE_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "VL2",        70, TYPE_UINT16,  114,  0, Q_VOLTAGE_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "VL3",        93, TYPE_UINT16,  114,  0, Q_VOLTAGE_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "AL1",        45, TYPE_INT16,   113,  0, Q_CURRENT_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "AL2",        68, TYPE_INT16,   113,  0, Q_CURRENT_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "AL3",        91, TYPE_INT16,   113,  0, Q_CURRENT_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 701, 701, "Hz",         17, TYPE_UINT32,  115,  0, Q_FREQUENCY,           READ_INTERVAL, SIGN_AS_IS,     false },
    { 701, 701, "PF",         13, TYPE_INT16,   117,  0, Q_POWER_FACTOR,        READ_INTERVAL, SIGN_GENERATOR, false },
    { 701, 701, "TmpCab",     36, TYPE_INT16,   122,  0, Q_TEMPERATURE,         READ_INTERVAL, SIGN_AS_IS,     false },
    /* meters, integers */
    { 201, 204, "TotWhImp",   46, TYPE_UINT32,   54,  0, Q_ACTIVE_IMPORT,       READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "TotWhExp",   38, TYPE_UINT32,   54,  0, Q_ACTIVE_EXPORT,       READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "TotVAhImp",  63, TYPE_UINT32,   71,  0, Q_APPARENT_IMPORT,     READ_POLL,     SIGN_AS_IS,     true  },
    { 201, 204, "TotVAhExp",  55, TYPE_UINT32,   71,  0, Q_APPARENT_EXPORT,     READ_POLL,     SIGN_AS_IS,     true  },
    { 201, 204, "W",          18, TYPE_INT16,    22,  0, Q_POWER,               READ_POLL,     SIGN_METER,     false },
    { 201, 204, "WphA",       19, TYPE_INT16,    22,  0, Q_POWER_L1,            READ_POLL,     SIGN_METER,     false },
    { 201, 204, "WphB",       20, TYPE_INT16,    22,  0, Q_POWER_L2,            READ_POLL,     SIGN_METER,     false },
    { 201, 204, "WphC",       21, TYPE_INT16,    22,  0, Q_POWER_L3,            READ_POLL,     SIGN_METER,     false },
    { 201, 204, "VAR",        28, TYPE_INT16,    32,  0, Q_REACTIVE_POWER,      READ_INTERVAL, SIGN_METER,     false },
    { 201, 204, "VA",         23, TYPE_INT16,    27,  0, Q_APPARENT_POWER,      READ_INTERVAL, SIGN_AS_IS,     false },
    { 201, 204, "PhVphA",      8, TYPE_INT16,    15,  0, Q_VOLTAGE_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "PhVphB",      9, TYPE_INT16,    15,  0, Q_VOLTAGE_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "PhVphC",     10, TYPE_INT16,    15,  0, Q_VOLTAGE_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "AphA",        3, TYPE_INT16,     6,  0, Q_CURRENT_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "AphB",        4, TYPE_INT16,     6,  0, Q_CURRENT_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "AphC",        5, TYPE_INT16,     6,  0, Q_CURRENT_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 201, 204, "Hz",         16, TYPE_INT16,    17,  0, Q_FREQUENCY,           READ_INTERVAL, SIGN_AS_IS,     false },
    { 201, 204, "PF",         33, TYPE_INT16,    37, -2, Q_POWER_FACTOR,        READ_INTERVAL, SIGN_AS_IS,     false },
    /* meters, floats */
    { 211, 214, "TotWhImp",   68, TYPE_FLOAT32,   0,  0, Q_ACTIVE_IMPORT,       READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "TotWhExp",   60, TYPE_FLOAT32,   0,  0, Q_ACTIVE_EXPORT,       READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "TotVAhImp",  84, TYPE_FLOAT32,   0,  0, Q_APPARENT_IMPORT,     READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "TotVAhExp",  76, TYPE_FLOAT32,   0,  0, Q_APPARENT_EXPORT,     READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "W",          28, TYPE_FLOAT32,   0,  0, Q_POWER,               READ_POLL,     SIGN_METER,     false },
    { 211, 214, "WphA",       30, TYPE_FLOAT32,   0,  0, Q_POWER_L1,            READ_POLL,     SIGN_METER,     false },
    { 211, 214, "WphB",       32, TYPE_FLOAT32,   0,  0, Q_POWER_L2,            READ_POLL,     SIGN_METER,     false },
    { 211, 214, "WphC",       34, TYPE_FLOAT32,   0,  0, Q_POWER_L3,            READ_POLL,     SIGN_METER,     false },
    { 211, 214, "VAR",        44, TYPE_FLOAT32,   0,  0, Q_REACTIVE_POWER,      READ_INTERVAL, SIGN_METER,     false },
    { 211, 214, "VA",         36, TYPE_FLOAT32,   0,  0, Q_APPARENT_POWER,      READ_INTERVAL, SIGN_AS_IS,     false },
    { 211, 214, "PhVphA",     12, TYPE_FLOAT32,   0,  0, Q_VOLTAGE_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "PhVphB",     14, TYPE_FLOAT32,   0,  0, Q_VOLTAGE_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "PhVphC",     16, TYPE_FLOAT32,   0,  0, Q_VOLTAGE_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "AphA",        4, TYPE_FLOAT32,   0,  0, Q_CURRENT_L1,          READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "AphB",        6, TYPE_FLOAT32,   0,  0, Q_CURRENT_L2,          READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "AphC",        8, TYPE_FLOAT32,   0,  0, Q_CURRENT_L3,          READ_POLL,     SIGN_AS_IS,     false },
    { 211, 214, "Hz",         26, TYPE_FLOAT32,   0,  0, Q_FREQUENCY,           READ_INTERVAL, SIGN_AS_IS,     false },
    { 211, 214, "PF",         52, TYPE_FLOAT32,   0,  0, Q_POWER_FACTOR,        READ_INTERVAL, SIGN_AS_IS,     false },
    /* weather */
    { 302, 302, "POAI",        3, TYPE_UINT16,    0,  0, Q_IRRADIANCE,          READ_POLL,     SIGN_AS_IS,     false },
    { 303, 303, "TmpBOM",      2, TYPE_INT16,     0, -1, Q_MODULE_TEMPERATURE,  READ_INTERVAL, SIGN_AS_IS,     false },
    { 307, 307, "TmpAmb",      2, TYPE_INT16,     0, -1, Q_AMBIENT_TEMPERATURE, READ_INTERVAL, SIGN_AS_IS,     false },
    /* clang-format on */
};

static const struct {
    uint16_t first_model, last_model;
    enum sunspec_kind kind;
} kinds[] = {
    { 1, 1, SUNSPEC_COMMON },         { 101, 103, SUNSPEC_INVERTER },
    { 111, 113, SUNSPEC_INVERTER },   { 701, 701, SUNSPEC_INVERTER },
    { 201, 204, SUNSPEC_METER },      { 211, 214, SUNSPEC_METER },
    { 302, 302, SUNSPEC_IRRADIANCE }, { 303, 303, SUNSPEC_MODULE_TEMPERATURE },
    { 307, 307, SUNSPEC_WEATHER },
};

/* Not-implemented codes and sizes in registers (JSON schema of the models); a
 * float says it with a NaN, a string with a NUL. */
static const struct {
    uint8_t registers;
    bool has_absent;
    uint64_t absent;
} forms[TYPE_COUNT] = {
    [TYPE_INT16] = { 1, true, 0x8000 },      [TYPE_UINT16] = { 1, true, 0xFFFF },
    [TYPE_UINT32] = { 2, true, 0xFFFFFFFF }, [TYPE_UINT64] = { 4, true, UINT64_MAX },
    [TYPE_FLOAT32] = { 2, false, 0 },        [TYPE_STRING] = { 16, false, 0 },
};

const struct sunspec_row *sunspec_rows(size_t *count)
{
    *count = sizeof rows / sizeof rows[0];
    return rows;
}

enum sunspec_kind sunspec_kind_of(int32_t model)
{
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (model >= kinds[i].first_model && model <= kinds[i].last_model) {
            return kinds[i].kind;
        }
    }
    return SUNSPEC_KIND_COUNT;
}

struct point sunspec_point(const struct sunspec_row *row, int32_t address, bool grid_sign_export)
{
    return (struct point){
        .quantity = row->quantity,
        .function = 3,
        .type = row->type,
        .order = ORDER_ABCD,
        .read_class = row->read_class,
        .size = forms[row->type].registers,
        .negate = row->sign == SIGN_GENERATOR || (row->sign == SIGN_METER && grid_sign_export),
        .has_absent = row->zero_is_absent || forms[row->type].has_absent,
        .exponent = row->exponent,
        .multiplier = 1,
        .divisor = 1,
        .address = address + row->offset,
        .scale_address = row->scale_offset != 0 ? address + row->scale_offset : NO_REGISTER,
        .absent = row->zero_is_absent ? 0 : forms[row->type].absent,
    };
}
