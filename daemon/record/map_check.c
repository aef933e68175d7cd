#include "map_check.h"

static const char *name_of(const struct point *point)
{
    return quantity_info((enum quantity)point->quantity)->name;
}

/* First and last register of a point together with its scale register. */
static void span_of(const struct point *point, int32_t *from, int32_t *to)
{
    *from = point->address;
    *to = point->address + point->size - 1;
    if (point->scale_address == NO_REGISTER)
        return;
    if (point->scale_address < *from)
        *from = point->scale_address;
    if (point->scale_address > *to)
        *to = point->scale_address;
}

static bool overlap(int32_t from1, int32_t to1, int32_t from2, int32_t to2)
{
    return from1 <= to2 && from2 <= to1;
}

static bool is_readable(const struct register_map *map, int32_t function, int32_t from, int32_t to)
{
    for (int32_t i = 0; i < map->range_count; i++) {
        const struct readable_range *range = &map->ranges[i];
        if (range->function == function && range->from <= from && to <= range->to)
            return true;
    }
    return false;
}

/* A type fits what the quantity is. */
static void check_type(struct source *source, const struct point *point, const config_setting_t *place)
{
    bool text = quantity_info((enum quantity)point->quantity)->kind == KIND_TEXT;
    bool is_float = point->type == TYPE_FLOAT32 || point->type == TYPE_FLOAT64;
    if (!text && point->type == TYPE_STRING)
        setting_complain(source, place, "type", true, "'%s' cannot be a string, allowed: a type of number",
                         name_of(point));
    if (text && is_float)
        setting_complain(source, place, "type", true,
                         "'%s' cannot be a float, allowed: \"string\" or a whole number", name_of(point));
    if (point->quantity == Q_CLOCK && (point->size < 2 || point->type == TYPE_FLOAT32))
        setting_complain(
            source, place, "type", true,
            "'clock' counts seconds since 1970, allowed: a type of 32 or 64 bits but \"float32\"");
    if (point->type == TYPE_STRING && point->size == 0)
        setting_complain(source, place, NULL, true,
                         "'length' is missing in a point of type \"string\", allowed: "
                         "a whole number of characters from 1 to %d",
                         TEXT_SIZE - 1);
    if (point->type != TYPE_STRING && config_setting_get_member(place, "length"))
        setting_complain(source, place, "length", true,
                         "'length' does not belong here, it is for 'type' \"string\"");
    if (text && point->read_class != READ_START)
        setting_complain(source, place, "read", true, "'%s' is read once, allowed: \"start\"",
                         name_of(point));
    if (!text && point->read_class == READ_START)
        setting_complain(source, place, "read", true, "'%s' changes, allowed: \"poll\" or \"interval\"",
                         name_of(point));
}

static void check_span(struct source *source, const struct register_map *map, const struct point *point,
                       const config_setting_t *place)
{
    int32_t from, to;
    if (point->address == NO_REGISTER)
        return;
    span_of(point, &from, &to);
    if (point->address + point->size - 1 > 65535)
        setting_complain(source, place, "address", true, "'%s' ends beyond register 65535", name_of(point));
    if (to - from + 1 > map->max_registers)
        setting_complain(source, place, NULL, true,
                         "'%s' needs %d registers in one request, allowed by max_registers: up to %d",
                         name_of(point), (int)(to - from + 1), (int)map->max_registers);
    if (point->scale_address == NO_REGISTER)
        return;
    if (overlap(point->address, point->address + point->size - 1, point->scale_address, point->scale_address))
        setting_complain(source, place, "scale_register", true,
                         "'scale_register' lies inside the value of '%s'", name_of(point));
    else if (to - from > point->size && !is_readable(map, point->function, from, to))
        setting_complain(
            source, place, "scale_register", true,
            "'scale_register' is not beside the value of '%s', allowed: inside one readable range with it",
            name_of(point));
}

static void check_pair(struct source *source, const struct register_map *map, const struct map_places *places,
                       int32_t i, int32_t j)
{
    const struct point *a = &map->points[i], *b = &map->points[j];
    if (a->quantity == b->quantity)
        setting_complain(source, places->point[j], "quantity", true,
                         "'%s' is in this map already, allowed: each quantity once", name_of(b));
    if (a->address == NO_REGISTER || b->address == NO_REGISTER || a->function != b->function)
        return;
    if (overlap(a->address, a->address + a->size - 1, b->address, b->address + b->size - 1))
        setting_complain(source, places->point[j], "address", true,
                         "the registers of '%s' overlap those of '%s', allowed: each register in one value",
                         name_of(b), name_of(a));
}

static void check_range(struct source *source, const struct register_map *map,
                        const struct map_places *places, int32_t i)
{
    const struct readable_range *range = &map->ranges[i];
    if (range->from == NO_REGISTER || range->to == NO_REGISTER)
        return;
    if (range->from > range->to)
        setting_complain(source, places->range[i], "to", true,
                         "'to' lies before 'from', allowed: 'from' or more");
    for (int32_t j = 0; j < i; j++) {
        const struct readable_range *other = &map->ranges[j];
        if (other->function == range->function && overlap(other->from, other->to, range->from, range->to))
            setting_complain(source, places->range[i], NULL, true,
                             "this readable range overlaps another, allowed: ranges apart from one another");
    }
}

void map_check(struct source *source, const struct register_map *map, const struct map_places *places)
{
    for (int32_t i = 0; i < map->point_count; i++) {
        check_type(source, &map->points[i], places->point[i]);
        check_span(source, map, &map->points[i], places->point[i]);
        for (int32_t j = 0; j < i; j++)
            check_pair(source, map, places, j, i);
    }
    for (int32_t i = 0; i < map->range_count; i++)
        check_range(source, map, places, i);
}
