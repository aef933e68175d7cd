/* The poll plan: which requests read a map's points.
 *
 * Pure. The fewest and cheapest requests in line time, never across a hole
 * (only inside a range that the map declares readable), never cutting a value
 * and never parting a value from its scale register. Requests of one meter get
 * pairwise different register counts where readable ranges allow it, so that a
 * stale reply fails the length check. */
#ifndef METERBOOK_PLAN_H
#define METERBOOK_PLAN_H

#include <stdint.h>

#include "config.h"
#include "map.h"

enum { PLAN_MAX_REQUESTS = 48 };

struct request {
    uint8_t function;     /* 3 or 4: nothing else can leave this program */
    uint8_t read_class;   /* enum read_class */
    uint16_t address;     /* PDU address */
    uint16_t count;       /* registers, 1..125 */
    uint16_t first_point; /* points[first_point .. first_point + point_count) lie in it */
    uint16_t point_count;
};

/* points: sorted by request, then address; counters with the map's modulus. */
struct plan {
    int32_t point_count, request_count;
    uint32_t edition; /* another one in the same place has another number */
    struct point points[MAP_MAX_POINTS];
    struct request requests[PLAN_MAX_REQUESTS];
};

/* What a request costs on the bus, for choosing and for `-n`. */
struct line_cost {
    int64_t request_us;  /* fixed part: both frames' overhead, silences, turnaround */
    int64_t register_us; /* per register read */
};

/* Cost of a bus of this configuration: 11 bits a character, t3.5 before and
 * after (MODBUS over Serial Line V1.02, 2.5.1), turnaround as given; a gap of
 * the bus counts where it is longer. TCP, and RTU over TCP without a baud rate:
 * 1 per request, nothing per register. */
struct line_cost line_cost_of(const struct config_bus *bus, int64_t turnaround_us);

/* Builds the plan. max_registers limits each request (1..125). Returns 0, or
 * -1 when the points need more than PLAN_MAX_REQUESTS requests or a value is
 * (with its scale register) is wider than max_registers. */
int plan_make(struct plan *plan, const struct register_map *map, int32_t max_registers,
              struct line_cost cost);

/* Line time of one cycle of a read class and all faster ones, in us. */
int64_t plan_cost(const struct plan *plan, struct line_cost cost, enum read_class class);

#endif
