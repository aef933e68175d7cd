#include "map_file.h"

#include <string.h>

#include "map_check.h"
#include "setting.h"

const char *const type_words[] = { "int16",   "uint16", "int32", "uint32", "int64",  "uint64", "float32",
                                   "float64", "bcd16",  "bcd32", "bcd64",  "string", NULL };
const char *const order_words[] = { "ABCD", "CDAB", "BADC", "DCBA", NULL };
const char *const read_class_words[] = { "poll", "interval", "start", NULL };

_Static_assert(sizeof type_words / sizeof type_words[0] == TYPE_COUNT + 1, "a word per type");
_Static_assert(sizeof order_words / sizeof order_words[0] == ORDER_COUNT + 1, "a word per order");
_Static_assert(sizeof read_class_words / sizeof read_class_words[0] == READ_CLASS_COUNT + 1,
               "a word per class");

static const char *const clock_words[] = { "utc", "local", NULL };
enum { CLOCK_DOUBT_S = 300 }; /* a clock that nobody has set for years (common practice, no source) */

static const char *const quantity_words[] = {
#define X(symbol, name, unit, kind, obis) name,
    QUANTITY_TABLE(X)
#undef X
        NULL
};

int32_t type_registers(enum point_type type)
{
    static const int32_t registers[TYPE_COUNT] = {
        [TYPE_INT16] = 1, [TYPE_UINT16] = 1, [TYPE_INT32] = 2,   [TYPE_UINT32] = 2,
        [TYPE_INT64] = 4, [TYPE_UINT64] = 4, [TYPE_FLOAT32] = 2, [TYPE_FLOAT64] = 4,
        [TYPE_BCD16] = 1, [TYPE_BCD32] = 2,  [TYPE_BCD64] = 4,
    };
    return registers[type];
}

/* Register numbers as sheets print them: those from 40001 on are holding
 * registers (function 3), those from 30001 on input registers (function 4). */
struct notation {
    int32_t base, function; /* 0: either */
};

static const struct notation notations[] = { { 0, 0 },     { 1, 0 },      { 30001, 4 },
                                             { 40001, 3 }, { 300001, 4 }, { 400001, 3 } };

/* The file's top level. */
struct file_head {
    char name[MAP_NAME_SIZE];
    int32_t base, function, order, max_registers, power_average_s, clock, clock_doubt_s;
    struct setting_bits modulus;
    struct notation notation;
};

#define HEAD(field) SETTING_AT(struct file_head, field)
static const struct setting_rule head_rules[] = {
    { "name", SETTING_TEXT, HEAD(name), .required = true },
    { "base", SETTING_WHOLE, HEAD(base), .least = 0, .most = 400001 },
    { "function", SETTING_WHOLE, HEAD(function), .least = 3, .most = 4, .otherwise = 3 },
    { "order", SETTING_WORD, HEAD(order), .words = order_words },
    { "max_registers", SETTING_WHOLE, HEAD(max_registers), .least = 1, .most = MAP_MAX_REGISTERS,
      .otherwise = MAP_MAX_REGISTERS },
    { "power_average", SETTING_WHOLE, HEAD(power_average_s), .least = 0, .most = 3600 },
    { "clock", SETTING_WORD, HEAD(clock), .words = clock_words },
    { "clock_doubt", SETTING_WHOLE, HEAD(clock_doubt_s), .least = 1, .most = 43200,
      .otherwise = CLOCK_DOUBT_S },
    { "counter_modulus", SETTING_BITS, HEAD(modulus) },
    { "points", SETTING_LIST, .required = true },
    { "readable", SETTING_LIST, .required = false },
};
static const struct setting_table head_table = { "the map", head_rules,
                                                 sizeof head_rules / sizeof head_rules[0] };

/* A point as written; -1 where a key is absent and the top level decides. */
struct file_point {
    int32_t quantity, function, address, type, order, exponent, multiplier, divisor, scale_register,
        read_class, length;
    bool negate;
    struct setting_bits absent;
};

enum { HIGHEST_NUMBER = 465536 }; /* register 65536 in six-digit notation */

#define POINT(field) SETTING_AT(struct file_point, field)
static const struct setting_rule point_rules[] = {
    { "quantity", SETTING_WORD, POINT(quantity), .required = true, .words = quantity_words, .otherwise = -1 },
    { "function", SETTING_WHOLE, POINT(function), .least = 3, .most = 4, .otherwise = -1 },
    { "address", SETTING_WHOLE, POINT(address), .required = true, .most = HIGHEST_NUMBER, .otherwise = -1 },
    { "type", SETTING_WORD, POINT(type), .required = true, .words = type_words, .otherwise = -1 },
    { "order", SETTING_WORD, POINT(order), .words = order_words, .otherwise = -1 },
    { "exponent", SETTING_WHOLE, POINT(exponent), .least = -10, .most = 10 },
    { "multiplier", SETTING_WHOLE, POINT(multiplier), .least = 1, .most = 1000000, .otherwise = 1 },
    { "divisor", SETTING_WHOLE, POINT(divisor), .least = 1, .most = 1000000, .otherwise = 1 },
    { "scale_register", SETTING_WHOLE, POINT(scale_register), .most = HIGHEST_NUMBER, .otherwise = -1 },
    { "negate", SETTING_BOOL, POINT(negate) },
    { "absent", SETTING_BITS, POINT(absent) },
    { "read", SETTING_WORD, POINT(read_class), .words = read_class_words, .otherwise = -1 },
    { "length", SETTING_WHOLE, POINT(length), .least = 1, .most = TEXT_SIZE - 1 },
};
static const struct setting_table point_table = { "a point", point_rules,
                                                  sizeof point_rules / sizeof point_rules[0] };

struct file_range {
    int32_t function, from, to;
};

#define RANGE(field) SETTING_AT(struct file_range, field)
static const struct setting_rule range_rules[] = {
    { "function", SETTING_WHOLE, RANGE(function), .least = 3, .most = 4, .otherwise = -1 },
    { "from", SETTING_WHOLE, RANGE(from), .required = true, .most = HIGHEST_NUMBER, .otherwise = -1 },
    { "to", SETTING_WHOLE, RANGE(to), .required = true, .most = HIGHEST_NUMBER, .otherwise = -1 },
};
static const struct setting_table range_table = { "a readable range", range_rules,
                                                  sizeof range_rules / sizeof range_rules[0] };

static void read_head(struct source *source, const config_setting_t *root, struct file_head *head,
                      struct register_map *map)
{
    setting_read(source, root, &head_table, head);
    size_t i = 0;
    while (i < sizeof notations / sizeof notations[0] && notations[i].base != head->base)
        i++;
    if (i == sizeof notations / sizeof notations[0]) {
        setting_complain(source, root, "base", true,
                         "'base' is %d, allowed: 0, 1, 30001, 40001, 300001 or 400001", (int)head->base);
        i = 0;
    }
    head->notation = notations[i];
    head->base = notations[i].base;
    int32_t function = head->notation.function;
    if (function && config_setting_get_member(root, "function") && head->function != function)
        setting_complain(source, root, "function", true, "'function' is %d, allowed with base %d: %d",
                         (int)head->function, (int)head->base, (int)function);
    if (function)
        head->function = function;
    if (head->modulus.given &&
        (head->modulus.negative || head->modulus.value < 2 || head->modulus.value > INT64_MAX))
        setting_complain(source, root, "counter_modulus", true,
                         "'counter_modulus' is out of range, allowed: from 2 to 9223372036854775807");
    memcpy(map->name, head->name, sizeof map->name);
    map->max_registers = head->max_registers;
    map->clock_is_local = head->clock == 1;
    map->clock_doubt_s = head->clock_doubt_s;
    map->power_average_s = head->power_average_s;
    map->counter_modulus = head->modulus.given ? (int64_t)head->modulus.value : 0;
}

/* A register number as written to a PDU address; NO_REGISTER, complained, where it is none. */
static int32_t to_address(struct source *source, const config_setting_t *group, const char *key,
                          const struct file_head *head, int32_t number)
{
    int32_t address = number - head->base;
    if (address >= 0 && address <= 65535)
        return address;
    setting_complain(source, group, key, true, "'%s' is %d, allowed with base %d: %d to %d", key, (int)number,
                     (int)head->base, (int)head->base, (int)(head->base + 65535));
    return NO_REGISTER;
}

static int32_t function_of(struct source *source, const config_setting_t *group, const struct file_head *head,
                           int32_t function)
{
    if (function > 0 && head->notation.function && function != head->notation.function)
        setting_complain(source, group, "function", true, "'function' is %d, allowed with base %d: %d",
                         (int)function, (int)head->base, (int)head->notation.function);
    return function > 0 ? function : head->function;
}

/* The not-implemented code as the bits of the type's width. */
static void set_absent(struct source *source, const config_setting_t *group, struct point *point,
                       const struct setting_bits *absent)
{
    int32_t bits = point->size * 16;
    point->has_absent = true;
    point->absent = absent->value;
    if (bits >= 64)
        return;
    uint64_t mask = (UINT64_C(1) << bits) - 1;
    int64_t least = -(INT64_C(1) << (bits - 1));
    bool fits = absent->negative ? (int64_t)absent->value >= least : absent->value <= mask;
    if (!fits && !source_scan_refused(source, (int32_t)config_setting_source_line(group)))
        setting_complain(source, group, "absent", true,
                         "'absent' does not fit, allowed for a value of %d bits: up to 0x%llX", (int)bits,
                         (unsigned long long)mask);
    point->absent &= mask;
}

static enum read_class default_class(int32_t quantity)
{
    if (quantity == Q_CLOCK)
        return READ_INTERVAL;
    return quantity_info((enum quantity)quantity)->kind == KIND_TEXT ? READ_START : READ_POLL;
}

static void convert_point(struct source *source, const config_setting_t *group, const struct file_head *head,
                          const struct file_point *in, struct point *out)
{
    *out = (struct point){
        .quantity = (uint8_t)in->quantity,
        .type = (uint8_t)in->type,
        .function = (uint8_t)function_of(source, group, head, in->function),
        .order = (uint8_t)(in->order >= 0 ? in->order : head->order),
        .read_class = (uint8_t)(in->read_class >= 0 ? in->read_class : (int32_t)default_class(in->quantity)),
        .size = (uint8_t)(in->type == TYPE_STRING ? (in->length + 1) / 2
                                                  : type_registers((enum point_type)in->type)),
        .negate = in->negate,
        .exponent = (int8_t)in->exponent,
        .multiplier = in->multiplier,
        .divisor = in->divisor,
        .address = to_address(source, group, "address", head, in->address),
        .scale_address = NO_REGISTER,
    };
    if (in->scale_register >= 0)
        out->scale_address = to_address(source, group, "scale_register", head, in->scale_register);
    if (in->absent.given && in->type != TYPE_STRING)
        set_absent(source, group, out, &in->absent);
}

static void read_points(struct source *source, const config_setting_t *list, const struct file_head *head,
                        struct register_map *map, struct map_places *places)
{
    int length = config_setting_length(list);
    if (length == 0 || length > MAP_MAX_POINTS)
        source_complain(source, (int32_t)config_setting_source_line(list), true,
                        "the map has %d points, allowed: 1 to %d", length, (int)MAP_MAX_POINTS);
    for (int i = 0; i < length && map->point_count < MAP_MAX_POINTS; i++) {
        const config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        struct file_point in;
        setting_read(source, group, &point_table, &in);
        if (in.quantity < 0 || in.type < 0 || in.address < 0)
            continue; /* complained of; it cannot be compared with others */
        struct point *out = &map->points[map->point_count];
        convert_point(source, group, head, &in, out);
        places->point[map->point_count++] = group;
    }
}

static void read_ranges(struct source *source, const config_setting_t *list, const struct file_head *head,
                        struct register_map *map, struct map_places *places)
{
    int length = config_setting_length(list);
    if (length > MAP_MAX_RANGES)
        source_complain(source, (int32_t)config_setting_source_line(list), true,
                        "the map has %d readable ranges, allowed: up to %d", length, (int)MAP_MAX_RANGES);
    for (int i = 0; i < length && map->range_count < MAP_MAX_RANGES; i++) {
        const config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        struct file_range in;
        setting_read(source, group, &range_table, &in);
        if (in.from < 0 || in.to < 0)
            continue;
        struct readable_range *out = &map->ranges[map->range_count];
        out->function = (uint8_t)function_of(source, group, head, in.function);
        out->from = to_address(source, group, "from", head, in.from);
        out->to = to_address(source, group, "to", head, in.to);
        places->range[map->range_count++] = group;
    }
}

static void read_map(struct source *source, const config_t *parsed, struct register_map *map)
{
    const config_setting_t *root = config_root_setting(parsed);
    const config_setting_t *points = config_setting_get_member(root, "points");
    const config_setting_t *ranges = config_setting_get_member(root, "readable");
    struct file_head head;
    struct map_places places = { 0 };
    read_head(source, root, &head, map);
    if (!setting_is_list(points))
        return;
    read_points(source, points, &head, map, &places);
    if (setting_is_list(ranges))
        read_ranges(source, ranges, &head, map, &places);
    map_check(source, map, &places);
}

void map_file_read(struct register_map *map, struct source *source, const char *path)
{
    config_t parsed;
    *map = (struct register_map){ 0 };
    source_read(source, path);
    config_init(&parsed);
    if (source->line_count > 0 && setting_parse(source, &parsed))
        read_map(source, &parsed, map);
    config_destroy(&parsed);
    source_hash(source, map->hash);
}
