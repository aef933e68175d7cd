#include "sunspec.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum {
    FUNCTION = 3,
    HEADER = 2,           /* registers of the marker, and of a model's ID and length */
    MARKER_HIGH = 0x5375, /* "Su" */
    MARKER_LOW = 0x6E53,  /* "nS" */
    END_ID = 0xFFFF,
    FIRST_ID = 1,
    LAST_REGISTER = 65535,
};

void sunspec_start(struct sunspec_walk *walk, int32_t base, int32_t max_registers, bool grid_sign_export,
                   bool prefer_meter)
{
    static const int32_t usual[] = { 40000, 0, 50000 };
    memset(walk, 0, sizeof *walk);
    walk->grid_sign_export = grid_sign_export;
    walk->prefer_meter = prefer_meter;
    if (base == SUNSPEC_TRY_BASES) {
        memcpy(walk->bases, usual, sizeof usual);
        walk->base_count = sizeof usual / sizeof usual[0];
    } else {
        walk->bases[0] = base;
        walk->base_count = 1;
    }
    walk->address = walk->bases[0];
    walk->map.max_registers = max_registers > 0 ? max_registers : MAP_MAX_REGISTERS;
    snprintf(walk->map.name, sizeof walk->map.name, "sunspec");
}

enum sunspec_state sunspec_next(const struct sunspec_walk *walk, struct request *request)
{
    if (walk->state == SUNSPEC_ASKING) {
        *request = (struct request){ .function = FUNCTION,
                                     .read_class = READ_START,
                                     .address = (uint16_t)walk->address,
                                     .count = HEADER };
    }
    return walk->state;
}

__attribute__((format(printf, 2, 3))) static void walk_fail(struct sunspec_walk *walk, const char *format,
                                                            ...)
{
    va_list arguments;
    walk->state = SUNSPEC_FAILED;
    va_start(arguments, format);
    vsnprintf(walk->reason, sizeof walk->reason, format, arguments);
    va_end(arguments);
}

static void take_marker(struct sunspec_walk *walk, const uint16_t *registers)
{
    if (registers != NULL && registers[0] == MARKER_HIGH && registers[1] == MARKER_LOW) {
        walk->marker_found = true;
        walk->address += HEADER;
    } else if (walk->base_index + 1 < walk->base_count) {
        walk->address = walk->bases[++walk->base_index];
    } else if (walk->base_count == 1) {
        walk_fail(walk, "no SunSpec marker at register %d", walk->bases[0]);
    } else {
        walk_fail(walk, "no SunSpec marker at registers 40000, 0 and 50000");
    }
}

/* A point counts where the device has all of it and one request can hold it. */
static bool reachable(const struct sunspec_walk *walk, const struct sunspec_model *model,
                      const struct point *point)
{
    int32_t end = model->address + HEADER + model->length;
    int32_t from = point->address, to = point->address + point->size;
    if (point->scale_address != NO_REGISTER) {
        from = point->scale_address < from ? point->scale_address : from;
        to = point->scale_address >= to ? point->scale_address + 1 : to;
    }
    return to <= end && to - from <= walk->map.max_registers;
}

static void add_model(struct sunspec_walk *walk, const struct sunspec_model *model)
{
    struct register_map *map = &walk->map;
    size_t count;
    const struct sunspec_row *rows = sunspec_rows(&count);
    for (size_t i = 0; i < count && map->point_count < MAP_MAX_POINTS; i++) {
        if (model->id >= rows[i].first_model && model->id <= rows[i].last_model) {
            struct point point = sunspec_point(&rows[i], model->address, walk->grid_sign_export);
            if (reachable(walk, model, &point)) {
                map->points[map->point_count++] = point;
            }
        }
    }
    map->ranges[map->range_count++] = (struct readable_range){
        .function = FUNCTION, .from = model->address, .to = model->address + HEADER + model->length - 1
    };
}

/* Of inverter and meter only one: both would claim the same quantities. */
static bool wanted(const struct sunspec_walk *walk, enum sunspec_kind kind)
{
    enum sunspec_kind other = walk->prefer_meter ? SUNSPEC_METER : SUNSPEC_INVERTER;
    bool either = kind == SUNSPEC_INVERTER || kind == SUNSPEC_METER;
    return walk->found[kind].id != 0 && (!either || kind == other || walk->found[other].id == 0);
}

static bool measures(const struct sunspec_walk *walk)
{
    for (int kind = SUNSPEC_COMMON + 1; kind < SUNSPEC_KIND_COUNT; kind++) {
        if (walk->found[kind].id != 0) {
            return true;
        }
    }
    return false;
}

static void chain_end(struct sunspec_walk *walk)
{
    for (int kind = 0; kind < SUNSPEC_KIND_COUNT; kind++) {
        if (wanted(walk, kind)) {
            add_model(walk, &walk->found[kind]);
        }
    }
    for (int32_t i = 0; i < walk->map.point_count; i++) {
        if (walk->map.points[i].quantity != Q_SERIAL_NUMBER) {
            walk->state = SUNSPEC_DONE;
            return;
        }
    }
    walk_fail(walk, "none of the %d SunSpec models is one that is read here", walk->model_count);
}

/* A chain without an end marker is as good as one with it if it led somewhere. */
static bool chain_end_anyway(struct sunspec_walk *walk)
{
    bool useful = measures(walk);
    if (useful) {
        chain_end(walk);
    }
    return useful;
}

static void take_header(struct sunspec_walk *walk, const uint16_t *registers)
{
    struct sunspec_model model = { .id = registers[0], .address = walk->address, .length = registers[1] };
    int32_t next = walk->address + HEADER + model.length;
    if (walk->model_count == 0 && model.id != FIRST_ID) {
        walk_fail(walk, "the SunSpec chain begins with model %d, not with model 1", model.id);
        return;
    }
    if (model.id == END_ID) {
        chain_end(walk);
        return;
    }
    if (model.id == 0 || next > LAST_REGISTER - HEADER + 1) {
        if (!chain_end_anyway(walk)) {
            walk_fail(walk, "no SunSpec model can be at register %d, the chain has no end", model.address);
        }
        return;
    }
    if (walk->model_count == SUNSPEC_MAX_MODELS) {
        if (!chain_end_anyway(walk)) {
            walk_fail(walk, "more than %d SunSpec models, the chain has no end", SUNSPEC_MAX_MODELS);
        }
        return;
    }
    enum sunspec_kind kind = sunspec_kind_of(model.id);
    if (kind < SUNSPEC_KIND_COUNT && walk->found[kind].id == 0) {
        walk->found[kind] = model;
    }
    walk->address = next;
    walk->model_count++;
}

void sunspec_take(struct sunspec_walk *walk, const uint16_t *registers)
{
    if (walk->state != SUNSPEC_ASKING) {
        return;
    }
    if (!walk->marker_found) {
        take_marker(walk, registers);
    } else if (registers == NULL) {
        walk_fail(walk, "no answer in the SunSpec chain at register %d", walk->address);
    } else {
        take_header(walk, registers);
    }
}
