#include "models.h"

#include <string.h>

/* One point of a model: where, how, what. */
struct row {
    int16_t offset; /* from the model's ID register */
    uint8_t type, quantity;
    int8_t exponent;
    int16_t scale; /* offset of its scale register, 0 = none */
    int8_t sign;   /* -1: the model counts the other way round than the site; 2: as the scenario says */
};

/* A fixed register: a scale factor, a state. */
struct constant {
    int16_t offset, value;
};

enum { POWER_SCALE = 100 }; /* instead of a value: the scale that the scenario's powers need */

struct model {
    int first_id, last_id;
    /* registers after the length, by what they show when not implemented: s 0x8000, u 0xFFFF, z 0,
     * f a float (2), l an unsigned long (2), q a longer one (4); a number before a letter repeats it */
    const char *pattern;
    const struct row *rows;
    const struct constant *constants; /* ended by offset 0 */
    int row_count;
};

/* clang-format off */
static const struct row inverter_rows[] = {
    { 3, TYPE_UINT16, Q_CURRENT_L1, 0, 6, -1 },      { 4, TYPE_UINT16, Q_CURRENT_L2, 0, 6, -1 },
    { 5, TYPE_UINT16, Q_CURRENT_L3, 0, 6, -1 },      { 10, TYPE_UINT16, Q_VOLTAGE_L1, 0, 13, 1 },
    { 11, TYPE_UINT16, Q_VOLTAGE_L2, 0, 13, 1 },     { 12, TYPE_UINT16, Q_VOLTAGE_L3, 0, 13, 1 },
    { 14, TYPE_INT16, Q_POWER, 0, 15, -1 },          { 16, TYPE_UINT16, Q_FREQUENCY, 0, 17, 1 },
    { 18, TYPE_INT16, Q_APPARENT_POWER, 0, 19, 1 },  { 20, TYPE_INT16, Q_REACTIVE_POWER, 0, 21, -1 },
    { 22, TYPE_INT16, Q_POWER_FACTOR, -2, 23, 1 },   { 24, TYPE_UINT32, Q_ACTIVE_EXPORT, 0, 26, 1 },
    { 29, TYPE_UINT16, Q_DC_VOLTAGE, 0, 30, 1 },     { 31, TYPE_INT16, Q_DC_POWER, 0, 32, 1 },
    { 33, TYPE_INT16, Q_TEMPERATURE, 0, 37, 1 },
};
static const struct constant inverter_constants[] = {
    { 6, -2 }, { 13, -1 }, { 15, POWER_SCALE }, { 17, -2 }, { 19, POWER_SCALE }, { 21, POWER_SCALE }, { 23, -1 },
    { 26, 0 }, { 30, -1 }, { 32, POWER_SCALE }, { 37, -1 }, { 38, 4 }, { 0, 0 },
};

static const struct row inverter_float_rows[] = {
    { 4, TYPE_FLOAT32, Q_CURRENT_L1, 0, 0, -1 },     { 6, TYPE_FLOAT32, Q_CURRENT_L2, 0, 0, -1 },
    { 8, TYPE_FLOAT32, Q_CURRENT_L3, 0, 0, -1 },     { 16, TYPE_FLOAT32, Q_VOLTAGE_L1, 0, 0, 1 },
    { 18, TYPE_FLOAT32, Q_VOLTAGE_L2, 0, 0, 1 },     { 20, TYPE_FLOAT32, Q_VOLTAGE_L3, 0, 0, 1 },
    { 22, TYPE_FLOAT32, Q_POWER, 0, 0, -1 },         { 24, TYPE_FLOAT32, Q_FREQUENCY, 0, 0, 1 },
    { 26, TYPE_FLOAT32, Q_APPARENT_POWER, 0, 0, 1 }, { 28, TYPE_FLOAT32, Q_REACTIVE_POWER, 0, 0, -1 },
    { 30, TYPE_FLOAT32, Q_POWER_FACTOR, -2, 0, 1 },  { 32, TYPE_FLOAT32, Q_ACTIVE_EXPORT, 0, 0, 1 },
    { 36, TYPE_FLOAT32, Q_DC_VOLTAGE, 0, 0, 1 },     { 38, TYPE_FLOAT32, Q_DC_POWER, 0, 0, 1 },
    { 40, TYPE_FLOAT32, Q_TEMPERATURE, 0, 0, 1 },
};
static const struct constant inverter_float_constants[] = { { 48, 4 }, { 0, 0 } };

static const struct row meter_rows[] = {
    { 3, TYPE_INT16, Q_CURRENT_L1, 0, 6, 2 },         { 4, TYPE_INT16, Q_CURRENT_L2, 0, 6, 2 },
    { 5, TYPE_INT16, Q_CURRENT_L3, 0, 6, 2 },         { 8, TYPE_INT16, Q_VOLTAGE_L1, 0, 15, 1 },
    { 9, TYPE_INT16, Q_VOLTAGE_L2, 0, 15, 1 },        { 10, TYPE_INT16, Q_VOLTAGE_L3, 0, 15, 1 },
    { 16, TYPE_INT16, Q_FREQUENCY, 0, 17, 1 },        { 18, TYPE_INT16, Q_POWER, 0, 22, 2 },
    { 19, TYPE_INT16, Q_POWER_L1, 0, 22, 2 },         { 20, TYPE_INT16, Q_POWER_L2, 0, 22, 2 },
    { 21, TYPE_INT16, Q_POWER_L3, 0, 22, 2 },         { 23, TYPE_INT16, Q_APPARENT_POWER, 0, 27, 1 },
    { 28, TYPE_INT16, Q_REACTIVE_POWER, 0, 32, 2 },   { 33, TYPE_INT16, Q_POWER_FACTOR, -2, 37, 1 },
    { 38, TYPE_UINT32, Q_ACTIVE_EXPORT, 0, 54, 1 },   { 46, TYPE_UINT32, Q_ACTIVE_IMPORT, 0, 54, 1 },
    { 55, TYPE_UINT32, Q_APPARENT_EXPORT, 0, 71, 1 }, { 63, TYPE_UINT32, Q_APPARENT_IMPORT, 0, 71, 1 },
    { 72, TYPE_UINT32, Q_REACTIVE_IMPORT, 0, 104, 1 },{ 96, TYPE_UINT32, Q_REACTIVE_EXPORT, 0, 104, 1 },
};
static const struct constant meter_constants[] = {
    { 6, -2 },  { 15, -1 }, { 17, -2 }, { 22, POWER_SCALE }, { 27, POWER_SCALE }, { 32, POWER_SCALE },
    { 37, -1 }, { 54, 0 },  { 71, 0 },  { 104, 0 },          { 0, 0 },
};

static const struct row meter_float_rows[] = {
    { 4, TYPE_FLOAT32, Q_CURRENT_L1, 0, 0, 2 },        { 6, TYPE_FLOAT32, Q_CURRENT_L2, 0, 0, 2 },
    { 8, TYPE_FLOAT32, Q_CURRENT_L3, 0, 0, 2 },        { 12, TYPE_FLOAT32, Q_VOLTAGE_L1, 0, 0, 1 },
    { 14, TYPE_FLOAT32, Q_VOLTAGE_L2, 0, 0, 1 },       { 16, TYPE_FLOAT32, Q_VOLTAGE_L3, 0, 0, 1 },
    { 26, TYPE_FLOAT32, Q_FREQUENCY, 0, 0, 1 },        { 28, TYPE_FLOAT32, Q_POWER, 0, 0, 2 },
    { 30, TYPE_FLOAT32, Q_POWER_L1, 0, 0, 2 },         { 32, TYPE_FLOAT32, Q_POWER_L2, 0, 0, 2 },
    { 34, TYPE_FLOAT32, Q_POWER_L3, 0, 0, 2 },         { 36, TYPE_FLOAT32, Q_APPARENT_POWER, 0, 0, 1 },
    { 44, TYPE_FLOAT32, Q_REACTIVE_POWER, 0, 0, 2 },   { 52, TYPE_FLOAT32, Q_POWER_FACTOR, 0, 0, 1 },
    { 60, TYPE_FLOAT32, Q_ACTIVE_EXPORT, 0, 0, 1 },    { 68, TYPE_FLOAT32, Q_ACTIVE_IMPORT, 0, 0, 1 },
    { 76, TYPE_FLOAT32, Q_APPARENT_EXPORT, 0, 0, 1 },  { 84, TYPE_FLOAT32, Q_APPARENT_IMPORT, 0, 0, 1 },
    { 92, TYPE_FLOAT32, Q_REACTIVE_IMPORT, 0, 0, 1 },  { 116, TYPE_FLOAT32, Q_REACTIVE_EXPORT, 0, 0, 1 },
};
static const struct constant no_constants[] = { { 0, 0 } };

static const struct row resource_rows[] = {
    { 10, TYPE_INT16, Q_POWER, 0, 116, -1 },           { 11, TYPE_INT16, Q_APPARENT_POWER, 0, 118, 1 },
    { 12, TYPE_INT16, Q_REACTIVE_POWER, 0, 119, -1 },  { 13, TYPE_INT16, Q_POWER_FACTOR, 0, 117, 1 },
    { 17, TYPE_UINT32, Q_FREQUENCY, 0, 115, 1 },       { 19, TYPE_UINT64, Q_ACTIVE_EXPORT, 0, 120, 1 },
    { 23, TYPE_UINT64, Q_ACTIVE_IMPORT, 0, 120, 1 },   { 27, TYPE_UINT64, Q_REACTIVE_EXPORT, 0, 121, 1 },
    { 31, TYPE_UINT64, Q_REACTIVE_IMPORT, 0, 121, 1 }, { 36, TYPE_INT16, Q_TEMPERATURE, 0, 122, 1 },
    { 41, TYPE_INT16, Q_POWER_L1, 0, 116, -1 },        { 45, TYPE_INT16, Q_CURRENT_L1, 0, 113, -1 },
    { 47, TYPE_UINT16, Q_VOLTAGE_L1, 0, 114, 1 },      { 64, TYPE_INT16, Q_POWER_L2, 0, 116, -1 },
    { 68, TYPE_INT16, Q_CURRENT_L2, 0, 113, -1 },      { 70, TYPE_UINT16, Q_VOLTAGE_L2, 0, 114, 1 },
    { 87, TYPE_INT16, Q_POWER_L3, 0, 116, -1 },        { 91, TYPE_INT16, Q_CURRENT_L3, 0, 113, -1 },
    { 93, TYPE_UINT16, Q_VOLTAGE_L3, 0, 114, 1 },
};
static const struct constant resource_constants[] = {
    { 2, 0 },    { 3, 1 },    { 4, 3 },  { 5, 1 },  { 113, -2 }, { 114, -1 }, { 115, -2 }, { 116, POWER_SCALE },
    { 117, -3 }, { 118, POWER_SCALE },   { 119, POWER_SCALE },   { 120, 0 },  { 121, 0 },  { 122, -1 },
    { 0, 0 },
};

static const struct row irradiance_rows[] = { { 2, TYPE_UINT16, Q_IRRADIANCE, 0, 0, 1 } };
static const struct row module_rows[] = { { 2, TYPE_INT16, Q_MODULE_TEMPERATURE, -1, 0, 1 } };
static const struct row weather_rows[] = { { 2, TYPE_INT16, Q_AMBIENT_TEMPERATURE, -1, 0, 1 } };
/* clang-format on */

#define MODEL(first, last, pattern, table, constants)                                                        \
    {                                                                                                        \
        first, last, pattern, table, constants, sizeof(table) / sizeof *(table)                              \
    }

static const struct model models[] = {
    MODEL(101, 103, "4us 6us ss us ss ss ss zzs us us ss 4ss 2u 4z 4l", inverter_rows, inverter_constants),
    MODEL(111, 113, "23f 2u 4z 4l", inverter_float_rows, inverter_float_constants),
    MODEL(201, 204, "4ss 8ss ss 4ss 4ss 4ss 4ss 16zs 16zs 32zs 2z", meter_rows, meter_constants),
    MODEL(211, 214, "61f 2z", meter_float_rows, no_constants),
    MODEL(302, 302, "5u", irradiance_rows, no_constants),
    MODEL(303, 303, "1s", module_rows, no_constants),
    MODEL(307, 307, "11s", weather_rows, no_constants),
    MODEL(701, 701, "4u 2z l 5s 2u l 4q 6s 5s 2u 4q 5s 2u 4q 5s 2u 4q u l 10s 32z", resource_rows,
          resource_constants),
};
static const char unknown_pattern[] = "8z";

/* The registers of a pattern; returns how many. */
static int32_t unroll(const char *pattern, uint16_t *words)
{
    static const struct {
        char letter;
        int size;
        uint16_t first, rest;
    } letters[] = { { 's', 1, 0x8000, 0 }, { 'u', 1, 0xFFFF, 0 },      { 'z', 1, 0, 0 },
                    { 'f', 2, 0x7FC0, 0 }, { 'l', 2, 0xFFFF, 0xFFFF }, { 'q', 4, 0xFFFF, 0xFFFF } };
    int32_t count = 0;
    while (*pattern != '\0') {
        int repeat = 0;
        while (*pattern >= '0' && *pattern <= '9')
            repeat = repeat * 10 + *pattern++ - '0';
        for (size_t i = 0; i < sizeof letters / sizeof *letters; i++)
            for (int n = 0; letters[i].letter == *pattern && n < (repeat > 0 ? repeat : 1); n++)
                for (int k = 0; k < letters[i].size; k++)
                    words[count++] = k == 0 ? letters[i].first : letters[i].rest;
        pattern++;
    }
    return count;
}

static int type_size(int type)
{
    return type == TYPE_UINT64 ? 4 : type == TYPE_FLOAT32 || type == TYPE_UINT32 ? 2 : 1;
}

static uint64_t not_implemented(int type, enum quantity quantity)
{
    if ((int)quantity < COUNTER_COUNT && type == TYPE_UINT32)
        return 0;
    return type == TYPE_INT16     ? 0x8000
           : type == TYPE_UINT16  ? 0xFFFF
           : type == TYPE_UINT32  ? 0xFFFFFFFFu
           : type == TYPE_FLOAT32 ? 0x7FC00000u
                                  : UINT64_MAX;
}

static bool add_point(struct layout *layout, const struct row *row, int32_t model_at, bool positive_is_export)
{
    if (layout->point_count == MAP_MAX_POINTS)
        return false;
    layout->points[layout->point_count++] = (struct point){
        .quantity = row->quantity,
        .function = 3,
        .type = row->type,
        .order = ORDER_ABCD,
        .size = (uint8_t)type_size(row->type),
        .negate = row->sign == -1 || (row->sign == 2 && positive_is_export),
        .has_absent = true,
        .absent = not_implemented(row->type, row->quantity),
        .exponent = row->exponent,
        .multiplier = 1,
        .divisor = 1,
        .address = model_at + row->offset,
        .scale_address = row->scale > 0 ? model_at + row->scale : NO_REGISTER,
    };
    return true;
}

static bool add_model(struct layout *layout, const struct models_choice *choice, int32_t id, int32_t *at)
{
    uint16_t words[2 + 160] = { (uint16_t)id };
    const struct model *model = NULL;
    for (size_t i = 0; i < sizeof models / sizeof *models; i++)
        if (id >= models[i].first_id && id <= models[i].last_id)
            model = &models[i];
    int32_t length = unroll(model != NULL ? model->pattern : unknown_pattern, words + 2);
    words[1] = (uint16_t)length;
    for (const struct constant *c = model != NULL ? model->constants : no_constants; c->offset != 0; c++)
        words[c->offset] = (uint16_t)(c->value == POWER_SCALE ? choice->power_exponent : c->value);
    if (!layout_add(layout, 3, *at, 2 + length, words))
        return false;
    for (int i = 0; model != NULL && i < model->row_count; i++)
        if (!add_point(layout, &model->rows[i], *at, choice->positive_is_export))
            return false;
    *at += 2 + length;
    return true;
}

static void write_text(uint16_t *words, const char *text)
{
    for (size_t i = 0; text[i] != '\0'; i++)
        words[i / 2] |= (uint16_t)((unsigned char)text[i] << (i % 2 == 0 ? 8 : 0));
}

static bool add_common(struct layout *layout, const struct models_choice *choice, int32_t *at)
{
    uint16_t words[2 + 68] = { 0x5375, 0x6E53, 1, (uint16_t)choice->common_length };
    int32_t model_at = *at + 2, count = 4 + (int32_t)choice->common_length;
    write_text(words + 2 + 2, "invented");
    write_text(words + 2 + 18, "simulated meter");
    write_text(words + 2 + 42, METERBOOK_VERSION);
    words[2 + 66] = (uint16_t)choice->unit_id;
    words[2 + 67] = 0x8000;
    if (!layout_add(layout, 3, *at, count, words))
        return false;
    layout->points[layout->point_count++] = (struct point){
        .quantity = Q_SERIAL_NUMBER,
        .function = 3,
        .type = TYPE_STRING,
        .size = 16,
        .read_class = READ_START,
        .multiplier = 1,
        .divisor = 1,
        .address = model_at + 50,
        .scale_address = NO_REGISTER,
    };
    *at += count;
    return true;
}

bool models_layout(struct layout *layout, const struct models_choice *choice)
{
    static const uint16_t end[2] = { 0xFFFF, 0 };
    int32_t at = (int32_t)choice->base;

    memset(layout, 0, sizeof *layout);
    layout->max_registers = MAP_MAX_REGISTERS;
    if (!add_common(layout, choice, &at))
        return false;
    for (int i = 0; i < choice->count; i++)
        if (choice->id[i] != 1 && !add_model(layout, choice, choice->id[i], &at))
            return false;
    return layout_add(layout, 3, at, 2, end);
}
