/* Where a simulated meter keeps its values, and how they become registers.
 *
 * The encoder is the reverse of what the collector decodes and shares nothing
 * with it but the description of a point. Pure.
 */
#ifndef METERBOOK_PANEL_LAYOUT_H
#define METERBOOK_PANEL_LAYOUT_H

#include <stdbool.h>
#include <stdint.h>

#include "map.h"

enum { LAYOUT_MAX_REGISTERS = 1024, LAYOUT_MAX_SPANS = 64 };

/* Registers from..from+count-1 exist. `at` is where their contents start in `fixed`. */
struct layout_span {
    int function;
    int32_t from, count, at;
};

struct layout {
    struct point points[MAP_MAX_POINTS];
    int32_t point_count;
    struct layout_span spans[LAYOUT_MAX_SPANS];
    int32_t span_count;
    uint16_t fixed[LAYOUT_MAX_REGISTERS]; /* what stands there when no point writes on it */
    int32_t fixed_count;
    int64_t counter_modulus; /* raw value at which a counter rolls over; 0 = the type's own */
    int32_t max_registers;
};

/* What a meter shows at an instant. Thousandths, as in quantity.h. */
struct shown {
    int64_t value[QUANTITY_COUNT];
    bool has[QUANTITY_COUNT];
    char serial[TEXT_SIZE];
    int64_t torn_units; /* > 0: low words are those of a counter this many raw units earlier */
};

/* Makes the layout of a register map. false: too many registers. */
bool layout_from_map(struct layout *layout, const struct register_map *map);

/* Adds existing registers; `words` may be NULL (zeros). Neighbours are joined. false: no room, or they
 * overlap. */
bool layout_add(struct layout *layout, int function, int32_t from, int32_t count, const uint16_t *words);

enum layout_result {
    LAYOUT_OK,
    LAYOUT_HOLE, /* some of the registers do not exist */
    LAYOUT_CUTS, /* the request cuts a value that is wider than a register */
};

/* Registers address..address+count-1 of the function, as the meter shows them. */
enum layout_result layout_read(const struct layout *layout, const struct shown *shown, int function,
                               int32_t address, int32_t count, uint16_t *registers);

/* The raw bits of one point; false: the meter would show its not-implemented code (then in *raw). */
bool layout_encode(const struct layout *layout, const struct point *point, const struct shown *shown,
                   uint64_t *raw);

/* What a counter's register says, in thousandths, rollover and rounding included; -1 if the layout lacks it.
 */
int64_t layout_register_value(const struct layout *layout, const struct shown *shown, enum quantity quantity);

#endif
