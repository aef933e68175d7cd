#include "plan.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* The registers that one point needs in one request: its value and its scale
 * register. What lies between them is read too, so the map answers for it. */
struct span {
    int32_t from, to;
    uint8_t function, read_class;
    uint16_t point; /* in the map */
};

/* Less is better, in this order: on a serial line the time decides, over TCP
 * (where a register costs nothing) the number of requests. */
struct price {
    int64_t us;
    int32_t requests, registers;
};

struct work {
    const struct register_map *map;
    int32_t max_registers;
    struct line_cost cost;
    struct span spans[MAP_MAX_POINTS];  /* sorted by class, function, address */
    int16_t request_of[MAP_MAX_POINTS]; /* by span; -1 = not planned yet */
    struct plan *plan;
};

struct line_cost line_cost_of(const struct config_bus *bus, int64_t turnaround_us)
{
    enum {
        BITS = 11,
        REQUEST_BYTES = 8,
        REPLY_OVERHEAD_BYTES = 5,
        FIXED_SILENCE_US = 1750,
        FIXED_ABOVE_BAUD = 19200
    };
    const int64_t second = 1000000;
    if (bus->kind == BUS_TCP || bus->baud <= 0) {
        return (struct line_cost){ .request_us = 1 };
    }
    int64_t silence =
        bus->baud > FIXED_ABOVE_BAUD ? FIXED_SILENCE_US : (7 * BITS * second / 2 + bus->baud - 1) / bus->baud;
    int64_t before = bus->gap_us > silence ? bus->gap_us : silence;
    int64_t overhead = (REQUEST_BYTES + REPLY_OVERHEAD_BYTES) * BITS * second / bus->baud;
    return (struct line_cost){ .request_us = overhead + before + silence + turnaround_us,
                               .register_us = (2 * BITS * second + bus->baud / 2) / bus->baud };
}

int64_t plan_cost(const struct plan *plan, struct line_cost cost, enum read_class class)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < plan->request_count; i++) {
        if (plan->requests[i].read_class <= class) {
            sum += cost.request_us + cost.register_us * plan->requests[i].count;
        }
    }
    return sum;
}

static int32_t last_register(const struct point *point)
{
    return point->address + point->size - 1;
}

static int by_class_and_address(const void *left, const void *right)
{
    const struct span *a = left, *b = right;
    if (a->read_class != b->read_class) {
        return a->read_class < b->read_class ? -1 : 1;
    }
    if (a->function != b->function) {
        return a->function < b->function ? -1 : 1;
    }
    if (a->from != b->from) {
        return a->from < b->from ? -1 : 1;
    }
    return (a->to > b->to) - (a->to < b->to);
}

/* False when a point does not fit into a request. */
static bool collect_spans(struct work *work)
{
    const struct register_map *map = work->map;
    for (int32_t i = 0; i < map->point_count; i++) {
        const struct point *point = &map->points[i];
        struct span span = { point->address, last_register(point), point->function, point->read_class,
                             (uint16_t)i };
        if (point->scale_address != NO_REGISTER) {
            span.from = point->scale_address < span.from ? point->scale_address : span.from;
            span.to = point->scale_address > span.to ? point->scale_address : span.to;
        }
        if (span.to - span.from + 1 > work->max_registers) {
            return false;
        }
        work->spans[i] = span;
        work->request_of[i] = -1;
    }
    qsort(work->spans, (size_t)map->point_count, sizeof work->spans[0], by_class_and_address);
    return true;
}

/* May a request read from..to although the points that it is for do not need
 * them? Inside one declared range, or where the map has points of other classes
 * all the way. */
static bool bridgeable(const struct work *work, uint8_t function, int32_t from, int32_t to)
{
    const struct register_map *map = work->map;
    for (int32_t i = 0; i < map->range_count; i++) {
        const struct readable_range *range = &map->ranges[i];
        if (range->function == function && range->from <= from && to <= range->to) {
            return true;
        }
    }
    for (int32_t at = from; at <= to;) {
        int32_t next = at;
        for (int32_t i = 0; i < map->point_count; i++) {
            const struct span *span = &work->spans[i];
            if (span->function == function && span->from <= at && span->to >= next) {
                next = span->to + 1;
            }
        }
        if (next == at) {
            return false;
        }
        at = next;
    }
    return true;
}

/* Slower points that lie inside a request of a faster class are read with it:
 * that costs nothing. Nothing is ever added to a faster request for a slower
 * point, so a poll is as short as its own points allow. */
static void ride_along(struct work *work, int32_t first, int32_t end)
{
    for (int32_t i = first; i < end; i++) {
        const struct span *span = &work->spans[i];
        for (int16_t r = 0; r < work->plan->request_count && work->request_of[i] < 0; r++) {
            const struct request *request = &work->plan->requests[r];
            if (request->function == span->function && request->address <= span->from &&
                span->to < request->address + request->count) {
                work->request_of[i] = r;
            }
        }
    }
}

static bool price_less(struct price a, struct price b)
{
    if (a.us != b.us) {
        return a.us < b.us;
    }
    return a.requests != b.requests ? a.requests < b.requests : a.registers < b.registers;
}

static bool add_request(struct plan *plan, const struct span *first, int32_t count)
{
    if (plan->request_count == PLAN_MAX_REQUESTS) {
        return false;
    }
    plan->requests[plan->request_count++] = (struct request){
        .function = first->function,
        .read_class = first->read_class,
        .address = (uint16_t)first->from,
        .count = (uint16_t)count,
    };
    return true;
}

/* Covers the spans listed in `todo` (one class, one function, by address) at
 * the least price. Requests are runs of that list: of two overlapping ones the
 * second can take every span that starts inside it, so no better cover exists.
 * best[i] is the price of the spans from i on. */
static bool cover(struct work *work, const int32_t *todo, int32_t count)
{
    struct price best[MAP_MAX_POINTS + 1];
    int32_t end_of[MAP_MAX_POINTS], width_of[MAP_MAX_POINTS];
    best[count] = (struct price){ 0 };
    for (int32_t i = count - 1; i >= 0; i--) {
        int32_t from = work->spans[todo[i]].from, to = from - 1;
        for (int32_t j = i; j < count; j++) {
            const struct span *span = &work->spans[todo[j]];
            if (span->from > to + 1 && !bridgeable(work, span->function, to + 1, span->from - 1)) {
                break;
            }
            to = span->to > to ? span->to : to;
            int32_t width = to - from + 1;
            if (width > work->max_registers) {
                break;
            }
            struct price price = { best[j + 1].us + work->cost.request_us + work->cost.register_us * width,
                                   best[j + 1].requests + 1, best[j + 1].registers + width };
            if (j == i || price_less(price, best[i])) {
                best[i] = price;
                end_of[i] = j + 1;
                width_of[i] = width;
            }
        }
    }
    for (int32_t i = 0; i < count; i = end_of[i]) {
        /* NOLINTNEXTLINE: whatever has an end has a width */
        if (!add_request(work->plan, &work->spans[todo[i]], width_of[i])) {
            return false;
        }
        for (int32_t j = i; j < end_of[i]; j++) {
            work->request_of[todo[j]] = (int16_t)(work->plan->request_count - 1);
        }
    }
    return true;
}

/* Plans the spans first..end, of one class and function. */
static bool plan_group(struct work *work, int32_t first, int32_t end)
{
    int32_t todo[MAP_MAX_POINTS], count = 0;
    ride_along(work, first, end);
    for (int32_t i = first; i < end; i++) {
        if (work->request_of[i] < 0) {
            todo[count++] = i;
        }
    }
    return cover(work, todo, count);
}

static bool cuts_a_value(const struct register_map *map, uint8_t function, int32_t from, int32_t to)
{
    for (int32_t i = 0; i < map->point_count; i++) {
        const struct point *point = &map->points[i];
        int32_t last = last_register(point);
        if (point->function == function &&
            ((point->address < from && last >= from) || (point->address <= to && last > to))) {
            return true;
        }
    }
    return false;
}

/* Width of the smallest value in a request: unused registers beside floats are
 * most likely floats, so a request grows by whole ones. */
static int32_t grain_of(const struct work *work, int32_t request)
{
    int32_t grain = 4;
    for (int32_t i = 0; i < work->map->point_count; i++) {
        const struct point *point = &work->map->points[work->spans[i].point];
        if (work->request_of[i] == request) {
            while (point->size % grain != 0 || (point->scale_address != NO_REGISTER && grain > 1)) {
                grain /= 2;
            }
        }
    }
    return grain;
}

static bool count_taken(const struct plan *plan, uint8_t function, int32_t count)
{
    for (int32_t i = 0; i < plan->request_count; i++) {
        if (plan->requests[i].function == function && plan->requests[i].count == count) {
            return true;
        }
    }
    return false;
}

/* The cheapest longer form of a request whose count nobody has. False: none. */
static bool grown(const struct work *work, int32_t index, struct request *out)
{
    const struct request *request = &work->plan->requests[index];
    int32_t from = request->address, to = from + request->count - 1, lowest = from, highest = to;
    int32_t grain = grain_of(work, index);
    for (int32_t i = 0; i < work->map->range_count; i++) {
        const struct readable_range *range = &work->map->ranges[i];
        if (range->function == request->function && range->from <= to && range->to >= to &&
            range->to > highest) {
            highest = range->to;
        }
        if (range->function == request->function && range->from <= from && range->to >= from &&
            range->from < lowest) {
            lowest = range->from;
        }
    }
    for (int32_t extra = grain; request->count + extra <= work->max_registers; extra += grain) {
        if (count_taken(work->plan, request->function, request->count + extra)) {
            continue;
        }
        for (int32_t above = extra; above >= 0; above -= grain) {
            int32_t below = extra - above;
            if (to + above <= highest && from - below >= lowest &&
                !cuts_a_value(work->map, request->function, from - below, to + above)) {
                *out = *request;
                out->address = (uint16_t)(from - below);
                out->count = (uint16_t)(request->count + extra);
                return true;
            }
        }
    }
    return false;
}

/* Gives requests of one function different counts where it can: of two alike
 * the one of the slower class grows, else the one that needs less. */
static void tell_apart(struct work *work)
{
    struct plan *plan = work->plan;
    for (int32_t i = 0; i < plan->request_count; i++) {
        for (int32_t j = i + 1; j < plan->request_count; j++) {
            struct request *a = &plan->requests[i], *b = &plan->requests[j], a_grown, b_grown;
            if (a->function != b->function || a->count != b->count) {
                continue;
            }
            bool a_can = grown(work, i, &a_grown), b_can = grown(work, j, &b_grown);
            if (b_can && (!a_can || b->read_class > a->read_class || b_grown.count <= a_grown.count)) {
                *b = b_grown;
            } else if (a_can) {
                *a = a_grown;
            }
        }
    }
}

static int by_address(const void *left, const void *right)
{
    const struct point *a = left, *b = right;
    return (a->address > b->address) - (a->address < b->address);
}

/* Lists the points by request, then address. */
static void place_points(const struct work *work)
{
    struct plan *plan = work->plan;
    for (int32_t r = 0; r < plan->request_count; r++) {
        struct request *request = &plan->requests[r];
        request->first_point = (uint16_t)plan->point_count;
        for (int32_t i = 0; i < work->map->point_count; i++) {
            if (work->request_of[i] == r) {
                struct point *placed = &plan->points[plan->point_count++];
                *placed = work->map->points[work->spans[i].point];
                placed->modulus = placed->modulus != 0 ? placed->modulus : work->map->counter_modulus;
            }
        }
        request->point_count = (uint16_t)(plan->point_count - request->first_point);
        qsort(&plan->points[request->first_point], request->point_count, sizeof plan->points[0], by_address);
    }
}

int plan_make(struct plan *plan, const struct register_map *map, int32_t max_registers, struct line_cost cost)
{
    struct work work = { .map = map, .max_registers = max_registers, .cost = cost, .plan = plan };
    memset(plan, 0, sizeof *plan);
    if (!collect_spans(&work)) {
        return -1;
    }
    for (int32_t first = 0, end; first < map->point_count; first = end) {
        const struct span *span = &work.spans[first];
        for (end = first; end < map->point_count && work.spans[end].read_class == span->read_class &&
                          work.spans[end].function == span->function;) {
            end++;
        }
        if (!plan_group(&work, first, end)) {
            return -1;
        }
    }
    tell_apart(&work);
    place_points(&work);
    return 0;
}
